"""The plateau before any groove: shading of the metal, finishing scratches of both lays, and marks along the stroke."""

import cv2
import numpy as np

from .lay import Plan
from .texture import clouds, loguniform, streaks


def painted_ground(rng: np.random.Generator, plan: Plan, pixel_size_um: float) -> np.ndarray:
    """Grey in units of the plateau's mean; all that is drawn here is shallower than 0.5 µm, so plateau."""
    shape = plan.worn.shape
    grain_px = np.clip(loguniform(rng, 0.5, 4) / pixel_size_um, 1, 10)
    grey = 1 + loguniform(rng, 0.01, 0.06) * clouds(rng, shape, grain_px)
    grey += rng.uniform(0, 0.05) * clouds(rng, shape, loguniform(rng, 20, 200) / pixel_size_um + 10)
    hone = np.zeros(shape, np.float32)
    for lay_deg, weight in zip(plan.lays_deg, (1.0, plan.balance), strict=True):
        for times in (1, 2.5):
            fine_px = np.clip(times * loguniform(rng, 0.5, 2) / pixel_size_um, 1, 8)
            hone += weight * streaks(rng, shape, fine_px * loguniform(rng, 20, 150), fine_px, lay_deg + rng.normal(0, 1)) / times
    polish = np.where(plan.worn, rng.uniform(0, 0.6), 1.0).astype(np.float32)
    polish = cv2.GaussianBlur(polish, (0, 0), loguniform(rng, 0.7, 8))
    grey = 1 + (grey - 1) * (0.5 + 0.5 * polish) + loguniform(rng, 0.01, 0.07) * hone * polish
    if plan.worn.any():
        wide_px = np.clip(loguniform(rng, 0.5, 3) / pixel_size_um, 1, 7)
        marks = streaks(rng, shape, wide_px * loguniform(rng, 30, 300), wide_px, plan.stroke_deg)
        marks = np.sign(marks) * np.abs(marks) ** rng.uniform(1, 2)
        grey += loguniform(rng, 0.01, 0.08) * np.clip(marks, -4, 4) * plan.worn
        grey += rng.normal(0, 0.04) * cv2.GaussianBlur(plan.worn.astype(np.float32), (0, 0), 1.5)
    return grey.astype(np.float32)
