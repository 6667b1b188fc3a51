"""``semwear scale``: only the calibration of pictures, as a table."""

from pathlib import Path
from typing import Annotated

import typer


def scale(
    paths: Annotated[list[Path], typer.Argument(metavar="PATHS", help="Pictures, or folders that are walked.")],
    csv: Annotated[Path, typer.Option(help="Table to write (.csv).")],
    pixel_size_um: Annotated[
        float | None, typer.Option(help="Side of a pixel, µm: compared with what the pictures say.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")] = False,
) -> None:
    """Only the calibration: pixel size of every picture and where it comes from.

    Exit status: 0 if every picture has a scale, 1 if some were refused, 2 if nothing could be done.

    Example: semwear scale session/ --csv scale.csv
    """
    from semwear.commands.error_stream import say_refused, shows_progress
    from semwear.errors import SemwearError
    from semwear.results import table_bytes, write_whole
    from semwear.scale_table import SCALE_COLUMNS, scale_table

    if pixel_size_um is not None and not pixel_size_um > 0:
        raise SemwearError(f"--pixel-size-um {pixel_size_um:g}: a pixel has a positive size; state it in micrometres")
    if csv.is_dir():
        raise SemwearError(f"--csv {csv}: this is a folder; name the table that is to be written, such as scale.csv")
    if not _may_be_written(csv):
        raise SemwearError(f"--csv {csv}: this file is there and is no scale table; name another, or move it away")
    with _progress(shown=shows_progress(quiet=quiet)) as bar:
        task = bar.add_task("reading scales", total=None)
        rows = scale_table(paths, given_pixel_size_um=pixel_size_um,
                           on_picture=lambda _row, total: bar.update(task, total=total, advance=1))
    if not rows:
        raise SemwearError(f"no pictures under {', '.join(map(str, paths))}; name pictures or a folder that holds some")
    write_whole(csv, table_bytes(rows, SCALE_COLUMNS), elsewhere="name another table with --csv")
    if quiet:
        say_refused(rows, csv)
    else:
        _print_summary(rows, csv)
    raise typer.Exit(exit_status(rows))


def exit_status(rows: list[dict]) -> int:
    """Return 0 if every picture has a scale, 1 if some were refused, 2 if all were.

    >>> exit_status([{"status": "measured"}, {"status": "refused"}])
    1
    """
    measured = sum(row["status"] == "measured" for row in rows)
    return 2 if not measured else 0 if measured == len(rows) else 1


def _may_be_written(csv: Path) -> bool:
    """Return whether nothing of somebody else's is lost: there is no such file, or it is empty or an earlier scale table."""
    from semwear.results import table_bytes
    from semwear.scale_table import SCALE_COLUMNS

    if not csv.is_file():
        return True
    header = table_bytes([], SCALE_COLUMNS).rstrip()
    try:
        with csv.open("rb") as stream:
            first = stream.readline(len(header) + 8)
    except OSError:
        return False
    return not first or first.removeprefix(b"\xef\xbb\xbf").rstrip() == header


def _progress(*, shown: bool):
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, ProgressColumn, TextColumn, TimeRemainingColumn
    from rich.text import Text

    class Rate(ProgressColumn):
        """Pictures per second."""

        def render(self, task):
            return Text(f"{task.speed:.1f} pictures/s" if task.speed else "")

    return Progress(TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), Rate(), TimeRemainingColumn(),
                    console=Console(stderr=True), disable=not shown)


def _print_summary(rows: list[dict], csv: Path) -> None:
    """Print how many pictures have a scale by source, the first refusals, and where the table is."""
    from rich.console import Console
    from rich.text import Text

    from semwear.commands.error_stream import refused_lines

    console = Console(soft_wrap=True)
    measured = [row for row in rows if row["status"] == "measured"]
    sources = {}
    for row in measured:
        sources[row["pixel_size_source"]] = sources.get(row["pixel_size_source"], 0) + 1
    by_source = ", ".join(f"{count} by {name}" for name, count in sorted(sources.items()))
    console.print(Text(f"{len(measured)} of {len(rows)} pictures have a scale" + (f": {by_source}" if by_source else "")))
    for line in (*refused_lines(rows, csv), f"Table: {csv}"):
        console.print(Text(line))
