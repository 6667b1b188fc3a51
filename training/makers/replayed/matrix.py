"""Grey cast iron under the tool: flake graphite of type A (curved, branched; ISO 945-1), pull-outs, pearlite colonies with
lamellae of 0.2–1 µm (from memory), and steadite, the phosphide eutectic that stands as a network of hard islands."""

import cv2
import numpy as np

from .grain import grain, ramp


def graphite(rng: np.random.Generator, size: int, pixel_size_um: float, per_mm2: float) -> np.ndarray:
    """Share of each pixel that is graphite."""
    drawn = np.zeros((size, size), np.uint8)
    area_mm2 = (size * pixel_size_um / 1000) ** 2
    for _ in range(min(220, int(rng.poisson(per_mm2 * area_mm2)))):
        _flake(
            rng, drawn, rng.uniform(0, size, 2), rng.uniform(0, 6.3), pixel_size_um, rng.uniform(20, 110), branch=True
        )
    if per_mm2 > 0:
        y, x = np.mgrid[:size, :size].astype(np.float32)
        amount = float(np.clip(0.3 / pixel_size_um, 0.5, 2.5))
        shift_x, shift_y = (amount * grain(rng, (size, size), 5 * amount, 5 * amount) for _ in range(2))
        drawn = cv2.remap(drawn, x + shift_x, y + shift_y, cv2.INTER_LINEAR)
    return drawn.astype(np.float32) / 255


def _flake(
    rng: np.random.Generator,
    drawn: np.ndarray,
    at: np.ndarray,
    heading: float,
    pixel_size_um: float,
    length_um: float,
    *,
    branch: bool,
) -> None:
    steps = 9
    turns = heading + np.cumsum(rng.normal(rng.normal(0, 0.12), 0.2, steps))
    points = at + np.cumsum(np.stack([np.cos(turns), np.sin(turns)], 1) * length_um / pixel_size_um / steps, axis=0)
    widths = (
        rng.uniform(0.8, 3.2) / pixel_size_um * np.sin(np.linspace(0.35, 2.9, steps)) * rng.uniform(0.6, 1.3, steps)
    )
    left = np.stack([-np.sin(turns), np.cos(turns)], 1) * np.maximum(widths, 0.7)[:, None] / 2
    outline = np.concatenate([points + left, (points - left)[::-1]])
    cv2.fillPoly(drawn, [np.round(outline * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    if branch and rng.random() < 0.6:
        start = int(rng.integers(2, 7))
        turn = turns[start] + rng.choice([-1, 1]) * rng.uniform(0.4, 1.1)
        _flake(rng, drawn, points[start], turn, pixel_size_um, 0.5 * length_um, branch=False)


def pull_outs(rng: np.random.Generator, size: int, pixel_size_um: float, count: int) -> np.ndarray:
    """Depth (µm) of ragged pits where graphite or a hard grain was plucked out."""
    pit = np.zeros((size, size), np.float32)
    for _ in range(count):
        radius = min(rng.uniform(1.5, 9) / pixel_size_um, 0.06 * size)
        radius = max(radius, 2.0)
        half = int(2 * radius) + 2
        y, x = rng.integers(half, size - half, 2)
        sides = np.linspace(0, 2 * np.pi, 12, endpoint=False)
        long = rng.uniform(1, 1.8)
        turn = rng.uniform(0, np.pi)
        reach = radius * rng.uniform(0.55, 1.1, 12)
        px, py = reach * np.cos(sides) * long, reach * np.sin(sides) / long
        ring = np.stack([px * np.cos(turn) - py * np.sin(turn), px * np.sin(turn) + py * np.cos(turn)], 1) + half
        stamp = np.zeros((2 * half, 2 * half), np.uint8)
        cv2.fillPoly(stamp, [np.round(ring * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        bowl = cv2.GaussianBlur(stamp.astype(np.float32) / 255, (0, 0), max(0.6, 0.12 * radius))
        window = pit[y - half : y + half, x - half : x + half]
        np.maximum(window, bowl * rng.uniform(0.8, 3.5), out=window)
    return pit


def pearlite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Tone of colonies (unit size), each with its own lamella direction where the scale shows lamellae."""
    rows, cols = shape
    colony_um = rng.uniform(15, 50)
    count = int(np.clip(rows * cols * pixel_size_um**2 / colony_um**2, 4, 900))
    seeds = np.ones(shape, np.uint8)
    seeds[rng.integers(0, rows, count), rng.integers(0, cols, count)] = 0
    _, labels = cv2.distanceTransformWithLabels(seeds, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    tone = rng.normal(0, 1, count + 2).astype(np.float32)[labels]
    spacing_px = rng.uniform(0.3, 1.0) / pixel_size_um
    if spacing_px > 2.5:
        angles = rng.uniform(0, np.pi, count + 2)
        wave_x = (np.cos(angles) * 2 * np.pi / spacing_px).astype(np.float32)[labels]
        wave_y = (np.sin(angles) * 2 * np.pi / spacing_px).astype(np.float32)[labels]
        y, x = np.mgrid[:rows, :cols].astype(np.float32)
        bend = grain(rng, shape, 40, 40) * 1.5
        tone = 0.6 * tone + 0.8 * np.sin(wave_x * x + wave_y * y + bend)
    return tone


def steadite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Share of each pixel that is steadite: broken bands around cells of some 100 µm."""
    cell = rng.uniform(40, 100) / pixel_size_um
    band = np.abs(grain(rng, shape, cell, cell)) + 0.1 * grain(rng, shape, 6, 6)
    broken = grain(rng, shape, cell / 3, cell / 3)
    return ramp(-band, -0.16, -0.1) * ramp(broken, 0.2, 0.4)
