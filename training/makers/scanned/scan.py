"""The instrument after the beam: shot noise by dose, lines that jitter, brightness that drifts, the operator's knobs."""

import cv2
import numpy as np

from .draws import log_uniform, smooth_map

ELEMENTARY_CHARGE_C = 1.602176634e-19


def electrons(current_a: float, dwell_s: float) -> float:
    """Beam electrons that fall on one pixel."""
    return current_a * dwell_s / ELEMENTARY_CHARGE_C


def counted(rng: np.random.Generator, signal: np.ndarray, dose: float) -> np.ndarray:
    """Signal (electrons out per electron in) as counted at `dose` electrons in a pixel; Poisson's spread."""
    return signal + np.sqrt(np.maximum(signal, 0.01) / dose) * rng.standard_normal(signal.shape, dtype=np.float32)


def lines(rng: np.random.Generator, picture: np.ndarray) -> np.ndarray:
    """Picture after mains hum shifted its lines by parts of a pixel and the amplifier changed between lines."""
    rows, columns = picture.shape
    if rng.random() < 0.6:
        shift = log_uniform(rng, 0.05, 0.6) * (rng.standard_normal(rows) * 0.6 + np.sin(np.arange(rows) * rng.uniform(0.1, 2.5)))
        x, y = np.meshgrid(np.arange(columns, dtype=np.float32), np.arange(rows, dtype=np.float32))
        picture = cv2.remap(picture, x + shift[:, None].astype(np.float32), y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    level = picture.std() * log_uniform(rng, 0.01, 0.25)
    return picture + (level * rng.standard_normal((rows, 1))).astype(np.float32)


def shaded(rng: np.random.Generator, picture: np.ndarray) -> np.ndarray:
    """Slow drift of brightness: down the frame with time, and across it with distance to the detector."""
    strength = picture.std() * log_uniform(rng, 0.1, 1.0)
    rows, columns = picture.shape
    tilt = np.linspace(-1, 1, rows)[:, None] * rng.normal() + np.linspace(-1, 1, columns)[None] * rng.normal()
    return picture + strength * (0.5 * tilt + 0.3 * smooth_map(rng, picture.shape, (rows / 2, columns / 2))).astype(np.float32)


def recorded(rng: np.random.Generator, picture: np.ndarray, aside: np.ndarray) -> np.ndarray:
    """uint8 picture as an operator sets contrast, brightness and gamma by eye, paying no heed to
    what lies aside (debris); some went through JPEG."""
    low, middle, high = np.quantile(picture[~aside], (0.005, 0.5, 0.995))
    spread = log_uniform(rng, 0.35, 1.0)
    black = rng.uniform(4, 4 + 225 * (1 - spread))
    unit = np.clip((picture - low) / max(high - low, 1e-6), -0.1, 1.1)
    rest = float(np.clip((middle - low) / max(high - low, 1e-6), 0.1, 0.9))
    # The eye sets the middle of the picture to a middle grey.
    gamma = float(np.clip(np.log(rng.uniform(0.3, 0.65)) / np.log(rest), 0.6, 1.7))
    unit = np.sign(unit) * np.abs(unit) ** gamma
    grey = np.clip(np.rint(black + 230 * spread * unit), 0, 255).astype(np.uint8)
    if rng.random() < 0.35:
        _, coded = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 96))])
        grey = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return grey
