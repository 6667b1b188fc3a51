"""Where the ring ran, and what it left of the heights."""

from dataclasses import dataclass

import numpy as np

from makers.sidelit.frame import Frame, large
from makers.sidelit.ground import LIMIT_UM, Ground


@dataclass(frozen=True)
class Surface:
    """Maps (rows, cols): height over the plateau and depth of the grooves below it in µm; footprint, bool, the open valleys."""

    height: np.ndarray
    depth: np.ndarray
    footprint: np.ndarray


def track(frame: Frame, worn: bool) -> tuple[np.ndarray, bool]:
    """Contact (rows, cols), 0 where the ring never ran to 1 where it did; and whether a border of the track crosses the field."""
    rng = frame.rng
    contact = np.full(frame.shape, float(worn), np.float32)
    border = worn and rng.random() < 0.2
    if border:
        axis, far = (frame.v, frame.shape[1]) if rng.random() < 0.6 else (frame.u, frame.shape[0])
        at = rng.uniform(-0.25, 0.25) * far * frame.px
        beyond = rng.choice([-1, 1]) * (axis - at + 3 * frame.noise(40, 8)) / 4
        contact = 1 / (1 + np.exp(-np.clip(beyond, -20, 20)))
    return contact, border


def run(frame: Frame, ground: Ground, contact: np.ndarray) -> Surface:
    """The ground after the run: grooves shallower by up to 0.45 µm, marks of the finish polished, marks of running-in added."""
    rng = frame.rng
    depth = np.clip(ground.depth - contact * rng.uniform(0.1, 0.45), 0, None)
    polish = contact * rng.uniform(0.35, 0.9)
    marks = 0.045 * frame.noise(250, 1.3) + 0.06 * frame.noise(150, 3.5)
    plateau = ground.marks * (1 - polish) + ground.isotropic * (1 - 0.6 * polish) + contact * rng.uniform(0.3, 1.0) * marks
    plateau += ground.rim * (1 - contact) * (depth < LIMIT_UM)
    footprint = large(depth >= LIMIT_UM, max(40, 30 / frame.px**2))
    depth = np.where(footprint, depth, np.minimum(depth, 0.42)).astype(np.float32)
    height = plateau * np.clip(1 - depth, 0, 1) - depth
    height = np.where(footprint, np.minimum(height, -LIMIT_UM), np.maximum(height, -0.47)).astype(np.float32)
    return Surface(height, depth, footprint)
