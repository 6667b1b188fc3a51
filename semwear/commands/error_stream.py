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
    """Print the refused rows (see :func:`refused_lines`): what a quiet command still says."""
    for line in refused_lines(rows, table):
        typer.echo(line, err=True)


def refused_lines(rows: Sequence[dict], table) -> list[str]:
    """Return one line for each refused row, and one that says where the rest stands.

    rows: with the keys file, status and reason; ``table``: the table that holds them all.
    """
    refused = [row for row in rows if row["status"] != "measured"]
    lines = []
    for row in refused[:MOST_LINES]:
        named = row["reason"].startswith(row["file"])
        lines.append("refused  " + (row["reason"] if named else f"{row['file']}: {row['reason']}"))
    if len(refused) > MOST_LINES:
        lines.append(f"… and {len(refused) - MOST_LINES} more; see {table}")
    return lines
