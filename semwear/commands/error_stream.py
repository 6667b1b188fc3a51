"""What the commands say on the error stream: progress where somebody watches, and refusals also when quiet is asked for."""

import sys
from collections.abc import Sequence

import typer

MOST_LINES = 20
"""Refusals that are printed one by one; the table holds all."""


def shows_progress(*, quiet: bool) -> bool:
    """Return whether a progress bar is drawn: only at a terminal, since in a file or a log it stands before the errors."""
    return not quiet and sys.stderr.isatty()


def say_refused(rows: Sequence[dict], table) -> None:
    """Print one line for each refused row, and where the rest stands: what a quiet command still says.

    rows: with the keys file, status and reason; ``table``: path of the table that holds them all.
    """
    refused = [row for row in rows if row["status"] != "measured"]
    for row in refused[:MOST_LINES]:
        named = row["reason"].startswith(row["file"])
        typer.echo("refused  " + (row["reason"] if named else f"{row['file']}: {row['reason']}"), err=True)
    if len(refused) > MOST_LINES:
        typer.echo(f"… and {len(refused) - MOST_LINES} more; see {table}", err=True)
