"""What else lies on the ground: torn streaks, graphite, stains, film, debris."""

import cv2
import numpy as np

from .texture import clouds, roughness


def torn(
    rng: np.random.Generator,
    *,
    across_um: np.ndarray,
    stroke_um: np.ndarray,
    ran: np.ndarray,
    heavy: bool,
    pixel_size_um: float,
    reach_um: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Where metal is torn or ploughed by adhesion (bool), and slope across the stroke of the ridges there (µm/µm). across_um
    and stroke_um are each pixel's places across and along the stroke."""
    shape = across_um.shape
    ragged = clouds(rng, shape, rng.uniform(4, 12)) * rng.uniform(0.1, 0.3)
    inside = np.full(shape, -1.0, np.float32)
    widest = reach_um * (0.5 if heavy else 0.2)
    on = across_um[ran]
    for _ in range(int(rng.integers(3, 9) if heavy else rng.integers(1, 4))):
        half = max(4.0 * pixel_size_um, widest * np.exp(rng.uniform(-2.0, 0.0)) / 2)
        long = half * np.exp(rng.uniform(1.2, 3.5))
        off = (across_um - rng.choice(on)) / half
        far = (stroke_um - rng.uniform(-0.7, 0.7) * reach_um) / long
        inside = np.maximum(inside, 1 - off**2 - far**4 + ragged * (1 + np.abs(off)))
    where = (inside > 0) & ran
    turn = 2 * np.pi / np.maximum(3.0 * pixel_size_um, np.exp(rng.uniform(np.log(2), np.log(25), 5)))
    wander = clouds(rng, shape, 40.0) * rng.uniform(0.3, 2.0) * pixel_size_um
    ridge = np.zeros(shape, np.float32)
    for each in turn:
        ridge += np.float32(rng.uniform(0.08, 0.25)) * np.cos(np.float32(each) * (across_um + wander) + np.float32(rng.uniform(0, 6.28)))
    return where, ridge


def graphite(rng: np.random.Generator, shape: tuple[int, int], *, pixel_size_um: float, per_mm2: float) -> np.ndarray:
    """Cover (0 to 1) of curved flakes of grey iron, 15 to 120 µm long and 1 to 4 µm thick."""
    cover = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 / 1e6
    for _ in range(int(min(60, rng.poisson(per_mm2 * area_mm2)))):
        length = np.exp(rng.uniform(np.log(15), np.log(120))) / pixel_size_um
        steps = 10
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, steps))
        points = np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1) * length / steps, axis=0)
        points += rng.uniform(0, 1, 2) * shape[::-1] - points.mean(0)
        thick = max(1, round(rng.uniform(1, 4) / pixel_size_um))
        cv2.polylines(cover, [np.round(points * 16).astype(np.int32)], False, 255, thick, cv2.LINE_AA, 4)
    return cover.astype(np.float32) / 255


def stains(rng: np.random.Generator, shape: tuple[int, int], stretch: float, along_deg: float) -> np.ndarray:
    """Cover (0 to 1) of oil or film patches, soft or with a dried edge."""
    size = float(np.exp(rng.uniform(np.log(15), np.log(90))))
    field = clouds(rng, shape, size)
    if stretch > 1.5:
        field = roughness(rng, tuple(-(-side // 4) for side in shape), grain_px=size / 10, stretch=stretch, along_deg=along_deg)
        field = cv2.resize(field, shape[::-1], interpolation=cv2.INTER_LINEAR)
    cover = np.clip((field - rng.uniform(0.3, 1.3)) / rng.uniform(0.1, 0.8), 0, 1)
    return cover - 0.5 * (cover > 0.05) * (cover < 0.4) * (rng.random() < 0.4)


def debris(rng: np.random.Generator, shape: tuple[int, int], count: int, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Where particles lie (bool), and their own relief (about -1 to 1)."""
    where, relief = np.zeros(shape, np.uint8), np.zeros(shape, np.float32)
    for _ in range(count):
        size = float(np.clip(np.exp(rng.uniform(np.log(2), np.log(40))) / pixel_size_um, 2.5, 40))
        turns = np.linspace(0, 2 * np.pi, 14, endpoint=False)
        radius = size / 2 * (1 + 0.25 * rng.standard_normal(14))
        centre = rng.uniform(0, 1, 2) * shape[::-1]
        points = centre + np.stack([np.cos(turns) * radius * rng.uniform(0.6, 1.4), np.sin(turns) * radius], 1)
        cv2.fillPoly(where, [np.round(points).astype(np.int32)], 1)
    if count:
        relief = roughness(rng, shape, grain_px=1.5, stretch=1.0, along_deg=0.0)
    return where > 0, relief
