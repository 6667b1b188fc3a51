"""Lighting the relief as a photographer lights a model: lamps, gloss, shade in hollows, glowing edges."""

import cv2
import numpy as np

from .noise import log_between


def light(rng: np.random.Generator, height: np.ndarray, gloss: np.ndarray, pixel_size_um: float, flat: bool) -> np.ndarray:
    """Brightness about 1 of a height map (um). gloss 0-1 by state; flat: a backscatter-like look with little relief."""
    # Real walls are too gentle for tilt alone to show them, so the lamps see the relief exaggerated, as a raking lamp would.
    raise_by = log_between(rng, 0.35, 1.6) * (0.4 if flat else 1.0)
    soft = cv2.GaussianBlur(height, (0, 0), rng.uniform(0.5, 1.0))
    gx = cv2.Sobel(soft, cv2.CV_32F, 1, 0, ksize=3, scale=0.125) * np.float32(raise_by / pixel_size_um)
    gy = cv2.Sobel(soft, cv2.CV_32F, 0, 1, ksize=3, scale=0.125) * np.float32(raise_by / pixel_size_um)
    steep = gx * gx + gy * gy
    up = 1 / np.sqrt(1 + steep)
    shade = np.full(height.shape, rng.uniform(0.25, 0.6), np.float32)
    shine = np.zeros(height.shape, np.float32)
    first = rng.uniform(0, 2 * np.pi)
    for number in range(int(rng.integers(1, 4))):
        turn = first + number * rng.uniform(1.2, 2.6)
        lift = np.radians(rng.uniform(25, 75))
        power = rng.uniform(0.3, 0.8) / (1 + number)
        ox, oy, oz = np.cos(turn) * np.cos(lift), np.sin(turn) * np.cos(lift), np.sin(lift)
        shade += power * np.maximum((oz - gx * ox - gy * oy) * up, 0) / oz
        hx, hy, hz = np.array([ox, oy, oz + 1]) / np.linalg.norm([ox, oy, oz + 1])
        facing = np.clip((hz - gx * hx - gy * hy) * up, 0, 1)
        facing *= facing
        shine += power * (facing * facing - hz**4)
    shade += rng.uniform(0.1, 0.6) * gloss * shine
    return shade / np.median(shade) + _glow(rng, height, steep, flat) - _hollow(rng, height, flat)


def _glow(rng: np.random.Generator, height: np.ndarray, steep: np.ndarray, flat: bool) -> np.ndarray:
    """Edges and ridges give off more: electrons leave them through two faces."""
    fine, wide = cv2.GaussianBlur(height, (0, 0), 0.7), cv2.GaussianBlur(height, (0, 0), rng.uniform(1.8, 3.5))
    ridge = np.clip((fine - wide) * log_between(rng, 0.4, 2.5), -0.15, 0.7)
    wall = steep / (1 + steep)
    return (ridge * rng.uniform(0.3, 1.2) + wall * rng.uniform(0.0, 0.6)) * np.float32(0.3 if flat else 1.0)


def _hollow(rng: np.random.Generator, height: np.ndarray, flat: bool) -> np.ndarray:
    """Starved escape: the deeper below its surroundings and the narrower, the darker."""
    small = cv2.resize(height, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    around = cv2.GaussianBlur(small, (0, 0), rng.uniform(2.0, 7.0))
    below = np.maximum(cv2.resize(around, height.shape[::-1], interpolation=cv2.INTER_LINEAR) - height, 0)
    return rng.uniform(0.05, 0.5) * below / (below + log_between(rng, 0.6, 4.0)) * np.float32(0.5 if flat else 1.0)
