"""From relief and matter to signal: what a detector at one side of the specimen would count."""

import cv2
import numpy as np

from .frame import Frame, between, cloud


def signal(
    rng: np.random.Generator,
    height: np.ndarray,
    deep: np.ndarray,
    smear: np.ndarray,
    scuff: np.ndarray,
    stroke: Frame,
    px: float,
    backscatter: bool,
) -> np.ndarray:
    """Relative counts, plateau near 1. height and deep (open depth) in µm; smear and scuff 0–1; px in µm."""
    shape = height.shape
    mode = rng.choice(["floor dark", "floor bright", "relief"], p=[0.55, 0.15, 0.3])
    rough = between(rng, 0.01, 0.06)
    # Burnished metal loses its grain, floors and torn metal keep or gain it.
    open_ = np.clip(deep / 0.8, 0, 1)
    grain = cloud(rng, shape, 1.3, 1.3) + 0.7 * cloud(rng, shape, 3, 3)
    drawn = stroke.to_picture(cloud(rng, (stroke.side, stroke.side), 1.7, between(rng, 15, 90)))
    amount = rough * (1 + open_ * between(rng, 0.7, 4)) * (1 - 0.8 * smear) + between(rng, 0.08, 0.16) * scuff
    light = 1 + grain * amount + drawn * rough * (0.15 + between(rng, 0.2, 1.0) * smear)

    soft = cv2.GaussianBlur(height, (0, 0), max(0.6, 0.25 / px))
    gx, gy = cv2.Sobel(soft, cv2.CV_32F, 1, 0, scale=0.125 / px), cv2.Sobel(soft, cv2.CV_32F, 0, 1, scale=0.125 / px)
    side = rng.uniform(0, 2 * np.pi)
    lean = between(rng, 0.25, 1.2) * (1.3 if mode == "relief" else 1)
    light += np.clip(lean * (gx * np.cos(side) + gy * np.sin(side)), -0.6, 0.8)
    if not backscatter:
        light += np.minimum(between(rng, 0.3, 1.2) * (gx * gx + gy * gy), 0.7)
    # Convex edges shed more electrons: height above its own neighbourhood, within some beam spreads.
    reach = float(np.clip(between(rng, 0.5, 2.5) / px, 0.8, 8))
    light += np.clip((soft - cv2.GaussianBlur(soft, (0, 0), reach)) * between(rng, 0.1, 0.5), -0.25, 0.5)
    # Starved escape from deep ground grows with depth and saturates.
    starve = between(rng, 0.12, 0.5) if mode == "floor dark" else between(rng, 0.02, 0.12)
    light -= starve * (1 - np.exp(-deep / between(rng, 0.6, 3)))
    if mode == "floor bright":
        light += between(rng, 0.12, 0.4) * open_
    if mode == "floor dark" and rng.random() < 0.5:
        fill = np.clip(0.5 + cloud(rng, shape, between(rng, 5, 50), between(rng, 5, 50)), 0, 1)
        light -= between(rng, 0.08, 0.3) * fill * open_
    # Lips and fold lines where moved metal ends; broken along their length.
    edge = cv2.morphologyEx(smear, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    broken = np.clip(0.4 + cloud(rng, shape, 6, 6), 0, 1.3)
    light += edge * broken * between(rng, 0.06, 0.35) * rng.choice([1, 1, -0.8])
    light += smear * rng.choice([-1, 1]) * between(rng, 0.02, 0.14)
    light += scuff * rng.choice([-1, 1]) * between(rng, 0.04, 0.15)
    return light.astype(np.float32)
