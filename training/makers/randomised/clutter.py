"""What lies on or in the metal and is no valley: graphite, pull-outs, scratches, stains, and debris that hides the ground."""

import cv2
import numpy as np

from .noise import log_uniform, spectral, wander


def _graphite(rng: np.random.Generator, tone: np.ndarray, pixel: float) -> None:
    """Flakes of 10–80 µm, crooked and dark; some leave a pit with a bright brim; pixel in µm."""
    rows, cols = tone.shape
    flakes = np.zeros((rows, cols), np.uint8)
    usual = log_uniform(rng, 10, 80) / pixel
    count = int(np.clip(log_uniform(rng, 0.15, 2.5) * rows * cols / usual**2, 1, 120))
    for _ in range(count):
        steps = 14
        turn = rng.uniform(0, 2 * np.pi) + rng.uniform(0.2, 0.9) * wander(rng, steps, 4)
        step = usual * np.exp(rng.normal(0, 0.4)) / steps
        path = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * step, axis=0) + rng.uniform(0, [cols, rows])
        thick = max(1, int(round(log_uniform(rng, 0.6, 4) / pixel)))
        cv2.polylines(flakes, [np.round(path * 8).astype(np.int32)], False, 255, min(thick, 20), cv2.LINE_AA, 3)
    cover = cv2.GaussianBlur(flakes.astype(np.float32) / 255, (0, 0), 0.7)
    tone -= rng.uniform(0.08, 0.4) * np.clip(cover * (0.8 + 0.3 * spectral(rng, tone.shape, 3)), 0, 1.2)
    if rng.random() < 0.4:
        tone += rng.uniform(0.03, 0.15) * np.clip(cv2.GaussianBlur(cover, (0, 0), 1.5) - cover, 0, 1)


def _pits(rng: np.random.Generator, tone: np.ndarray, pixel: float) -> None:
    """Pull-outs: small ragged holes of 2–15 µm; pixel in µm."""
    size = max(1.2, log_uniform(rng, 2, 15) / pixel / 3)
    holes = np.clip(2 * (spectral(rng, tone.shape, size) - rng.uniform(2.2, 3.2)), 0, 1)
    tone -= rng.uniform(0.1, 0.4) * holes
    tone += rng.uniform(0, 0.2) * np.clip(cv2.GaussianBlur(holes, (0, 0), 1.5) - holes, 0, 1)


def _scratches(rng: np.random.Generator, tone: np.ndarray, stroke: float) -> None:
    """Thin straight scratches along the stroke, shallow, dark or bright or one of each side by
    side; stroke in radians."""
    rows, cols = tone.shape
    lines = np.zeros((rows, cols), np.uint8)
    for _ in range(int(rng.integers(1, 9))):
        turn = stroke + rng.normal(0, 0.03)
        reach = np.array([np.cos(turn), np.sin(turn)]) * log_uniform(rng, 0.2, 2) * max(rows, cols) / 2
        middle = rng.uniform(0, [cols, rows])
        ends = np.round(np.stack([middle - reach, middle + reach]) * 8).astype(np.int32)
        cv2.polylines(lines, [ends], False, int(rng.integers(90, 256)), int(rng.integers(1, 4)), cv2.LINE_AA, 3)
    mark = cv2.GaussianBlur(lines.astype(np.float32) / 255, (0, 0), 0.6)
    tone += rng.choice([-1, 1]) * rng.uniform(0.05, 0.2) * mark
    if rng.random() < 0.5:
        tone += rng.uniform(0.03, 0.12) * np.roll(mark, 2, axis=1)


def _film(rng: np.random.Generator, tone: np.ndarray) -> None:
    """Stain, oil or tribofilm: patches with edges from soft to sharp."""
    cloud = spectral(rng, tone.shape, log_uniform(rng, 12, 90), roll_off=rng.uniform(0.9, 2.2))
    patch = 1 / (1 + np.exp(-np.clip(log_uniform(rng, 1.5, 25) * (cloud - rng.uniform(0.3, 1.6)), -30, 30)))
    tone += rng.uniform(-0.12, 0.06) * patch


def look_alikes(rng: np.random.Generator, tone: np.ndarray, pixel: float, stroke: float) -> None:
    """Strew look-alikes over tone, in place; most fields have one or two sorts; pixel in µm,
    stroke in radians."""
    if rng.random() < 0.45:
        _graphite(rng, tone, pixel)
    if rng.random() < 0.25:
        _pits(rng, tone, pixel)
    if rng.random() < 0.35:
        _scratches(rng, tone, stroke)
    if rng.random() < 0.35:
        _film(rng, tone)


def debris(rng: np.random.Generator, tone: np.ndarray, side: float) -> np.ndarray:
    """Put lumps with their shadows on tone, in place, and some that charge; answers what they hide; shadows fall away
    from side (radians)."""
    rows, cols = tone.shape
    hidden = np.zeros((rows, cols), bool)
    if rng.random() > 0.35:
        return hidden
    lumps = np.zeros((rows, cols), np.uint8)
    for _ in range(int(rng.integers(1, 7))):
        radius = log_uniform(rng, 3, 0.09 * min(rows, cols))
        turn = np.linspace(0, 2 * np.pi, 18, endpoint=False)
        lobes = rng.normal(size=18)
        # Lumps are rounded: an outline that jumps from point to point would be a star.
        lobes = (lobes + np.roll(lobes, 1) + np.roll(lobes, -1)) / np.sqrt(3)
        out = radius * (1 + rng.uniform(0.05, 0.3) * lobes).clip(0.4, 1.8)
        outline = np.stack([np.cos(turn) * out * rng.uniform(0.5, 1), np.sin(turn) * out], 1) + rng.uniform(0, [cols, rows])
        cv2.fillPoly(lumps, [np.round(outline).astype(np.int32)], 1)
    hidden = lumps > 0
    soft = cv2.GaussianBlur(lumps.astype(np.float32), (0, 0), 0.8)
    reach = log_uniform(rng, 2, 9)
    move = np.array([[1, 0, -reach * np.cos(side)], [0, 1, -reach * np.sin(side)]])
    shadow = cv2.GaussianBlur(cv2.warpAffine(soft, move, (cols, rows)), (0, 0), 0.6 * reach)
    tone -= rng.uniform(0.05, 0.25) * shadow * (1 - soft)
    body = rng.uniform(0.35, 0.95) + 0.1 * spectral(rng, tone.shape, log_uniform(rng, 1.5, 6))
    body = body + 0.2 * (soft - cv2.GaussianBlur(soft, (0, 0), 3))
    tone += soft * (body - tone)
    if rng.random() < 0.3:
        # A charging lump floods its own scan lines to the right; what is flooded can't be assessed.
        glow = cv2.GaussianBlur(soft, (0, 0), sigmaX=rng.uniform(8, 25), sigmaY=0.8) * rng.uniform(0.5, 1.5)
        tone += 0.6 * glow
        hidden = hidden | (glow > 0.35)
    return hidden
