"""Beam and counting: blur of two Gaussians, lines that jitter, and electrons counted at random.

The beam's spot is a narrow Gaussian with a broad, weak one for electrons that come back from the range of the beam (the sum of
two Gaussians of electron-beam exposure; from memory). Counts are Poisson: shot noise of N = i t / e electrons a pixel. A
picture integrated over several scans of a line shares its dose among them, each displaced by its own jitter.
"""

import cv2
import numpy as np

from .microscope import Setting, electron_range_um
from .randomness import Rng, wander


def spread(signal: np.ndarray, setting: Setting, pixel_um: float) -> np.ndarray:
    """Return the signal seen through the beam."""
    core = np.hypot(setting.core_px, setting.defocus_px)
    wide = np.clip(2 * electron_range_um(setting.kv) / pixel_um, 2, 14)
    sharp = cv2.GaussianBlur(signal, (0, 0), core, borderType=cv2.BORDER_REFLECT)
    broad = cv2.GaussianBlur(signal, (0, 0), wide, borderType=cv2.BORDER_REFLECT)
    return (1 - setting.tail) * sharp + setting.tail * broad


def counted(signal: np.ndarray, setting: Setting, rng: Rng) -> np.ndarray:
    """Return counts over the dose, so that the plateau's mean is that of the signal and its variance is signal / dose."""
    if setting.jitter_px == 0:
        return (rng.poisson(signal * setting.dose) / np.float32(setting.dose)).astype(np.float32)
    rows, cols = signal.shape
    row, col = np.indices((rows, cols), dtype=np.float32)
    scans = min(setting.lines, 2)
    sway = wander(rng, rows, 25) * setting.jitter_px
    total = np.zeros_like(signal)
    for _ in range(scans):
        shift = (sway + rng.normal(0, setting.jitter_px, rows)).astype(np.float32)
        moved = cv2.remap(signal, col + shift[:, None], row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        total += rng.poisson(moved * (setting.dose / scans))
    return total / np.float32(setting.dose)
