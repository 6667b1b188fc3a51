"""What is no valley and looks like one: scratches, graphite, pull-outs, stains, debris; sizes in µm unless named."""

import math

import cv2
import numpy as np

from .draws import between, blob, chance, fill, grain

BACKSCATTER = {"iron": 0.28, "carbon": 0.06}
"""Backscatter coefficients, no unit (tests/SOURCES.md)."""


def graphite_grey(backscatter: bool) -> float:
    """Grey of graphite over that of iron; the secondaries that graphite gives are fewer, but not in that proportion."""
    return BACKSCATTER["carbon"] / BACKSCATTER["iron"] if backscatter else 0.55


def scratches(rng: np.random.Generator, grey: np.ndarray, angle_deg: float, spread_deg: float, count: int, faint: float) -> np.ndarray:
    """Thin straight scratches shallower than 0.5 µm, a pixel or two wide: part of the plateau."""
    rows, cols = grey.shape
    layer = np.zeros(grey.shape, np.float32)
    for _ in range(count):
        angle = math.radians(angle_deg + rng.normal(0, spread_deg))
        x, y, half = rng.uniform(0, cols), rng.uniform(0, rows), between(rng, 0.05, 1.5) * max(rows, cols) / 2
        dx, dy = half * math.cos(angle), half * math.sin(angle)
        ends = [(int(8 * (x - dx)), int(8 * (y - dy))), (int(8 * (x + dx)), int(8 * (y + dy)))]
        cv2.line(layer, *ends, float(rng.choice([-1, 1], p=[0.6, 0.4]) * rng.uniform(0.2, 1)), int(rng.integers(1, 3)), shift=3)
    return grey + faint * cv2.GaussianBlur(layer, (0, 0), rng.uniform(0.6, 1.3))


def graphite(rng: np.random.Generator, grey: np.ndarray, pixel_size_um: float, level: np.ndarray, backscatter: bool) -> np.ndarray:
    """Flakes 10–120 µm long, thin and bent, and pull-outs, on plateau that still lies bare (`level`, 0–1)."""
    rows, cols = grey.shape
    layer = np.zeros(grey.shape, np.float32)
    for _ in range(int(rng.integers(3, 25))):
        long = between(rng, 10, 120) / pixel_size_um
        turn = np.radians(rng.uniform(0, 360) + np.cumsum(rng.normal(0, 20, 8)))
        steps = np.stack([np.cos(turn), np.sin(turn)], axis=1) * min(long, 0.5 * cols) / 8
        course = np.array([rng.uniform(0, cols), rng.uniform(0, rows)]) + np.cumsum(steps, axis=0)
        thick = max(1, int(rng.uniform(0.8, 4) / pixel_size_um))
        cv2.polylines(layer, [np.round(course * 8).astype(np.int32)], False, 1.0, min(thick, 14), shift=3)
    for _ in range(int(rng.integers(0, 8))):
        size = np.clip(between(rng, 2, 12) / pixel_size_um, 1.5, 25)
        centre = (rng.uniform(0, cols), rng.uniform(0, rows))
        fill(layer, blob(rng, centre, size, size * rng.uniform(0.4, 1), rng.uniform(0, 180), 0.4), 1.0)
    layer = cv2.GaussianBlur(layer, (0, 0), 0.7) * level
    return grey * (1 - layer) + layer * (graphite_grey(backscatter) + 0.06 * grain(rng, grey.shape, 1.5))


def stains(rng: np.random.Generator, grey: np.ndarray) -> np.ndarray:
    """Oil or tribofilm: patches with a soft or drawn edge that let the ground show through."""
    field = grain(rng, grey.shape, between(rng, 10, 70)) + 0.2 * grain(rng, grey.shape, 3)
    patch = 0.5 + 0.5 * np.tanh((field - rng.uniform(0.6, 1.8)) * between(rng, 1.5, 20))
    return grey * (1 - patch * rng.choice([-0.6, 1]) * between(rng, 0.05, 0.4))


def debris(rng: np.random.Generator, grey: np.ndarray, codes: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Particles 1–25 µm across that lie on the surface, lit at one side, a shadow at the other; marks `codes` 255."""
    rows, cols = grey.shape
    angle = rng.uniform(0, 2 * np.pi)
    cast = np.array([math.cos(angle), math.sin(angle)])
    for _ in range(int(rng.integers(1, 9))):
        size = float(np.clip(between(rng, 1, 25) / pixel_size_um / 2, 2, 0.07 * cols))
        centre = np.array([rng.uniform(0, cols), rng.uniform(0, rows)])
        outline = blob(rng, (0, 0), size, size * rng.uniform(0.5, 1), rng.uniform(0, 180), rng.uniform(0.1, 0.4))
        body, shade = np.zeros(grey.shape, np.float32), np.zeros(grey.shape, np.float32)
        fill(body, outline + centre, 1.0)
        fill(shade, outline + centre + cast * size * 0.5, 1.0)
        codes[body > 0.5] = 255
        shade = cv2.GaussianBlur(shade, (0, 0), size * 0.3) * rng.uniform(0, 0.5)
        grey = grey * (1 - shade)
        bulge = cv2.GaussianBlur(body, (0, 0), max(size * 0.35, 0.8))
        lit = cv2.Sobel(bulge, cv2.CV_32F, 1, 0) * cast[0] + cv2.Sobel(bulge, cv2.CV_32F, 0, 1) * cast[1]
        tone = rng.uniform(0.7, 1.5) - lit * 0.25 * rng.uniform(0.5, 2) + rng.uniform(0.02, 0.15) * grain(rng, grey.shape, 2)
        edge = cv2.GaussianBlur(body, (0, 0), 0.7)
        grey = grey * (1 - edge) + edge * tone
    if chance(rng, 0.15):
        # charging: a burnt-out spot that hides what lies below
        spot = blob(rng, (rng.uniform(0, cols), rng.uniform(0, rows)), 0.05 * cols, 0.02 * cols, 0, 0.3)
        glow = np.zeros(grey.shape, np.float32)
        fill(glow, spot, 1.0)
        codes[glow > 0.5] = 255
        grey = grey + rng.uniform(0.6, 1.2) * cv2.GaussianBlur(glow, (0, 0), 1.5)
    return grey
