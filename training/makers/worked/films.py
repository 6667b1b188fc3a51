"""What lies on or in a surface that is no groove: graphite and pull-outs, tribofilm, oil stains and lacquer, wear debris on
groove floors, corrosion spots, polishing marks, reversal-point marks, loose debris, charging.

All are look-alikes of the states and none changes the truth, but for debris and charging, which hide the surface.
"""

import cv2
import numpy as np

from .microscope import noise
from .stages import Surface


def lay_on(rng: np.random.Generator, surface: Surface) -> tuple[np.ndarray, np.ndarray]:
    """Grey differences, and where the surface is hidden."""
    frame = surface.liner.frame
    shape, small = frame.shape, min(frame.shape)
    films, hidden = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    if rng.random() < 0.45:
        films -= _graphite(rng, shape, frame.pixel_size_um) * (surface.scuff < 0.5)
    if surface.worn.any() and rng.random() < 0.3:
        patch = np.clip(
            frame.streaks(rng, frame.stroke, long_px=small / 4, wide_px=small / 14)
            + noise(rng, shape, 8) * 0.4
            - rng.uniform(0.3, 1.2),
            0,
            1,
        )
        films -= rng.uniform(0.04, 0.16) * patch * surface.worn
    if rng.random() < 0.25:
        films -= rng.uniform(0.05, 0.2) * np.clip(noise(rng, shape, rng.uniform(2, 4)) - rng.uniform(1.8, 2.6), 0, 1.5)
    if rng.random() < 0.1:
        stain = np.clip(np.abs(noise(rng, shape, small / 3) - rng.uniform(-1, 1)) * rng.uniform(2, 8), 0, 1)
        films += rng.uniform(0.02, 0.1) * (1 - stain) * rng.choice((-1, 1))
    if rng.random() < 0.35:
        filled = np.clip(noise(rng, shape, rng.uniform(8, 30)) - rng.uniform(0, 0.8), 0, 1) * (surface.codes == 1)
        films += rng.uniform(0.05, 0.22) * filled * (1 + 0.4 * noise(rng, shape, 2.5))
    if rng.random() < 0.12:
        for _ in range(rng.integers(1, 12)):
            centre = (int(rng.integers(shape[1])), int(rng.integers(shape[0])))
            cv2.circle(spots := np.zeros(shape, np.float32), centre, int(rng.integers(2, 7)), 1.0, -1)
            films -= rng.uniform(0.05, 0.2) * cv2.GaussianBlur(spots, (0, 0), 1.5)
    if rng.random() < 0.15:
        angle, sparse = rng.uniform(0, np.pi), rng.uniform(1.8, 2.6)
        films += (
            0.06 * np.clip(frame.streaks(rng, angle, long_px=120, wide_px=1.6) - sparse, 0, 2) * rng.choice((-1, 1))
        )
    if surface.worn.any() and rng.random() < 0.08:
        step = np.cos(_along(surface) / small * rng.uniform(2, 9) + rng.uniform(0, 6))
        films += rng.uniform(0.01, 0.05) * step
    if rng.random() < 0.3:
        _debris(rng, films, hidden)
    if rng.random() < 0.05:
        row, thick = int(rng.integers(shape[0])), int(rng.integers(4, 20))
        films[row : row + thick] += 0.9
        hidden[row : row + thick] = 1
    return films, hidden > 0


def _along(surface: Surface) -> np.ndarray:
    """Distance along the stroke, px."""
    (rows, cols), stroke = surface.liner.frame.shape, surface.liner.frame.stroke
    return (np.cos(stroke) * np.arange(cols)[None] + np.sin(stroke) * np.arange(rows)[:, None]).astype(np.float32)


def _graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Curved flakes of grey iron, some pulled out; flakes are 10-100 µm long and 1-4 µm thick (from memory)."""
    flakes = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 / 1e6
    for _ in range(min(60, rng.poisson(rng.uniform(100, 600) * area_mm2 + 2))):
        turns = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, 14))
        steps = np.stack([np.cos(turns), np.sin(turns)], 1) * rng.uniform(10, 70) / pixel_size_um / 14
        line = rng.uniform(0, 1, 2) * shape[::-1] + np.cumsum(steps, 0)
        thick = int(np.clip(rng.uniform(1, 4) / pixel_size_um, 1, 14))
        dark = int(rng.integers(100, 255))
        for at, part in enumerate(rng.uniform(0.4, 1.1, 13)):
            ends = line[at : at + 2].astype(int).tolist()
            cv2.line(flakes, *ends, dark, max(1, round(thick * part)), cv2.LINE_AA)
        if rng.random() < 0.25:
            end = line[rng.integers(14)].astype(int).tolist()
            axes = (int(thick * rng.uniform(1, 2.5)) + 1, thick + 1)
            cv2.ellipse(flakes, end, axes, float(np.degrees(turns[0])), 0, 360, 255, -1, cv2.LINE_AA)
    return rng.uniform(0.15, 0.5) * cv2.GaussianBlur(flakes, (0, 0), 0.8).astype(np.float32) / 255


def _debris(rng: np.random.Generator, films: np.ndarray, hidden: np.ndarray) -> None:
    """Loose, angular, bright particles."""
    for _ in range(rng.integers(1, 5)):
        count, size = rng.integers(5, 10), rng.uniform(3, 14)
        turns = np.sort(rng.uniform(0, 2 * np.pi, count))
        corners = np.stack([np.cos(turns), np.sin(turns)], 1) * size * rng.uniform(0.6, 1.1, (count, 1))
        corners = (corners + rng.uniform(0, 1, 2) * hidden.shape[::-1]).astype(np.int32)
        here = cv2.fillPoly(np.zeros_like(hidden), [corners], 1)
        films += cv2.GaussianBlur(here.astype(np.float32), (0, 0), 1.0) * (
            rng.uniform(0.3, 0.7) + 0.1 * noise(rng, here.shape, 4)
        )
        films -= 0.12 * cv2.GaussianBlur(np.roll(here, 4, (0, 1)).astype(np.float32), (0, 0), 3.0) * (1 - here)
        hidden |= here
