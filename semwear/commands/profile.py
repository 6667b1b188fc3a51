"""``semwear profile``: surface height maps become one table, and pictures in one colour scale."""

from pathlib import Path
from typing import Annotated

import typer

TABLE_NAME, MAPS_NAME, CROSS_NAME = "heights.csv", "height_maps.svg", "across_the_track.svg"


def profile(
    files: Annotated[list[Path], typer.Argument(metavar="FILE…", help="Height maps: .x3p, .csv, .npy; or folders.")],
    out: Annotated[Path, typer.Option(help="Folder for heights.csv and the pictures.")],
    pixel_size_um: Annotated[
        float | None, typer.Option(help="Step between points, µm, of plain grids; an .x3p file states its own.")
    ] = None,
    height_unit: Annotated[str | None, typer.Option(help="Unit of heights in plain grids: m, mm, um or nm.")] = None,
    pattern: Annotated[
        str, typer.Option(help="How file names are built, such as '{specimen}_{zone}', so that specimens are known.")
    ] = "",
    word: Annotated[
        list[str] | None, typer.Option(help="A word that names a zone in your files, such as worn=in-track.")
    ] = None,
    stroke_deg: Annotated[
        float | None,
        typer.Option(help="Stroke in the map, degrees anticlockwise from its rows: profiles run along it."),
    ] = None,
    find_track: Annotated[
        bool, typer.Option("--find-track", help="Look for the track along the stroke; check in the picture what was found.")
    ] = False,
    track_rows: Annotated[
        str, typer.Option(help="First and last row of the track, such as 120:480, counted from 0; the stroke runs along it.")
    ] = "",
    track_columns: Annotated[str, typer.Option(help="First and last column of the track, likewise.")] = "",
    track_length_mm: Annotated[
        float | None, typer.Option(help="Length of the whole track along the stroke: worn volume is section times length.")
    ] = None,
    form_order: Annotated[int, typer.Option(help="Order of the polynomial that is removed: 1 a plane, 2 a bore.")] = 2,
    nesting_um: Annotated[
        float | None, typer.Option(help="Nesting index of a two-step Gaussian mean surface that is removed as well, µm.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")] = False,
) -> None:
    """Surface height maps: bearing-curve parameters, wear-track depth and volume.

    Exit status: 0 if every map was measured, 1 if some were refused, 2 if nothing could be done.

    Example: semwear profile maps/ --pattern "{specimen}_{zone}" --out heights
    """
    from semwear.commands.error_stream import say_refused
    from semwear.profile.height_pictures import cross_profiles_svg, height_maps_svg, shared_range_um
    from semwear.profile.height_table import HEIGHT_COLUMNS, HeightSettings, check_settings, measure_height_file
    from semwear.results import remove_earlier, table_bytes, write_whole

    settings = HeightSettings(
        pixel_size_um=pixel_size_um, height_unit=height_unit, stroke_deg=stroke_deg, find_track=find_track,
        track_rows=_band("--track-rows", track_rows), track_cols=_band("--track-columns", track_columns),
        track_length_mm=track_length_mm, order=form_order, nesting_um=nesting_um,
    )  # fmt: skip
    check_settings(settings)
    paths = map_files(files)
    words = _words(paths, pattern, word or [])
    _check_track_is_used(settings, words)
    results = [measure_height_file(path, settings, words=own) for path, own in zip(paths, words, strict=True)]
    rows = [row for result in results for row in result.rows]
    for name in (MAPS_NAME, CROSS_NAME):
        remove_earlier(out / name)  # pictures of an earlier run would stand beside a table that they don't show
    write_whole(out / TABLE_NAME, table_bytes(rows, HEIGHT_COLUMNS))
    if any(result.is_measured for result in results):
        pictures = {
            MAPS_NAME: height_maps_svg(results, shared_range_um(results)),
            CROSS_NAME: cross_profiles_svg(results),
        }
        for name, svg in pictures.items():
            if svg:
                write_whole(out / name, svg.encode("utf-8", "backslashreplace"))
    if quiet:
        say_refused(rows, out / TABLE_NAME)
    else:
        _print_summary(rows, out)
    measured = sum(result.is_measured for result in results)
    raise typer.Exit(2 if not measured else 0 if measured == len(results) else 1)


def map_files(named: list[Path]) -> list[Path]:
    """Return the height maps named, folders walked, each once and in order. Raises ReadError when there are none.

    A name that doesn't exist stays in the list: reading it says what is wrong, and the others are measured.
    """
    from semwear.errors import ReadError
    from semwear.profile.height_map import SUFFIXES

    found: dict[Path, None] = {}
    for path in named:
        if path.is_dir():
            inside = sorted(each for each in path.rglob("*") if each.suffix.lower() in SUFFIXES and each.is_file())
            found |= dict.fromkeys(inside)
        else:
            found[path] = None
    if not found:
        raise ReadError(f"no height maps under {', '.join(map(str, named))}; name .x3p, .csv or .npy files")
    return list(found)


def _band(name: str, text: str) -> tuple[int, int] | None:
    from semwear.errors import RefusedError

    if not text:
        return None
    first, colon, last = text.partition(":")
    if not colon or not first.strip().isdecimal() or not last.strip().isdecimal():
        raise RefusedError(f"{name} {text}: write the first and the last one, such as 120:480")
    return int(first), int(last)


def _words(paths: list[Path], pattern: str, words: list[str]) -> list[dict[str, str]]:
    """Return specimen, zone and stage of each map as the pattern says; raises PlanError listing names that don't fit.

    A file that isn't there has no words: it is refused as such, whatever its name.
    """
    from semwear.commands.plan import name_pattern
    from semwear.errors import PlanError

    reader = name_pattern(pattern, words)
    if reader is None:
        return [{} for _ in paths]
    readings = [reader.read(path.as_posix()) for path in paths]
    unread = [
        f"{reading.file}: {reading.reason}"
        for path, reading in zip(paths, readings, strict=True)
        if reading.reason and path.exists()
    ]
    if unread:
        raise PlanError("\n".join([f"--pattern {pattern} doesn't fit every name; rename the files or change it", *unread]))
    return [dict(reading.words) for reading in readings]


def _check_track_is_used(settings, words: list[dict[str, str]]) -> None:
    """Raise PlanError for a track that no map is searched for, since the names say the zone of every one."""
    from semwear.errors import PlanError

    has_track = settings.find_track or settings.track_rows is not None or settings.track_cols is not None
    if has_track and all(own.get("zone") for own in words):
        raise PlanError(
            "the names say the zone of every map, so that a track does nothing; leave the options for the track out, or "
            "write {*} for {zone} in --pattern"
        )


def _print_summary(rows: list[dict], out: Path) -> None:
    from rich.console import Console
    from rich.text import Text

    from semwear.profile.height_table import HEIGHT_FLAGS, short_name

    console = Console(soft_wrap=True)
    for row in rows[:60]:
        where = f"{short_name(row['file'])}, {row['zone'] or 'whole map'}"
        said = row_text(row) if row["status"] == "measured" else f"refused: {row['reason']}"
        console.print(Text(f"{where}: {said}"))
    raised = {flag for row in rows for flag in row["flags"].split(";")}
    for flag, meaning in HEIGHT_FLAGS.items():
        if flag in raised:
            console.print(Text(f"{flag}: {meaning}"))
    console.print(Text((f"… and {len(rows) - 60} more. " if len(rows) > 60 else "") + f"Table: {out / TABLE_NAME}"))


def row_text(row: dict) -> str:
    """Return the main figures of a measured row as one line."""
    from semwear.compare.report import number_text as number

    text = (
        f"Sq {number(row['sq_um'])}, Sk {number(row['sk_um'])}, Spk {number(row['spk_um'])}, Svk {number(row['svk_um'])} µm, "
        f"valley share {100 * row['valley_share']:.1f} %"
    )
    if row["track_depth_um"] == row["track_depth_um"]:
        text += (
            f"; track {number(row['track_depth_um'])} ± {number(row['track_depth_u_um'], 2)} µm deep, "
            f"{number(row['volume_in_map_mm3'])} ± {number(row['volume_in_map_u_mm3'], 2)} mm³ worn in the map"
        )
    return text + (f" ({row['flags'].replace(';', ', ')})" if row["flags"] else "")
