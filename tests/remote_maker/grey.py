"""From counts to grey values: shading, charging, brightness, contrast and gamma, and what clipping hides."""

import cv2
import numpy as np

from .microscope import Setting
from .randomness import Rng, mottle


def to_grey(
    counts: np.ndarray, plateau: float, setting: Setting, charge: np.ndarray, rng: Rng
) -> tuple[np.ndarray, np.ndarray]:
    """Return grey values 0-1 and, as a mask, what charging or clipping hides (larger patches of pure white).

    ``plateau``: mean signal of the plateau, put at the setting's middle grey.
    """
    rows, cols = counts.shape
    tilt = rng.normal(0, 0.03, 2) * (rng.random() < 0.6)
    shading = tilt[0] * np.linspace(-1, 1, rows)[:, None] + tilt[1] * np.linspace(-1, 1, cols)[None, :]
    if rng.random() < 0.15:
        shading = shading + 0.03 * mottle(rng, counts.shape, rows / 2, cols / 2)
    grey = setting.middle_grey + 0.5 * setting.gain * (counts / plateau * (1 + shading) - 1 + charge)
    grey = np.clip(grey, 0, 1) ** setting.gamma * setting.middle_grey ** (1 - setting.gamma)
    grey = np.clip(grey, 0, 1).astype(np.float32)
    glow = cv2.GaussianBlur(charge, (0, 0), 1.0) > 0.55
    white = cv2.blur((grey > 0.995).astype(np.float32), (7, 7)) > 0.9
    return grey, glow | white
