"""What the user should know of a run beside its figures, in one line each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, kw_only=True)
class Remark:
    """One remark: its words with a place, {}, for each list of names; ``on_absent``: on planned pictures that aren't there."""

    words: str
    names: tuple[Sequence[str], ...]
    on_absent: bool = False

    def text(self, most: int | None = MOST_NAMES) -> str:
        """Return the remark as a line, with so many names of each list before it only counts, None for all."""
        return self.words.format(*(_some(names, most) for names in self.names))


def remarks_of(tasks: Sequence[Task], rows: Sequence[Mapping], plan: Plan | None, out: Path) -> tuple[Remark, ...]:
    """Return the remarks on a run: plan and pictures that don't match, copies, masks that an earlier run left behind.

    rows: final rows of the fields table; out: the results folder.
    """
    return (*_unmatched(tasks, plan), *_copied(rows), *_left_behind(tasks, out))


def _unmatched(tasks: Sequence[Task], plan: Plan | None) -> tuple[Remark, ...]:
    if plan is None:
        return ()
    remarks = [Remark(words="plan: {}", names=([str(caution)],)) for caution in plan.cautions]
    planned = {task.planned.sheet_row for task in tasks}
    missing = [row.file for row in plan.fields if row.sheet_row not in planned]
    strangers = _strangers(tasks)
    if missing:
        words, names = "fields of the plan that have no picture here: {}", (missing,)
        pairs = _but_for_capitals(missing, strangers)
        if pairs:
            words += "; there are pictures whose names differ in capitals alone: {}"
            names += ([f"{file} for {name}" for name, file in pairs],)
        remarks.append(Remark(words=words, names=names, on_absent=True))
    if strangers:
        words = "pictures that aren't in the plan, so that they have no specimen: {}"
        remarks.append(Remark(words=words, names=(strangers,)))
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


def _copied(rows: Sequence[Mapping]) -> tuple[Remark, ...]:
    copies = [row["file"] for row in rows if is_copy(row)]
    return (Remark(words="copies of other pictures, which count in no mean: {}", names=(copies,)),) if copies else ()


def _left_behind(tasks: Sequence[Task], out: Path) -> tuple[Remark, ...]:
    own = {task.files.mask for task in tasks}
    others = [name for name in results.mask_names(out) if name not in own]
    words = "masks of an earlier run that no row stands for: {}; use a new folder, or delete them and their overlays"
    return (Remark(words=words, names=(others,)),) if others else ()


def _some(names: Sequence[str], most: int | None) -> str:
    if most is None or len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[:most])} … ({len(names)} in all)"
