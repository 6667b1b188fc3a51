"""Strips over the whole width of a picture, found by rows that are mostly of one tone."""

import numpy as np

from semwear.data_bar.panel import CUT_OUT_SHARE, LARGEST_HEIGHT_SHARE, SIDE_SHARE, Panel, has_tone, steps
from semwear.data_bar.pieces import stretches_of

FILLED_ROW = 0.2
"""Share of a strip's row that shows its ground between letters and beside a bar."""
ROW_TONE, ROWS_FILLED, MOST_TONES = 3, 0.5, 4
"""Grey levels around the commonest tone of a plain row, least share of a strip's tone in its rows, and tones that are tried."""


def strips_by_rows(grey: np.ndarray) -> list[Panel]:
    """Return the strips over the whole width whose rows are mostly of one tone.

    In a low strip what compression leaves around the letters parts the flat ground into pieces, of which none is the strip.
    """
    rows, cols = grey.shape
    tones = np.array([np.bincount(row, minlength=256).argmax() for row in grey])
    plain = (np.abs(grey.astype(np.int16) - tones[:, None]) <= ROW_TONE).mean(axis=1) >= SIDE_SHARE
    strips: list[Panel] = []
    for tone in _commonest_tones(tones[plain]):
        shares = has_tone(grey, tone).mean(axis=1)
        for first, last in stretches_of(shares >= FILLED_ROW):
            rims = first + np.flatnonzero(shares[first:last] >= SIDE_SHARE)
            if not rims.size:
                continue
            row_0, row_1 = int(rims[0]), int(rims[-1]) + 1
            strip = Panel(row_0=row_0, row_1=row_1, col_0=0, col_1=cols, grey=float(tone))
            low = 12 <= row_1 - row_0 <= LARGEST_HEIGHT_SHARE * rows
            known = any(row_0 < other.row_1 and other.row_0 < row_1 for other in strips)  # by a tone next to this one
            if not low or known or shares[row_0:row_1].mean() < ROWS_FILLED:
                continue
            if min(steps(grey, strip)) > CUT_OUT_SHARE:
                strips.append(strip)
    return strips


def _commonest_tones(tones: np.ndarray) -> list[int]:
    """Return the greys that most rows have, two rows at least; compression moves a strip's grey a little from row to row.

    >>> _commonest_tones(np.array([200, 22, 20, 24, 90, 91, 22]))
    [22, 90]
    """
    found: list[int] = []
    while len(tones) and len(found) < MOST_TONES:
        values, counts = np.unique(tones, return_counts=True)
        alike = [int(counts[np.abs(values - value) <= ROW_TONE].sum()) for value in values]
        # Of those that stand for as many rows, the one that most rows have themselves.
        best = max(range(len(values)), key=lambda place: (alike[place], counts[place]))
        if alike[best] < 2:
            break
        found.append(int(values[best]))
        tones = tones[np.abs(tones - values[best]) > ROW_TONE]
    return found
