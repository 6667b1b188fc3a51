"""Scuff: metal torn or ploughed by adhesion, in streaks along the stroke. Sizes: common practice, no source."""

import cv2
import numpy as np

from makers.sidelit.frame import Frame, large


def tear(frame: Frame, height: np.ndarray, light: np.ndarray, codes: np.ndarray, contact: np.ndarray):
    """New height in µm and tone (rows, cols) with streaks torn into the track; codes are set in place."""
    rng = frame.rng
    mask = streaks(frame, contact, rng.uniform(0.06, 0.42))
    heights, torn = _heights(frame)
    edge = np.clip(frame.blur(mask.astype(np.float32), 0.5), 0, 1)
    height = height * (1 - 0.82 * edge) + edge * (heights + 0.1)
    light = light * (1 - 0.6 * edge) + 0.6 * edge
    light *= 1 + edge * (rng.uniform(0.03, 0.14) * rng.choice([-1, 1]) - 0.12 * np.clip(torn - 0.6, 0, 1))
    codes[mask] = 3
    return height, light


def streaks(frame: Frame, contact: np.ndarray, share: float) -> np.ndarray:
    """Mask (rows, cols) of streaks along the stroke over about a share of the track."""
    rng, px = frame.rng, frame.px
    high, ran = min(frame.shape) * px, contact > 0.5
    field = frame.noise(min(rng.uniform(100, 260), 0.7 * high), min(rng.uniform(14, 40), 0.15 * high))
    field = field + 0.22 * frame.noise(22, 2.5)
    field += 0.5 * frame.noise(0.6 * high, 0.3 * high)
    mask = (ran & (field > np.quantile(field[ran], 1 - share))).astype(np.uint8)
    side = min(max(3, int(round(1.6 / px)) | 1), 9)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    mask = cv2.morphologyEx(cv2.morphologyEx(mask, cv2.MORPH_OPEN, disc), cv2.MORPH_CLOSE, disc)
    return large(mask, max(60, 60 / px**2)) & ran


def _heights(frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Heights in µm of ploughed and torn metal, and how far it is torn, 0–1.2, both (rows, cols)."""
    rng, px = frame.rng, frame.px
    plough = 0.5 * frame.noise(90, max(rng.uniform(3, 6), 3 * px)) + 0.26 * frame.noise(40, max(1.6, 2 * px))
    plough = plough + 0.12 * frame.noise(5, 2, octaves=2)
    torn = np.clip(frame.noise(26, 14) + rng.uniform(-0.6, 0.8), 0, 1.2)
    scale = np.abs(frame.noise(rng.uniform(3.5, 7), rng.uniform(4, 9), octaves=3)) - 0.6
    return plough + 0.5 * torn * scale, torn
