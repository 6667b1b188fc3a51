"""Scuffing: overloaded bands weld, patches are pulled out, and the lumps plough furrows along the stroke."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from .chance import decades, line, rough


@dataclass(frozen=True)
class Torn:
    """where: torn or ploughed ground (bool); height: what tearing adds, in um (negative in pits and furrows)."""

    where: np.ndarray
    height: np.ndarray


def plough(pulled_um: np.ndarray, fade_px: float, *, forth: bool) -> np.ndarray:
    """Depth in um of the furrow behind each lump: it starts at a pull-out and dies away along the rows over fade_px."""
    furrow = np.empty_like(pulled_um)
    state, stays = np.zeros(pulled_um.shape[1], np.float32), float(np.exp(-1 / fade_px))
    for row in range(len(pulled_um)) if forth else range(len(pulled_um) - 1, -1, -1):
        # the lump is worn at its flanks, so its furrow narrows
        flanks = np.minimum(np.roll(state, 1), np.roll(state, -1))
        state = np.maximum((0.97 * state + 0.03 * np.minimum(state, flanks)) * stays, pulled_um[row])
        furrow[row] = state
    return furrow


def tear(rng: np.random.Generator, share: np.ndarray, shape: tuple[int, int], pixel_um: float) -> Torn:
    """Tear a frame whose columns bear that share of the load (0: out of the track, never torn)."""
    rows, columns = shape
    band = line(rng, columns, max(4.0, decades(rng, 8, 90) / pixel_um)) + 0.3 * line(rng, columns, 4)
    over = 0.5 * band + rng.uniform(-0.4, 0.9) - 2 * (1 - share)
    patch_px = min(decades(rng, 3, 14) / pixel_um, 0.07 * min(shape))
    pull = rough(rng, shape, (1.6 * patch_px, patch_px)) + 0.5 * rough(rng, shape, (3, 2)) + over
    # the worst loaded places weld: a share of the ground, since scuffing was drawn
    pull -= np.quantile(pull[::3, ::3], 1 - decades(rng, 0.003, 0.05))
    pulled = np.clip(pull + 0.1, 0, 1.2).astype(np.float32) * (pull > 0) * decades(rng, 0.8, 4)
    fade = min(decades(rng, 8, 120) / pixel_um, 0.5 * rows)
    furrow = plough(pulled, fade, forth=True)
    if rng.random() < 0.5:
        furrow = np.maximum(furrow, plough(pulled, fade, forth=False))
    seen = max(0.06, 0.35 * float(np.median(pulled[pulled > 0])))
    frayed = rough(rng, shape, (min(25, 8 / pixel_um), 1.5)) + 0.7 * rough(rng, shape, (2, 1))
    furrow *= np.clip(1 + 0.3 * frayed, 0.05, 2)
    close = max(3, 2 * int(1.5 / pixel_um) + 1)
    where = ndimage.binary_closing(furrow > seen, np.ones((3, min(close, 9)), bool))
    where = ndimage.binary_opening(where, np.ones((5, 2), bool)) & (share > 0)
    ridges = sum(line(rng, columns, grain) for grain in (2, max(2, 1.5 / pixel_um), max(3, 4 / pixel_um)))
    sway = 0.5 + 0.6 * rough(rng, shape, (max(8, 15 / pixel_um), max(2.5, 1.5 / pixel_um)))
    debris = rough(rng, shape, (3, 1.5)) + rough(rng, shape, (max(2, 1.5 / pixel_um), max(1.5, 1 / pixel_um)))
    size = decades(rng, 0.25, 0.9) * max(1.0, pixel_um)
    height = -0.5 * furrow + size * (0.6 * ridges[None] * sway + decades(rng, 0.3, 1.1) * debris)
    soft = ndimage.gaussian_filter1d(where.astype(np.float32), 1.0, axis=1)
    return Torn(where, (height * soft * where).astype(np.float32))
