"""``semwear compare``: what a measured study says, specimen by specimen and across its matrix."""

from pathlib import Path
from typing import Annotated

import typer


def compare(
    results: Annotated[Path, typer.Argument(help="Results folder that semwear measure wrote.")],
    out: Annotated[Path, typer.Option(help="Folder for report.html and the tables, or the report's own name.html.")],
    plan: Annotated[
        Path | None,
        typer.Option(help="Plan: .xlsx, folder with fields.csv and specimens.csv, or a pair joined by a comma."),
    ] = None,
    pattern: Annotated[
        str, typer.Option(help="How file names are built, such as '{specimen}_{oil}_{zone}_{n}', instead of a plan.")
    ] = "",
    word: Annotated[
        list[str] | None, typer.Option(help="A word that names a zone in your files, such as worn=in-track.")
    ] = None,
    limit: Annotated[
        list[str] | None, typer.Option(help="A limit of the readings, such as iron_low=60; may be repeated.")
    ] = None,
    wanted: Annotated[
        float, typer.Option(help="Half-width of the retention's 95 % interval that is aimed for.")
    ] = 0.15,
    mix_settings: Annotated[
        bool,
        typer.Option("--mix-settings", help="Compare fields of unlike width, voltage, detector or tilt all the same."),
    ] = False,
    pictures: Annotated[
        Path | None, typer.Option(help="Folder of the pictures, if they were moved since they were measured.")
    ] = None,
    heights: Annotated[
        Path | None, typer.Option(help="Folder that semwear profile wrote: height maps of the same specimens.")
    ] = None,
    oil_mass_g: Annotated[
        float | None, typer.Option(help="Mass of oil in the test, g: worn volume is then set against iron.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")] = False,
) -> None:
    """In-track against out-of-track, specimen by specimen, and what the test matrix says.

    Exit status: 0 if the report was written, whatever it says, 2 if nothing could be done.

    Example: semwear compare results --plan plan.xlsx --out comparison
    """
    from semwear.compare.limits import limits_from
    from semwear.compare.report import write_comparison
    from semwear.compare.study import compare_study
    from semwear.errors import PlanError

    if not 0 < wanted < 10:
        raise PlanError(f"--wanted {wanted:g}: state a half-width of the retention, such as 0.15")
    limits = limits_from(limit or [])
    found = compare_study(
        results,
        _plan_of(results, plan, pattern, word or []),
        limits=limits,
        wanted=wanted,
        mix_settings=mix_settings,
        pictures=pictures,
    )
    joined = _height_sections(found, heights, oil_mass_g)
    written = write_comparison(found, out, joined=joined)
    if not quiet:
        _print_summary(found)
        for sentence in (sentence for section in joined for sentence in section.sentences):
            typer.echo(sentence)
        typer.echo(f"Report: {written[0]}")


def _plan_of(results: Path, plan: Path | None, pattern: str, words: list[str]):
    """Return the plan that was named, or the one that the names of the measured fields state by a pattern."""
    from semwear.commands.plan import name_pattern
    from semwear.errors import PlanError
    from semwear.plan import plan_from_names, read_plan
    from semwear.results import read_fields

    if (plan is None) == (not pattern):
        raise PlanError("state either --plan PLAN or --pattern, so that it is known which field shows what")
    reader = name_pattern(pattern, words)
    if reader is None:
        return read_plan(str(plan))
    return plan_from_names([row["file"] for row in read_fields(results)], reader)


def _height_sections(found, heights: Path | None, oil_mass_g: float | None) -> list:
    """Return the section on height maps, or none where no folder of them was named."""
    from semwear.errors import PlanError

    if heights is None:
        if oil_mass_g is not None:
            raise PlanError("--oil-mass-g goes with --heights FOLDER, the height maps whose worn volume it is set against")
        return []
    from semwear.compare.heights import height_section

    return [height_section(found.figures, found.plan, heights, oil_mass_g=oil_mass_g)]


def _print_summary(found) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from semwear.compare.evidence import interval_text
    from semwear.compare.sentences import summary

    console = Console(soft_wrap=True)
    table = Table("specimen", "valley retention", "reading", title="Valley retention with 95 % interval")
    for own, read in list(zip(found.figures, found.verdicts, strict=True))[:40]:
        interval = interval_text(own.retention.value, own.retention.low, own.retention.high)
        table.add_row(Text(own.specimen), interval, read.reading)
    console.print(table)
    for sentence in summary(found):
        console.print(Text(sentence))
    if found.cautions:
        console.print(Text(f"{len(found.cautions)} cautions; see the report."))
