"""Cross-sections of hone grooves as several abrasive grains plough them: lopsided, stepped, with uneven side ridges.

A grain leaves a lopsided trough; a groove is the envelope of one to five of them. Walls slope some 6 to 27° (figures of
the trade; from memory), which ties depth to width.
"""

import numpy as np

from tests.sheet_maker.noise import Rng

REACH = 1.6
"""A profile is known from -REACH to REACH half-widths."""
STEPS = np.linspace(-REACH, REACH, 97, dtype=np.float32)


def trough(rng: Rng) -> np.ndarray:
    """Return one grain's trough on STEPS: 0 outside, 1 at the deepest."""
    centre = rng.uniform(-0.5, 0.5)
    left, right = rng.uniform(0.35, 1.0, 2)
    bluntness = rng.uniform(0.7, 2.2)
    side = np.where(centre > STEPS, (centre - STEPS) / left, (STEPS - centre) / right)
    return np.clip(1 - np.clip(side, 0, 1) ** bluntness, 0, 1)


def groove_profile(rng: Rng) -> tuple[np.ndarray, np.ndarray]:
    """Return a groove's depth and its side ridges on STEPS, both in parts of the full depth; the groove spans ±1."""
    depth = np.zeros_like(STEPS)
    for _ in range(rng.integers(1, 6)):
        depth = np.maximum(depth, trough(rng) * rng.uniform(0.35, 1.0))
    inside = STEPS[depth > 0.04]
    middle, half = (inside[0] + inside[-1]) / 2, max((inside[-1] - inside[0]) / 2, 0.2)
    depth = np.interp(STEPS * half + middle, STEPS, depth)
    depth[np.abs(STEPS) > 1] = 0
    depth /= depth.max()
    ridges = np.zeros_like(STEPS)
    for side in (-1, 1):
        beyond = side * STEPS - 1
        ridges += rng.uniform(0, 0.22) * np.exp(-np.clip(beyond, 0, None) / 0.16) * (beyond >= 0)
    return depth.astype(np.float32), ridges.astype(np.float32)


def profile_library(rng: Rng, n: int = 24) -> tuple[np.ndarray, np.ndarray]:
    """Return n depths and n ridges, each (n, len(STEPS))."""
    pairs = [groove_profile(rng) for _ in range(n)]
    return np.stack([p[0] for p in pairs]), np.stack([p[1] for p in pairs])
