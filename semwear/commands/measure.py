"""``semwear measure``: every picture becomes one row, one mask and one overlay; then the report."""

import os
import shutil
from pathlib import Path
from typing import Annotated

import typer


def measure(
    paths: Annotated[list[Path], typer.Argument(metavar="PATHS", help="Pictures, or folders that are walked.")],
    out: Annotated[
        Path, typer.Option(help="Results folder; a second run into it measures only what is new or changed.")
    ],
    plan: Annotated[
        Path | None, typer.Option(help="Plan: .xlsx, folder with fields.csv and specimens.csv, or one .csv.")
    ] = None,
    pixel_size_um: Annotated[
        float | None, typer.Option(help="Side of a pixel, µm, for pictures whose plan row states none.")
    ] = None,
    stroke_deg: Annotated[
        float | None,
        typer.Option(
            help="Stroke direction, degrees anticlockwise from the picture's rows, where the plan states none."
        ),
    ] = None,
    workers: Annotated[int | None, typer.Option(min=1, help="Processes; the number of cores if not stated.")] = None,
    model: Annotated[Path | None, typer.Option(help="Folder of a trained model instead of the shipped one.")] = None,
    geometry_only: Annotated[bool, typer.Option("--geometry-only", help="Use no network.")] = False,
    mix_settings: Annotated[
        bool,
        typer.Option("--mix-settings", help="Use reference fields of unlike width, voltage or detector all the same."),
    ] = False,
    single_precision: Annotated[
        bool,
        typer.Option("--single-precision", help="Same figures on any machine; slower where bfloat16 is built in."),
    ] = False,
    looks: Annotated[
        int, typer.Option(help="How often the network looks at a field: 1, 2 or 4. More are surer and slower.")
    ] = 1,
    page: Annotated[int, typer.Option(min=1, help="Page that is measured of files with several.")] = 1,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")] = False,
) -> None:
    """Measure every picture: valley, smear and scuff fractions, grooves, retention, report.

    Exit status: 0 if every field was measured, 1 if some were refused, 2 if nothing could be done.

    Example: semwear measure session/ --plan plan.xlsx --out results
    """
    from semwear.batch import measure_files
    from semwear.commands.error_stream import say_refused, shows_progress
    from semwear.pipeline import Settings
    from semwear.results import FIELDS_NAME

    settings = Settings(
        pixel_size_um=pixel_size_um,
        stroke_deg=stroke_deg,
        model=str(model) if model else "",
        geometry_only=geometry_only,
        mix_settings=mix_settings,
        single_precision=single_precision,
        looks=looks,
        page=page,
    )
    with _Progress(shown=shows_progress(quiet=quiet)) as progress:
        batch = measure_files(
            paths, out, plan=plan, settings=settings, workers=workers or available_cores(), on_field=progress.advance
        )
    if quiet:
        say_refused(batch.rows, out / FIELDS_NAME)
        if batch.absent:
            typer.echo(f"semwear: {batch.absent}", err=True)
        if not batch.complete:
            typer.echo("semwear: the run was stopped before its end; the same command goes on from here", err=True)
    else:
        _print_summary(batch, out)
    raise typer.Exit(exit_status(batch))


def exit_status(batch) -> int:
    """Return 0 if every field was measured, 1 if some were refused, 2 if none was measured, 130 if it was stopped."""
    if not batch.complete:
        return 130
    if not batch.measured:
        return 2
    return 1 if batch.refused else 0


def available_cores() -> int:
    """Return the number of cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class _Progress:
    """A bar with the rate and the time left, on the error stream, so that output can be piped."""

    def __init__(self, *, shown: bool) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

        self._bar = Progress(
            TextColumn("measuring"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("{task.fields[rate]}"),
            TimeRemainingColumn(),
            TextColumn("{task.fields[refused]}"),
            console=Console(stderr=True),
            disable=not shown,
        )
        self._task, self._refused = None, 0

    def __enter__(self) -> "_Progress":
        self._bar.start()
        self._task = self._bar.add_task("measuring", total=None, rate="starting", refused="")
        return self

    def __exit__(self, *_) -> None:
        self._bar.stop()

    def advance(self, outcome, total: int) -> None:
        """Count one field."""
        self._refused += outcome.row["status"] != "measured"
        task = self._bar.tasks[0]
        speed = (task.completed + 1) / max(task.elapsed or 0, 1e-6)
        rate = f"{speed:.1f} fields/s" if speed >= 1 else f"{1 / speed:.1f} s/field"
        refused = f"{self._refused} refused" if self._refused else ""
        self._bar.update(self._task, total=total, advance=1, rate=rate, refused=refused)


def _print_summary(batch, out: Path) -> None:
    """Print means by specimen and zone, the refused pictures with their reasons, remarks, and where the results are."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from semwear.commands.error_stream import refused_lines
    from semwear.report import group_table, summary_sentences
    from semwear.results import FIELDS_NAME

    console = Console(width=max(80, min(140, shutil.get_terminal_size((110, 24)).columns)), soft_wrap=False)
    groups = group_table(batch.rows)
    if groups:
        table = Table(
            "specimen, zone, stage", "fields", "open valley", "smeared", "scuffed", title="Mean over fields (95 % interval)"
        )
        for column in table.columns[1:]:
            column.justify = "right"
        for group in groups[:40]:
            table.add_row(Text(group["name"]), str(group["fields"]), *group["means"])
        console.print(table)
    for line in (*refused_lines(batch.rows, FIELDS_NAME), *batch.remarks, *summary_sentences(batch.rows, batch.run)):
        console.print(Text(line))
    if batch.run["taken_over"]:
        console.print(f"{batch.run['taken_over']} fields were taken over from an earlier run.")
    console.print(Text(f"Report: {out / 'report.html'}"))
