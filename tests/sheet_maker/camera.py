"""From the signal to grey values: beam width, depth of field, scan faults, shot and electronic noise, brightness, contrast.

Shot noise: N electrons a pixel, relative noise 1/sqrt(N); 100 pA for 10 µs is 6,242 primary electrons (i·t/e); what is
counted is a fraction of that.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.sheet_maker.noise import Rng, blob, blotches, curve
from tests.sheet_maker.setting import Specimen


@dataclass(frozen=True, kw_only=True)
class Faults:
    """What is wrong with one picture."""

    charging: bool
    contamination: bool
    defocus_px: float
    jitter_px: float
    hum: float
    debris: int


def draw_faults(rng: Rng) -> Faults:
    """Draw the faults of one picture; most have none or little."""
    return Faults(
        charging=bool(rng.random() < 0.1), contamination=bool(rng.random() < 0.12),
        defocus_px=float(rng.choice((0, rng.uniform(0.5, 1.3)), p=(0.8, 0.2))),
        jitter_px=float(rng.choice((0, rng.uniform(0.2, 0.7)), p=(0.75, 0.25))),
        hum=float(rng.choice((0, rng.uniform(0.004, 0.02)), p=(0.6, 0.4))), debris=int(rng.poisson(1.2)),
    )  # fmt: skip


def focus(signal: np.ndarray, blur_px: float, tilt_deg: float, pixel_size_um: float) -> np.ndarray:
    """Blur by the beam; a tilted specimen leaves the depth of field towards its upper and lower edges."""
    sharp = cv2.GaussianBlur(signal, (0, 0), max(blur_px, 0.3))
    if tilt_deg < 8:
        return sharp
    soft = cv2.GaussianBlur(signal, (0, 0), blur_px + 0.9)
    away = np.abs(np.linspace(-1, 1, signal.shape[0], dtype=np.float32)) * signal.shape[0] * pixel_size_um / 2
    part = np.clip(away * np.sin(np.deg2rad(tilt_deg)) / 150 - 0.4, 0, 1)[:, None]
    return sharp * (1 - part) + soft * part


def scan(rng: Rng, signal: np.ndarray, faults: Faults) -> np.ndarray:
    """Shift lines, let their brightness flicker, and let the whole drift."""
    rows, cols = signal.shape
    if faults.jitter_px:
        shift = faults.jitter_px * rng.standard_normal(rows) * (0.4 + (rng.random(rows) < 0.06))
        x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
        x += shift.astype(np.float32)[:, None]
        signal = cv2.remap(signal, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    flicker = 1 + faults.hum * (rng.standard_normal(rows) * 0.5 + np.sin(np.arange(rows) * rng.uniform(0.2, 2.0)))
    shade = 1 + 0.035 * np.outer(curve(rng, rows, rows), np.ones(cols)) + 0.03 * curve(rng, cols, cols)
    return (signal * flicker[:, None] * shade).astype(np.float32)


def count(rng: Rng, signal: np.ndarray, electrons: float, electronic_noise: float) -> np.ndarray:
    """Return the signal with shot noise of ``electrons`` a pixel at signal 1 and with the electronics' own noise."""
    shot = np.sqrt(np.clip(signal, 0.02, None) / electrons)
    spread = np.sqrt(shot**2 + electronic_noise**2).astype(np.float32)
    return signal + spread * rng.standard_normal(signal.shape, dtype=np.float32)


def charge(rng: Rng, signal: np.ndarray, hidden: np.ndarray) -> np.ndarray:
    """Let spots charge: they saturate, and darken the lines after them; marks as hidden what is saturated."""
    rows, cols = signal.shape
    glare = np.clip(blotches(rng, signal.shape, 45) - rng.uniform(2.3, 2.9), 0, None) * 1.6
    trail = cv2.blur(glare, (161, 1))
    trail = np.roll(trail, 80, axis=1)
    trail[:, :80] = 0
    hidden |= glare > 0.3
    return signal * (1 - 0.5 * np.clip(trail, 0, 0.8)) + glare * 1.2


def contaminate(rng: Rng, signal: np.ndarray) -> np.ndarray:
    """Darken the rectangle of an earlier scan at a higher magnification, by a film of carbon."""
    rows, cols = signal.shape
    high, wide = int(rows * rng.uniform(0.25, 0.5)), int(cols * rng.uniform(0.25, 0.5))
    top, left = rng.integers(0, rows - high), rng.integers(0, cols - wide)
    film = np.zeros_like(signal)
    film[top : top + high, left : left + wide] = 1
    return signal * (1 - rng.uniform(0.05, 0.16) * cv2.GaussianBlur(film, (0, 0), 3))


def add_debris(rng: Rng, signal: np.ndarray, hidden: np.ndarray, n: int, pixel_size_um: float) -> np.ndarray:
    """Put bright loose particles on the surface, each with a dark surround on one side; they hide what is beneath."""
    rows, cols = signal.shape
    signal = signal.copy()
    for _ in range(n):
        radius = float(np.clip(rng.lognormal(np.log(3), 0.6) / pixel_size_um, 2.5, 40))
        ring = blob(rng, radius) + (rng.uniform(0, cols), rng.uniform(0, rows))
        body = np.zeros((rows, cols), np.uint8)
        cv2.fillPoly(body, [np.round(ring).astype(np.int32)], 1)
        if not body.any():
            continue
        soft = cv2.GaussianBlur(body.astype(np.float32), (0, 0), 0.3 * radius + 0.5)
        signal *= 1 - 0.35 * np.roll(soft, int(0.6 * radius) + 1, axis=1)
        lump = 1.25 + 0.5 * (1 - soft) + 0.12 * blotches(rng, (rows, cols), max(radius / 3, 1.2))
        signal = np.where(body > 0, lump, signal).astype(np.float32)
        hidden |= body > 0
    return signal


def grey(signal: np.ndarray, specimen: Specimen) -> np.ndarray:
    """Return grey values from 0 to 1: a specimen's brightness, contrast and gamma, partly levelled."""
    low, middle, high = np.percentile(signal[::3, ::3], (5, 50, 95))
    gain = specimen.gain * (0.13 / max((high - low) / 3.3, 0.02)) ** 0.6
    value = specimen.level * (1 + gain * (signal - middle))
    return np.clip(value, 0, 1) ** np.float32(specimen.gamma)
