"""``semwear plan``: start a plan from a folder of pictures, or check one."""

from pathlib import Path
from typing import Annotated

import typer

from semwear.errors import PlanError
from semwear.plan import NamePattern, Plan, read_plan, starting_plan, write_starting_plan
from semwear.plan.problems import listing
from semwear.plan.starting import StartingPlan

SHOWN_ROWS = 400


def plan(
    source: Annotated[Path, typer.Argument(help="Folder of pictures to start a plan from, or a plan to check.")],
    pattern: Annotated[
        str, typer.Option(help="How names are built, such as '{specimen}_{zone}_{n}' or '{specimen}/{zone}/{n}'.")
    ] = "",
    word: Annotated[
        list[str] | None, typer.Option(help="A word that names a zone in your files, such as worn=in-track.")
    ] = None,
    out: Annotated[Path, typer.Option(help="Plan to write: an .xlsx, or a folder for two .csv.")] = Path("plan.xlsx"),
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what was understood and write nothing.")] = False,
) -> None:
    """Start a plan from a folder of pictures, or check a plan that exists.

    Exit status: 0 if a plan was written or can be used (cautions are printed), 2 if not.

    Example: semwear plan session/ --pattern "{specimen}_{zone}_{n}" --out plan.xlsx
    """
    if source.is_file() or (source / "fields.csv").exists():
        _say(check_text(read_plan(source)))
        return
    reader = name_pattern(pattern, word or [])
    start = starting_plan(source, reader)
    if dry_run:
        _say(dry_run_text(start, has_pattern=reader is not None))
        return
    if start.unread:
        _say(f"{len(start.unread)} of {len(start.readings)} names don't fit the pattern; their rows are left empty.")
    path = write_starting_plan(start, out)
    _say(
        f"{path}: {len(start.readings)} pictures listed; fill in what is empty, then check it with: semwear plan {path}"
    )


def name_pattern(pattern: str, words: list[str]) -> NamePattern | None:
    """Return what reads names by --pattern and --word, None without a pattern; raises PlanError for words alone."""
    if words and not pattern:
        raise PlanError(f"--word {words[0]} does nothing without --pattern; add the pattern, or leave the word out")
    return NamePattern(pattern, zone_words=zone_words(words)) if pattern else None


def zone_words(words: list[str]) -> dict[str, str]:
    """Return {word: zone} from texts like ``worn=in-track``; raises PlanError for anything else."""
    known = {}
    for text in words:
        word, _, zone = text.partition("=")
        if not word.strip() or zone.strip() not in ("in-track", "out-of-track"):
            raise PlanError(f"--word {text}: write WORD=in-track or WORD=out-of-track")
        known[word.strip()] = zone.strip()
    return known


def dry_run_text(start: StartingPlan, *, has_pattern: bool) -> str:
    """Return what the names were understood to say, one line a picture."""
    if not has_pattern:
        return f"{len(start.readings)} pictures; without --pattern nothing is read from their names."
    lines = []
    for reading in start.readings[:SHOWN_ROWS]:
        said = "; ".join(f"{name} {text}" for name, text in reading.words.items())
        lines.append(f"{reading.file}: {said or 'not understood: ' + reading.reason}")
    if len(start.readings) > SHOWN_ROWS:
        lines.append(f"… and {len(start.readings) - SHOWN_ROWS} more")
    lines.append(
        f"{len(start.readings) - len(start.unread)} of {len(start.readings)} names understood, "
        f"{len(start.specimens)} specimens. Nothing was written."
    )
    return "\n".join(lines)


def check_text(checked: Plan) -> str:
    """Return a summary of a plan that was read without problems, with its cautions."""
    lines = [f"{checked.path}: {len(checked.fields)} fields of {len(checked.specimens)} specimens"]
    for factor in checked.factors:
        levels = dict.fromkeys(specimen.levels[factor] for specimen in checked.specimens)
        lines.append(f"factor {factor}: {', '.join(levels)}")
    for response in checked.responses:
        stated = sum(specimen.values[response.name] == specimen.values[response.name] for specimen in checked.specimens)
        lines.append(
            f"response {response.name} [{response.unit}], {response.better} is better: stated for {stated} specimens"
        )
    lines.append(listing(checked.cautions) if checked.cautions else "no inconsistency found")
    # A plan doesn't say where its pictures lie: file is a path below the folder that measure is given.
    lines.append("whether its pictures exist is not checked here; semwear measure says which are missing")
    return "\n".join(lines)


def _say(text: str) -> None:
    typer.echo(text)
