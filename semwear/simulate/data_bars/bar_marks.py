"""The mark of a scale bar in its several shapes, with the exact place of its two ends.

Which points count as the ends, here and in the reader:

- *outer edges* for solid marks (filled, line, double, hollow, chequered): a bar on the columns 10 to 109 is 100 px long;
- *tick centres* for marks that end in ticks (end ticks, ruler, ticks alone, bracket, gap): centre to centre of the outer
  ticks, because there the tick marks a place and its width is only the width of the pen.
"""

import numpy as np

from semwear.simulate.data_bars.block import Block, ink

OUTER_EDGES = "outer edges"
TICK_CENTRES = "tick centres"

SHAPES: dict[str, str] = {
    "filled": OUTER_EDGES,
    "line": OUTER_EDGES,
    "double": OUTER_EDGES,
    "hollow": OUTER_EDGES,
    "chequered": OUTER_EDGES,
    "chequered rows": OUTER_EDGES,
    "end ticks": TICK_CENTRES,
    "ruler": TICK_CENTRES,
    "ticks alone": TICK_CENTRES,
    "bracket up": TICK_CENTRES,
    "bracket down": TICK_CENTRES,
    "heavy with ticks": TICK_CENTRES,
    "gap": TICK_CENTRES,
}
"""Every shape of mark and which points are its ends."""


def span(pixels: int, start: float, stop: float) -> np.ndarray:
    """Return the share of each of ``pixels`` pixels that the interval [start, stop) covers, float32.

    >>> span(4, 0.5, 3).tolist()
    [0.5, 1.0, 1.0, 0.0]
    """
    edges = np.arange(pixels, dtype=np.float32)
    return np.clip(np.minimum(edges + 1, stop) - np.maximum(edges, start), 0, 1).astype(np.float32)


def _box(shape, rows, cols) -> np.ndarray:
    return np.outer(span(shape[0], *rows), span(shape[1], *cols))


def _solid(shape_name: str, length: float, thick: int, parts: int) -> tuple[np.ndarray, float, float, float]:
    cols = int(np.ceil(length))
    if shape_name == "double":
        rows = 3 * thick
        mark = _box((rows, cols), (0, thick), (0, length)) + _box((rows, cols), (2 * thick, rows), (0, length))
    elif shape_name == "hollow":
        rows, wall = max(5, 3 * thick), max(1, thick // 3)
        mark = _box((rows, cols), (0, rows), (0, length))
        mark -= _box((rows, cols), (wall, rows - wall), (wall, length - wall))
    elif shape_name in ("chequered", "chequered rows"):
        rows = max(6, 2 * thick)
        mark = np.zeros((rows, cols), np.float32)
        breaks = np.round(np.linspace(0, length, parts + 1)) if length == round(length) else np.linspace(
            0, length, parts + 1)
        for part in range(parts):
            if shape_name == "chequered rows":
                half = (0, rows / 2) if part % 2 == 0 else (rows / 2, rows)
                mark += _box((rows, cols), (round(half[0]), round(half[1])), breaks[part : part + 2])
            elif part % 2 == 0:
                mark += _box((rows, cols), (0, rows), breaks[part : part + 2])
        outline = _box((rows, cols), (0, rows), (0, length)) - _box((rows, cols), (1, rows - 1), (1, length - 1))
        mark = np.maximum(mark, outline)
    else:
        rows = thick
        mark = _box((rows, cols), (0, rows), (0, length))
    return np.clip(mark, 0, 1), rows / 2, 0.0, length


def _ticked(shape_name: str, length: float, pen: int, tick: int, ticks: int, gap: tuple[float, float] | None,
            rng: np.random.Generator) -> tuple[np.ndarray, float, float, float]:
    shape = (tick, int(np.ceil(length + pen)))
    heavy = min(3 * pen, tick - 2) if shape_name == "heavy with ticks" else pen
    line_top = {"bracket up": tick - pen, "bracket down": 0}.get(shape_name, (tick - heavy) // 2)
    mark = np.zeros(shape, np.float32)
    if shape_name != "ticks alone":
        # The line runs from the outer edge of one end tick to the outer edge of the other.
        pieces = [(0.0, length + pen)] if gap is None else [(0.0, gap[0]), (gap[1], length + pen)]
        for piece in pieces:
            mark = np.maximum(mark, _box(shape, (line_top, line_top + heavy), piece))
    count = ticks if shape_name in ("ruler", "ticks alone") else 2
    places = np.linspace(0, length, count)
    if length == round(length):
        places = np.round(places)
    short = int(tick * rng.choice([0.5, 0.7, 1.0])) if count > 2 else tick
    hung = rng.choice(["top", "middle", "bottom"]) if shape_name == "ticks alone" else "middle"
    for index, place in enumerate(places):
        tall = tick if index in (0, count - 1) or (count % 2 and index == count // 2) else max(3, short)
        top = {"top": 0, "middle": (tick - tall) // 2, "bottom": tick - tall}[hung]
        mark = np.maximum(mark, _box(shape, (top, top + tall), (place, place + pen)))
    return mark, line_top + heavy / 2, pen / 2, pen / 2 + length


def draw_bar(shape_name: str, length_px: float, colour, rng: np.random.Generator, *, thick_px: int, tick_px: int,
             ticks: int = 11, gap_px: float = 0.0) -> Block:
    """Return the mark of a scale bar of ``length_px`` between its two ends.

    shape_name: a key of SHAPES; colour: three values 0..1; thick_px: thickness of a solid bar or width of the pen of a
    ticked one; tick_px: height of the end ticks; ticks: number of ticks of a ruler or of ticks alone, or of parts of a
    chequered bar; gap_px: opening in the middle of the line of a "gap". A whole ``length_px`` gives crisp pixels, a
    fractional one gives an end whose coverage is partial.
    """
    if SHAPES[shape_name] == OUTER_EDGES:
        mark, row, start, stop = _solid(shape_name, length_px, thick_px, ticks)
    else:
        tick_px = max(tick_px, thick_px + 4)
        opening = None
        if gap_px:
            middle = (length_px + thick_px) / 2
            opening = (round(middle - gap_px / 2), round(middle + gap_px / 2))
        mark, row, start, stop = _ticked(shape_name, length_px, thick_px, tick_px, ticks, opening, rng)
    return ink(mark, colour, ends_px=((float(row), float(start)), (float(row), float(stop))))
