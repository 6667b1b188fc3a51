"""Scuffing: streaks and patches along the stroke, torn in places and ploughed in others."""

import cv2
import numpy as np

from .noise import frame, ramp, spectral


def streaks(rng, shape, pixel_um: float, stroke_deg: float, worn: np.ndarray, share: float) -> np.ndarray:
    """Bool (rows, cols): about share of the worn field, in streaks 8 times as long as wide or more, some gathered in a patch."""
    reach = min(shape) * pixel_um
    width = np.clip(reach * rng.uniform(0.05, 0.16), 4.0, 60.0)
    lines = spectral(rng, shape, pixel_um, (width * rng.uniform(8, 20), width), stroke_deg, 1.6)
    if rng.random() < 0.5:
        lines = lines + 0.8 * spectral(rng, shape, pixel_um, (0.9 * reach, 0.5 * reach), stroke_deg, 2.5)
    lines = lines + 0.10 * spectral(rng, shape, pixel_um, (0.5 * width, 0.12 * width), stroke_deg, 1.2)
    if not worn.any():
        return worn.copy()
    marked = (lines > np.quantile(lines[worn], 1 - share)).astype(np.uint8)
    return worn & (cv2.medianBlur(marked, 5) > 0)  # without specks that no eye would find


def ruin(rng, shape, pixel_um: float, stroke_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Relief in µm and tearing from 0 (ploughed) to 1 (torn), (rows, cols): furrows and ridges along the stroke; tongues torn out
    across it, steep on one side (adhesion tears against the motion; common practice, no source)."""
    along, across = frame(shape, pixel_um, stroke_deg)
    pitch = rng.uniform(2.0, 6.0) + 2 * pixel_um
    bend = spectral(rng, shape, pixel_um, (25 * pitch, 2 * pitch), stroke_deg, 1.8)
    furrow = np.abs(np.sin(np.pi * across / pitch + 2.2 * bend)) * (0.7 + 0.3 * bend)
    lump = spectral(rng, shape, pixel_um, (rng.uniform(1.5, 4) * pitch, pitch), stroke_deg, 1.2)
    phase = along / (rng.uniform(2, 5) * pitch) + 0.8 * lump + 0.5 * bend
    step = phase - np.floor(phase)
    if rng.random() < 0.5:
        step = 1 - step
    torn = ramp(spectral(rng, shape, pixel_um, (20 * pitch, 6 * pitch), stroke_deg, 2.0), *rng.uniform((-1.2, 0.0), (0.0, 1.2)))
    fine = spectral(rng, shape, pixel_um, (20 + 20 * pixel_um, 0.5 + 1.2 * pixel_um), stroke_deg, 1.3)
    relief = (1 - torn) * (1.2 * furrow + 0.2 * fine) + torn * (1.1 * step + 0.7 * lump + 0.2 * fine)
    return (rng.uniform(0.7, 1.5) * relief).astype(np.float32), torn
