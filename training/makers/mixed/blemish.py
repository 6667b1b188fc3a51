"""What else lies on the surface: scratches along the stroke, graphite, pits, stains, films, debris. None is open valley.

Sizes and amounts: common practice, no source.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.mixed.scene import Scene
from makers.mixed.states import Soft, States

SHIFT = 3
"""Bits behind the point of the coordinates that are drawn: eighths of a pixel."""


@dataclass(frozen=True)
class Blemishes:
    """Maps (rows, cols), 0–1: scratches along the stroke, graphite flakes, pits."""

    scratch: np.ndarray
    flake: np.ndarray
    pit: np.ndarray


def blemishes(scene: Scene, truth: States, scuff: np.ndarray, contact: np.ndarray) -> Blemishes:
    """Blemishes of the plateau; graphite is hidden under moved and torn metal, and partly where the ring ran."""
    rng, nothing = scene.rng, np.zeros(scene.shape, np.float32)
    scratch = _scratches(scene) if rng.random() < 0.55 else nothing
    flake = _flakes(scene, rng.uniform(0.005, 0.07)) if rng.random() < 0.7 else nothing
    hidden = (1 - 0.8 * truth.lid) * (1 - 0.9 * scuff.astype(np.float32)) * (1 - 0.6 * contact * rng.uniform(0, 1))
    pit = nothing
    for _ in range(int(rng.integers(0, 7)) if rng.random() < 0.5 else 0):
        pit = np.maximum(pit, _pit(scene))
    return Blemishes(scratch, flake * (hidden * (1 - 0.7 * truth.valley)), pit * (1 - scuff.astype(np.float32)))


def _line(mask: np.ndarray, start: tuple[float, float], stop: tuple[float, float], grey: int, thick: float) -> None:
    """A line in place on a mask, from (x, y) to (x, y) in px, thick px wide."""
    ends = (tuple(int(value * 2**SHIFT) for value in end) for end in (start, stop))
    cv2.line(mask, *ends, grey, max(1, int(round(thick))), cv2.LINE_AA, SHIFT)


def _somewhere(scene: Scene) -> tuple[float, float]:
    """A point (x, y) of the field, in px."""
    return scene.rng.uniform(0, scene.shape[1]), scene.rng.uniform(0, scene.shape[0])


def _polygon(scene: Scene, centre: tuple[float, float], radius: np.ndarray, stretch: float, grey: int) -> np.ndarray:
    """Mask (rows, cols) uint8 of a polygon around centre (x, y), radius (n,), all in px, stretched down the picture."""
    mask, (x, y) = np.zeros(scene.shape, np.uint8), centre
    turn = np.linspace(0, 2 * np.pi, len(radius) + 1)[:-1]
    points = np.stack((x + radius * np.cos(turn), y + stretch * radius * np.sin(turn)), 1)
    cv2.fillPoly(mask, [points.astype(np.int32)], grey)
    return mask


def _scratches(scene: Scene) -> np.ndarray:
    rng, px, (rows, cols) = scene.rng, scene.px, scene.shape
    mask = np.zeros(scene.shape, np.uint8)
    for _ in range(int(rng.integers(1, 10))):
        x, y, length = rng.uniform(0, cols), rng.uniform(-0.3, 1) * rows, scene.lognormal(200, 0.7, 40, 1500) / px
        aside = -np.tan(np.radians(scene.stroke - 90) + rng.normal(0, 0.02)) * length
        grey = int(rng.uniform(90, 255))
        _line(mask, (x, y), (x + aside, y + length), grey, scene.lognormal(1.2, 0.5, 0.4, 3.5) / px)
    return scene.blur(mask.astype(np.float32) / 255, 0.35 / px)


def _flakes(scene: Scene, share: float) -> np.ndarray:
    """Graphite lamellae (rows, cols), 0–1: thin curved bodies, each of about 70 µm², over about a share of the field."""
    rng, px, (rows, cols) = scene.rng, scene.px, scene.shape
    mask = np.zeros(scene.shape, np.uint8)
    t = np.linspace(0, 1, 9)
    for _ in range(min(int(share * rows * cols * px * px / 70), 500)):
        length = scene.lognormal(28, 0.5, 8, 90) / px
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.3, 9)) + rng.normal(0, 0.5) * t
        x = rng.uniform(0, cols) + np.cumsum(np.cos(heading)) * length / 9
        y = rng.uniform(0, rows) + np.cumsum(np.sin(heading)) * length / 9
        thick = scene.lognormal(1.6, 0.4, 0.7, 4) / px
        for i in range(8):
            _line(mask, (x[i], y[i]), (x[i + 1], y[i + 1]), 255, thick * (1 - 0.6 * abs(i - 3.5) / 3.5))
    return mask.astype(np.float32) / 255


def _pit(scene: Scene) -> np.ndarray:
    rng, px = scene.rng, scene.px
    radius = scene.lognormal(3.5, 0.5, 1.5, 12) / px * (1 + 0.3 * rng.standard_normal(17)).clip(0.4, 1.7)
    mask = _polygon(scene, _somewhere(scene), radius, rng.uniform(1, 1.8), 255)
    return scene.blur(mask.astype(np.float32) / 255, 0.5 / px)


def stain(scene: Scene, light: np.ndarray) -> np.ndarray:
    """The tone (rows, cols) under a stain of oil or film, if there is one."""
    rng = scene.rng
    if rng.random() >= 0.4:
        return light
    blot = scene.grain(rng.uniform(0, 180), rng.uniform(40, 120), rng.uniform(30, 80)) - rng.uniform(0.8, 1.7)
    blot = np.clip(blot / rng.uniform(0.03, 0.4), 0, 1)
    return light * (1 - blot * rng.uniform(-0.12, 0.3))


def film(scene: Scene, light: np.ndarray, soft: Soft, contact: np.ndarray) -> np.ndarray:
    """The tone (rows, cols) under patches of tribofilm along the stroke, if there are any."""
    rng = scene.rng
    if rng.random() >= 0.4:
        return light
    patch = np.clip((scene.grain(scene.stroke, 60, 6) - rng.uniform(0.3, 1)) / 0.6, 0, 1)
    return light * (1 - patch * contact * (1 - soft.scuff) * (1 - soft.valley) * rng.uniform(0.05, 0.2))


def debris(scene: Scene, sig: np.ndarray, codes: np.ndarray, grit: np.ndarray) -> np.ndarray:
    """The signal (rows, cols) with bright grains and their shadows, if there are any; codes are set in place: not assessed."""
    rng, px = scene.rng, scene.px
    if rng.random() >= 0.35:
        return sig
    for _ in range(int(rng.integers(1, 7))):
        radius = max(scene.lognormal(2.2, 0.5, 0.8, 7) / px, 2)
        ragged = radius * (1 + 0.25 * rng.standard_normal(10)).clip(0.5, 1.5)
        mask = _polygon(scene, _somewhere(scene), ragged, 1, 1)
        soft = scene.blur(mask.astype(np.float32), max(0.6, 0.25 / px))
        shadow = scene.blur(soft, 1.5 * radius)
        sig = sig * (1 - 0.6 * shadow) * (1 - soft) + soft * (rng.uniform(1.1, 1.5) + 0.1 * grit)
        codes[mask > 0] = 255
    return sig
