"""Running-in: the ring's track and what it takes off the plateau."""

import dataclasses

import cv2
import numpy as np

from makers.escaped.frame import Frame, strand
from makers.escaped.hone import LIMIT_UM, Relief

BORDER_SHARE = 0.15
SPECK_PX = 20


def track_of(rng: np.random.Generator, frame: Frame) -> np.ndarray:
    """How far the ring ran over each point (rows, cols), 0 to 1; a border, where there is one, lies along the stroke."""
    if rng.random() > BORDER_SHARE:
        return np.ones(frame.shape, np.float32)
    low, high = float(frame.across.min()), float(frame.across.max())
    border = low + rng.uniform(0.3, 0.7) * (high - low) + 0.01 * frame.side_um * strand(rng, frame.along, frame.side_um / 4)
    return np.clip(rng.choice((-1.0, 1.0)) * (frame.across - border) / frame.at_least(8, 6) + 0.5, 0, 1).astype(np.float32)


def run_in(rng: np.random.Generator, relief: Relief, track: np.ndarray) -> Relief:
    """The relief after wear: peaks go first, then the plateau sinks towards the ground of the grooves (tests/SOURCES.md);
    specks of ground that just reach or just miss the limit go with what lies round them."""
    loss_um = rng.uniform(0, 0.7) ** 1.5
    depth = np.maximum(relief.depth - np.float32(loss_um) * track, 0)
    for state, levelled in ((depth >= LIMIT_UM, 0.95), (depth < LIMIT_UM, 1.05)):
        _, labels, stats, _ = cv2.connectedComponentsWithStats(state.astype(np.uint8))
        speck = stats[:, cv2.CC_STAT_AREA] < SPECK_PX
        depth[speck[labels] & state] = levelled * LIMIT_UM
    return dataclasses.replace(relief, depth=depth, rim=relief.rim * (1 - 0.9 * track))
