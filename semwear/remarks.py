"""What the user should know of a run beside its figures, in one line each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from semwear import results
from semwear.copies import is_copy
from semwear.plan import Plan
from semwear.plan.tables import normal_path

if TYPE_CHECKING:
    from semwear.batch import Task

MOST_NAMES = 3
"""Names that a remark shows before it only counts."""


def remarks_of(
    tasks: Sequence[Task], rows: Sequence[Mapping], plan: Plan | None, out: Path, *, most: int | None = MOST_NAMES
) -> tuple[str, ...]:
    """Return the remarks on a run: plan and pictures that don't match, copies, masks that an earlier run left behind.

    rows: final rows of the fields table; out: the results folder; most: how many names a remark shows, None for all.
    """
    return (*_unmatched(tasks, plan, most), *_copied(rows, most), *_left_behind(tasks, out, most))


def absent_remark(tasks: Sequence[Task], plan: Plan | None, *, most: int | None = MOST_NAMES) -> str:
    """Return the remark on planned pictures that aren't there, empty where all are."""
    planned = {task.planned.sheet_row for task in tasks}
    missing = [row.file for row in plan.fields if row.sheet_row not in planned] if plan else []
    if not missing:
        return ""
    remark = f"fields of the plan that have no picture here: {_some(missing, most)}"
    pairs = _but_for_capitals(missing, _strangers(tasks))
    if pairs:
        named = _some([f"{file} for {name}" for name, file in pairs], most)
        remark += f"; there are pictures whose names differ in capitals alone: {named}"
    return remark


def _unmatched(tasks: Sequence[Task], plan: Plan | None, most: int | None) -> tuple[str, ...]:
    if plan is None:
        return ()
    remarks = [f"plan: {caution}" for caution in plan.cautions]
    absent, strangers = absent_remark(tasks, plan, most=most), _strangers(tasks)
    if absent:
        remarks.append(absent)
    if strangers:
        remarks.append(f"pictures that aren't in the plan, so that they have no specimen: {_some(strangers, most)}")
    return tuple(remarks)


def _strangers(tasks: Sequence[Task]) -> list[str]:
    return [task.file for task in tasks if not task.planned.sheet_row]


def _but_for_capitals(missing: Sequence[str], strangers: Sequence[str]) -> list[tuple[str, str]]:
    """Return (planned name, picture) where one path is the end of the other once capitals are ignored."""
    by_name: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for file in strangers:
        parts = PurePosixPath(normal_path(file).casefold()).parts
        by_name.setdefault(parts[-1] if parts else "", []).append((file, parts))
    pairs = []
    for name in missing:
        parts = PurePosixPath(normal_path(name).casefold()).parts
        for file, others in by_name.get(parts[-1] if parts else "", []):
            shared = min(len(parts), len(others))
            if parts[-shared:] == others[-shared:]:
                pairs.append((name, file))
                break
    return pairs


def _copied(rows: Sequence[Mapping], most: int | None) -> tuple[str, ...]:
    copies = [row["file"] for row in rows if is_copy(row)]
    return (f"copies of other pictures, which count in no mean: {_some(copies, most)}",) if copies else ()


def _left_behind(tasks: Sequence[Task], out: Path, most: int | None) -> tuple[str, ...]:
    own = {task.files.mask for task in tasks}
    others = [name for name in results.mask_names(out) if name not in own]
    if not others:
        return ()
    return (
        f"masks of an earlier run that no row stands for: {_some(others, most)}; "
        "use a new folder, or delete them and their overlays",
    )


def _some(names: Sequence[str], most: int | None) -> str:
    if most is None or len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[:most])} … ({len(names)} in all)"
