"""Where things run: the stroke, the two lays of hone grooves about it, and the track of the ring."""

from dataclasses import dataclass

import numpy as np

from .texture import line_noise, loguniform


@dataclass(frozen=True)
class Plan:
    """Directions in degrees from the picture's x axis (y down); worn: where the ring ran; lost_um: plateau worn away there."""

    stroke_deg: float
    hone_angle_deg: float
    lays_deg: tuple[float, float]
    balance: float
    worn: np.ndarray
    lost_um: float


def lays_about(stroke_deg: float, hone_angle_deg: float) -> tuple[float, float]:
    """The directions of both lays: their included angle is bisected by the circumference, which lies across the stroke."""
    return tuple((stroke_deg + 90.0 + side * hone_angle_deg / 2) % 180.0 for side in (-1, 1))


def across_stroke(shape: tuple[int, int], stroke_deg: float) -> np.ndarray:
    """Distance of each pixel from the picture's middle, across the stroke; px."""
    rows, cols = shape
    turn = np.deg2rad(stroke_deg)
    down = np.arange(rows, dtype=np.float32)[:, None] - rows / 2
    right = np.arange(cols, dtype=np.float32)[None, :] - cols / 2
    return (down * np.cos(turn) - right * np.sin(turn)).astype(np.float32)


def drawn_plan(rng: np.random.Generator, shape: tuple[int, int]) -> Plan:
    """A stroke, an included hone angle, the weaker lay's share of grooves over the stronger's, and the track."""
    chance = rng.uniform()
    if chance < 0.2:
        stroke_deg = float(rng.uniform(0, 180))
    else:
        stroke_deg = float((90.0 if chance < 0.68 else 0.0) + rng.normal(0, loguniform(rng, 0.3, 8)))
    # shops hone steep and flat angles; the usual ones are drawn more often
    hone_angle_deg = float(rng.uniform(28, 65) if rng.uniform() < 0.45 else rng.uniform(20, 150))
    balance = float(rng.uniform(0.5, 1) if rng.uniform() < 0.7 else loguniform(rng, 0.05, 0.5))
    chance = rng.uniform()
    worn = np.zeros(shape, bool)
    if chance >= 0.6:
        worn[:] = True
    elif chance >= 0.4:
        worn = _one_side(rng, shape, stroke_deg)
    lays = lays_about(stroke_deg, hone_angle_deg)
    if rng.uniform() < 0.5:
        lays = lays[::-1]
    return Plan(stroke_deg, hone_angle_deg, lays, balance, worn, loguniform(rng, 0.03, 1.5))


def _one_side(rng: np.random.Generator, shape: tuple[int, int], stroke_deg: float) -> np.ndarray:
    across = across_stroke(shape, stroke_deg)
    turn = np.deg2rad(stroke_deg)
    rows, cols = shape
    along = (np.arange(rows) - rows / 2)[:, None] * np.sin(turn) + (np.arange(cols) - cols / 2)[None, :] * np.cos(turn)
    reach = int(np.hypot(rows, cols)) + 4
    sway = line_noise(rng, reach, reach / 3) * loguniform(rng, 0.2, 6)
    border = rng.uniform(-0.3, 0.3) * (across.max() - across.min()) + sway[np.clip(along + reach / 2, 0, reach - 1).astype(int)]
    return (across > border) if rng.uniform() < 0.5 else (across < border)
