"""Debris, charging and an earlier scan's contamination frame: what a microscopist would leave out or look past."""

import cv2
import numpy as np

from .roughness import roughness


def debris(rng: np.random.Generator, height: np.ndarray, tone: np.ndarray, pixel_um: float, count: int) -> np.ndarray:
    """Put loose particles on the height map (in place) and return where they lie."""
    rows, cols = height.shape
    lies = np.zeros(height.shape, np.uint8)
    for _ in range(count):
        size = min(max(rng.uniform(2, 9) / pixel_um, 3), rng.uniform(9, 24))
        centre = np.array([rng.uniform(0, cols), rng.uniform(0, rows)])
        turn = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(6, 12)))
        corners = centre + size * rng.uniform(0.5, 1.2, (turn.size, 1)) * np.stack(
            [np.cos(turn), 0.7 * np.sin(turn)], 1
        )
        one = np.zeros(height.shape, np.uint8)
        cv2.fillPoly(one, [np.round(corners).astype(np.int32)], 1)
        x, y, w, h = cv2.boundingRect(np.round(corners).astype(np.int32))
        window = (slice(max(y - 2, 0), max(y + h + 2, 1)), slice(max(x - 2, 0), max(x + w + 2, 1)))
        part = cv2.GaussianBlur(one[window].astype(np.float32), (0, 0), max(size / 7, 0.7))
        bumpy = part * (1 + 0.25 * roughness(rng, part.shape, size / 4, size / 4)) if part.size else part
        height[window] += bumpy * size * pixel_um * 0.5
        tone[window] *= 1 + part * rng.uniform(-0.1, 0.5)
        lies[window] |= (part > 0.1).astype(np.uint8)
    return lies.astype(bool)


def charging(rng: np.random.Generator, sent: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Brighten some spots, with tails along the fast scan (in place); return where the surface can't be seen."""
    rows, cols = sent.shape
    hides = np.zeros(sent.shape, bool)
    spots = np.argwhere(places)
    for _ in range(int(rng.integers(2, 6))):
        row, col = spots[rng.integers(len(spots))] if len(spots) else (rng.integers(rows), rng.integers(cols))
        size, tail = rng.uniform(5, 16), rng.uniform(25, 90)
        window = (slice(max(row - 50, 0), min(row + 50, rows)), slice(max(col - 60, 0), min(col + 260, cols)))
        y, x = np.mgrid[window]
        line = 1 + 0.35 * rng.standard_normal((y.shape[0], 1))
        along = np.where(x > col, np.exp(-(x - col) / tail), np.exp(-(((x - col) / size) ** 2)))
        glow = 1.6 * np.exp(-(((y - row) / size) ** 2)) * along * line
        sent[window] += glow.astype(np.float32)
        hides[window] |= glow > 0.2
    return hides


def old_frame(rng: np.random.Generator, sent: np.ndarray) -> None:
    """Darken the rectangle of an earlier scan a little (carbon deposit); the surface stays visible."""
    rows, cols = sent.shape
    top, left = int(rng.uniform(0, 0.5) * rows), int(rng.uniform(0, 0.5) * cols)
    window = (slice(top, top + int(0.45 * rows)), slice(left, left + int(0.45 * cols)))
    sent[window] *= np.float32(rng.uniform(0.88, 0.95))
