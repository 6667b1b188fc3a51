"""What looks like a groove or hides it and is neither: scratches, fine marks, graphite, pull-outs, hard particles, debris."""

import cv2
import numpy as np

from makers.backscattered.texture import Grid, cloud, soft_step, wander


def scratches(rng: np.random.Generator, grid: Grid, stroke_deg: float) -> np.ndarray:
    """Height (rows, cols) float32 µm, at most zero: a few scratches along the stroke, 1 to 4 µm wide and some 0.1 to 0.9 µm deep
    (common practice, no source)."""
    relief = np.zeros(grid.shape[0] * grid.shape[1], np.float32)
    for _ in range(rng.poisson(rng.choice([1.0, 4.0, 9.0]))):
        along, across = grid.axes(stroke_deg + rng.normal(0, 1.5))
        half = max(rng.uniform(0.5, 2), 0.9 * grid.pixel_um)
        middle = rng.uniform(0.9 * across.min(), 0.9 * across.max())
        at = np.flatnonzero(np.abs(across - middle) < 1.6 * half)
        place = along.ravel()[at]
        t = place / (rng.uniform(0.2, 1.2) * grid.span_um) - rng.uniform(-0.5, 0.3)
        fades = np.sqrt(np.clip(4 * t * (1 - t), 0, 1))
        form = np.exp(-((across.ravel()[at] - middle - 0.2 * half * wander(rng, place, 20 * half)) ** 2) / (0.5 * half**2))
        relief[at] = np.minimum(relief[at], -rng.uniform(0.1, 0.9) * fades * form)
    return relief.reshape(grid.shape)


def fine_marks(rng: np.random.Generator, grid: Grid, directions: list[float], amplitude_um: float) -> np.ndarray:
    """Height (rows, cols) float32 µm of marks within the plateau, finer and shallower than grooves, along the directions."""
    across_um = max(rng.uniform(0.6, 1.8), 1.5 * grid.pixel_um)
    marks = [cloud(rng, grid, direction, across_um * rng.uniform(25, 60), across_um) for direction in directions]
    return np.clip(amplitude_um * np.mean(marks, axis=0), -0.4, 0.4)


def graphite(rng: np.random.Generator, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    """Shares (rows, cols) float32 from 0 to 1: graphite at the surface, curved flakes of some 15 to 80 µm by 1 to 4 µm, and
    pull-outs, torn pits of 3 to 14 µm (common practice, no source)."""
    drawn = np.zeros(grid.shape, np.uint8)
    many = rng.choice([0.0, 2e-4, 6e-4]) * rng.uniform(0.6, 1.4) * drawn.size * grid.pixel_um**2
    for _ in range(min(rng.poisson(many), 250)):
        steps = 9
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.3, steps)) + np.linspace(0, rng.normal(0, 1.2), steps)
        length, width = rng.uniform(15, 80), rng.uniform(1, 4)
        line = np.cumsum(np.column_stack([np.cos(turn), np.sin(turn)]), 0) * length / steps / grid.pixel_um
        line += rng.uniform(-0.05, 1.05, 2) * grid.shape[::-1] - line.mean(0)
        for k in range(steps - 1):
            thick = max(1, round(width * np.sin(np.pi * (k + 1) / steps) * rng.uniform(0.7, 1.2) / grid.pixel_um))
            cv2.line(drawn, *np.round(line[k : k + 2] * 16).astype(int).tolist(), 255, thick, cv2.LINE_AA, 4)
    blurred = cv2.GaussianBlur(drawn, (0, 0), max(0.6, 0.4 / grid.pixel_um)).astype(np.float32) / 255
    ragged = 0.22 * cloud(rng, grid, 0, 1.5, 1.5) * (blurred > 0.05) * (blurred < 0.95)
    return soft_step(blurred + ragged, 0.2, 0.65), specks(rng, grid, min(0.15 * many, 60), (1.5, 7))


def specks(rng: np.random.Generator, grid: Grid, mean: float, radius_um: tuple[float, float]) -> np.ndarray:
    """Footprint (rows, cols) float32 from 0 to 1 of a random number of compact, irregular spots."""
    drawn = np.zeros(grid.shape, np.uint8)
    around = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    for _ in range(rng.poisson(mean)):
        radius = max(rng.uniform(*radius_um) / grid.pixel_um, 1.5) * np.exp(rng.normal(0, 0.16, 16))
        long = rng.uniform(1, 1.7)
        spun = radius * (np.cos(around) * long + 1j * np.sin(around) / long) * np.exp(1j * rng.uniform(0, np.pi))
        outline = np.round((np.column_stack([spun.real, spun.imag]) + rng.uniform(0, 1, 2) * grid.shape[::-1]) * 16).astype(
            np.int32
        )
        cv2.fillPoly(drawn, [outline], 255, cv2.LINE_AA, 4)
    return drawn.astype(np.float32) / 255
