"""What the user should know of a run beside its figures, in one line each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from semwear import results
from semwear.copies import is_copy
from semwear.plan import Plan

if TYPE_CHECKING:
    from semwear.batch import Task


def remarks_of(tasks: Sequence[Task], rows: Sequence[Mapping], plan: Plan | None, out: Path) -> tuple[str, ...]:
    """Return the remarks on a run: plan and pictures that don't match, copies, masks that an earlier run left behind.

    rows: final rows of the fields table; out: the results folder.
    """
    return (*_unmatched(tasks, plan), *_copied(rows), *_left_behind(tasks, out))


def _unmatched(tasks: Sequence[Task], plan: Plan | None) -> tuple[str, ...]:
    if plan is None:
        return ()
    remarks = [f"plan: {caution}" for caution in plan.cautions]
    planned = {task.planned.sheet_row for task in tasks if task.planned.sheet_row}
    missing = [row.file for row in plan.fields if row.sheet_row not in planned]
    if missing:
        remarks.append(f"fields of the plan that have no picture here: {_some(missing)}")
    strangers = [task.file for task in tasks if not task.planned.sheet_row]
    if strangers:
        remarks.append(f"pictures that aren't in the plan, so that they have no specimen: {_some(strangers)}")
    return tuple(remarks)


def _copied(rows: Sequence[Mapping]) -> tuple[str, ...]:
    copies = [row["file"] for row in rows if is_copy(row)]
    return (f"copies of pictures before them, which count in no mean: {_some(copies)}",) if copies else ()


def _left_behind(tasks: Sequence[Task], out: Path) -> tuple[str, ...]:
    own = {task.files.mask for task in tasks}
    others = [name for name in results.mask_names(out) if name not in own]
    if not others:
        return ()
    return (
        f"masks of an earlier run that no row stands for: {_some(others)}; use a new folder, or delete them and their overlays",
    )


def _some(names: Sequence[str]) -> str:
    return ", ".join(names[:3]) + (f" … ({len(names)} in all)" if len(names) > 3 else "")
