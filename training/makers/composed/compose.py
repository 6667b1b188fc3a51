"""The picture's signal, composed from the masks, the depth and the bank of textures."""

from dataclasses import dataclass

import cv2
import numpy as np

from . import bank
from .lay import LIMIT_UM
from .noise import ramp, soft


@dataclass(frozen=True, kw_only=True)
class Scene:
    """Maps (rows, cols): depth after wear in µm; owner: number of the sheet that is deepest there; cap, flush, scuffed,
    worn: bool; seam, crease, rim: 0 to 1; marks: running-in marks and scratches in µm; ruin: relief of scuffed metal in µm;
    torn: 0 to 1."""

    depth: np.ndarray
    owner: np.ndarray
    cap: np.ndarray
    flush: np.ndarray
    scuffed: np.ndarray
    worn: np.ndarray
    seam: np.ndarray
    crease: np.ndarray
    rim: np.ndarray
    marks: np.ndarray
    ruin: np.ndarray
    torn: np.ndarray


def sided(height: np.ndarray, pixel_um: float, side_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Slope towards the detector and steepness, (rows, cols), of a height in µm; both saturate as steep faces do."""
    gx = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=1 / (8 * pixel_um))
    gy = cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=1 / (8 * pixel_um))
    towards = gx * np.cos(np.deg2rad(side_deg)) + gy * np.sin(np.deg2rad(side_deg))
    return np.tanh(2.0 * towards), np.sqrt(1 + np.minimum(gx**2 + gy**2, 4.0)) - 1


def lips(shut: np.ndarray, ground: np.ndarray, pixel_um: float, reach_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Edge brightness of a lip that hangs over open ground, and the shadow that it throws there: 0 to 1, (rows, cols)."""
    return 2 * soft(ground, reach_um, pixel_um) * shut, 2 * soft(shut, reach_um, pixel_um) * ground


def compose(rng, scene: Scene, sheets, marks: float, pixel_um: float, stroke_deg: float) -> np.ndarray:
    """Signal (rows, cols): plateau near 0, contrasts near 1."""
    shape = scene.depth.shape
    tone = bank.tones(rng)
    plain = bank.plateau(rng, shape, pixel_um, sheets, marks)
    quiet = np.where(scene.worn, rng.uniform(0.3, 0.9), 1.0).astype(np.float32)  # running-in takes the marks first
    open_ = (scene.depth >= LIMIT_UM) & ~scene.scuffed
    below = ramp(soft(scene.depth, 0.1, pixel_um), 0.32, 0.68)
    signal = tone["plateau_grain"] * quiet * plain - rng.uniform(0.3, 1.0) * scene.marks
    signal = signal + rng.choice((-1, 1)) * rng.uniform(0, 0.25) * soft(scene.worn, 1.0, pixel_um)

    ground = bank.floor(rng, shape, pixel_um, sheets, scene.owner, tone["valley_grain"])
    starved = rng.uniform(0, 0.25) * np.clip(scene.depth - 1, 0, 4)
    signal += below * (tone["valley"] + ground - starved - signal)
    signal += rng.uniform(0.0, 0.7) * scene.rim * (1 - below)

    height = -scene.depth - scene.marks + 0.04 * quiet * plain * (1 - below) + 0.08 * ground * below
    shut = scene.cap | scene.flush
    if shut.any():
        fold = bank.moved(rng, shape, pixel_um, stroke_deg)
        rubbed = bank.burnished(rng, shape, pixel_um, stroke_deg)
        cap, flush = (np.minimum(1, soft(mask, 0.2, pixel_um)) for mask in (scene.cap, scene.flush))
        signal += cap * (tone["cap"] + tone["cap_grain"] * fold - signal)
        signal += flush * (tone["flush"] + tone["flush_grain"] * rubbed - signal)
        height += 0.12 * cap * fold
        edge, shadow = lips(shut, open_, pixel_um, rng.uniform(0.4, 1.0))
        signal += rng.uniform(0.3, 1.0) * edge - rng.uniform(0.3, 1.0) * shadow
        signal -= rng.uniform(0.4, 1.2) * scene.seam + rng.uniform(0.1, 0.6) * scene.crease * (rng.choice((-0.7, 1)))
    if scene.scuffed.any():
        broken = soft(scene.scuffed, 0.3, pixel_um)
        ruin = scene.ruin - scene.ruin.mean()
        rough = tone["scuff_grain"] * ruin / (ruin.std() + 1e-6)
        hollow = ramp(-rough, 0.8, 1.8) * scene.torn
        signal += broken * (tone["scuff"] + rough - rng.uniform(0.3, 1.2) * hollow - signal)
        height += broken * (scene.ruin - height)

    toward, steep = sided(soft(height, 0.15, pixel_um), pixel_um, rng.uniform(0, 360))
    return signal + rng.uniform(0.3, 1.6) * toward + rng.uniform(0.3, 1.5) * steep
