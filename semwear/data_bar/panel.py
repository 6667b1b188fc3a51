"""A panel of the data bar: an upright rectangle of one flat tone, and what its sides look like."""

from dataclasses import dataclass

import numpy as np

SAME_TONE = 14
"""Grey levels (of 255) by which a panel's ground may wander."""
SIDE_SHARE = 0.7
"""Least share of a panel's tone along each of its sides."""
CUT_OUT_STEP = 20
"""Grey levels (of 255) of the step along a side that cuts a panel out of the picture."""
CUT_OUT_SHARE, STEPPED_SHARE = 0.75, 0.3
"""Share of each side that must be a step; where the panel has one tone throughout, share of each side, twice on average."""
LARGEST_HEIGHT_SHARE = 0.4
"""A wide flat rectangle higher than this share of the picture is a picture without contrast, not a panel."""
FRAME_PX = 8
"""Frame lines up to this thick are joined to their panel."""


@dataclass(frozen=True, kw_only=True)
class Panel:
    """An upright flat rectangle: rows [row_0, row_1) and columns [col_0, col_1) in px, and its grey (0..255)."""

    row_0: int
    row_1: int
    col_0: int
    col_1: int
    grey: float

    @property
    def slices(self) -> tuple[slice, slice]:
        return slice(self.row_0, self.row_1), slice(self.col_0, self.col_1)


def has_tone(grey: np.ndarray, tone: float) -> np.ndarray:
    """Return where greys are those of a panel's ground of a tone, bool of the same shape."""
    return np.abs(grey.astype(np.int16) - int(round(tone))) <= SAME_TONE


def is_rectangle(grey: np.ndarray, panel: Panel) -> bool:
    """Tell whether a panel's tone fills its box (rows, cols) and goes along all of its sides."""
    near = has_tone(grey[panel.slices], panel.grey)
    sides = (near[0].mean(), near[-1].mean(), near[:, 0].mean(), near[:, -1].mean())
    return near.mean() >= 0.35 and min(sides) >= SIDE_SHARE


def steps(grey: np.ndarray, panel: Panel, *, least: float = CUT_OUT_STEP, distances=(3,)) -> list[float]:
    """Share of each side inside the picture that is a step against pixels beyond it; [1.0] if there is no such side."""
    rows, cols = grey.shape
    tone = int(round(panel.grey))
    sides = []
    for at, step, limit in (
        (panel.row_0, -1, rows),
        (panel.row_1 - 1, 1, rows),
        (panel.col_0, -1, cols),
        (panel.col_1 - 1, 1, cols),
    ):
        upright = len(sides) >= 2
        places = [at + step * distance for distance in distances]
        places = [place for place in places if 0 <= place < limit]
        if len(places) < len(distances):
            sides.append(None)
            continue
        lines = grey[panel.row_0 : panel.row_1, places].T if upright else grey[places, panel.col_0 : panel.col_1]
        sides.append(float((np.abs(lines.astype(np.int16) - tone) > least).any(axis=0).mean()))
    return [side for side in sides if side is not None] or [1.0]


def holds(outer: Panel, inner: Panel) -> bool:
    """Tell whether one panel lies within another one."""
    return (
        outer is not inner
        and outer.row_0 <= inner.row_0
        and inner.row_1 <= outer.row_1
        and outer.col_0 <= inner.col_0
        and inner.col_1 <= outer.col_1
    )


def around_both(one: Panel, other: Panel) -> Panel:
    """Return the smallest box around two, of the first one's tone."""
    return Panel(
        row_0=min(one.row_0, other.row_0),
        row_1=max(one.row_1, other.row_1),
        col_0=min(one.col_0, other.col_0),
        col_1=max(one.col_1, other.col_1),
        grey=one.grey,
    )


def adjoin(one: Panel, other: Panel) -> bool:
    """Tell whether two panels lie side by side, or one above the other, parted by a frame line at most."""
    row_gap = max(one.row_0, other.row_0) - min(one.row_1, other.row_1)
    col_gap = max(one.col_0, other.col_0) - min(one.col_1, other.col_1)
    lower = min(one.row_1 - one.row_0, other.row_1 - other.row_0)
    slimmer = min(one.col_1 - one.col_0, other.col_1 - other.col_0)
    beside = -row_gap >= 0.8 * lower and col_gap <= FRAME_PX
    stacked = -col_gap >= 0.8 * slimmer and row_gap <= FRAME_PX
    return beside or stacked
