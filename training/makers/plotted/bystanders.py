"""What lies on or in the ground beside grooves: graphite, pull-outs, stains, films, debris, charging; all but the last two plateau."""

import cv2
import numpy as np

from .noise import value_noise
from .ribbon import blob, fill, jagged, ribbon, trace

BACKSCATTER_IRON, BACKSCATTER_CARBON = 0.28, 0.06
"""Coefficients of iron and of carbon (trade facts)."""


def graphite(rng, shape, pixel_size_um, cover) -> None:
    """Flakes of grey iron onto cover (uint8 share of carbon): thin curls, 10–150 µm long, some torn out at a bulge."""
    for _ in range(int(np.clip(rng.uniform(0.2, 2.5) * shape[0] * shape[1] * pixel_size_um**2 / 1e4 + 1, 1, 45))):
        long = np.exp(rng.uniform(np.log(10), np.log(150))) / pixel_size_um
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.uniform(0.05, 0.2) * jagged(rng, 24, 3))
        points = rng.uniform(0, 1, 2) * (shape[1], shape[0]) + np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]), 0) * long / 24
        wide = rng.uniform(0.4, 2.5) / pixel_size_um * np.sin(np.linspace(0.1, 3.04, 24)) * np.clip(1 + 0.4 * jagged(rng, 24, 1), 0.2, 2)
        flake = ribbon(points, np.maximum(wide, 0.35))
        fill(cover, np.vstack([flake.line(-1), flake.line(1)[::-1]]), rng.uniform(120, 255))
        if rng.random() < 0.2:
            size = rng.uniform(1, 6) / pixel_size_um
            fill(cover, blob(rng, points[12], 1.5 * size, size, rng.uniform(0, 180), 0.3), rng.uniform(150, 255))


def stains(rng, shape) -> np.ndarray:
    """Soft patches of oil or film, grey levels to add (float32)."""
    edge = rng.uniform(0.3, 6)
    field = value_noise(rng, shape, rng.uniform(40, 200), 3, 0.5)
    patch = 1 / (1 + np.exp(-edge * (field - rng.uniform(0.2, 1.5))))
    return (rng.uniform(-40, 15) * patch).astype(np.float32)


def debris(rng, picture, hidden, pixel_size_um, shape) -> None:
    """Particles with a shadow beside them; the particle hides the ground (hidden, uint8), its shadow doesn't."""
    for _ in range(int(rng.integers(1, 9))):
        size = np.clip(np.exp(rng.uniform(np.log(0.8), np.log(15))) / pixel_size_um, 2, 45)
        centre = rng.uniform(0, 1, 2) * (shape[1], shape[0])
        outline = blob(rng, centre, size, size * rng.uniform(0.5, 1), rng.uniform(0, 180), 0.25)
        shadow = np.zeros(shape, np.uint8)
        fill(shadow, outline + rng.normal(0, 0.5, 2) * size, 255)
        picture -= rng.uniform(10, 40) / 255 * cv2.GaussianBlur(shadow, (0, 0), 0.3 * size + 0.5)
        body = np.zeros(shape, np.uint8)
        fill(body, outline, 255)
        share = body.astype(np.float32) / 255
        dome = cv2.GaussianBlur(share, (0, 0), 0.25 * size + 0.5)
        picture += share * (rng.uniform(150, 225) - 60 * dome - picture)
        fill(hidden, outline, 255)
        edge = np.zeros(shape, np.uint8)
        trace(edge, np.vstack([outline, outline[:1]]), 255)
        picture += rng.uniform(5, 40) / 255 * edge


def charging(rng, picture, hidden, shape) -> None:
    """A glow with streaks along the rows that hides what lies under it."""
    centre = rng.uniform(0.1, 0.9, 2) * (shape[1], shape[0])
    size = rng.uniform(0.04, 0.12) * min(shape)
    glow = np.zeros(shape, np.uint8)
    fill(glow, blob(rng, centre, size * rng.uniform(1, 4), size, 0, 0.2), 255)
    picture += cv2.GaussianBlur(glow, (0, 0), 0.3 * size, sigmaY=0.15 * size + 0.5) / 255 * rng.uniform(160, 240)
    hidden[glow > 127] = 255
