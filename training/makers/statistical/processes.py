"""Random processes in one and two dimensions, and the turning of a canvas laid along a direction into the picture.

Lengths are pixels and angles radians, counted from the x axis towards the y axis of the picture (y downwards).
"""

import math

import cv2
import numpy as np
from scipy import fft
from scipy.special import ndtr

cv2.setNumThreads(1)


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number whose logarithm is even between low and high; a plain float, so that float32 arrays stay so."""
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def chance(rng: np.random.Generator, probability: float) -> bool:
    """True with the given probability."""
    return bool(rng.random() < probability)


def side(shape: tuple[int, int]) -> int:
    """Side of the square canvas (px) that covers the picture at any turn."""
    return int(np.ceil(np.hypot(*shape))) + 4


def turned(canvas: np.ndarray, shape: tuple[int, int], angle: float, interpolation: int = cv2.INTER_LINEAR) -> np.ndarray:
    """The canvas, whose rows run along `angle`, seen in the picture's frame."""
    cos, sin = np.cos(angle), np.sin(angle)
    x, y = (shape[1] - 1) / 2, (shape[0] - 1) / 2
    middle = (canvas.shape[0] - 1) / 2
    matrix = np.array([[cos, sin, middle - cos * x - sin * y], [-sin, cos, middle + sin * x - cos * y]])
    flags = interpolation | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(canvas, matrix, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT)


def standard(values: np.ndarray) -> np.ndarray:
    """Mean 0 and standard deviation 1."""
    return (values - values.mean()) / (values.std() + 1e-9)


def line(rng: np.random.Generator, length: int, correlation_px: float) -> np.ndarray:
    """A smooth random line of about unit deviation: cubic between knots one correlation length apart."""
    knots = int(min(max(length / max(correlation_px, 1.0), 1) + 4, length + 4))
    row = rng.standard_normal((1, knots)).astype(np.float32)
    stretched = cv2.resize(row, (int(length * knots / (knots - 3)), 1), interpolation=cv2.INTER_CUBIC)[0]
    start = (stretched.size - length) // 2
    return stretched[start : start + length]


def streaks(rng: np.random.Generator, shape: tuple[int, int], angle: float, across_px: float, along_px: float) -> np.ndarray:
    """A random field of unit deviation with correlation lengths across and along a direction."""
    n = side(shape)
    rows = int(np.clip(n / across_px, 4, n))
    cols = int(np.clip(n / along_px, 4, n))
    small = rng.standard_normal((rows, cols), dtype=np.float32)
    return standard(turned(cv2.resize(small, (n, n), interpolation=cv2.INTER_CUBIC), shape, angle))


def fractal(rng: np.random.Generator, shape: tuple[int, int], hurst: float, roll_off_px: float) -> np.ndarray:
    """A self-affine random field of unit deviation: power ~ (q² + q0²)^-(1+H), flat above the roll-off length."""
    rows, cols = fft.next_fast_len(shape[0]), fft.next_fast_len(shape[1])
    qy, qx = fft.fftfreq(rows)[:, None].astype(np.float32), fft.rfftfreq(cols)[None, :].astype(np.float32)
    gain = (qx**2 + qy**2 + roll_off_px**-2) ** np.float32(-(1 + hurst) / 2)
    white = fft.rfft2(rng.standard_normal((rows, cols), dtype=np.float32))
    return standard(fft.irfft2(white * gain, s=(rows, cols))[: shape[0], : shape[1]]).astype(np.float32)


def on_bearing_curve(gaussian: np.ndarray, peak: float, core: float, valley: float, mr1: float, mr2: float) -> np.ndarray:
    """Heights (units of the arguments) on a bearing curve of straight pieces: a core of the given height from mr1 to mr2, with peaks
    above and valleys below it.

    gaussian is a unit-deviation field; its rank picks the place on the curve. mr1 and mr2 are shares of area. The construction of
    ISO 21920-2 (formerly ISO 13565-2) prolongs the core's line over the whole area, so that its Rk is core / (mr2 - mr1), and its
    reduced peak and valley heights come out somewhat larger than the arguments.
    """
    share = np.array([0.0, mr1 / 3, mr1, mr2, 1 - (1 - mr2) / 3, 1.0])
    height = np.array([core / 2 + 2 * peak, core / 2 + peak * 0.8, core / 2, -core / 2, -core / 2 - valley * 0.8, -core / 2 - 2 * valley])
    quantile = np.linspace(-4, 4, 257)
    table = np.interp(1 - ndtr(quantile), share, height)
    return np.interp(gaussian, quantile, table).astype(np.float32)


def soft_disc(rng: np.random.Generator, shape: tuple[int, int], radius: float) -> np.ndarray:
    """A lumpy, angular blob (0-1, soft over a pixel) of about the given radius (px) anywhere in the picture."""
    corners = int(rng.integers(7, 15))
    angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
    reach = radius * rng.uniform(0.6, 1.3, corners)
    squash = rng.uniform(0.5, 1.0)
    points = np.stack([reach * np.cos(angle), squash * reach * np.sin(angle)], 1)
    turn = rng.uniform(0, np.pi)
    points = points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    points += rng.uniform(0, 1, 2) * np.array(shape[::-1])
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(points * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    round_px = max(0.8, radius * rng.uniform(0.02, 0.35))
    lump = cv2.GaussianBlur(mask, (0, 0), round_px).astype(np.float32) / 255
    return np.clip((lump - 0.5) * max(round_px, 1.0) + 0.5, 0, 1)
