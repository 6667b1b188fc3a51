"""A bar of which two upright ticks mark the ends, whatever else is drawn between or beside them."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TypeVar

from semwear.data_bar.bar_ends import DOUBTFUL_U_PX, Bar, Box, length_u_px

LOWEST_PX, HIGHEST_PX = 5, 60
"""Rows of a tick."""
End = TypeVar("End")


def nearest_pairs(
    left: Iterable[End], right: Sequence[End], *, inner: Callable[[End], Box], alike: Callable[[End, End], bool]
) -> Iterator[tuple[End, End]]:
    """Yield every left end of a bar with the nearest right one of its size that lies wholly beyond it.

    inner: the box of an end's part that faces the other end; alike: whether two ends may belong to one bar.

    >>> boxes = [(0, 9, 40, 42), (0, 9, 20, 22), (0, 9, 2, 4)]
    >>> list(nearest_pairs([(0, 9, 10, 12)], boxes, inner=lambda box: box, alike=lambda one, other: True))
    [((0, 9, 10, 12), (0, 9, 20, 22))]
    """
    for one in left:
        beyond = [other for other in right if inner(other)[2] > inner(one)[3] and alike(one, other)]
        if beyond:
            yield one, min(beyond, key=lambda other: inner(other)[2])


def bar_between(
    ticks: tuple[Box, Box],
    centres: tuple[tuple[float, float], tuple[float, float]],
    *,
    kind: str,
    line: tuple[int, int],
    others: tuple[Box, ...] = (),
    gap: tuple[int, int] | None = None,
) -> Bar:
    """Return the bar from the middle of a left tick to that of a right one.

    centres: (column, standard uncertainty) of either middle, pixels; line: first row and the one after the last of what the
    ticks bound; others: boxes that are inked besides the ticks; gap: columns left free for the label.
    """
    left, right = ticks
    (start, start_u), (stop, stop_u) = centres
    return Bar(
        kind=kind,
        start_px=start,
        stop_px=stop,
        row_px=(line[0] + line[1] - 1) / 2,
        u_px=length_u_px(start_u, stop_u),
        box=(min(left[0], right[0]), max(left[1], right[1]), left[2], right[3]),
        thickness_px=line[1] - line[0],
        parts=(left, right, *others),
        gap=gap,
        outer_ticks=(True, True),
        doubt="its ends aren't sure" if max(start_u, stop_u) >= DOUBTFUL_U_PX else "",
    )
