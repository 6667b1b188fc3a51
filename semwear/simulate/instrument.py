"""What column, detector, scan and file do to the signal: focus, astigmatism, jitter, shading, charging, noise, bits.

Shot noise counts electrons, N = i t / e, with a detected share; scan faults run along rows, since rows are scanned
one after the other. Contrast, brightness and gamma are the operator's and vary without limit inside what can be seen.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .electrons import electrons_per_pixel
from .frame import Frame
from .noise import blur, line_noise, patches


@dataclass(frozen=True, kw_only=True)
class Debris:
    """What lies on or beside the surface: `hidden` bool, `grey` added or put in place, `body` 0..1."""

    hidden: np.ndarray
    body: np.ndarray
    grey: np.ndarray
    shadow: np.ndarray


def draw_debris(rng, frame: Frame) -> Debris | None:
    """Return particles with shadows, or None in most fields; particles are hidden surface, their shadows aren't."""
    if rng.random() > 0.18:
        return None
    pixel, shape = frame.pixel_size_um, frame.shape
    canvas = np.zeros(shape, np.uint8)
    for _ in range(int(rng.integers(1, 9))):
        radius = max(float(np.exp(rng.uniform(np.log(1.0), np.log(20)))) / pixel, 2.0)
        radius = min(radius, 0.12 * min(shape))
        corners = int(rng.integers(6, 14))
        angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
        reach = radius * rng.uniform(0.5, 1.1, corners)
        place = rng.uniform(0, 1, 2) * [shape[1], shape[0]]
        points = np.column_stack([np.cos(angle), np.sin(angle)]) * reach[:, None] + place
        cv2.fillPoly(canvas, [np.round(points).astype(np.int32)], 255)
    body = blur(canvas.astype(np.float32) / 255, 0.8)
    grain = patches(rng, shape, rng.uniform(2, 10))
    grey = rng.choice([rng.uniform(0.4, 1.5), rng.uniform(-1.5, -0.3)], p=[0.7, 0.3]) + 0.3 * grain
    dome = blur(body, max(rng.uniform(1, 6), 1.0)) - 0.5
    step = rng.uniform(1, 8)
    turn = rng.uniform(0, 2 * np.pi)
    moved = cv2.warpAffine(
        blur(body, rng.uniform(1, 5)), np.array([[1, 0, step * np.cos(turn)], [0, 1, step * np.sin(turn)]], np.float32),
        (shape[1], shape[0]),
    )  # fmt: skip
    return Debris(hidden=canvas > 0, body=body, grey=grey + rng.uniform(-1, 1) * dome, shadow=moved * (1 - body))


def draw_edge(rng, frame: Frame) -> np.ndarray | None:
    """Return where the picture lies beyond the specimen's edge, bool, or None in most fields."""
    if rng.random() > 0.04:
        return None
    along, across = frame.along_across(rng.uniform(0, 360))
    at = np.clip((along / (2 * frame.half_diagonal_um) + 0.5) * 255, 0, 255).astype(np.int32)
    ragged = line_noise(rng, 256, rng.uniform(3, 40)) * 0.02 * frame.shorter_side_um
    return across > (rng.uniform(0.2, 0.45) * frame.shorter_side_um + ragged[at])


def _focused(rng, signal: np.ndarray) -> tuple[np.ndarray, float]:
    kind = rng.random()
    sigma = rng.uniform(0.0, 0.9) if kind < 0.7 else rng.uniform(0.9, 1.8) if kind < 0.93 else rng.uniform(1.8, 3.5)
    if rng.random() < 0.25:  # astigmatism
        other = sigma * rng.uniform(1.3, 2.5) + 0.2
        size = int(3 * other) * 2 + 3
        grid = np.arange(size) - size // 2
        turn = rng.uniform(0, np.pi)
        u = grid[None, :] * np.cos(turn) + grid[:, None] * np.sin(turn)
        v = grid[:, None] * np.cos(turn) - grid[None, :] * np.sin(turn)
        kernel = np.exp(-0.5 * (np.square(u / max(sigma, 0.35)) + np.square(v / other)))
        kernel = (kernel / kernel.sum()).astype(np.float32)
        return cv2.filter2D(signal, -1, kernel, borderType=cv2.BORDER_REFLECT), float(other)
    return blur(signal, sigma), float(sigma)


def _scan_faults(rng, signal: np.ndarray) -> np.ndarray:
    rows, cols = signal.shape
    if rng.random() < 0.15:  # line jitter
        shift = rng.uniform(0.1, 0.7) * rng.standard_normal((rows, 1)).astype(np.float32)
        x = np.arange(cols, dtype=np.float32)[None, :] + shift
        y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, axis=1)
        signal = cv2.remap(signal, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    if rng.random() < 0.2:  # banding
        bands = rng.uniform(0.01, 0.08) * line_noise(rng, rows, rng.uniform(1, 20))[:, None]
        signal = signal + bands
    return signal


def _charged(rng, signal: np.ndarray, swing: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Return the signal with charging, where it hides the surface, and its strength."""
    hidden = np.zeros(signal.shape, bool)
    if rng.random() > 0.12:
        return signal, hidden, 0.0
    strength = float(rng.uniform(0.1, 0.8)) * max(swing, 0.2)
    rows = signal.shape[0]
    if rng.random() < 0.5:  # slow brightening and dark tails along the scan
        tails = cv2.blur(signal, (max(signal.shape[1] // 6, 3) | 1, 1))
        signal = signal - strength * 0.5 * np.clip(tails, 0, 1) + 0.3 * strength * patches(rng, signal.shape, rows / 3)
    else:  # bright bands
        level = line_noise(rng, rows, rng.uniform(4, 30))
        band = np.clip(level - rng.uniform(1.2, 2.2), 0, 1)[:, None] * (1 + 0.3 * patches(rng, signal.shape, rows / 3))
        signal = signal + 6 * strength * band
        hidden = np.broadcast_to(6 * strength * band > 1.2 * max(swing, 0.2), signal.shape).copy()
    return signal, hidden, strength


def take_picture(rng, signal: np.ndarray, *, white_level: int, deterioration: float = 1.0):
    """Return the picture as uint8 or uint16, where charging hides it (bool), and the settings drawn as a dict.

    `signal` is (rows, cols) float32 with a swing of about 1; `white_level` is 255 or 65535.
    """
    shape = signal.shape
    signal, sigma_px = _focused(rng, signal)
    if rng.random() < 0.6:  # shading
        x, y = np.linspace(-1, 1, shape[1], dtype=np.float32)[None, :], np.linspace(-1, 1, shape[0], dtype=np.float32)
        slope, turn, bowl = rng.uniform(0, 0.35), rng.uniform(0, 2 * np.pi), rng.uniform(-0.2, 0.2)
        y = y[:, None]
        signal = signal + np.float32(slope) * (x * np.float32(np.cos(turn)) + y * np.float32(np.sin(turn)))
        signal = signal + np.float32(bowl) * (x * x + y * y)
    signal = _scan_faults(rng, signal)
    low, middle, high = np.percentile(signal[:: max(shape[0] // 128, 1), :: max(shape[1] // 128, 1)], [1, 50, 99])
    # the operator sets the contrast before the picture charges
    signal, hidden, charging = _charged(rng, signal, high - low)
    swing = max(high - low, rng.uniform(0.1, 0.6))  # a picture without contrast stays one
    spread = float(np.exp(rng.uniform(np.log(0.18), np.log(1.15))))
    grey = rng.uniform(0.3, 0.65) + (signal - np.float32(middle)) * np.float32(spread / swing)
    current_pa, dwell_us = (
        float(np.exp(rng.uniform(*np.log([20, 500])))),
        float(np.exp(rng.uniform(*np.log([0.5, 30])))),
    )
    detected = float(np.exp(rng.uniform(np.log(0.05), 0.0)))
    electrons = max(electrons_per_pixel(current_pa, dwell_us) * detected, 25.0)
    # relative noise of the detected signal, seen at the gain that makes the picture's contrast
    noise = min(rng.uniform(0.3, 1.0) * spread / swing / np.sqrt(electrons), 0.22) * deterioration
    weight = np.sqrt(np.clip(1 + signal, 0.2, 3)).astype(np.float32)
    grain = rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.2:
        grain = blur(grain, rng.uniform(0.3, 0.8))
    grey = grey + np.float32(noise) * weight * grain
    if rng.random() < 0.12:  # rescaled on the way
        factor = rng.uniform(0.55, 0.95)
        small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        grey = cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    gamma = float(np.exp(rng.normal(0, 0.2)))
    grey = np.clip(grey, 0, 1) ** np.float32(gamma)
    picture = np.rint(grey * white_level).astype(np.uint16 if white_level > 255 else np.uint8)
    quality = 0
    if white_level == 255 and rng.random() < 0.2:
        quality = int(rng.integers(35, 96))
        data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
        picture = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)
    settings = {
        "focus_sigma_px": sigma_px, "noise": float(noise), "electrons_per_pixel": float(electrons), "gamma": gamma,
        "contrast": spread, "charging": charging, "jpeg_quality": quality,
    }  # fmt: skip
    return picture, hidden, settings
