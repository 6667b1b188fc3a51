"""What lies on or in the iron besides grooves: graphite, pull-outs, stains, debris, charging. None is a valley."""

import cv2
import numpy as np

from .frame import between, cloud


def graphite(rng: np.random.Generator, shape: tuple[int, int], px: float) -> np.ndarray:
    """Flakes of grey iron cut by the surface (0–1): bent worms some µm thick and tens of µm long."""
    ink = np.zeros(shape, np.uint8)
    area = shape[0] * shape[1] * px * px
    size = between(rng, 8, 60)
    for _ in range(int(np.clip(area / size**2 * between(rng, 0.05, 0.8), 1, 90))):
        steps = int(rng.integers(3, 9))
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.45, steps))
        step = size * between(rng, 0.4, 1.6) / steps / px
        points = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * step, 0) + rng.uniform(0, 1, 2) * shape[::-1]
        thick = max(1, round(between(rng, 0.5, 4) / px))
        cv2.polylines(ink, [np.round(points * 16).astype(np.int32)], False, 255, min(thick, 14), cv2.LINE_AA, 4)
    return ink.astype(np.float32) / 255


def pullouts(rng: np.random.Generator, shape: tuple[int, int], px: float) -> np.ndarray:
    """Pits where flakes or grains left (µm deep), compact and without a direction."""
    ink = np.zeros(shape, np.uint8)
    for _ in range(int(rng.integers(1, 20))):
        axes = [int(np.clip(between(rng, 1, 12) / px * 16, 16, 480)) for _ in range(2)]
        at = [int(rng.uniform(0, shape[1]) * 16), int(rng.uniform(0, shape[0]) * 16)]
        cv2.ellipse(ink, at, axes, rng.uniform(0, 180), 0, 360, 255, -1, cv2.LINE_AA, 4)
    # Broken-out ground has no smooth outline.
    ragged = cv2.GaussianBlur(ink, (0, 0), 3).astype(np.float32) / 255 + 0.25 * cloud(rng, shape, 5, 5) * (ink > 0)
    return cv2.GaussianBlur(np.clip((ragged - 0.35) * 4, 0, 1), (0, 0), 1.0) * between(rng, 0.5, 3)


def stains(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Oil or tribofilm patches: a change of brightness with blurred or sharp edges, no relief."""
    cell = between(rng, 20, 200)
    level = cloud(rng, shape, cell, cell * between(rng, 0.4, 2.5)) + 0.3 * cloud(rng, shape, cell / 4, cell / 4)
    return np.clip((level - rng.uniform(0.2, 1.1)) * between(rng, 0.8, 12), 0, 1)


def debris(rng: np.random.Generator, shape: tuple[int, int], px: float) -> np.ndarray:
    """Loose particles (bool), angular, lying on the surface."""
    ink = np.zeros(shape, np.uint8)
    for _ in range(int(rng.integers(1, 9))):
        reach = np.clip(between(rng, 0.8, 15) / px, 2, 32)
        turn = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(5, 10))))
        far = reach * rng.uniform(0.5, 1.2, turn.size)
        at = rng.uniform(0, 1, 2) * shape[::-1]
        corners = np.stack([np.cos(turn) * far, np.sin(turn) * far * rng.uniform(0.4, 1)], 1) + at
        cv2.fillPoly(ink, [np.round(corners).astype(np.int32)], 1)
    return ink.astype(bool)


def charging(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Glare of charged dirt (0–1), drawn out along the scan lines to the right."""
    glow = np.zeros(shape, np.float32)
    for _ in range(int(rng.integers(1, 4))):
        r, c = int(rng.integers(0, shape[0])), int(rng.integers(0, shape[1]))
        high, long = int(rng.integers(3, 22)), int(rng.integers(15, 130))
        glow[r : r + high, c : c + long] = 1
    return cv2.GaussianBlur(glow, (0, 0), 3.0, sigmaY=1.5)
