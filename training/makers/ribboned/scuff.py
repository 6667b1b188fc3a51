"""Torn metal: bands along the stroke with ragged ends, rough inside, with bright ridges and dark tears."""

import cv2
import numpy as np

from .lay import Plan
from .paint import Canvas
from .texture import clouds, loguniform, streaks


def scuffed_where(rng: np.random.Generator, plan: Plan, pixel_size_um: float, share: float) -> np.ndarray:
    """A share of the track torn in streaks along the stroke."""
    shape = plan.worn.shape
    wide_px = float(np.clip(loguniform(rng, 6, 90) / pixel_size_um, 6, min(shape) / 3))
    long_px = float(wide_px * loguniform(rng, 6, 30))
    lot = streaks(rng, shape, long_px, wide_px, plan.stroke_deg)
    lot += rng.uniform(0.1, 0.3) * streaks(rng, shape, max(long_px / 4, 12), max(wide_px / 5, 2.5), plan.stroke_deg)
    torn = plan.worn & (lot > np.quantile(lot[plan.worn], 1 - share))
    grain = 3 if min(shape) < 300 else 5
    torn = cv2.morphologyEx(torn.astype(np.uint8), cv2.MORPH_OPEN, np.ones((grain, grain), np.uint8))
    return (torn > 0) & plan.worn


def paint_scuff(rng: np.random.Generator, canvas: Canvas, plan: Plan, torn: np.ndarray, pixel_size_um: float) -> None:
    """Tone over the torn bands: ploughed furrows along the stroke, tears across, and a raised or sunk mean."""
    shape = torn.shape
    fine = float(np.clip(loguniform(rng, 1, 4) / pixel_size_um, 1.5, 8))
    furrows = streaks(rng, shape, fine * loguniform(rng, 8, 40), fine, plan.stroke_deg)
    tears = streaks(rng, shape, fine * 2.5, fine * 1.2, plan.stroke_deg + 90 + rng.normal(0, 15))
    crumbs = clouds(rng, shape, max(fine * rng.uniform(0.6, 1.5), 1.3))
    ridges = np.clip(furrows * 0.8 + crumbs * rng.uniform(0.3, 0.8) - rng.uniform(0.4, 1.0), 0, 2.5)
    pits = np.clip(tears + 0.6 * crumbs - rng.uniform(0.5, 1.2), 0, 2.5)
    gain = loguniform(rng, 0.1, 0.3)
    tone = rng.normal(0, 0.1) + gain * (0.7 * furrows + 0.5 * crumbs + rng.uniform(0.6, 1.6) * ridges - rng.uniform(0.3, 1.2) * pits)
    soft = cv2.GaussianBlur(torn.astype(np.float32), (0, 0), 0.8)
    canvas.grey += soft * (1 + rng.uniform(0, 0.25) * (canvas.grey - 1) + tone - canvas.grey)
    canvas.codes[torn] = 3
