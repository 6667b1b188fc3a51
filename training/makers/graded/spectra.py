"""Stationary random texture, by shaping the spectrum of white noise."""

import numpy as np
from scipy import fft


def texture(
    rng: np.random.Generator,
    shape: tuple[int, int],
    *,
    along_px: float,
    across_px: float,
    direction_deg: float = 0.0,
    fall: float = 1.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Two independent float32 maps of mean 0 and standard deviation 1 with the same spectrum.

    along_px and across_px: correlation lengths along and across direction_deg (of rows x = columns, y = rows down).
    fall: beyond the corner the power falls with wave number to the power -2 (fall + 0.5).
    """
    size = tuple(fft.next_fast_len(side) for side in shape)
    noise = rng.standard_normal((2, *size), dtype=np.float32)
    # White noise is white in either domain: it needs no transform of its own.
    spectrum = noise[0] + 1j * noise[1]
    wave_y = (2 * np.pi * fft.fftfreq(size[0])).astype(np.float32)[:, None]
    wave_x = (2 * np.pi * fft.fftfreq(size[1])).astype(np.float32)[None, :]
    cos, sin = np.float32(np.cos(np.deg2rad(direction_deg))), np.float32(np.sin(np.deg2rad(direction_deg)))
    long = (wave_x * cos + wave_y * sin) * np.float32(along_px)
    short = (wave_y * cos - wave_x * sin) * np.float32(across_px)
    # The filter is real and even, so real and imaginary part of the result are independent: two maps for one transform.
    shaped = spectrum * np.exp(np.float32(-(fall + 0.5) / 2) * np.log1p(long * long + short * short))
    shaped[0, 0] = 0
    both = fft.ifft2(shaped, workers=1)[: shape[0], : shape[1]]
    first, second = (np.ascontiguousarray(part, dtype=np.float32) for part in (both.real, both.imag))
    return unit(first), unit(second)


def unit(map_: np.ndarray) -> np.ndarray:
    """The map with mean 0 and standard deviation 1."""
    return (map_ - map_.mean()) / max(float(map_.std()), 1e-9)


def course(rng: np.random.Generator, length: int, correlation_px: float) -> np.ndarray:
    """A random function of one coordinate: float32, about standard deviation 1, smooth over correlation_px."""
    knots = max(4, int(length / max(correlation_px, 1.0)) + 4)
    at = np.linspace(0, knots - 1.001, length)
    low = at.astype(int)
    share = at - low
    share = share * share * (3 - 2 * share)
    values = 1.3 * rng.standard_normal(knots + 1)
    return (values[low] * (1 - share) + values[low + 1] * share).astype(np.float32)


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))
