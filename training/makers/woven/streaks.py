"""What adhesion tears along the stroke: the torn streaks and how they look. Lengths in pixels unless said."""

import numpy as np

from .weave import Frame, cloud, spread, thread


def _ragged(rng: np.random.Generator, side: int) -> np.ndarray:
    """Share by which a streak's edge leaves its course: long bays with short tears on them."""
    return np.clip(0.18 * thread(rng, side, spread(rng, 25, 90)) + 0.1 * thread(rng, side, spread(rng, 4, 12)), -0.7, 0.9)


def torn(rng: np.random.Generator, frame: Frame, heavy: bool) -> np.ndarray:
    """Where metal is torn (bool), streaks along the frame's rows."""
    side = frame.side
    sheet = np.zeros((side, side), np.float32)
    along = np.arange(side, dtype=np.float32)
    for _ in range(int(rng.integers(4, 14)) if heavy else int(rng.integers(1, 5))):
        half = spread(rng, 4, 0.14 * side if heavy else 0.05 * side)
        length = side * spread(rng, 0.35, 3.5)
        middle = rng.uniform(0.2, 0.8) * side
        taper = np.sqrt(np.clip(1 - ((along - middle) / (length / 2)) ** 2, 0, 1))
        centre = rng.uniform(0.15, 0.85) * side + half * 0.15 * thread(rng, side, 60)
        left, right = (centre + sign * half * taper * (1 + _ragged(rng, side)) for sign in (-1, 1))
        low, high = int(max(left.min(), 0)), int(min(right.max() + 1, side))
        if high > low:
            cols = np.arange(low, high)[None]
            inside = (cols > left[:, None]) & (cols < right[:, None])
            sheet[:, low:high] = np.maximum(sheet[:, low:high], inside)
    return frame.lay(sheet) > 0.5


def torn_tone(rng: np.random.Generator, frame: Frame) -> np.ndarray:
    """Tone of torn metal against the plateau, grey levels: rough, with bright ridges and dark tears drawn out along the stroke."""
    size = (frame.side, frame.side)
    drawn = cloud(rng, size, spread(rng, 8, 40), spread(rng, 1.6, 4))
    # Ridges stand sharp and catch the light, so the bright tail is stretched and the dark one less so.
    ridge = np.clip(drawn - 0.6, 0, None) * rng.uniform(28, 60) - np.clip(-drawn - 0.7, 0, None) * rng.uniform(18, 45)
    tone = frame.lay(ridge) + cloud(rng, frame.shape, 2, 2) * rng.uniform(6, 15) + cloud(rng, frame.shape, 9, 9) * rng.uniform(5, 14)
    return tone + rng.uniform(-18, 22)
