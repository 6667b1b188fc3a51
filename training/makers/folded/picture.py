"""The micrograph of a relief: yield by slope, detector side, edges and depth, then beam, noise, drift, setting, storage."""

from dataclasses import dataclass

import cv2
import numpy as np

from .ground import Frame, log_uniform


@dataclass
class Relief:
    """height (um); rough: amplitude of texture too fine to draw as relief, relative to the signal; yields: relative yield of the
    matter; edge, crack: share of lifted bright edges and of dark seams; open_depth (um): how far below the plateau the ground lies."""

    height: np.ndarray
    rough: np.ndarray
    yields: np.ndarray
    edge: np.ndarray
    crack: np.ndarray
    open_depth: np.ndarray


def secant_yield(slope: np.ndarray) -> np.ndarray:
    """Secondary yield over that of level ground, sec(theta), for a slope given as a tangent."""
    return np.sqrt(1 + slope**2)


def signal(rng: np.random.Generator, frame: Frame, relief: Relief, detector: float) -> np.ndarray:
    """Relative signal, plateau near 1."""
    px, backscattered = frame.pixel_um, rng.random() < 0.2
    height = cv2.GaussianBlur(relief.height, (0, 0), 0.6)
    right = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3) / np.float32(8 * px)
    down = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3) / np.float32(8 * px)
    # Facing the detector means falling towards it.
    facing = np.tanh(-(right * np.float32(np.cos(detector)) + down * np.float32(np.sin(detector))) * 1.2)
    one_sided = rng.uniform(0.2, 0.8) if backscattered else log_uniform(rng, 0.05, 0.5)
    out = 1 + one_sided * facing
    if not backscattered:
        out += np.minimum(rng.uniform(0.7, 1.5) * (secant_yield(np.hypot(right, down)) - 1), 0.8)
    # Electrons leave a convex edge from two sides; over the range of the beam that is a bright line.
    reach = max(0.9, log_uniform(rng, 0.16, 1.2) / px)
    near = cv2.GaussianBlur(height, (0, 0), min(reach, 4))
    bulge = np.tanh((height - near) / np.float32(0.08 + 0.05 * px))
    out += rng.uniform(0.03, 0.25) * (0.4 if backscattered else 1) * np.where(bulge > 0, 1.4 * bulge, 0.5 * bulge)
    out += relief.edge * np.float32(rng.uniform(0.15, 0.6)) - relief.crack * np.float32(rng.uniform(0.2, 0.6))
    # Deep ground is starved of escape, the more the narrower it is; a strong extraction field evens this out.
    wide = max(3.0, log_uniform(rng, 4, 20) / px)
    small = cv2.resize(height, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    around = cv2.resize(cv2.GaussianBlur(small, (0, 0), min(wide, 40) / 4), height.shape[::-1], interpolation=cv2.INTER_LINEAR)
    out *= np.exp(-np.float32(log_uniform(rng, 0.03, 0.5)) * np.clip(around - height, 0, 4))
    filled = 1 - np.exp(-relief.open_depth / np.float32(rng.uniform(0.5, 2)))
    lot = rng.random()
    floor = rng.uniform(-0.5, -0.15) if lot < 0.55 else rng.uniform(0.08, 0.3) if lot < 0.72 else rng.uniform(-0.15, 0.05)
    out *= (1 + np.float32(floor) * filled) * relief.yields
    # Grain in two sizes, so that texture survives a blunt beam.
    grain = frame.noise(rng, 0.3, 1.4 * px, 1.4 * px) + 0.7 * frame.noise(rng, 1.0, 3 * px, 3 * px)
    return np.maximum(out * (1 + relief.rough * grain), 0.03).astype(np.float32)


def shot(rng: np.random.Generator, wanted: np.ndarray, electrons: float) -> np.ndarray:
    """Counting noise of a signal whose plateau (1) is made of so many electrons a pixel."""
    return wanted + rng.standard_normal(wanted.shape, dtype=np.float32) * np.sqrt(np.maximum(wanted, 0.05) / np.float32(electrons))


def record(rng: np.random.Generator, wanted: np.ndarray, glow: np.ndarray) -> np.ndarray:
    """uint8 picture as the instrument stores it."""
    rows, columns = wanted.shape
    beam = log_uniform(rng, 0.4, 1.5)
    seen = cv2.GaussianBlur(wanted, (0, 0), beam) if beam > 0.5 else wanted
    if rng.random() < 0.3:
        shift = np.cumsum(rng.normal(0, 0.05, rows)) * 0.5 + rng.normal(0, rng.uniform(0, 0.5), rows)
        across, down = np.meshgrid(np.arange(columns, dtype=np.float32), np.arange(rows, dtype=np.float32))
        seen = cv2.remap(seen, across + shift[:, None].astype(np.float32), down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    shading = cv2.resize(rng.standard_normal((3, 3)).astype(np.float32), (columns, rows), interpolation=cv2.INTER_CUBIC)
    drift = np.interp(np.arange(rows), np.linspace(0, rows, 6), rng.standard_normal(6))[:, None].astype(np.float32)
    seen = seen * (1 + np.float32(rng.uniform(0, 0.08)) * shading + np.float32(rng.uniform(0, 0.03)) * drift)
    electrons = log_uniform(rng, 60, 6000)
    seen = shot(rng, seen, electrons)
    low, high = np.quantile(seen[::3, ::3], [rng.uniform(0.001, 0.008), rng.uniform(0.992, 0.999)])
    seen = seen + glow * np.float32(rng.uniform(0.2, 1.0) * (high - low))
    # The operator uses more of the scale or less of it.
    span = log_uniform(rng, 0.45, 1.0)
    bottom = rng.uniform(0.02, 1 - span + 0.02)
    grey = np.clip(bottom + (seen - low) / max(high - low, 0.15) * span * 0.95, 0, 1) ** np.float32(log_uniform(rng, 0.75, 1.35))
    image = np.clip(grey * 255 + 0.5, 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        _, coded = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 96))])
        image = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return image
