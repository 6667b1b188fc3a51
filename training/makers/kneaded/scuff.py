"""Scuffing: where the load is high metal is torn out, welds to the slider, ploughs on and is dropped further along.

One sweep along the stroke in each hot band. The lump welded on (µm) grows by what is torn, deepens the track it ploughs
and is shed in flakes; adhesive transfer after Rabinowicz, Friction and Wear of Materials (1965), from memory."""

import cv2
import numpy as np

from .chance import between, grainy
from .specimen import Run


def bands(
    rng: np.random.Generator, run: Run, shape: tuple[int, int], least_px: float
) -> list[tuple[slice, np.ndarray]]:
    """Columns of each hot band and its heat 0–1 (along the stroke, across), ragged like streaks."""
    found = []
    wanted = run.scuff * rng.uniform(0.06, 0.55) * shape[1]
    for _ in range(int(rng.integers(1, 6))):
        if wanted < least_px:
            break
        width = int(np.clip(wanted * rng.uniform(0.3, 1), least_px, 0.4 * shape[1]))
        wanted -= width
        first = int(rng.integers(0, max(shape[1] - width, 1)))
        across = np.linspace(-1, 1, width, dtype=np.float32)
        u = np.arange(shape[0], dtype=np.float32)[:, None]
        heat = 1.1 - across**2 + 0.45 * grainy(rng, (shape[0], width), (rng.uniform(60, 200), max(width / 8, 2)))
        if rng.random() < 0.5:
            over = rng.uniform(0.15, 0.85) * shape[0]
            heat -= 2 * np.clip((u - over) * rng.choice([-1, 1]) / rng.uniform(40, 150), 0, 1)
        found.append((slice(first, first + width), np.clip(heat - 0.25, 0, 0.6) / 0.6))
    return found


def tear(
    rng: np.random.Generator,
    height: np.ndarray,
    heat: np.ndarray,
    gap: np.ndarray,
    *,
    strength_um: float,
    forward: bool,
) -> np.ndarray:
    """Tear, plough and drop within one band, in place; returns how much each spot was harmed (µm).

    Hollows (gap below the land, µm) are partly filled on the way."""
    shape = height.shape
    grain = between(rng, 2.0, 6.0)
    patches = np.maximum(grainy(rng, shape, (grain * between(rng, 1.5, 8), grain)) - rng.uniform(-0.3, 0.5), 0)
    torn = strength_um * heat * patches * 0.5
    shedding = np.clip(0.05 + 0.10 * grainy(rng, shape, (between(rng, 4, 30), between(rng, 2, 6))), 0, 0.5)
    furrow = np.maximum(grainy(rng, shape, (between(rng, 60, 300), between(rng, 1.2, 3.5))), 0)
    harmed = np.zeros(shape, np.float32)
    lump = np.zeros(shape[1], np.float32)
    for row in range(shape[0]) if forward else range(shape[0] - 1, -1, -1):
        lump += torn[row]
        ploughed = np.minimum(0.22 * lump * furrow[row], 0.5 * strength_um) * heat[row]
        dropped = shedding[row] * lump
        filled = np.minimum(0.3 * lump + 0.3 * strength_um * heat[row], 0.6 * gap[row]) * (heat[row] > 0.3)
        lump -= dropped + 0.01 * lump
        dropped = np.minimum(dropped, 1.2 * strength_um)
        height[row] += dropped + filled - ploughed - torn[row]
        harmed[row] = torn[row] + ploughed + dropped + 0.3 * filled
    return harmed


def scuffed(
    rng: np.random.Generator, run: Run, height: np.ndarray, level: np.ndarray, load: np.ndarray, pixel_size_um: float
) -> tuple[np.ndarray, np.ndarray]:
    """Scuffed area (bool), height changed in place, and heat 0–1 there. Bands narrower than about 5 µm or 16 px read as
    stroke marks and are not drawn."""
    area = np.zeros(height.shape, bool)
    hot = np.zeros(height.shape, np.float32)
    if run.scuff == 0:
        return area, hot
    gap = np.maximum(level - height, 0)
    strength_um = run.scuff_strength * np.clip(pixel_size_um, 0.15, 2.2) ** 0.6 * 1.1
    for columns, heat in bands(rng, run, height.shape, max(5 / pixel_size_um, 16)):
        heat *= load[columns] > 0.5
        harmed = tear(
            rng, height[:, columns], heat, gap[:, columns], strength_um=strength_um, forward=bool(rng.random() < 0.5)
        )
        mean = cv2.boxFilter(harmed, -1, (13, 61))
        area[:, columns] |= (mean > 0.07 * strength_um) & (heat > 0.15)
        hot[:, columns] = np.maximum(hot[:, columns], heat)
    whole = cv2.morphologyEx(area.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((15, 7), np.uint8))
    return cv2.medianBlur(whole, 7).astype(bool), hot
