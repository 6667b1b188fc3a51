"""Grey values: local escape, a detector on one side, materials, grain, drift and noise."""

import cv2
import numpy as np

from .noise import blobs, smooth
from .scene import Scene
from .sky import shut_sky, side_light


def render(rng: np.random.Generator, scene: Scene) -> np.ndarray:
    """Grey values (rows, cols) uint8. Two pictures in three have carbon-filled, dark valleys, one in three bright ones; the
    detector stands at -60 or 150° within 8°. Grey levels: common practice, no source."""
    pixel, shape = scene.pixel, scene.height.shape
    bright_grooves = rng.random() < 1 / 3
    detector = np.deg2rad(rng.choice([-60.0, 150.0]) + rng.normal(0, 8))
    contrast = rng.uniform(0.85, 1.15)
    height = cv2.GaussianBlur(scene.height, (0, 0), max(0.5, 0.35 / pixel))
    shut = shut_sky(height, pixel, 14.0)
    tilt, shadow = side_light(height, pixel, detector)
    deep = smooth(1 - np.exp(np.minimum(scene.floor, 0) / 0.7))

    grey = rng.uniform(122, 138) + 16 * tilt
    grain, patch = blobs(rng, shape, 3.0 / pixel), blobs(rng, shape, 22 / pixel)
    if bright_grooves:
        grey += deep * (40 + 7 * grain + 5 * patch) - 40 * shut - 10 * shadow
    else:
        carbon = np.clip(0.75 + 0.25 * patch, 0.35, 1.2)
        grey -= deep * (34 * carbon - 6 * grain) + 110 * shut + 14 * shadow
    moved_tone = (1.0 if rng.random() < (0.2 if bright_grooves else 0.65) else -1.0) * rng.uniform(11, 16)
    add_materials(grey, scene, deep, grain, patch, moved_tone)
    return recorded(rng, 128 + contrast * (grey - 128))


def add_materials(
    grey: np.ndarray, scene: Scene, deep: np.ndarray, grain: np.ndarray, patch: np.ndarray, moved_tone: float
) -> None:
    """Tones of moved metal (its grain drawn out along the stroke), folds, running-in marks, graphite (darker than iron: it
    scatters 0.06 back where iron scatters 0.28, tests/SOURCES.md), torn ground and debris, into `grey`; all (rows, cols)."""
    grey += scene.metal * (moved_tone + 9 * scene.streak + 2.0 * grain)
    grey -= 20 * scene.fold
    grey += 2.2 * scene.stroke_marks * (1 - scene.metal) * (1 - deep)
    if not scene.worn:
        grey += 3.0 * grain * (1 - deep)
    grey -= 58 * scene.graphite
    grey += scene.scuffed * (17 + 7 * grain + 5 * patch + 7 * scene.streak)
    if scene.debris.any():
        grey += 45 * cv2.GaussianBlur(scene.debris, (0, 0), 0.8)


def recorded(rng: np.random.Generator, grey: np.ndarray) -> np.ndarray:
    """Grey values (rows, cols) uint8 with shading and a noise that grows as the root of the grey."""
    shape = grey.shape
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j].astype(np.float32)
    grey = grey + rng.normal(0, 4) * x + rng.normal(0, 4) * y + 3.0 * blobs(rng, shape, max(shape) / 2.5)
    coarse = cv2.GaussianBlur(rng.standard_normal(shape).astype(np.float32), (0, 0), 0.8)
    noise = rng.uniform(3.5, 6.0) * (coarse / coarse.std()) + 2.0 * rng.standard_normal(shape).astype(np.float32)
    grey = grey + noise * np.sqrt(np.clip(grey, 30, 255) / 128)
    return np.clip(np.round(grey), 0, 255).astype(np.uint8)
