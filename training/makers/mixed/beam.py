"""The picture: electrons that spread in the metal, gain at edges, starved escape from deep ground, then the camera.

Contrast from the detector's side, bright rims and starved escape (tests/SOURCES.md); weights: common practice, no source.
"""

import cv2
import numpy as np

from makers.mixed.scene import Scene

DETECTORS = {
    "side": {"edge": (0.2, 0.6), "starved": (0.7, 1.2), "towards": (0.1, 0.35)},
    "ring": {"edge": (0.03, 0.2), "starved": (0.3, 0.8), "towards": (0, 0)},
    "lens": {"edge": (0.3, 0.7), "starved": (0.9, 1.5), "towards": (0, 0)},
}
"""Gain at edges, loss of escape by depth, and how one-sided the loss is."""
RANGE_UM = (0.2, 1.3)
"""How far electrons spread: 0.16–1.60 µm in iron at 5–20 kV (Kanaya and Okayama, tests/SOURCES.md)."""
SHARES = {"side": 0.5, "ring": 0.25, "lens": 0.25}


def signal(scene: Scene, height: np.ndarray, light: np.ndarray) -> np.ndarray:
    """Electrons that arrive (rows, cols), level plain metal about 1, of heights in µm and tones."""
    rng = scene.rng
    detector = str(rng.choice(tuple(SHARES), p=tuple(SHARES.values())))
    range_um = rng.uniform(*RANGE_UM)
    weights = {
        name: {what: rng.uniform(*ends) if ends[1] else 0.0 for what, ends in each.items()} for name, each in DETECTORS.items()
    }[detector]
    light = 0.35 * light + 0.65 * scene.blur(light, 0.5 * range_um / scene.px)
    ridge = height - scene.blur(height, max(0.8, range_um / scene.px))
    edge = np.tanh(np.maximum(ridge, 0) / 0.35) - 0.5 * np.tanh(np.maximum(-ridge, 0) / 0.6)
    walls = obstruction(scene, height, rng.uniform(0, 2 * np.pi), weights["towards"])
    return light * np.exp(-weights["starved"] * np.clip(walls, -0.5, 3)) * (1 + weights["edge"] * edge)


def obstruction(scene: Scene, height: np.ndarray, side: float, towards: float) -> np.ndarray:
    """How far higher ground (rows, cols, µm) within 1.5, 5 and 14 µm hems a point in; more so towards the side, in rad."""
    px, walls = scene.px, np.zeros(scene.shape, np.float32)
    for um, weight in ((1.5, 0.13), (5, 0.11), (14, 0.08)):
        around = scene.blur(height, max(um / px, 1))
        walls += weight * np.maximum(around - height, 0)
        if towards:
            for sign in (1, -1):
                shift = np.array([[1, 0, sign * um / px * np.cos(side)], [0, 1, sign * um / px * np.sin(side)]], np.float32)
                there = cv2.warpAffine(around, shift, height.shape[::-1], borderMode=cv2.BORDER_REFLECT)
                walls += sign * towards * weight * 3 * np.tanh(np.maximum(there - height, 0) / 1.5)
    return walls


def camera(scene: Scene, sig: np.ndarray) -> np.ndarray:
    """Shading, focus, shot noise of 90–3,000 electrons a pixel, line noise, contrast and gamma: image (rows, cols) uint8."""
    rng, (rows, cols) = scene.rng, scene.shape
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j].astype(np.float32)
    sig = sig * (1 + rng.uniform(-0.1, 0.1) * x + rng.uniform(-0.1, 0.1) * y + rng.uniform(-0.05, 0.05) * (x * x + y * y))
    sig = scene.blur(sig.astype(np.float32), scene.lognormal(0.65, 0.35, 0.3, 1.5))
    sig = np.maximum(sig, 0.02)
    dose = scene.lognormal(420, 0.8, 90, 3000)
    shot = np.sqrt(sig / dose) * rng.standard_normal(scene.shape).astype(np.float32)
    sig = sig + shot + rng.normal(0, rng.uniform(0, 0.012), (rows, 1)).astype(np.float32)
    gain = min(rng.uniform(16, 42) / sig.std(), 420)
    out = rng.uniform(90, 150) + gain * (sig - np.median(sig))
    out = 255 * np.clip(out / 255, 0, 1) ** rng.uniform(0.8, 1.25)
    return np.clip(out + 0.5, 0, 255).astype(np.uint8)
