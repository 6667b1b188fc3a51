"""Scuffing: bands along the stroke that adhesion has torn, ploughed, or covered with picked-up metal.

Adhesive failure starts at spots and runs out along the sliding direction as streaks of torn and ploughed metal, over
which transferred lumps are drawn out (common description; no single source). Bands here are ten pixels wide at least,
have ragged sides and feathered ends, and lose most of the grooves under them.
"""

import cv2
import numpy as np

from .frames import Array, Frame, Rng, correlated, rough


def bands(rng: Rng, frame: Frame, worn: Array) -> Array:
    """Where scuffing is, as a boolean map."""
    size = min(frame.shape)
    total = np.full(frame.shape, -9.0, np.float32)
    ragged = frame.streaks(rng, rng.uniform(5, 14), rng.uniform(40, 160))
    ragged += 0.5 * frame.streaks(rng, 3.0, rng.uniform(15, 50))
    for _ in range(int(rng.integers(1, 5))):
        half = max(size * rng.lognormal(np.log(0.045), 0.7), 7.0)
        half = min(half, size * 0.2)
        middle = rng.uniform(-0.5, 0.5) * size
        sides = (half - np.abs(frame.across - middle)) / half
        if rng.random() < 0.5:
            reach = size * rng.uniform(0.15, 0.6)
            ends = (reach - np.abs(frame.along - rng.uniform(-0.5, 0.5) * size)) / (3 * half)
            sides = np.minimum(sides, ends)
        np.maximum(total, sides, out=total)
    total += rng.uniform(0.15, 0.5) * ragged
    mask = (total > max(0.1, float(np.quantile(total[::4, ::4], 0.7)))) & worn
    kernel = np.ones((5, 5), np.uint8)
    mask = cv2.morphologyEx(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, kernel), cv2.MORPH_OPEN, kernel)
    return (mask > 0) & worn


def torn(rng: Rng, frame: Frame, height: Array, mask: Array, pixel: float) -> tuple[Array, float]:
    """The surface once scuffed (µm), and how much darker or brighter its torn metal is."""
    shape, unit = frame.shape, max(3.0, 2.0 / pixel)
    strength = float(np.exp(rng.uniform(np.log(0.35), np.log(1.8)))) * (0.5 + 0.6 * pixel)
    plough, tear, lumps = rng.dirichlet([1.2, 1.0, 0.8])
    furrows = frame.streaks(rng, unit * rng.uniform(0.6, 1.4), unit * rng.uniform(15, 60))
    furrows += 0.7 * frame.streaks(rng, unit * rng.uniform(1.5, 4), unit * rng.uniform(20, 80))
    furrows += 0.5 * frame.streaks(rng, rng.uniform(1.5, 3.0), unit * rng.uniform(8, 40))
    rips = frame.streaks(rng, unit * rng.uniform(0.8, 1.6), unit * rng.uniform(1.2, 3.5))
    steps = np.tanh(2 * rips) + 0.6 * rough(rng, shape, unit * 1.5, 5)
    stuck = np.clip(frame.streaks(rng, unit * rng.uniform(1.5, 4), unit * rng.uniform(3, 9)) - 0.3, 0, 0.6) * 2.5
    over = correlated(rng, shape, (max(unit * 4, 12.0),) * 2)
    fine = rng.uniform(0.1, 0.35) * rough(rng, shape, rng.uniform(4, 10), 3)
    surface = plough * furrows + tear * steps * (0.7 + 0.3 * np.tanh(over)) + lumps * stuck
    surface += fine
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.2)
    left = 1 - soft * rng.uniform(0.7, 1.0)
    scuffed = height * left + soft * strength * (surface * 0.75 - rng.uniform(-0.1, 0.4))
    return scuffed, float(rng.normal(0, 0.09))
