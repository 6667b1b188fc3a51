"""Metal that closes grooves: plugs of debris, rims bent in, caps over a hollow, bridges."""

import numpy as np

from .sections import Groove
from .texture import log_uniform, wander

LENGTHS = {"plug": (1.5, 20), "fold": (2, 30), "cap": (1, 8), "bridge": (0.4, 2.0), "half": (2, 20), "sunk": (2, 15)}
"""Of each way of closing, in groove widths along the groove (common practice, no source)."""


def close(rng: np.random.Generator, groove: Groove, *, share: float, weights: np.ndarray) -> None:
    """Closes about this share of the groove's length, by ways drawn by weight, in the order of LENGTHS."""
    count = len(groove.depth_um)
    width = max(groove.width_um(), groove.step_um)
    done, tries = 0.0, 0
    while done < share * count and tries < 60:
        tries += 1
        way = str(rng.choice(list(LENGTHS), p=weights))
        length = log_uniform(rng, *LENGTHS[way]) * width / groove.step_um
        if rng.random() < 0.12:
            length *= 5
        first = rng.uniform(-length / 2, count - length / 2)
        _lay(rng, groove, way, first, length, width / groove.step_um)
        done += min(first + length, count) - max(first, 0)


def _lay(rng, groove: Groove, way: str, first: float, length: float, width: float) -> None:
    """One closure over length sections from the section first on; width in sections."""
    at = np.arange(len(groove.depth_um))
    inside = np.minimum(at - first, first + length - at)
    ramp = max(width * rng.uniform(0.15, 1.2), 1.0) if way in ("fold", "half") else max(0.15 * width, 0.7)
    full = np.clip(inside / ramp, 0, 1)
    ragged = 0.06 * wander(rng, len(at), max(width * 0.4, 1))
    if way in ("plug", "sunk"):
        level = rng.uniform(0, 0.4) if way == "plug" else rng.uniform(0.6, 2.0)
        filled = np.where(full > 0, groove.depth_um + (level - groove.depth_um) * full, np.inf)
        groove.plug_um = np.minimum(groove.plug_um, np.maximum(filled, min(level, 0.4)))
    elif way == "half":
        side = groove.fold_left if rng.random() < 0.5 else groove.fold_right
        np.maximum(side, full * np.clip(rng.uniform(0.3, 0.85) + ragged, 0, 1), out=side)
    else:
        seam = np.clip(rng.uniform(0.3, 0.7) + ragged, 0.05, 0.95)
        np.maximum(groove.fold_left, full * seam, out=groove.fold_left)
        np.maximum(groove.fold_right, full * (1 - seam) + 1e-3 * (full >= 1), out=groove.fold_right)
        if way != "fold":
            groove.hollow = np.maximum(groove.hollow, full >= 1)
    groove.lip = np.maximum(groove.lip, np.where(inside > 0, np.exp(-((inside / max(0.25 * width, 1)) ** 2)), 0))


def covered(v, fold_left, fold_right, plug_um):
    """Whether moved metal stands within 0.5 µm of the plateau at v (−1 at the left rim, 1 at the right one)."""
    return (v < -1 + 2 * fold_left) | (v > 1 - 2 * fold_right) | (plug_um < 0.5)
