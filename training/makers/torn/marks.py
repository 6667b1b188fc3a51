"""Marks along the stroke that are no scuffing: running-in scratches, single abrasive scratches, polish."""

import numpy as np

from .frame import Frame, line, smooth, spread, step

RUNNING_IN_UM = 0.45
"""Running-in marks stay shallower than this."""


def running_in(rng: np.random.Generator, frame: Frame) -> np.ndarray:
    """Height (µm, picture) of many fine even marks along the stroke, in places denser."""
    side = (frame.side, frame.side)
    long = spread(rng, 0.2, 3) * frame.side
    marks = smooth(rng, side, spread(rng, 1, 4), long)
    sparse = np.minimum(marks + rng.uniform(0, 1.4), 0)
    dense = step(smooth(rng, side, spread(rng, 10, 80), long), -1.2, 0.8)
    return np.clip(spread(rng, 0.01, 0.12) * frame.to_picture(sparse * dense), -RUNNING_IN_UM, 0)


def abrasive(rng: np.random.Generator, frame: Frame, count: int) -> np.ndarray:
    """Height (µm, picture) that single hard particles left, dragged along the stroke: clean, even, sharp-edged, unlike
    adhesion. They may be deeper than 0.5 µm and are still no hone grooves."""
    height = frame.blank()
    side, px = frame.side, frame.pixel_um
    for _ in range(count):
        half = float(np.clip(spread(rng, 0.5, 5) / px, 0.7, 0.02 * side))
        length = int(side * spread(rng, 0.15, 1.5))
        a = int(rng.uniform(-0.5 * length, side - 0.5 * length))
        cols = np.arange(max(a, 0), min(a + length, side))
        row = side / 2 + rng.uniform(-0.4, 0.4) * side + rng.normal(0, 0.01) * (cols - side / 2)
        row += 0.3 * half * line(rng, cols.size, side / 3)
        top, end = max(0, int(row.min() - 2 * half) - 2), min(side, int(row.max() + 2 * half) + 3)
        if end <= top or cols.size < 4:
            continue
        tip = np.clip(np.minimum(cols - a, a + length - cols) / (8 * half), 0, 1)  # a particle sinks in and leaves
        ratio = np.abs(np.arange(top, end)[:, None] - row) / half
        depth = float(np.clip(half * px * spread(rng, 0.1, 0.5), 0.1, 3)) * tip
        cut = -depth * np.clip(1 - ratio, 0, 1) + 0.25 * depth * np.exp(-(((ratio - 1.2) / 0.2) ** 2))
        height[top:end, cols[0] : cols[-1] + 1] += cut
    return frame.to_picture(height)


def film(rng: np.random.Generator, frame: Frame) -> np.ndarray:
    """Share (0-1, picture) covered by tribofilm in bands along the stroke, patchy at their edges."""
    side = (frame.side, frame.side)
    bands = smooth(rng, side, spread(rng, 8, 60), spread(rng, 1, 6) * frame.side)
    patches = smooth(rng, side, spread(rng, 3, 15), spread(rng, 6, 60))
    return frame.to_picture(step(bands + rng.uniform(0.1, 0.7) * patches, rng.uniform(0, 1), rng.uniform(1.1, 2.0)))
