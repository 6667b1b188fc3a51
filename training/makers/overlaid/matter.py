"""Graphite, pull-outs, debris, stains and charging: what lies on or in the ground and belongs to no groove.

Backscatter of carbon 0.06 against iron 0.28 (Reuter): graphite is dark in either mode. Flake sizes from memory.
"""

import cv2
import numpy as np

from .frames import ramp, smooth, spread


def blob(rng: np.random.Generator, mask: np.ndarray, radius: float, long: float = 1.0) -> None:
    rows, cols = mask.shape
    angle = np.linspace(0, 2 * np.pi, 36, endpoint=False)
    reach = 1 + sum(rng.normal(0, 0.45 / k) * np.cos(k * angle + rng.uniform(0, 6)) for k in (2, 3, 5, 7, 9, 11))
    reach = radius * np.clip(reach + rng.normal(0, 0.05, 36), 0.3, 1.8)
    turn = rng.uniform(0, np.pi)
    x, y = reach * np.cos(angle) * long, reach * np.sin(angle)
    points = np.stack((x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)), 1)
    points = points + (rng.uniform(0, cols), rng.uniform(0, rows))
    cv2.fillPoly(mask, [np.round(points * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)


def graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> np.ndarray:
    """Cover 0–1 of thin curved flakes, cut by the surface."""
    mask = np.zeros(shape, np.uint8)
    area = shape[0] * shape[1] * pixel_um**2
    count = min(90, rng.poisson(area * spread(rng, 2e-5, 6e-4))) if rng.random() < 0.7 else 0
    for _ in range(count):
        length, steps = spread(rng, 10, 90) / pixel_um, 9
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, steps))
        path = np.cumsum(np.stack((np.cos(heading), np.sin(heading)), 1) * length / steps, 0)
        path = path + rng.uniform(0, 1, 2) * (shape[1], shape[0])
        thick = np.clip(spread(rng, 0.6, 4) / pixel_um, 1.0, 10) * np.sin(np.linspace(0.2, 2.9, steps))
        out = np.stack((-np.sin(heading), np.cos(heading)), 1) * (thick * rng.uniform(0.2, 0.8, steps))[:, None]
        leaf = np.concatenate((path + out, (path - out)[::-1]))
        cv2.fillPoly(mask, [np.round(leaf * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    return mask.astype(np.float32) / 255


def pits(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> np.ndarray:
    mask = np.zeros(shape, np.uint8)
    for _ in range(int(rng.poisson(spread(rng, 0.5, 14)))):
        blob(rng, mask, float(np.clip(spread(rng, 0.6, 7) / pixel_um**0.8, 1.2, 0.045 * min(shape))), rng.uniform(1, 2))
    soft = rng.uniform(0.6, 1.6)
    return cv2.GaussianBlur(mask.astype(np.float32) / 255, (0, 0), soft)


def debris(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    mask = np.zeros(shape, np.uint8)
    if rng.random() < 0.3:
        for _ in range(int(rng.integers(1, 9))):
            blob(rng, mask, spread(rng, 2.5, 13), rng.uniform(1, 1.8))
    return mask.astype(np.float32) / 255


def stains(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Oil film and contamination: soft darker patches, some with a drying rim."""
    if rng.random() > 0.35:
        return np.zeros(shape, np.float32)
    grain = spread(rng, 40, 200)
    film = smooth(rng, shape, grain, grain * rng.uniform(0.6, 1.6)) + 0.15 * smooth(rng, shape, 9, 9)
    edge = rng.uniform(0.4, 1.6)
    rim = np.exp(-(((film - edge) / 0.05) ** 2)) * rng.uniform(0, 0.05)
    return -rng.uniform(0.03, 0.16) * ramp(film, edge, edge + spread(rng, 0.05, 0.8)) - rim


def charging(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """A glow over part of the field, with streaks along the scan; nothing in most fields."""
    if rng.random() > 0.05:
        return np.zeros(shape, np.float32)
    mask = np.zeros(shape, np.uint8)
    blob(rng, mask, rng.uniform(10, 0.12 * min(shape)), 1.5)
    glow = cv2.GaussianBlur(mask.astype(np.float32) / 255, (0, 0), rng.uniform(4, 12))
    return cv2.blur(glow, (41, 1)) * 0.5 + glow * 0.7
