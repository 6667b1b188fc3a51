"""Metal that the ring moved into grooves: the height to which each closure fills its stretch of a groove."""

import numpy as np

from .grooves import Groove
from .relief import log_uniform, noise

EMPTY_UM = -14.0
"""Fill height where no metal came, below the deepest groove."""
KINDS = ("cap", "bridge", "lip", "tongue", "strip", "floor")


def closure(rng: np.random.Generator, kind: str, along: np.ndarray, across: np.ndarray, ragged: np.ndarray) -> np.ndarray:
    """Fill height in µm under the plateau; along and across run −1 to 1 over the closure, EMPTY_UM where it doesn't reach."""
    side = 1 if rng.random() < 0.5 else -1
    inside = 1 - np.abs(along) + rng.uniform(0.03, 0.25) * ragged
    level = -rng.uniform(0.02, 0.4) + 0.08 * along * rng.uniform(-1, 1)
    if kind == "cap":
        level = level - rng.uniform(0, 0.1) * np.abs(across)
    elif kind == "lip":
        reach = rng.uniform(-0.2, 0.8)
        inside = np.minimum(inside * 3, reach - side * across + 0.3 * ragged)
        level = level + rng.uniform(0, 0.3) * np.exp(-((inside / 0.2) ** 2))
    elif kind == "tongue":
        inside = np.minimum(inside, (1 - side * along) * rng.uniform(0.5, 1) - np.abs(across - 0.3 * ragged))
        folds = (along * rng.uniform(1.5, 5) + 0.3 * across**2 + 0.3 * ragged) % 1.0
        level = level + rng.uniform(0.05, 0.25) * (folds - 0.5)
    elif kind == "strip":
        level = np.full_like(along, -rng.uniform(0.0, 0.12))
    elif kind == "floor":
        # Filled in part only: it stays an open valley, if a shallower one.
        level = -log_uniform(rng, 0.6, 3.0) + 0.2 * ragged
    if kind != "floor":
        # Moved metal seldom welds to the rim: a shallow seam stays.
        level = level - rng.choice([0, 1, 1, 1]) * rng.uniform(0.08, 0.38) * np.exp(-(((np.abs(across) - 0.93) / 0.1) ** 2))
        level = level + 0.06 * ragged * rng.uniform(0, 1)
        level = np.clip(level, -0.46, 0.35)
    return np.where(inside > 0, level, EMPTY_UM).astype(np.float32)


def fill(rng: np.random.Generator, grooves: list[Groove], size: int, pixel_size_um: float, severity: float) -> np.ndarray:
    """Fill height in µm in the frame of the grooves; severity 0–1 is about the share of chosen grooves and of their length."""
    filled = np.full((size, size), EMPTY_UM, np.float32)
    grain_px = [max(log_uniform(rng, 1.0, longest) / pixel_size_um, 3.0) for longest in (4, 8)]
    ragged = noise(rng, (size, size), *grain_px)
    weights = rng.dirichlet([1.2, 0.4, 0.7, 0.9, 0.9, 0.15])
    long_um = min(log_uniform(rng, 8, 250), 0.7 * size * pixel_size_um)
    shear = rng.uniform(-1, 1)
    for groove in grooves:
        if groove.depth_um.max() < 0.5 or rng.random() > 0.4 + 0.6 * severity:
            continue
        share, closed, tries = np.clip(severity * rng.uniform(0.5, 1.8), 0.05, 0.97), 0.0, 0
        while closed < share * size and tries < 30:
            tries += 1
            kind = str(rng.choice(KINDS, p=weights))
            length_um = log_uniform(rng, 2, 10) if kind == "bridge" else long_um * log_uniform(rng, 0.3, 2.0)
            half_px = max(length_um / pixel_size_um / 2, 2.0)
            middle = rng.uniform(0, size)
            columns = slice(max(int(middle - 1.6 * half_px), 0), min(int(middle + 1.6 * half_px) + 1, size))
            rows = Groove.rows(groove, size, 1.0)
            if columns.stop - columns.start < 2 or rows.stop - rows.start < 1:
                continue
            across = groove.across(rows, columns)
            u = np.arange(columns.start, columns.stop, dtype=np.float32)[None]
            # The ring drags along the stroke, which crosses the groove aslant: so do the ends of a closure.
            along = (u - middle - shear * across * groove.half_px[None, columns]) / half_px
            metal = closure(rng, kind, along, across, ragged[rows, columns])
            metal[np.abs(across) > 1.0] = EMPTY_UM
            np.maximum(filled[rows, columns], metal, out=filled[rows, columns])
            closed += 2 * half_px
    return filled
