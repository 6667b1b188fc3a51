"""Two lays of grooves as excursion sets of stretched random fields; depths in µm below the plateau, positive downwards."""

from dataclasses import dataclass

import cv2
import numpy as np

from .random_fields import above, even, log_uniform, smooth_step, stretched


@dataclass(frozen=True, kw_only=True)
class Ground:
    """The honed surface before any wear: depth_um (rows, cols) of grooves; rim_um height of torn rims; fine_um relief of
    finishing scratches, under 0.5 µm; wall the typical tangent of a groove's wall; lays_deg the two directions."""

    depth_um: np.ndarray
    rim_um: np.ndarray
    fine_um: np.ndarray
    wall: float
    lays_deg: tuple[float, float]


def draw_ground(rng: np.random.Generator, shape: tuple[int, int], *, pixel_um: float, stroke_deg: float) -> Ground:
    """Both bands about the stroke (degrees), and the finishing scratches over them."""
    # The hone angle is bisected by the direction across the stroke.
    half = rng.uniform(20, 150) / 2
    lays = stroke_deg + 90 - half, stroke_deg + 90 + half
    weak = log_uniform(rng, 0.1, 1) if rng.random() < 0.4 else rng.uniform(0.6, 1)
    shares = (1.0, weak) if rng.random() < 0.5 else (weak, 1.0)
    total = log_uniform(rng, 0.12, 0.6)
    wall = float(np.tan(np.deg2rad(np.clip(rng.normal(16, 6), 6, 30))))
    depth = np.zeros(shape, np.float32)
    rim = np.zeros(shape, np.float32)
    for lay, share in zip(lays, shares, strict=True):
        sizes = int(rng.integers(1, 4))
        for _ in range(sizes):
            one, torn = _band(rng, shape, pixel_um=pixel_um, lay_deg=lay, share=total * share / sum(shares) / sizes * 1.2, wall=wall)
            depth = np.maximum(depth, one)
            rim = np.maximum(rim, torn)
    rim *= depth < 0.05
    fine = np.zeros(shape, np.float32)
    height = log_uniform(rng, 0.015, 0.2)
    for lay in lays:
        length = log_uniform(rng, 60, 800) / pixel_um
        width = max(log_uniform(rng, 0.5, 3) / pixel_um, 0.9)
        lines = stretched(rng, shape, angle_deg=lay + rng.normal(0, 1.5), long_px=length, short_px=width)
        fine -= height * np.clip(lines - rng.uniform(0, 1), 0, 3)
    return Ground(depth_um=depth, rim_um=rim, fine_um=np.maximum(fine, -0.42), wall=wall, lays_deg=lays)


def _band(
    rng: np.random.Generator, shape: tuple[int, int], *, pixel_um: float, lay_deg: float, share: float, wall: float
) -> tuple[np.ndarray, np.ndarray]:
    """Depth and rim height (µm) of one lay's grooves of about one width, which cover about this share of the picture."""
    width = max(log_uniform(rng, 2.5, 60), 3.5 * pixel_um)
    width = min(width, 0.2 * min(shape) * pixel_um)
    long_px = width * log_uniform(rng, 25, 300) / pixel_um
    wave = log_uniform(rng, 60, 500)
    bend = even(rng, shape, wave) * wave * log_uniform(rng, 0.001, 0.02)
    if rng.random() < 0.6:
        # Ragged walls by shifting them: noise added to the field itself would riddle a groove's flat middle with holes.
        notch = max(min(log_uniform(rng, 0.8, 5), width / 5) / pixel_um, 1)
        bend += even(rng, shape, notch) * log_uniform(rng, 0.01, 0.12) * width / pixel_um
    tilt = rng.normal(0, 1.2)
    field = stretched(rng, shape, angle_deg=lay_deg + tilt, long_px=long_px, short_px=width * 0.95 / pixel_um, bend=bend)
    # Groups: a broad field, long with the lay, raises and lowers the odds of a groove.
    field += rng.uniform(0, 0.7) * stretched(
        rng, shape, angle_deg=lay_deg + tilt, long_px=2 * long_px, short_px=width * rng.uniform(3, 10) / pixel_um
    )
    inside = field > above(field, share)
    distance = cv2.distanceTransform(inside.astype(np.uint8), cv2.DIST_L2, 5)
    distance = np.maximum(cv2.GaussianBlur(distance, (0, 0), 0.7) - 0.4, 0) * pixel_um
    slope = float(np.clip(wall * log_uniform(rng, 0.8, 1.3), *np.tan(np.deg2rad((6, 27)))))  # honed walls are no steeper
    floor = log_uniform(rng, 0.7, 10) * np.exp(0.3 * even(rng, shape, log_uniform(rng, 40, 300)))
    raw = distance * slope
    # A rounded floor: grits are blunt, so the walls run out before they meet.
    depth = floor * np.tanh(raw / np.maximum(floor, 0.1))
    outside = cv2.distanceTransform((~inside).astype(np.uint8), cv2.DIST_L2, 3) * pixel_um
    strength = log_uniform(rng, 0.02, 0.5) if rng.random() < 0.6 else 0.01
    torn = strength * np.exp(-outside / max(log_uniform(rng, 0.4, 2), 0.8 * pixel_um))
    torn *= smooth_step(even(rng, shape, max(log_uniform(rng, 1.5, 12) / pixel_um, 1.5)), -0.6, 1.2) * ~inside
    return depth.astype(np.float32), torn.astype(np.float32)
