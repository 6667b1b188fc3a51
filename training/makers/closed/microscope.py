"""From ground to grey: how electrons leave it, and what the instrument makes of them."""

import cv2
import numpy as np

from .noise import between, grain, wander

ELECTRONS_PER_AMPERE_SECOND = 1 / 1.602176634e-19


def range_um(energy_kv: float) -> float:
    """Range of electrons in iron by Kanaya and Okayama (1972)."""
    return 0.0276 * 55.85 * energy_kv**1.67 / (26**0.89 * 7.87)


def tilt_gain(slope: np.ndarray) -> np.ndarray:
    """Secondary yield over that of level ground, sec θ, for a slope given as its tangent."""
    return np.sqrt(1 + slope**2)


def electrons(current_pa: float, dwell_us: float) -> float:
    """Electrons a pixel, i·t/e."""
    return current_pa * 1e-12 * dwell_us * 1e-6 * ELECTRONS_PER_AMPERE_SECOND


def emit(
    rng: np.random.Generator,
    height_um: np.ndarray,
    depth_um: np.ndarray,
    carbon: np.ndarray,
    *,
    px: float,
    backscatter: bool,
) -> np.ndarray:
    """Signal relative to that of clean level iron."""
    energy = between(rng, 4, 22)
    beam_um = range_um(energy) * 0.35 if backscatter else 0.03
    gy, gx = np.gradient(cv2.GaussianBlur(height_um, (0, 0), max(0.6, beam_um / px)), px)
    side = rng.uniform(0, 2 * np.pi)
    # Ground steeper than about 60 degrees shades itself, hence the soft bound.
    tilt = gx * np.cos(side) + gy * np.sin(side)
    signal = 1 + (between(rng, 0.3, 1.6)) * np.tanh(tilt / 1.2) * (0.75 if backscatter else 0.55)
    if not backscatter:
        signal += rng.uniform(1, 3) * np.minimum(tilt_gain(np.hypot(gx, gy)) - 1, 0.6)
        # Sharp edges let electrons out on two sides.
        reach = max(1.0, rng.uniform(0.3, 0.8) * range_um(energy) / px)
        edge = height_um - cv2.GaussianBlur(height_um, (0, 0), min(reach, 8))
        signal += between(rng, 0.15, 1.2) * np.clip(edge, 0, 0.6)
    # Few electrons get out of a deep groove; carbon and oil lacquer gather there and darken it, or, cleaned and
    # rough, its floor outshines the burnished land.
    valley = np.clip(depth_um - 0.25, 0, None)
    fill = 1 - np.exp(-valley / between(rng, 0.6, 3))
    kind = rng.random()
    tone = -between(rng, 0.2, 0.6) if kind < 0.62 else between(rng, 0.12, 0.4) if kind < 0.85 else rng.choice([-1, 1]) * rng.uniform(0.05, 0.14)
    patchy = np.clip(1 + rng.uniform(0, 0.5) * grain(rng, depth_um.shape, between(rng, 4, 40)), 0.2, 1.8)
    signal = signal * (1 + tone * fill * patchy)
    # Backscatter coefficients 0.28 of iron and 0.06 of carbon.
    return np.maximum(signal * (1 - (0.78 if backscatter else 0.6) * carbon), 0.03)


def record(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """Blur, drift, jitter, shot noise and the operator's knobs; uint8."""
    rows, columns = signal.shape
    blur = between(rng, 0.35, 1.6)
    signal = cv2.GaussianBlur(signal.astype(np.float32), (0, 0), blur)
    slope_y, slope_x = rng.normal(0, 0.1, 2)
    y, x = np.linspace(-0.5, 0.5, rows, dtype=np.float32)[:, None], np.linspace(-0.5, 0.5, columns, dtype=np.float32)[None]
    signal = signal * (1 + slope_y * y + slope_x * x)
    drift = wander(rng, np.arange(rows, dtype=float), between(rng, 10, 200))
    signal = signal * (1 + rng.choice([0, 0.008, 0.03]) * drift[:, None])
    if rng.random() < 0.25:
        shift = between(rng, 0.15, 1.0) * rng.standard_normal(rows)
        map_x = (np.arange(columns)[None] + shift[:, None]).astype(np.float32)
        map_y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], columns, 1)
        signal = cv2.remap(signal, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    dose = electrons(between(rng, 15, 400), between(rng, 0.6, 30)) * 0.15 + 90
    noisy = signal + np.sqrt(np.maximum(signal, 0.02) / dose) * rng.standard_normal(signal.shape, dtype=np.float32)
    low, middle, high = np.quantile(noisy[::3, ::3], [0.006, 0.5, 0.994])
    spread = max(high - low, 0.15)
    gain = rng.uniform(110, 235) / spread
    level = rng.uniform(70, 185)
    # The operator turns brightness until neither end is lost.
    level = float(np.clip(level, 8 + gain * (middle - low), max(247 - gain * (high - middle), 60)))
    grey = np.clip((level + gain * (noisy - middle)) / 255, 0, 1) ** between(rng, 0.75, 1.35)
    image = np.clip(255 * grey + 0.5, 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        done, data = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])
        image = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE) if done else image
    return image
