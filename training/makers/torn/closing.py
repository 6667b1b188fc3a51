"""Moved metal: grooves of the track that sliding pushed shut, for short pieces or long ones, wholly or in part."""

import cv2
import numpy as np

from .frame import Frame, smooth, spread, step, whole

LIMIT_UM = 0.5
"""A groove's ground less than this below the plateau counts as plateau (semwear.terms)."""


def truncated(depth_um: np.ndarray, worn_off_um: np.ndarray | float) -> np.ndarray:
    """Depth (µm) left below a plateau that wear lowered: floors stay where they were."""
    return np.maximum(depth_um - worn_off_um, 0).astype(np.float32)


def filled(
    rng: np.random.Generator, frame: Frame, depth: np.ndarray, yielding: np.ndarray, worn: np.ndarray, share: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Depth after closing (µm), relief of the moved metal itself (µm) and where it lies (0-1), for `share` of the footprint."""
    foot = (depth >= LIMIT_UM) & worn
    px = frame.pixel_um
    if foot.sum() < 50:
        return depth, np.zeros_like(depth), np.zeros_like(depth)
    side = (frame.side, frame.side)
    dragged = frame.to_picture(
        smooth(rng, side, max(4.0, spread(rng, 2, 15) / px), max(12.0, spread(rng, 10, 120) / px))
    )
    ragged = smooth(rng, depth.shape, max(2.0, 1.0 / px), max(2.0, 1.0 / px))
    mix = rng.uniform(0.15, 0.85)
    push = mix * dragged + (1 - mix) * yielding + spread(rng, 0.04, 0.2) * ragged
    push = cv2.GaussianBlur(push, (0, 0), 1.2)
    limit = float(np.quantile(push[foot][::7], 1 - share))
    part = rng.uniform(0.0, 0.5)  # of the groove's depth, filled beside a closure
    amount = step(push, limit - 0.35, limit) * part
    lid = spread(rng, 0.03, 0.4) * (0.6 + 0.4 * np.tanh(smooth(rng, depth.shape, 8, 8)))
    shut = whole(push > limit, 20)
    # What is filled only in part stays a valley, however little is left of it.
    left = np.maximum(depth * (1 - amount), np.minimum(depth, LIMIT_UM + 0.05))
    after = np.where(shut, np.minimum(depth, lid), left)
    after = np.where(worn, after, depth).astype(np.float32)
    metal = (shut & foot).astype(np.float32)
    return after, _relief(rng, frame, metal, push - limit), metal


def _relief(rng: np.random.Generator, frame: Frame, metal: np.ndarray, push: np.ndarray) -> np.ndarray:
    """Lips where the tongue of metal ends, the crack where it meets the far rim, and laps between successive passes."""
    px = frame.pixel_um
    soft = cv2.GaussianBlur(metal, (0, 0), max(1.0, 0.5 / px))
    edge = 4 * soft * (1 - soft)
    pull = np.array([np.cos(frame.angle), np.sin(frame.angle)]) * rng.choice([-1, 1])
    lead = pull[0] * cv2.Sobel(soft, cv2.CV_32F, 1, 0) + pull[1] * cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    lead = np.clip(-lead / (np.abs(lead).max() + 1e-6), -1, 1)
    relief = spread(rng, 0.12, 0.45) * edge * np.clip(lead + 0.25, 0, 1)
    if rng.random() < 0.8:
        relief -= spread(rng, 0.15, 0.45) * edge * np.clip(-lead, 0, 1)
    if rng.random() < 0.7:
        laps = np.abs(((push * rng.uniform(1.5, 5)) % 1) - 0.5)
        relief -= spread(rng, 0.05, 0.25) * metal * step(laps, 0.36, 0.48)
    if rng.random() < 0.6:  # the slider leaves its own fine drag lines on what it laid there
        drag = frame.to_picture(smooth(rng, (frame.side, frame.side), spread(rng, 1.2, 3), spread(rng, 15, 80)))
        relief += np.clip(spread(rng, 0.01, 0.06) * drag, -0.15, 0.15) * metal
    return relief
