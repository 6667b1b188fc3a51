"""Running in: the ring cuts what stands out of the surface and leaves marks along the stroke."""

import numpy as np

from tests.session_maker.canvas import Canvas
from tests.session_maker.noise import smooth_noise
from tests.session_maker.specimen import Flow

LIMIT_UM = 0.5
"""Depth below the local plateau from which a groove is a valley, as `semwear/terms.py` declares."""


def worn_off(depth: np.ndarray, left: float) -> float:
    """Return how much wear, µm, leaves the share ``left`` of the valleys' area of ``depth`` (rows, cols) µm."""
    share = (depth > LIMIT_UM).mean()
    level = np.quantile(depth, 1 - share * left) if share > 0.002 else LIMIT_UM
    return float(max(0.0, level - LIMIT_UM))


def run_in(rng: np.random.Generator, heights: np.ndarray, worn_um: float, stroke: Canvas, flow: Flow) -> np.ndarray:
    """Return ``heights`` (rows, cols) µm cut off ``worn_um`` below the plateau, with running-in marks along the stroke."""
    marks = (
        smooth_noise(rng, stroke.shape, 500, 1.6) * 0.5
        + smooth_noise(rng, stroke.shape, 300, 5) * 0.5
        + np.maximum(smooth_noise(rng, stroke.shape, 900, 2.2) - 1.6, 0) * 1.2
    )
    marks = stroke.to_picture(marks)
    level = -worn_um - 0.03 - flow.stroke_marks_um * (np.maximum(marks, -1) + 1) * min(1.0, 0.35 + worn_um)
    above = heights - level
    return np.where(above > 0, level + 0.06 * np.tanh(above), heights)  # a little is left of what stood out
