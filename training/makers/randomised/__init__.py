"""Fields with everything drawn at random within what the mask codes mean: geometry, closure, textures, tones and camera."""

import numpy as np

from ..made import Made
from . import camera, clutter, paint, wear
from .grooves import cut
from .noise import log_uniform

LIMIT_UM = 0.5
WALL_UM = 0.12
"""Below this a groove's run-out is land to the eye; its footprint begins here."""


def states_of(before: np.ndarray, ground: np.ndarray, crest: np.ndarray, filled: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Open valley and smeared ground (bool): depths in µm below the worn plateau before and after metal moved, the
    section's greatest depth in µm, and the share (0–1) to which metal fills it.

    A wall that was shallow already is closed only where the cap lies over it whole."""
    groove = (before > WALL_UM) & (crest >= LIMIT_UM)
    valley = groove & (ground >= LIMIT_UM)
    return valley, groove & ~valley & ((filled > 0.9) | ((filled > 0.15) & (before >= LIMIT_UM)))


def _stroke(rng: np.random.Generator) -> float:
    """Direction of the stroke, radians from the row direction: most often upright or level."""
    if rng.random() < 0.2:
        return rng.uniform(0, np.pi)
    return rng.choice([0.5, 0.5, 0.0]) * np.pi + np.deg2rad(rng.normal(0, 4))


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of shape (rows, cols) px with pixels of pixel_size_um µm; everything follows from rng."""
    stroke = _stroke(rng)
    relief = cut(rng, shape, pixel_size_um, stroke)
    zone, share = wear.track(rng, shape, stroke)
    worn = share >= 0.5
    # Truncation lowers the plateau itself, so what is left of a groove is measured from the new one.
    taken = log_uniform(rng, 0.02, 1.2) * share
    before = np.maximum(relief.depth - taken, 0)
    crest = relief.crest - taken
    groove = (before > WALL_UM) & (crest >= LIMIT_UM)

    ground, filled = before, np.zeros(shape, np.float32)
    if worn.any() and rng.random() < 0.6:
        filled = wear.close(rng, relief, groove, worn, stroke)
        ground = before * (1 - filled * rng.uniform(0.9, 1.0))
        # A full cap hides the groove however deep it was; a partial one leaves what it leaves.
        ground = np.where(filled > 0.9, np.minimum(ground, rng.uniform(0, 0.3)), ground).astype(np.float32)
    valley, closed = states_of(before, ground, crest, filled)
    scuffed = np.zeros(shape, bool)
    if worn.any() and rng.random() < 0.25:
        scuffed = wear.scuff(rng, shape, pixel_size_um, worn, stroke)

    beam = paint.draw_beam(rng)
    tone = paint.plateau(rng, shape, relief.lays, stroke, share)
    look = paint.valleys(rng, tone, ground, valley, pixel_size_um, beam)
    if closed.any():
        paint.smear(rng, tone, closed, stroke, beam)
    clutter.look_alikes(rng, tone, pixel_size_um, stroke)
    if scuffed.any():
        paint.torn(rng, tone, scuffed, stroke, beam)
    hidden = clutter.debris(rng, tone, beam.side + np.pi)
    image = camera.photograph(rng, tone.astype(np.float32), pixel_size_um)

    codes = np.zeros(shape, np.uint8)
    codes[valley] = 1
    codes[closed] = 2
    codes[scuffed] = 3
    codes[hidden] = 255
    states = [zone, look] + ["smeared"] * bool(closed.any()) + ["scuffed"] * bool(scuffed.any())
    return Made(image=image, codes=codes, worn=worn, kind=" ".join(states))
