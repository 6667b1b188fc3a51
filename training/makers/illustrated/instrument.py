"""From the drawing to the micrograph: beam, drift, shading, shot noise, line jitter, contrast setting, compression."""

import cv2
import numpy as np

from .layout import loguniform
from .sheet import Sheet, grain


def surface(rng: np.random.Generator, sheet: Sheet, fine: np.ndarray) -> np.ndarray:
    """Tone (rows, cols) of the drawing with its textures laid in: fine marks and isotropic grain at their gains."""
    shape = sheet.tone.shape
    coarse = grain(rng, shape, *(2 * [loguniform(rng, 1.2, 6)]))
    speck = cv2.GaussianBlur(rng.standard_normal(shape, dtype=np.float32), (0, 0), 0.7) * 2.4
    gain = loguniform(rng, 0.012, 0.05)
    return sheet.tone + sheet.fine * fine + gain * sheet.rough * (0.7 * coarse + 0.6 * speck)


def charge(rng: np.random.Generator, tone: np.ndarray, codes: np.ndarray) -> None:
    """Charging (code 255): a bright patch that hides the surface, trailing along the rows. Changes both pictures."""
    rows, cols = tone.shape
    spot = np.zeros((rows, cols), np.float32)
    centre = (int(rng.uniform(0, cols)), int(rng.uniform(0, rows)))
    cv2.ellipse(
        spot, centre, (int(cols * rng.uniform(0.04, 0.2)), int(rows * rng.uniform(0.01, 0.06)) + 1), 0, 0, 360, 1.0, -1
    )
    spot = cv2.GaussianBlur(spot, (0, 0), 0.01 * cols + 1)
    tone *= 1 - spot
    tone += 0.5 * spot
    codes[spot > 0.5] = 255


def shot(rng: np.random.Generator, signal: np.ndarray, electrons: float) -> np.ndarray:
    """The signal counted with `electrons` a pixel where it is 1."""
    # At tens of electrons and more Poisson and normal differ by less than the tone curve hides.
    return signal + np.sqrt(signal / electrons) * rng.standard_normal(signal.shape, dtype=np.float32)


def record(rng: np.random.Generator, tone: np.ndarray) -> np.ndarray:
    """The picture (rows, cols) uint8 of a tone picture."""
    rows, cols = tone.shape
    tone = cv2.GaussianBlur(tone.astype(np.float32), (0, 0), loguniform(rng, 0.5, 1.4))
    y, x = np.mgrid[-0.5 : 0.5 : rows * 1j, -0.5 : 0.5 : cols * 1j].astype(np.float32)
    tilt = rng.normal(0, 0.06, 2)
    tone = tone + tilt[0] * x + tilt[1] * y + rng.normal(0, 0.08) * (x * x + y * y)
    drift = np.interp(np.arange(rows), np.linspace(0, rows, 9), rng.standard_normal(9)) * loguniform(rng, 0.002, 0.03)
    tone = tone + (drift + loguniform(rng, 0.001, 0.01) * rng.standard_normal(rows))[:, None].astype(np.float32)
    if rng.random() < 0.35:
        shift = (loguniform(rng, 0.1, 0.8) * rng.standard_normal(rows)).astype(np.float32)
        across = np.arange(cols, dtype=np.float32)[None] + shift[:, None]
        down = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
        tone = cv2.remap(tone, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    signal = np.clip(0.5 + tone, 0.02, None)
    signal = shot(rng, signal, loguniform(rng, 120, 4000))
    low, high = np.percentile(signal[::3, ::3], [0.5, 99.5])
    dark = rng.uniform(3, 70)
    span = rng.uniform(0.45, 0.97) * (252 - dark)
    grey = np.clip((signal - low) / max(high - low, 0.08), -0.2, 1.3)
    grey = np.sign(grey) * np.abs(grey) ** loguniform(rng, 0.75, 1.35)
    image = np.clip(dark + span * grey, 0, 255).astype(np.uint8)
    if rng.random() < 0.35:
        quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))]
        image = cv2.imdecode(cv2.imencode(".jpg", image, quality)[1], cv2.IMREAD_GRAYSCALE)
    return image
