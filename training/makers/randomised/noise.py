"""Noise of random spectra: every texture of a field comes from here. Lengths in pixels, fields of unit deviation."""

import numpy as np
from scipy import fft


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """One number between low and high, equally likely in every octave."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def spectral(
    rng: np.random.Generator,
    shape: tuple[int, int],
    length: float,
    *,
    stretch: float = 1.0,
    angle: float = 0.0,
    roll_off: float = 2.0,
    high_pass: float = 0.0,
) -> np.ndarray:
    """Filtered noise (rows, cols) float32, mean 0 and deviation 1.

    length: correlation length in px across; stretch: how many times longer it is along angle (radians from the row
    direction, towards greater rows); roll_off: exponent of the amplitude; high_pass: waves longer than this many px go
    (0 keeps all)."""
    rows, cols = fft.next_fast_len(shape[0], real=True), fft.next_fast_len(shape[1], real=True)
    fy = np.fft.fftfreq(rows).astype(np.float32)[:, None]
    fx = np.fft.rfftfreq(cols).astype(np.float32)[None, :]
    along = (fx * np.cos(angle) + fy * np.sin(angle)) * np.float32(length * stretch)
    across = (fy * np.cos(angle) - fx * np.sin(angle)) * np.float32(length)
    radius = np.float32(6.0) * (along * along + across * across)
    gain = (1 + radius) ** np.float32(-roll_off)
    if high_pass > 0:
        square = (fx * fx + fy * fy) * np.float32(high_pass**2)
        gain *= square / (1 + square)
    gain[0, 0] = 0
    white = rng.standard_normal((2, rows, fx.shape[1]), dtype=np.float32)
    waves = np.empty(gain.shape, np.complex64)
    waves.real, waves.imag = white[0] * gain, white[1] * gain
    field = fft.irfft2(waves, s=(rows, cols), overwrite_x=True)[: shape[0], : shape[1]]
    return np.ascontiguousarray(field / (field.std() + 1e-9), dtype=np.float32)


def random_texture(rng: np.random.Generator, shape: tuple[int, int], *, fine: float, coarse: float, **settings: float) -> np.ndarray:
    """Noise whose correlation length (between fine and coarse, px) and roll-off are drawn too."""
    return spectral(rng, shape, log_uniform(rng, fine, coarse), roll_off=rng.uniform(0.7, 2.2), **settings)


def wander(rng: np.random.Generator, count: int, length: float) -> np.ndarray:
    """A smooth random line of count samples, correlation length in samples, of about unit deviation."""
    knots = max(4, int(count / max(length, 1.0)) + 3)
    at = np.linspace(0.6, knots - 1.6, count)
    left = at.astype(int)
    part = at - left
    ease = part * part * (3 - 2 * part)
    values = rng.normal(size=knots + 1)
    return values[left] * (1 - ease) + values[left + 1] * ease
