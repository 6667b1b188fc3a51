"""``semwear simulate``: micrographs with known answers."""

from pathlib import Path
from typing import Annotated

import typer

DEFAULT_FIELDS = 12
"""Number of micrographs where none is stated."""


def simulate(
    out: Annotated[Path, typer.Argument(help="New or empty folder for pictures, masks, plan and truth.")],
    fields: Annotated[int | None, typer.Option(min=1, help="Number of micrographs; 12 if not stated.")] = None,
    seed: Annotated[int | None, typer.Option(min=0, help="The same seed writes the same files; 0 if not stated.")] = None,
    family: Annotated[
        list[str] | None, typer.Option(help="Finish to draw specimens from, may be repeated; all common ones if not stated.")
    ] = None,
    renderer: Annotated[
        list[str] | None, typer.Option(help="Renderer to draw from, may be repeated; the training ones if not stated.")
    ] = None,
    sample: Annotated[
        bool, typer.Option("--sample", help="Make the small sample session instead: 12 fields, two finishes.")
    ] = False,
    workers: Annotated[int | None, typer.Option(min=1, help="Processes; the number of cores if not stated.")] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print errors only.")] = False,
) -> None:
    """Make micrographs of simulated honed, run surfaces: data bars, masks, plan.csv and truth.csv with every answer.

    Exit status: 0 if all were made, 2 if nothing could be done, 130 if it was stopped.

    Example: semwear simulate practice --fields 24 --seed 7
    """
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    from semwear.cli import STOPPED
    from semwear.commands.error_stream import shows_progress
    from semwear.commands.measure import available_cores
    from semwear.errors import SemwearError
    from semwear.simulate.scene import FAMILIES, TRAINING_RENDERERS
    from semwear.simulate.session import SAMPLE_SEED, simulate_sample_session, simulate_session

    chosen = {"--fields": fields, "--family": family, "--renderer": renderer}
    unused = [name for name, value in chosen.items() if value]
    if sample and unused:
        raise SemwearError(f"--sample has its own fields, finishes and renderers; leave it or {', '.join(unused)} out")
    columns = (TextColumn("simulating"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), disable=not shows_progress(quiet=quiet)) as progress:
        task = progress.add_task("simulating", total=None)
        shared = {"workers": workers or available_cores(),
                  "on_field": lambda file, total: progress.update(task, total=total, advance=1)}
        try:
            if sample:
                session = simulate_sample_session(out, SAMPLE_SEED if seed is None else seed, **shared)
            else:
                session = simulate_session(
                    out, fields or DEFAULT_FIELDS, seed or 0, families=tuple(family or FAMILIES),
                    renderers=tuple(renderer or TRAINING_RENDERERS), **shared)
        except KeyboardInterrupt as stopped:
            typer.echo(f"semwear: {stopped or 'stopped'}", err=True)
            raise typer.Exit(STOPPED) from stopped
    if not quiet:
        typer.echo(summary_text(session))


def summary_text(session) -> str:
    """Return what was written, one line a specimen and zone: number of fields and mean true fractions."""
    lines = [f"{session.folder}: simulated fields: {len(session.truth)}, regions: {len(session.regions)}"]
    groups: dict[tuple[str, str], list[dict]] = {}
    for row in session.truth:
        groups.setdefault((row["specimen"], row["zone"]), []).append(row)
    for (specimen, zone), rows in sorted(groups.items()):
        means = {name: sum(row[f"{name}_fraction"] for row in rows) / len(rows) for name in ("valley", "smeared", "scuffed")}
        lines.append(
            f"  {specimen} {zone}: {len(rows)} fields, open valley {means['valley']:.3f}, "
            f"smeared {means['smeared']:.3f}, scuffed {means['scuffed']:.3f}")
    lines.append(f"measure it: semwear measure {session.folder / 'pictures'} --plan {session.folder / 'plan.csv'} --out RESULTS")
    return "\n".join(lines)
