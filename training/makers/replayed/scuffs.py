"""Scuffing: adhesion tears, ploughs and picks up metal in streaks along the stroke.

After the descriptions of ISO 15243 adhesive wear and of scuffed liners (Ludema, Wear 100 (1984) 315, from memory)."""

import cv2
import numpy as np

from .grain import ramp
from .smears import Grains
from .surface import TORN, Surface, tear, window_around


def scuff(
    rng: np.random.Generator, surface: Surface, grains: Grains, at: tuple[int, int], half_long: float, half_wide: float,
    kind: str, strength: float,
) -> None:  # fmt: skip
    """One streak or band: ploughed (ridges), torn (ragged scabs) or picked up (flat lumps that end in torn fronts)."""
    reach = (int(1.5 * half_wide) + 3, int(1.1 * half_long) + 3)
    window, dy, dx = window_around(surface.groove.shape, at, reach)
    dy, dx = dy / half_wide, dx / half_long
    fine, lump, streak = grains.fine[window], grains.lump[window], grains.streak[window]
    inside = np.abs(dy) * (1 + 0.25 * lump) + np.abs(dx) ** 3 < 1 + 0.2 * streak
    inside = cv2.morphologyEx(inside.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 15), np.uint8))
    inside = cv2.morphologyEx(inside, cv2.MORPH_OPEN, np.ones((3, 9), np.uint8)) > 0
    if kind == "ploughed":
        top = 0.75 * streak + 0.3 * lump + 0.12 * fine
    elif kind == "torn":
        top = 0.5 * np.sign(lump) * np.sqrt(np.abs(lump)) + 0.45 * fine + 0.35 * streak
    else:
        raised = ramp(lump + 0.4 * streak, 0.1, 0.35)
        top = 1.3 * raised + 0.35 * fine * (1.2 - raised) + 0.3 * streak
    fill = rng.uniform(1, 3) * strength
    tear(surface, window, inside, strength * top, fill_um=fill if strength < 0.5 else 99.0)
    if kind != "ploughed":
        split = inside & (surface.state[window] == TORN) & (lump < -1.1) & (fine < 0.3)
        surface.crack[window] = np.maximum(surface.crack[window], split * np.float32(0.8 * strength))
