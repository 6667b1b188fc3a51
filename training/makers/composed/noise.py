"""Frames along a direction, and noise whose spectrum is chosen: what every texture of the bank is made of."""

import cv2
import numpy as np
from scipy import fft

EDGE_PX = 0.6
"""Spread of the beam and of its sampling at an edge, in pixels (common practice, no source)."""


def frame(shape: tuple[int, int], pixel_um: float, angle_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Distances (rows, cols) in µm from the field's middle, along and across a direction (0° is along the rows, y down)."""
    angle = np.deg2rad(angle_deg)
    x = (np.arange(shape[1], dtype=np.float32) - (shape[1] - 1) / 2) * np.float32(pixel_um)
    y = (np.arange(shape[0], dtype=np.float32)[:, None] - (shape[0] - 1) / 2) * np.float32(pixel_um)
    c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
    return x * c + y * s, y * c - x * s


def spectral(rng, shape, pixel_um, lengths_um, angle_deg, fall=2.0) -> np.ndarray:
    """Gaussian noise (rows, cols) of mean 0 and spread 1; lengths_um: along and across angle_deg; fall: the power by which the
    amplitude falls beyond them. Long waves are made on a coarser grid, and the grid is larger than the field (no wrap)."""
    step = int(np.clip(min(lengths_um) / (3 * pixel_um), 1, min(shape) // 40))
    small = [-(-side // step) + 2 for side in shape]
    rows, cols = (fft.next_fast_len(side + min(side // 8, 24), real=True) for side in small)
    fy = np.fft.fftfreq(rows, pixel_um * step).astype(np.float32)[:, None]
    fx = np.fft.rfftfreq(cols, pixel_um * step).astype(np.float32)
    c, s = np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))
    along, across = np.float32(lengths_um[0]), np.float32(lengths_um[1])
    power = 1 + ((fx * c + fy * s) * along) ** 2 + ((fy * c - fx * s) * across) ** 2
    white = rng.standard_normal((rows, cols // 2 + 1, 2), dtype=np.float32).view(np.complex64)[..., 0]
    white *= power ** np.float32(-fall)
    white[0, 0] = 0
    drawn = fft.irfft2(white, (rows, cols))[: small[0], : small[1]]
    if step > 1:
        drawn = cv2.resize(drawn, (small[1] * step, small[0] * step), interpolation=cv2.INTER_LINEAR)
    drawn = drawn[: shape[0], : shape[1]]
    return (drawn - drawn.mean()) / (drawn.std() + 1e-12)


def soft(mask: np.ndarray, sigma_um: float, pixel_um: float) -> np.ndarray:
    """A mask or map (rows, cols) blurred by sigma_um, and by no less than what a beam's own width does to an edge."""
    return cv2.GaussianBlur(mask.astype(np.float32), (0, 0), max(sigma_um / pixel_um, EDGE_PX))


def ramp(value: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 up to low, 1 from high, smooth between."""
    x = np.clip((value - np.float32(low)) / np.float32(high - low), 0, 1)
    return x * x * (3 - 2 * x)
