"""The instrument: beam, dose, drift, jitter, charging stripes, contrast and brightness, compression."""

from dataclasses import dataclass

import cv2
import numpy as np

from .texture import clouds


@dataclass(frozen=True)
class Settings:
    """levels: grey levels between valley and plateau; blur_px: beam's spread; noise: grey levels of shot noise at the plateau
    (0.5 at least); uneven: grey levels of shading; stripes: of charging by the line; jitter_px: of line starts; quality: of
    JPEG, 0 for none; gamma; middle: grey level of the plateau."""

    levels: float
    blur_px: float
    noise: float
    uneven: float
    stripes: float
    jitter_px: float
    quality: int
    gamma: float
    middle: float


def told_apart(signal: np.ndarray, codes: np.ndarray) -> float:
    """Signal by which valleys stand off the plateau: of tone or, where tones are equal, of the rims and walls."""
    smooth = cv2.GaussianBlur(signal, (0, 0), 1.0)
    valley = codes == 1
    if valley.sum() < 60:
        return max(2.0 * float(smooth.std()), 0.02)
    land = codes == 0
    land = smooth[land] if land.sum() > 60 else smooth.ravel()
    return max(abs(float(smooth[valley].mean() - land.mean())), 0.8 * float(smooth[valley].std()), 0.01)


def electrons(current_pa: float, dwell_us: float) -> float:
    """Electrons a pixel: N = i·t/e."""
    return current_pa * 1e-12 * dwell_us * 1e-6 / 1.602176634e-19


def dose_for(noise: float, gain: float) -> float:
    """Electrons detected a pixel at signal 1 for which shot noise is that many grey levels at that gain."""
    return (gain / noise) ** 2


def shot(rng: np.random.Generator, signal: np.ndarray, dose: float) -> np.ndarray:
    """The signal as counted: Poisson's spread, by its normal limit."""
    return signal + rng.standard_normal(signal.shape, dtype=np.float32) * np.sqrt(np.maximum(signal, 0.02) / dose).astype(np.float32)


def take(rng: np.random.Generator, signal: np.ndarray, codes: np.ndarray, settings: Settings) -> np.ndarray:
    """The micrograph, uint8."""
    rows, cols = signal.shape
    gain = settings.levels / told_apart(signal, codes)
    seen = cv2.GaussianBlur(signal, (0, 0), settings.blur_px)
    if settings.jitter_px > 0:
        starts = np.cumsum(rng.normal(0, settings.jitter_px, rows)) * 0.2 + rng.normal(0, settings.jitter_px, rows)
        x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
        seen = cv2.remap(seen, x + starts[:, None].astype(np.float32), y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    level = float(np.median(seen))
    seen = shot(rng, seen, dose_for(settings.noise, gain))
    grey = settings.middle + gain * (seen - level)
    if settings.uneven > 0:
        angle = rng.uniform(0, 2 * np.pi)
        ramp = np.cos(angle) * np.linspace(-1, 1, cols)[None, :] + np.sin(angle) * np.linspace(-1, 1, rows)[:, None]
        grey = grey + settings.uneven * (0.5 * ramp + 0.3 * clouds(rng, (rows, cols), 0.6 * max(rows, cols)))
    if settings.stripes > 0:
        lines = rng.standard_normal(rows)
        slow = cv2.GaussianBlur(lines[:, None], (1, 0), sigmaX=0.1, sigmaY=float(rng.uniform(1, 12)))[:, 0] if rows > 3 else lines
        grey = grey + settings.stripes * (slow / max(slow.std(), 1e-6) * 0.8 + 0.3 * lines)[:, None]
    off = (grey - settings.middle) / 127.5
    held = np.where(off > 0, (250 - settings.middle) / 127.5, (settings.middle - 5) / 127.5)
    bound = np.abs(off) / held  # amplifiers give way before they clip
    off = np.sign(off) * held * np.where(bound < 0.6, bound, 0.6 + 0.4 * np.tanh((bound - 0.6) / 0.4))
    grey = np.clip(settings.middle + 127.5 * off, 0, 255)
    grey = settings.middle + (255 * (grey / 255) ** settings.gamma - 255 * (settings.middle / 255) ** settings.gamma)
    image = np.clip(np.round(grey), 0, 255).astype(np.uint8)
    if settings.quality:
        image = cv2.imdecode(cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, settings.quality])[1], cv2.IMREAD_GRAYSCALE)
    return image
