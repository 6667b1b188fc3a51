"""Scuffing: streaks and patches along the stroke in which the metal is torn or ploughed."""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.escaped.frame import Frame, cloud

SMALLEST_PX = 80


@dataclass(frozen=True)
class Torn:
    """Maps (rows, cols): where the metal is torn or ploughed; its height, µm, and its grain, spread near 1."""

    mask: np.ndarray
    height: np.ndarray
    grain: np.ndarray


def scuff(rng: np.random.Generator, worn: np.ndarray, frame: Frame, scuffed: bool) -> Torn:
    """One to six streaks inside the track, some merging into a patch; nothing without scuffing."""
    mask = np.zeros(frame.shape, bool)
    if not scuffed:
        return Torn(mask, *(np.zeros(frame.shape, np.float32) for _ in range(2)))
    for _ in range(int(rng.integers(1, 6))):
        half_width = frame.at_least(min(rng.uniform(5, 60), 0.11 * frame.side_um), 8)
        half_length = half_width * rng.uniform(3, 14)
        row, col = (int(rng.integers(size)) for size in frame.shape)
        along, across = frame.along - frame.along[row, col], frame.across - frame.across[row, col]
        ragged = cloud(rng, frame.along, frame.across, (half_length / 4, half_width / 2))
        fine = cloud(rng, frame.along, frame.across, (half_width, half_width / 5))
        mask |= (along / half_length) ** 2 + (across / half_width) ** 2 + 0.28 * ragged + 0.12 * fine < 1
    mask = _whole(mask & worn) & worn
    height, grain = _torn_metal(rng, frame)
    return Torn(mask, height, grain)


def _whole(mask: np.ndarray) -> np.ndarray:
    """The mask without its specks and pinholes (rows, cols)."""
    kernel = np.ones((3, 3), np.uint8)
    closed = cv2.morphologyEx(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel), cv2.MORPH_CLOSE, kernel)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(closed)
    large = stats[:, cv2.CC_STAT_AREA] >= SMALLEST_PX
    large[0] = False
    return large[labels]


def _torn_metal(rng: np.random.Generator, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Height in µm and grain of metal torn in scales across the stroke and ploughed in furrows along it (rows, cols)."""
    furrow = frame.at_least(rng.uniform(0.8, 3.0), 2.2)
    scale = frame.at_least(rng.uniform(1.0, 4.0), 2.2)
    ploughed = cloud(rng, frame.along, frame.across, (furrow * rng.uniform(8, 25), furrow))
    scales = cloud(rng, frame.along, frame.across, (scale, scale * rng.uniform(1.2, 2.5)))
    torn = np.abs(scales) - 0.8 + 0.5 * cloud(rng, frame.along, frame.across, (scale / 2, scale / 2))
    fine = cloud(rng, frame.along, frame.across, (frame.at_least(0.8, 3.5), frame.at_least(0.3, 1.5)))
    bias = rng.uniform(-1, 1)
    part = 1 / (1 + np.exp(-3 * (cloud(rng, frame.along, frame.across, (25 * furrow, 8 * furrow)) + bias)))
    grey = cloud(rng, frame.along, frame.across, (30 * furrow, 5 * furrow))
    grain = part * (ploughed + 0.5 * fine) + (1 - part) * (1.3 * torn + 0.3 * fine) + np.float32(rng.uniform(0.2, 0.6)) * grey
    return np.float32(rng.uniform(0.15, 0.6)) * grain, grain
