"""Tone of the ground as a function of height, slope towards the detector and curvature, with drawn weights."""

import cv2
import numpy as np

from .chance import blotches, log_uniform

RECIPES = ("mixed", "slope", "depth", "curvature", "backscatter")


def ranked(map_: np.ndarray, softness: float, floor: float) -> np.ndarray:
    """-1 to 1 by the map's own histogram: its 95 % quantile of magnitude, no less than floor, sits at tanh(softness)."""
    centred = map_ - np.median(map_[::3, ::3])
    return np.tanh(softness * centred / max(np.quantile(np.abs(centred[::3, ::3]), 0.95), floor))


def yield_of(slope: np.ndarray, power: float = 1.0) -> np.ndarray:
    """Secondary yield relative to level ground, sec(theta) to a power; slope is tan(theta)."""
    return (1 + slope**2) ** (power / 2)


def escape(depth_um: np.ndarray, width_um: float) -> np.ndarray:
    """Share of electrons that leave a slot of the depth and width: the open angle seen from the middle of its floor."""
    return 1 / np.sqrt(1 + (2 * np.maximum(depth_um, 0) / width_um) ** 2)


def weights(rng: np.random.Generator) -> tuple[str, dict[str, float]]:
    recipe = str(rng.choice(RECIPES, p=[0.34, 0.16, 0.26, 0.12, 0.12]))
    names = ("escape", "floor", "slope", "tilt", "curve")
    drawn = dict(zip(names, rng.dirichlet([0.7] * 5), strict=True))
    main = {
        "slope": {"slope": 0.8, "tilt": 0.35},
        "depth": {"escape": 0.7, "floor": 0.4},
        "curvature": {"curve": 1.0, "escape": -0.9, "floor": -0.9, "slope": -0.9, "tilt": -0.9},
        "backscatter": {"slope": 0.6, "escape": 0.3, "curve": -0.9},
    }.get(recipe, {})
    return recipe, {name: max(drawn[name] + main.get(name, 0), 0.0) for name in names}


def tone(
    rng, weight: dict[str, float], *, height_um, depth_um, width_um: float, pixel_size_um: float, beam_px: float
) -> np.ndarray:
    """Relative signal, about 0 on level plateau; depth_um is the groove depth below the plateau, height_um all ground."""
    seen = cv2.GaussianBlur(height_um, (0, 0), max(beam_px, 0.6))
    dx = cv2.Sobel(seen, cv2.CV_32F, 1, 0, scale=1 / (8 * pixel_size_um))
    dy = cv2.Sobel(seen, cv2.CV_32F, 0, 1, scale=1 / (8 * pixel_size_um))
    side = rng.uniform(0, 2 * np.pi)
    facing = dx * np.cos(side) + dy * np.sin(side)
    coarse = cv2.GaussianBlur(seen, (0, 0), max(1.2, log_uniform(rng, 0.3, 2.0) / pixel_size_um))
    soft = log_uniform(rng, 0.5, 1.5)
    # a floor is dark where carbon fills it or few electrons leave, and bright where clean torn metal or charging oil lies in it
    carbon = np.clip(depth_um / log_uniform(rng, 0.6, 2.0), 0, 1) * np.clip(
        1 + 0.35 * blotches(rng, height_um.shape, 14), 0.3, 1.6
    )
    sign = -1.0 if rng.random() < 0.72 else 0.7
    parts = {
        "escape": (escape(depth_um, width_um * rng.uniform(0.3, 1)) - 1) * 1.6,
        "floor": sign * carbon * 0.8,
        "slope": ranked(facing, soft, 0.06),
        "tilt": np.minimum(yield_of(np.hypot(dx, dy), 1.1) - 1, 1.5) * 2,
        "curve": ranked(seen - coarse, soft, 0.05),
    }
    return sum(weight[name] * part for name, part in parts.items() if weight[name] > 0.01).astype(np.float32)
