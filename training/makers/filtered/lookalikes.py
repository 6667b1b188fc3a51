"""What a grey-iron surface shows beside grooves: graphite, pull-outs, scratches, stains, and rarely debris."""

import cv2
import numpy as np

from makers.filtered.grain import cloud


def graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> np.ndarray:
    """Flakes met by the section, curved, 10 to 90 µm long and 0.8 to 4 µm thick (common practice, no source); 0–1, (rows, cols)."""
    canvas = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * (pixel_um / 1000) ** 2
    for _ in range(int(min(rng.poisson(area_mm2 * np.exp(rng.uniform(np.log(80), np.log(900)))), 160))):
        length, thick = np.exp(rng.uniform(np.log(10), np.log(90))), rng.uniform(0.8, 4.0)
        steps = np.linspace(-0.5, 0.5, 9)
        turn = rng.uniform(0, 2 * np.pi) + rng.normal(0, 1.3) * steps + rng.normal(0, 0.25, 9)
        path = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * length / 9 / pixel_um, 0)
        path += rng.uniform(0, 1, 2) * np.array(shape[::-1]) - path[4]
        for k in range(8):
            line = max(1, round(thick * np.sin(np.pi * (k + 1) / 9) / pixel_um))
            ends = [tuple(int(v) for v in np.clip(path[j] * 8, -30000, 30000)) for j in (k, k + 1)]
            cv2.line(canvas, ends[0], ends[1], 255, line, cv2.LINE_AA, 3)
    return canvas.astype(np.float32) / 255


def blobs(rng: np.random.Generator, shape: tuple[int, int], count: int, across_px: tuple[float, float]) -> np.ndarray:
    """Irregular outlines of across_px (least, most) pixels: pits where grains came out, or loose particles; 0–1, (rows, cols)."""
    canvas, turn = np.zeros(shape, np.uint8), np.linspace(0, 2 * np.pi, 14, endpoint=False)
    for _ in range(count):
        radii = np.exp(rng.uniform(*np.log(across_px))) / 2 * np.exp(rng.normal(0, 0.25, 14))
        outline = np.stack([np.cos(turn), rng.uniform(0.5, 1) * np.sin(turn)], 1) * radii[:, None]
        outline += rng.uniform(0, 1, 2) * np.array(shape[::-1])
        cv2.fillPoly(canvas, [np.round(outline * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)
    return canvas.astype(np.float32) / 255


def scratches(rng: np.random.Generator, stroke: tuple, pixel_um: float, count: int) -> np.ndarray:
    """Scratches along the stroke, 0.6 to 5 µm wide; 0–1, (rows, cols); stroke: distances along and across it, µm."""
    along, across = stroke
    reach, drawn = float(np.abs(across).max()), np.zeros(across.shape, np.float32)
    bent = across + cloud(rng, along, across, (80, 300)) * np.float32(1.0)
    for _ in range(count):
        half = max(np.exp(rng.uniform(np.log(0.6), np.log(5))) / 2, 0.7 * pixel_um)
        line = np.clip(1 - np.abs(bent - np.float32(rng.uniform(-1, 1) * reach)) / np.float32(half), 0, 1)
        end = rng.uniform(-0.6, 1.5) * float(np.abs(along).max())
        fade = np.clip((end - rng.choice([-1, 1]) * along) / np.float32(12 * half), 0, 1)
        drawn = np.maximum(drawn, line * fade * np.float32(rng.uniform(0.4, 1)))
    return drawn


def stain(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, size_um: float) -> np.ndarray:
    """A film of oil or oxide in blots of about size_um with fairly sharp shores; 0–1, (rows, cols)."""
    level = cloud(rng, along, across, (1.5 * size_um, size_um)) + 0.35 * cloud(rng, along, across, (size_um / 4, size_um / 5))
    return np.clip((level - rng.uniform(0.4, 1.4)) * rng.uniform(1.5, 5), 0, 1)
