"""From detector signal to stored picture: focus, scan, noise, amplifier and what the operator's software did afterwards.

Shot noise: N = i·t/e electrons a pixel, so 100 pA for 10 µs is 6,242.
"""

import cv2
import numpy as np

from .hone import grain, wander

ELECTRON_CHARGE_C = 1.602e-19


def electrons_a_pixel(current_a: float, dwell_s: float) -> float:
    return current_a * dwell_s / ELECTRON_CHARGE_C


def focus(rng: np.random.Generator, picture: np.ndarray) -> np.ndarray:
    """Astigmatic blur, in some fields growing to one side."""
    rows, cols = picture.shape
    size = rng.uniform(0.3, 0.9) if rng.random() < 0.75 else rng.uniform(0.9, 1.8)
    sharp = cv2.GaussianBlur(picture, (0, 0), sigmaX=size, sigmaY=size * np.exp(rng.normal(0, 0.2)))
    if rng.random() < 0.2:
        soft = cv2.GaussianBlur(sharp, (0, 0), rng.uniform(1.0, 2.2))
        turn = rng.uniform(0, 2 * np.pi)
        ramp = np.cos(turn) * np.linspace(-1, 1, cols) + np.sin(turn) * np.linspace(-1, 1, rows)[:, None]
        sharp = sharp + (soft - sharp) * np.clip(0.5 + ramp, 0, 1).astype(np.float32)
    return sharp


def scan(rng: np.random.Generator, picture: np.ndarray) -> np.ndarray:
    """Line jitter and vibration move whole lines; earlier scans left a dark frame of contamination."""
    rows, cols = picture.shape
    if rng.random() < 0.2:
        shift = rng.uniform(0.1, 0.35) * rng.standard_normal(rows)
        shift += rng.uniform(0, 0.6) * np.sin(np.arange(rows) * rng.uniform(0.1, 1.2))
        x = np.arange(cols, dtype=np.float32)[None] + shift[:, None].astype(np.float32)
        y = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], picture.shape)
        picture = cv2.remap(picture, x, np.ascontiguousarray(y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    if rng.random() < 0.08:
        top, left = rng.integers(0, rows // 2), rng.integers(0, cols // 2)
        frame = np.zeros(picture.shape, np.float32)
        frame[top : top + rng.integers(rows // 4, rows), left : left + rng.integers(cols // 4, cols)] = 1
        picture = picture * (1 - rng.uniform(0.05, 0.2) * cv2.GaussianBlur(frame, (0, 0), 1.5))
    haze = 1 + rng.uniform(0, 0.07) * grain(rng, picture.shape, cols / 3, rows / 3)
    return picture * haze.astype(np.float32)


def expose(rng: np.random.Generator, picture: np.ndarray) -> np.ndarray:
    """Shot and line noise, contrast and brightness set by the operator, saturation, gamma."""
    rows, _ = picture.shape
    dose = electrons_a_pixel(
        np.exp(rng.uniform(np.log(2e-11), np.log(4e-10))), np.exp(rng.uniform(np.log(3e-7), np.log(3e-5)))
    )
    spread = min(1.3 / np.sqrt(dose), rng.uniform(0.03, 0.2))
    noise = rng.standard_normal(picture.shape, dtype=np.float32) * np.sqrt(np.maximum(picture, 0.05))
    if rng.random() < 0.25:
        noise = cv2.GaussianBlur(noise, (0, 0), 0.7) * 1.5
    picture = picture + spread * noise
    if rng.random() < 0.25:
        lines = rng.standard_normal(rows) + wander(rng, rows, 20)
        picture = picture + (rng.uniform(0.002, 0.02) * lines[:, None]).astype(np.float32)
    low, middle, high = np.percentile(picture[::3, ::3], [2, 50, 98])
    span = max(high - low, 0.12)
    grey = (picture - middle) / span * rng.uniform(85, 175) + rng.uniform(80, 155)
    grey = np.where(grey > 200, 200 + 55 * np.tanh((grey - 200) / 60), grey)
    grey = np.where(grey < 30, 30 - 30 * np.tanh((30 - grey) / 34), grey)
    return 255 * np.clip(grey / 255, 0, 1) ** np.exp(rng.normal(0, 0.15))


def store(rng: np.random.Generator, grey: np.ndarray) -> np.ndarray:
    """Equalisation, sharpening, median, JPEG: each in a share of pictures."""
    if rng.random() < 0.12:
        blurred = cv2.GaussianBlur(grey, (0, 0), rng.uniform(1, 2.5))
        grey = grey + rng.uniform(0.3, 1.0) * (grey - blurred)
    image = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    if rng.random() < 0.1:
        image = cv2.createCLAHE(float(rng.uniform(1.2, 2.5)), (int(rng.integers(3, 8)),) * 2).apply(image)
    if rng.random() < 0.1:
        image = cv2.medianBlur(image, 3)
    if rng.random() < 0.25:
        packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 95))])[1]
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return image
