"""What is no valley and may look like one: graphite, pull-outs, films, stains, and debris that hides the surface."""

import cv2
import numpy as np

from .spectra import course, log_uniform, texture


def graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Share of graphite (0-1) in each pixel, and depth (µm) where flakes have been pulled out; flakes 10-120 µm long."""
    dark, pits = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    area_um2 = shape[0] * shape[1] * pixel_size_um**2
    count = min(70, rng.poisson(area_um2 * log_uniform(rng, 1e-4, 1.2e-3)) + 1)
    longest = log_uniform(rng, 20, 120)
    for _ in range(count):
        length = max(5, rng.uniform(0.3, 1) * longest / pixel_size_um)
        points = 14
        heading = rng.uniform(0, 2 * np.pi) + 0.7 * np.cumsum(course(rng, points, 5)) * 0.35
        step = np.stack([np.cos(heading), np.sin(heading)], 1) * length / points
        line = np.cumsum(step, 0) + rng.uniform(0, 1, 2) * shape[::-1]
        thick = max(1, round(log_uniform(rng, 0.6, 4) / pixel_size_um))
        onto = pits if rng.random() < 0.35 else dark
        for start in range(points - 1):
            # Flakes thin out to their ends.
            here = max(1, round(thick * np.sin(np.pi * (start + 1) / points) ** 0.6))
            ends = np.round(line[start : start + 2] * 8).astype(int)
            cv2.line(onto, ends[0].tolist(), ends[1].tolist(), 1.0, here, cv2.LINE_AA, 3)
    soft = max(0.5, 0.2 / pixel_size_um)
    depth = log_uniform(rng, 0.4, 2.5)
    return cv2.GaussianBlur(np.maximum(dark, 0.6 * pits), (0, 0), soft), depth * cv2.GaussianBlur(pits, (0, 0), soft)


def films(
    rng: np.random.Generator, shape: tuple[int, int], *, stroke_deg: float, pixel_size_um: float, worn: bool
) -> np.ndarray:
    """Change of grey (about -0.3 to 0.2) by oil, tribofilm or stains; tribofilm lies in patches drawn out along the stroke."""
    patch_um = log_uniform(rng, 8, 150)
    drawn = log_uniform(rng, 1, 6) if worn else 1.0
    coarse = (shape[0] // 2 + 1, shape[1] // 2 + 1)
    reach = max(2.0, patch_um / pixel_size_um / 4)
    where, _ = texture(rng, coarse, along_px=reach * drawn, across_px=reach, direction_deg=stroke_deg, fall=1.4)
    edge = rng.uniform(0.08, 0.8)
    cover = 1 / (1 + np.exp(-np.clip((where - rng.uniform(0.4, 1.8)) / edge * 2, -30, 30)))
    cover = cv2.resize(cover.astype(np.float32), shape[::-1])
    return cover * np.float32(rng.choice([-1, -1, 1]) * log_uniform(rng, 0.03, 0.25))


def debris(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Height (µm) of loose particles and where they hide the surface (bool)."""
    height, hidden = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    for _ in range(1 + rng.poisson(1.5)):
        radius = float(np.clip(log_uniform(rng, 1, 15) / pixel_size_um, 2, 0.08 * min(shape)))
        turns = np.linspace(0, 2 * np.pi, 18, endpoint=False)
        reach = radius * np.exp(0.25 * rng.standard_normal(18))
        middle = rng.uniform(0, 1, 2) * shape[::-1]
        outline = middle + np.stack([np.cos(turns) * rng.uniform(0.5, 1), np.sin(turns)], 1) * reach[:, None]
        one = np.zeros(shape, np.uint8)
        cv2.fillPoly(one, [np.round(outline).astype(np.int32)], 1)
        inside = cv2.distanceTransform(one, cv2.DIST_L2, 3) * pixel_size_um
        height = np.maximum(height, 1.5 * np.sqrt(inside))
        hidden |= one
    return height, hidden > 0
