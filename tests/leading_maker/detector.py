"""The column and the detector: shading, the probe's blur, gain, noise of counting and of lines."""

import cv2
import numpy as np

from tests.leading_maker.kept import Kept
from tests.leading_maker.noise import F
from tests.leading_maker.section import Section


def expose(
    rng: np.random.Generator, kept: Kept, s: Section, img: np.ndarray, hidden: np.ndarray
) -> np.ndarray:  # fmt: skip
    """Return the picture (rows, cols) uint8 of a signal; contrast is set on what is not hidden.

    The noise goes with the square root of the signal, 1/sqrt(N) of N electrons counted [D, tests/SOURCES.md].
    """
    rows, cols = s.shape
    tilt = kept("shading").normal(0, 0.10, 3)
    x, y = s.xx / cols - 0.5, s.yy / rows - 0.5
    img = img + tilt[0] * x + tilt[1] * y + tilt[2] * 2 * (x * x + y * y - 0.17)
    probe = kept("probe").uniform(0.35, 1.15)
    other = probe * kept("astigmatism").uniform(0.85, 1.35)
    img = cv2.GaussianBlur(img.astype(F), (0, 0), sigmaX=probe, sigmaY=other)
    spread = float(img[~hidden].std()) + 0.05
    gain = min(kept("contrast").uniform(24, 52) / spread, 190.0)
    grey = kept("brightness").uniform(95, 150) + gain * (img - float(np.median(img)))
    grey = np.clip(grey, -20, 320)
    grey = 255 * np.clip(grey / 255, 0, 1.25) ** kept("gamma").uniform(0.85, 1.2)
    dose = np.exp(kept("dose").uniform(np.log(40), np.log(320)))
    counted = rng.standard_normal(s.shape, dtype=F) * np.sqrt(np.clip(grey, 8, None) / 128) * F(128 / np.sqrt(dose))
    if kept("averaged").random() < 0.4:  # frame average or slow scan leaves correlated noise
        counted = 1.5 * cv2.GaussianBlur(counted, (0, 0), sigmaX=kept("averaging").uniform(0.4, 0.9), sigmaY=0.35)
    grey = grey + counted + rng.normal(0, kept("lines").uniform(0, 1.6), (rows, 1))
    return np.clip(np.round(grey), 0, 255).astype(np.uint8)
