"""From heights and materials to the signal of a mixture of two detectors, by filters alone."""

import cv2
import numpy as np

from .spectra import course, log_uniform, texture


def slopes(height_um: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Rise per run along x (right) and y (down)."""
    scale = 1 / (32 * pixel_size_um)
    return cv2.Scharr(height_um, cv2.CV_32F, 1, 0, scale=scale), cv2.Scharr(height_um, cv2.CV_32F, 0, 1, scale=scale)


def starved(height_um: np.ndarray, reach_px: float, scale_um: float) -> np.ndarray:
    """How far the ground lies below its surroundings, -1 to 1: a difference of Gaussians of heights, in units of scale_um."""
    step = int(np.clip(reach_px // 3, 1, 8))
    rows, columns = height_um.shape
    small = cv2.resize(height_um, (max(8, columns // step), max(8, rows // step)), interpolation=cv2.INTER_AREA)
    around = cv2.resize(cv2.GaussianBlur(small, (0, 0), max(0.8, reach_px / step)), (columns, rows))
    return np.tanh((around - cv2.GaussianBlur(height_um, (0, 0), 0.8)) / scale_um)


def edges(height_um: np.ndarray, reach_px: float) -> np.ndarray:
    """Convex edges positive, concave ones negative, -1 to 1; by curvature over reach_px, against its own spread."""
    curve = -cv2.Laplacian(cv2.GaussianBlur(height_um, (0, 0), reach_px), cv2.CV_32F, ksize=3)
    return np.tanh(
        curve / max(3 * float(np.median(np.abs(curve))), float(np.percentile(np.abs(curve), 97)) * 0.6, 1e-6)
    )


def signal(
    rng: np.random.Generator,
    height_um: np.ndarray,
    *,
    valley_um: np.ndarray,
    burnished: np.ndarray,
    torn: np.ndarray,
    dark: np.ndarray,
    film: np.ndarray,
    pixel_size_um: float,
) -> tuple[np.ndarray, str]:
    """Signal about 1 on flat bare metal, and the contrast's name.

    height_um: the surface; valley_um: depth of open groove ground below the plateau; burnished, torn, dark (graphite): shares
    0-1; film: change by films.
    """
    backscattered = rng.random() < 0.3
    seen = cv2.GaussianBlur(height_um, (0, 0), max(0.45, log_uniform(rng, 0.05, 0.4) / pixel_size_um))
    gx, gy = slopes(seen, pixel_size_um)
    side = rng.uniform(0, 2 * np.pi)
    away = side + rng.normal(np.pi, 0.5)
    first, second = (np.tanh(1.5 * (gx * np.cos(angle) + gy * np.sin(angle))) / 1.5 for angle in (side, away))
    strong = log_uniform(rng, 0.15, 1.2)
    out = 1 + strong * first + strong * rng.uniform(-0.2, 0.7) * second
    # Secondaries rise with 1 / cos of the tilt; backscattered electrons see far less of it.
    tilt = np.minimum(np.sqrt(1 + gx * gx + gy * gy), 2.5) - 1
    out += tilt * (rng.uniform(0, 0.3) if backscattered else rng.uniform(0.3, 1.5))
    reach = max(1.5, log_uniform(rng, 2, 15) / pixel_size_um)
    # Negative now and then: a detector in the column collects best from the bottom of grooves.
    escape = rng.uniform(0.08, 0.45) * (1 if rng.random() < 0.75 else -0.6)
    out -= escape * starved(seen, min(reach, 60.0), log_uniform(rng, 0.4, 2))
    out += rng.uniform(-0.06, 0.1 if backscattered else 0.32) * edges(
        seen, max(0.7, log_uniform(rng, 0.3, 1) / pixel_size_um)
    )
    deep = np.clip((valley_um - 0.3) / log_uniform(rng, 0.4, 3), 0, 1)
    rough, patch = texture(
        rng,
        height_um.shape,
        along_px=max(0.8, log_uniform(rng, 0.6, 3) / pixel_size_um),
        across_px=max(0.8, 0.8 / pixel_size_um),
        fall=0.7,
    )
    out += deep * rough * rng.choice([0.02, log_uniform(rng, 0.04, 0.22)])
    if rng.random() < 0.6:
        carbon = log_uniform(rng, 0.05, 0.4)
        out -= carbon * deep * np.clip(0.7 + 0.5 * patch, 0, 1.3)
    out += burnished * rng.choice([-1, 1, 1]) * log_uniform(rng, 0.02, 0.12) * np.clip(1 + 0.5 * patch, 0, 2)
    out += torn * (rng.uniform(-0.12, 0.15) + log_uniform(rng, 0.06, 0.2) * rough)
    out += film
    # Backscatter coefficient of iron 0.28, of carbon 0.06: graphite is dark in either mode.
    out *= 1 - dark * (rng.uniform(0.5, 0.78) if backscattered else rng.uniform(0.2, 0.65))
    return out.astype(np.float32), "backscattered" if backscattered else "secondary"


def shading(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Slow change of brightness over the field and from row to row, about 0."""
    tall = course(rng, shape[0], rng.uniform(0.3, 2) * shape[0])[:, None] * rng.uniform(0, 0.06)
    wide = course(rng, shape[1], rng.uniform(0.5, 2) * shape[1])[None, :] * rng.uniform(0, 0.06)
    return (tall + wide).astype(np.float32)
