"""Bars in coloured ink over a grey picture: their ends are soft because files store colour coarsely, not because of the picture.

JPEG halves the resolution of colour (ITU-T T.81 with 4:2:0 sampling, the default of most writers), so that colour fades
over some pixels beyond its ink and reaches half of its strength where the ink ends. Nothing in a grey picture is coloured,
so that no end can melt into it.
"""

from dataclasses import replace

import numpy as np

from semwear.data_bar.bar_ends import DOUBTFUL_U_PX, LEAST_SOLID, MELTS, Bar, length_u_px, outer_edge
from semwear.data_bar.bars import find_bars, with_continuation_doubted
from semwear.data_bar.ink import Ink

HALF_COLOUR = 0.5
"""Share of the ink's own colour from which a pixel is covered by half at least."""
FADED_PX = 5
"""Pixels beyond a bar within which its colour has faded: JPEG spreads it over as many at half resolution."""
SHORTEST_SOFT_PX = 150.0
"""Length of a bar with soft ends at least, of which a pixel at either end is little."""
SOFT_END_PX = 1.0
"""Distance at most of a soft end from the edge of its piece of ink."""
SAME_END_PX = 4.0
"""Distance at most of the end of a bar at half of its colour from that of all coloured pixels."""


def coloured_bars(ink: Ink, bars: list[Bar], *, shortest_px: float) -> list[Bar]:
    """Return the bars of a coloured layer; what is doubted there may be sure at half of the ink's colour.

    ink: a layer whose plane is the strength of colour; bars: those of its mask; shortest_px as for `find_bars`.
    """
    bars = [_measured_to_the_ground(ink, bar) for bar in bars]
    if all(not bar.doubt for bar in bars):
        return bars
    inner = ink.mask & (ink.plane >= HALF_COLOUR * ink.high)
    clear = [_with_soft_ends(bar) for bar in find_bars(ink.plane, inner, shortest_px=shortest_px, burnt=False)]
    clear = [bar for bar in clear if not _measured_to_the_ground(ink, bar).doubt]
    chosen = []
    for bar in bars:
        same = [other for other in clear if bar.doubt and _is_same(bar, other)]
        chosen.append(same[0] if len(same) == 1 else _with_soft_ends(bar))
    return [with_continuation_doubted(bar, chosen) for bar in chosen]


def _measured_to_the_ground(ink: Ink, bar: Bar) -> Bar:
    """Return a solid bar between the ends that it has against a ground without any of its colour, doubted where they are soft."""
    solid = ink.mask[bar.row_0 : bar.row_1, bar.col_0 : bar.col_1].mean() >= LEAST_SOLID
    if bar.doubt or bar.kind not in ("filled", "line") or len(bar.parts) != 1 or not solid:
        return bar
    start, start_u = outer_edge(ink.plane, bar.box, at_left=True, beyond_px=FADED_PX)
    stop, stop_u = outer_edge(ink.plane, bar.box, at_left=False, beyond_px=FADED_PX)
    soft = MELTS if DOUBTFUL_U_PX in (start_u, stop_u) else ""
    return _with_soft_ends(replace(bar, start_px=start, stop_px=stop, u_px=length_u_px(start_u, stop_u), doubt=soft))


def _with_soft_ends(bar: Bar) -> Bar:
    """Return the bar without the doubt that its ends are soft, if they are where its ink ends; they are less sure."""
    edges = (bar.start_px - (bar.col_0 - 0.5), bar.stop_px - (bar.col_1 - 0.5))
    if bar.doubt != MELTS or bar.length_px < SHORTEST_SOFT_PX or max(np.abs(edges)) > SOFT_END_PX:
        return bar
    return replace(bar, doubt="", u_px=length_u_px(DOUBTFUL_U_PX, DOUBTFUL_U_PX))


def _is_same(bar: Bar, other: Bar) -> bool:
    """Tell whether a bar at half of its colour is what another bar of all coloured pixels is.

    Ticks that are too faint at half of the colour make a line of a bar with ticks, which is measured elsewhere.
    """
    if bar.kind != other.kind and not {bar.kind, other.kind} <= {"filled", "line"}:
        return False
    rows = min(bar.row_1, other.row_1) > max(bar.row_0, other.row_0)
    ends = max(abs(bar.col_0 - other.col_0), abs(bar.col_1 - other.col_1))
    return rows and ends <= SAME_END_PX
