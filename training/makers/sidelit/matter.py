"""Brightness of the material itself, whatever its slope."""

import numpy as np

from makers.sidelit.frame import Frame
from makers.sidelit.moved import BURNISHED, Moved


def tone(frame: Frame, lay: float, depth: np.ndarray, moved: Moved, contact: np.ndarray) -> np.ndarray:
    """Map (rows, cols), plain metal 1: darker floors filled with carbon, the track's own tone, moved metal lighter or darker.

    lay in rad from the circumference; depth and contact (rows, cols), depth in µm. Amounts: common practice, no source."""
    rng = frame.rng
    light = np.ones(frame.shape, np.float32)
    fill = rng.uniform(0, 0.35)
    patches = np.clip(0.6 + 0.5 * frame.noise(25, 8, lay), 0, 1)
    light *= 1 - fill * np.clip(depth, 0, 1) * (moved.codes == 1) * patches
    light *= 1 + contact * rng.uniform(-0.10, 0.10)
    shade = rng.uniform(0.15, 0.24) * rng.choice([-1.1, 1.35])
    by_kind = np.where(moved.look > 0, np.where(moved.look == BURNISHED, 0.6 * shade, shade), 0)
    light *= 1 + (by_kind * np.clip(0.85 + 0.4 * moved.texture, 0.1, 1.8)).astype(np.float32)
    return light
