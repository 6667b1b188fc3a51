"""The plateau between grooves: waviness, finishing marks, and what running in makes of them."""

import numpy as np

from tests.microscope_maker.finish import MARKS_UM
from tests.microscope_maker.frame import Frame


def draw_plateau(
    f: Frame, finish: str, lays: tuple[tuple[float, float], ...], weight: np.ndarray, worn: bool
) -> np.ndarray:  # fmt: skip
    """Return the plateau's heights, (rows, cols) µm; a track keeps a part of the marks and gets its own along the stroke."""
    wave = 0.25 * f.noise(120, 120)
    amp = {name: f.own[f"marks {name}"].uniform(*limits) for name, limits in MARKS_UM.items()}[finish]
    marks = np.zeros(f.shape, np.float32)
    for d in lays:
        for w, k in ((1.2, 0.6), (3.0, 1.0), (7.0, 0.7)):
            marks -= np.abs(f.noise(w, f.rng.uniform(60, 250), d)) * k * 0.6
    marks += 0.3 * f.noise(1.0, 1.0)
    marks = np.maximum(amp * marks, -0.45)
    if not worn:
        return wave + marks
    keep, level = f.own["marks kept"].uniform(0.05, 0.6), f.own["running in"].uniform(0.01, 0.09)
    run = level * (f.noise(0.9, 120) + f.noise(2.5, 200) + 0.8 * f.noise(7, 300)) + 0.01 * f.noise(0.8, 2)
    return wave + marks * (1 - weight * (1 - keep)) + np.clip(run, -0.4, 0.3) * weight
