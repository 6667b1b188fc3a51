"""From the detectors' signal to a grey picture: shading, shot noise, brightness and contrast."""

import cv2
import numpy as np

from makers.backscattered.texture import Grid, cloud


def exposed(rng: np.random.Generator, signal: np.ndarray, grid: Grid, aimed: np.ndarray) -> np.ndarray:
    """Picture (rows, cols) uint8 of a signal, 1 on bare iron: shading, shot noise of 400 to 6,000 electrons caught a pixel
    (N = i·t/e, tests/SOURCES.md), row drift, and brightness and contrast set on the ground `aimed` (rows, cols) bool."""
    signal = signal * (1 + 0.02 * rng.random() * cloud(rng, grid, rng.uniform(0, 180), grid.span_um, grid.span_um))
    noise = rng.standard_normal(signal.shape, np.float32)
    if rng.random() < 0.3:  # a slow amplifier softens it along the rows
        noise = cv2.GaussianBlur(noise, (5, 1), 0.6)
    noise *= np.sqrt(np.maximum(signal, 0.05) / np.exp(rng.uniform(np.log(400), np.log(6000))))
    low, middle, high = np.percentile(signal[aimed][::9], [4, 50, 96])
    rows = rng.standard_normal((signal.shape[0], 1)).astype(np.float32) * rng.choice([0, 0.003, 0.008])
    grey = rng.uniform(18, 36) / max((high - low) / 3, 0.03) * (signal + noise + rows - middle) + rng.uniform(95, 160)
    return np.clip(np.rint(128 + 118 * np.tanh((grey - 128) / 118)), 0, 255).astype(np.uint8)
