"""Metal torn or ploughed by adhesion, in streaks along the stroke, and the flow of metal that moved. Common practice, no source."""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.mixed.scene import Scene


@dataclass(frozen=True)
class Torn:
    """Maps (rows, cols) of unit spread or 0 to about 1: furrows ploughed; lapped scales; shreds; tear, how far it is torn, 0–1."""

    plough: np.ndarray
    scales: np.ndarray
    shred: np.ndarray
    tear: np.ndarray


@dataclass(frozen=True)
class Flow:
    """Maps (rows, cols) of unit spread: streaks of moved metal, and its folds."""

    streak: np.ndarray
    fold: np.ndarray


def streaks(scene: Scene, ran: np.ndarray, amount: float) -> np.ndarray:
    """Bool (rows, cols): streaks along the stroke over about that share of the track, ran (rows, cols)."""
    rng, px, (rows, cols) = scene.rng, scene.px, scene.shape
    y, x = np.arange(rows)[:, None], np.arange(cols)[None, :]
    lean = np.tan(np.radians(scene.stroke - 90))
    best = np.full(scene.shape, -1, np.float32)
    across = np.flatnonzero(ran.any(0))
    for _ in range(24):
        half_width = scene.lognormal(16, 0.6, 5, 70) * scene.size / px
        at = rng.uniform(across[0] - 0.2 * half_width, across[-1] + 0.2 * half_width)
        middle = at - lean * (y - rows / 2) + scene.wave(rows, 60)[:, None] * half_width * 0.12
        centre, half = rng.uniform(-0.1, 1.1) * rows, max(scene.lognormal(260, 0.7, 60, 2000) / px, 3 * half_width)
        along = 1 - (np.abs(y - centre) / half) ** 2.5
        more = np.maximum(best, np.minimum(along, 1.0) - np.abs(x - middle) / half_width)
        share = (more > 0)[ran].mean()
        if share < 1.4 * amount or (best.max() <= 0 and share < 0.6):
            best = more
        if (best > 0)[ran].mean() > amount:
            break
    ragged = scene.grain(scene.stroke, 30, 2.2) * 0.16 + scene.grain(scene.stroke, 90, 6) * 0.14
    mask = (best + ragged > 0).astype(np.uint8)
    radius = max(1, int(round(1.2 / px)))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
    mask = cv2.morphologyEx(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, disc), cv2.MORPH_OPEN, disc)
    return (mask > 0) & ran


def torn(scene: Scene) -> Torn:
    """Textures of scuffed metal, over the whole field."""
    rng, px, stroke, grain = scene.rng, scene.px, scene.stroke, scene.grain
    plough = grain(stroke, rng.uniform(50, 150), rng.uniform(1.2, 3)) + 0.7 * grain(stroke, 200, rng.uniform(4, 8))
    warp = grain(0, 6, 6) * 0.9 + grain(stroke, 30, 5) * 1.6
    down = np.arange(scene.shape[0], dtype=np.float32)[:, None]
    phase = down * px / rng.uniform(3, 7) + warp * rng.uniform(0.25, 0.6)  # one scale lies over the next
    scales = phase - np.floor(phase)
    scales = 1.6 * scene.blur(scales * scales, 0.3 / px) * np.clip(0.6 + 0.6 * grain(stroke, 12, 6), 0, 1.4)
    shred = grain(stroke, rng.uniform(4, 9), rng.uniform(0.7, 1.6))
    tear = grain(stroke, 60, 14) + 0.5 * grain(stroke, 14, 5) + rng.uniform(-0.9, 0.7)
    return Torn(plough, scales, shred, scene.blur(np.clip(tear / 0.5 + 0.5, 0, 1), 0.6 / px))


def flow(scene: Scene) -> Flow:
    """Textures of metal moved over grooves, over the whole field."""
    streak = scene.grain(scene.stroke, scene.rng.uniform(12, 40), scene.rng.uniform(0.7, 1.6))
    return Flow(streak, scene.grain(scene.stroke, 9, 2.5))
