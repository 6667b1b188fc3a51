"""What a plane shows at a column where a tick stands or should: its grey, its contrast, its height, and ink around it."""

import numpy as np


def column_level(plane: np.ndarray, centre: float, wide: int, rows: tuple[int, int]) -> float:
    """Median grey of the plane where a tick stands or could stand; 0 outside the picture."""
    low = int(round(centre - (wide - 1) / 2))
    if low < 0 or low + wide > plane.shape[1]:
        return 0.0
    return float(np.median(plane[rows[0] : rows[1], low : low + wide]))


def tick_contrast(plane: np.ndarray, centre: float, wide: int, rows: tuple[int, int], side: int) -> float:
    """Ink at a place where a tick should stand (±1 px), less the brighter of its two sides; 0 outside the picture."""
    low = int(round(centre - (wide - 1) / 2))
    return max(_contrast_at(plane, low + shift, wide, rows, side) for shift in (-1, 0, 1))


def _contrast_at(plane: np.ndarray, low: int, wide: int, rows: tuple[int, int], side: int) -> float:
    if low - 1 < 0 or low + wide + 1 > plane.shape[1]:
        return 0.0
    part = plane[rows[0] + 1 : rows[1] - 1] if rows[1] - rows[0] > 4 else plane[rows[0] : rows[1]]
    inside = float(np.percentile(part[:, low : low + wide], 25))
    before = part[:, max(low - side - 1, 0) : max(low - 1, 1)]
    after = part[:, low + wide + 1 : low + wide + side + 1]
    sides = [float(np.median(side_part)) for side_part in (before, after) if side_part.size]
    return inside - max(sides, default=0.0)


def tick_height(plane: np.ndarray, centre: float, wide: int, shared: tuple[int, int], level: float) -> int:
    """Rows that a tick takes, followed up and down from the rows that all ticks share."""
    low = max(int(round(centre - (wide - 1) / 2)), 0)
    column = plane[:, low : low + wide].max(axis=1)
    ground = float(np.median(column[shared[0] : shared[1]])) - 0.5 * level
    first, last = shared
    while first > 0 and column[first - 1] > ground:
        first -= 1
    while last < len(column) and column[last] > ground:
        last += 1
    return last - first


def stands_alone(plane: np.ndarray, centre: float, wide: int, shared: tuple[int, int], rows: tuple[int, int]) -> bool:
    """Tell whether ink ends above and below where the ticks' row ends: a figure of the label is taller or lower.

    shared: rows that every tick takes; rows: rows of the tallest.
    """
    low = max(int(round(centre - (wide - 1) / 2)), 0)
    columns = plane[:, low : low + wide]
    inside = float(np.median(columns[shared[0] : shared[1]]))
    beyond = [columns[max(rows[0] - 3, 0) : max(rows[0] - 1, 0)], columns[rows[1] + 1 : rows[1] + 3]]
    return all(not part.size or float(np.median(part)) < 0.85 * inside for part in beyond)


def share_between(
    plane: np.ndarray, places: np.ndarray, centres: np.ndarray, wide: int, rows: tuple[int, int], level: float
) -> float:
    """Share of the columns between the ticks of a row that hold ink which is no tick: letters are no ruler.

    places: columns (ticks,) at which the row has a tick; centres: columns of all marks.
    """
    first, last = int(round(places[0])), int(round(places[-1]))
    columns = np.arange(first, last + 1)
    ticks = np.concatenate([places, centres])
    free = (np.abs(columns[:, None] - ticks[None]) > wide / 2 + 2).all(axis=1)
    if not free.any():
        return 0.0
    band = plane[rows[0] : rows[1], columns[free]].astype(np.float32)
    return float((band.max(axis=0) - np.median(band) > 0.6 * level).mean())
