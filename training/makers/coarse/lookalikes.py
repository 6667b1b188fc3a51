"""What is on honed iron and isn't a valley: fine marks, graphite, stains, debris and charging."""

import cv2
import numpy as np

from .buffers import fill, fixed
from .grooves import ragged


def streaks(rng, shape, angle_deg: float, long_px: float, wide_px: float = 1.0) -> np.ndarray:
    """Noise of unit spread, drawn out along angle_deg: float32."""
    rows, cols = shape
    side = int(np.hypot(rows, cols)) + 4
    small = rng.standard_normal((int(side / wide_px) + 2, int(side / long_px) + 3), dtype=np.float32)
    big = cv2.resize(small, (side, side), interpolation=cv2.INTER_LINEAR)
    turn = cv2.getRotationMatrix2D((side / 2, side / 2), -angle_deg, 1)
    turn[:, 2] += (cols - side) / 2, (rows - side) / 2
    out = cv2.warpAffine(big, turn, (cols, rows), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    return out / (out.std() + 1e-6)


def blotches(rng, shape, size_px: float) -> np.ndarray:
    """Smooth noise of unit spread with features about size_px: float32."""
    rows, cols = shape
    small = rng.standard_normal((int(rows / size_px) + 4, int(cols / size_px) + 4), dtype=np.float32)
    out = cv2.resize(small, (cols, rows), interpolation=cv2.INTER_CUBIC)
    return out / (out.std() + 1e-6)


def marks(rng, shape, angles_deg, count: int, spread_deg: float) -> np.ndarray:
    """Fine scratches shallower than 0.5 µm, signed: dark ones and bright ones, each fading out at its ends. float32 about 0."""
    canvas = np.full(shape, 128, np.uint8)
    rows, cols = shape
    for _ in range(count):
        angle = np.radians(rng.choice(angles_deg) + rng.normal(0, spread_deg))
        half = np.array([np.cos(angle), np.sin(angle)]) * np.hypot(rows, cols) * 10 ** rng.uniform(-1.2, 0.1)
        middle = np.array([rng.uniform(0, cols), rng.uniform(0, rows)])
        grey = float(np.clip(128 + rng.normal(-12, 45), 20, 235))
        for piece, weight in ((1.0, 0.5), (0.7, 1.0)):
            ends = fixed(np.stack([middle - piece * half, middle + piece * half]))
            level = 128 + weight * (grey - 128)
            cv2.line(canvas, ends[0].tolist(), ends[1].tolist(), level, int(rng.choice([1, 2, 2, 3])), cv2.LINE_AA, 4)
    return (canvas.astype(np.float32) - 128) / 128


def graphite(rng, shape, canvas_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Flakes as curved, tapering polygons, and pull-outs, the holes that some of them leave. Two float32 maps, 0 to 1."""
    flakes, holes = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    rows, cols = shape
    per_mm2 = 10 ** rng.uniform(1.6, 2.7)
    count = min(60, rng.poisson(per_mm2 * rows * cols * canvas_um**2 * 1e-6) + rng.integers(0, 3))
    pulled = rng.uniform(0, 0.4)
    for _ in range(count):
        long = np.clip(10 ** rng.uniform(1, 1.9) / canvas_um, 10, 0.8 * max(shape))
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.16, 24)) + np.linspace(0, rng.normal(0, 1.2), 24)
        spine = np.array([rng.uniform(0, cols), rng.uniform(0, rows)]) + np.cumsum(
            np.stack([np.cos(turn), np.sin(turn)], axis=1) * long / 24, axis=0
        )
        half = np.sin(np.linspace(0.05, np.pi - 0.05, 24)) * max(1.0, 10 ** rng.uniform(-0.2, 0.55) / canvas_um / 2)
        half = half * (1 + 0.3 * ragged(rng, 24, 2)).clip(0.2)
        aside = np.stack([-np.sin(turn), np.cos(turn)], axis=1) * half[:, None]
        fill(holes if rng.random() < pulled else flakes, [np.vstack([spine + aside, (spine - aside)[::-1]])], rng.uniform(140, 255))
    return flakes.astype(np.float32) / 255, holes.astype(np.float32) / 255


def debris(rng, shape, canvas_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Loose particles (float32, 0 to 1, grey within) and the ground they hide, charging included (bool)."""
    rows, cols = shape
    bodies = np.zeros(shape, np.uint8)
    hidden = np.zeros(shape, bool)
    for _ in range(rng.integers(1, 6)):
        size = np.clip(10 ** rng.uniform(0.2, 1.3) / canvas_um, 5, 0.08 * min(shape))
        round_ = np.linspace(0, 2 * np.pi, int(rng.integers(9, 24)), endpoint=False)
        radius = size * (1 + 0.25 * ragged(rng, len(round_), 3)).clip(0.5, 1.5) * (1 + 0.4 * np.cos(2 * round_ + rng.uniform(0, 6)))
        middle = np.array([rng.uniform(0, cols), rng.uniform(0, rows)])
        for shrink in (1.0, 0.6):
            polygon = middle + shrink * radius[:, None] * np.stack([np.cos(round_), np.sin(round_)], axis=1)
            fill(bodies, [polygon], rng.uniform(110, 255))
    hidden |= bodies > 60
    return bodies.astype(np.float32) / 255, hidden
