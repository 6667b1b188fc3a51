"""What a secondary-electron detector shows of the surface, from clean to poor pictures, every setting drawn per field.

Yield grows as sec θ (from memory); wall slopes of 6–27° alone give 0.5–12 % contrast, so the detector's side, bright edges,
starved escape from depth, rough or filled floors and graphite are added as independent terms. Shot noise goes with the
root of the signal (N = i·t/e). Grey units before the last step: plateau 0, valley contrast about 1.
"""

import cv2
import numpy as np

from .geometry import Frame, grain
from .surface import Surface


def soft(map_: np.ndarray, sigma_px: float) -> np.ndarray:
    return cv2.GaussianBlur(map_, (0, 0), max(sigma_px, 0.2))


def yielded(rng: np.random.Generator, surface: Surface, tilt_deg: float) -> np.ndarray:
    """Signal of relief and matter."""
    height, px, codes = surface.height, surface.frame.pixel_um, surface.codes
    fine = soft(height, 0.6)
    slope_y, slope_x = np.gradient(fine, px)
    tilt, side = np.radians(tilt_deg), rng.uniform(0, 2 * np.pi)
    cosine = (np.cos(tilt) - np.sin(tilt) * slope_y) / np.sqrt(1 + slope_x**2 + slope_y**2)
    secant = np.clip(1 / np.maximum(cosine, 0.25), 1, 4) - 1 / np.cos(tilt)
    sided = np.tanh(2 * (slope_x * np.cos(side) + slope_y * np.sin(side)))
    depth = np.maximum(-height, 0)
    deep = 1 - np.exp(-depth / np.exp(rng.uniform(np.log(0.3), np.log(3))))
    edge = np.tanh((fine - soft(fine, rng.uniform(1.5, 4))) / rng.uniform(0.15, 0.5))
    contrast = rng.uniform(0.45, 1.3) * (1 if rng.random() < 0.2 else -1)
    signal = contrast * deep + rng.choice([0, 0.5, 1.0]) * rng.uniform(0.3, 1) * np.minimum(secant, 1.5)
    signal += rng.choice([0.15, 0.5, 0.9], p=[0.3, 0.4, 0.3]) * rng.uniform(0.3, 1) * sided
    signal += rng.choice([0.0, 0.4, 1.0]) * rng.uniform(0.3, 1.2) * np.maximum(edge, -0.3)
    rim = cv2.morphologyEx((codes == 1).astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((5, 5), np.uint8))
    flecks = grain(rng, surface.frame, surface.frame.stroke_rad, rng.uniform(2, 12) * px, rng.uniform(1, 3) * px)
    signal += rng.choice([0.0, 0.3, 0.8]) * np.maximum(flecks - 0.5, 0) * soft(rim.astype(np.float32), 0.7)
    texture = grain(rng, surface.frame, surface.frame.stroke_rad, rng.uniform(2, 30) * px, rng.uniform(1, 3) * px)
    rough = grain(rng, surface.frame, rng.uniform(0, np.pi), rng.uniform(1, 3) * px, rng.uniform(1, 3) * px)
    land, floor = np.exp(rng.uniform(np.log(0.01), np.log(0.22))), rng.uniform(0, 0.35)
    mottle = grain(rng, surface.frame, rng.uniform(0, np.pi), rng.uniform(8, 60) * px, rng.uniform(8, 40) * px)
    signal += rng.choice([0.0, 0.05, 0.15], p=[0.4, 0.4, 0.2]) * mottle
    smear_grey = rng.choice([-1, 1]) * np.exp(rng.uniform(np.log(0.13), np.log(0.9)))
    smear_grey *= 0.5 if smear_grey * contrast > 0 else 1  # covered metal is seldom as dark, or bright, as a floor
    signal += np.choose(codes, [land, floor, land * rng.uniform(0.1, 0.7), rng.uniform(0.05, 0.3)]) * rough
    signal += soft((codes == 2).astype(np.float32), 0.8) * (smear_grey + rng.uniform(0.03, 0.3) * texture)
    signal += 1.5 * rng.uniform(0.5, 1) * surface.lines * rng.uniform(0.3, 1) + surface.scuff
    return (signal - rng.uniform(0.5, 2.0) * surface.graphite).astype(np.float32)


def soiled(rng: np.random.Generator, signal: np.ndarray, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Stains, film along the stroke, debris and charging; and where the last two hide the surface."""
    rows, cols = signal.shape
    hidden, px = np.zeros(signal.shape, np.uint8), frame.pixel_um
    if rng.random() < 0.35:
        size = rng.uniform(20, 90) * px
        patch = grain(rng, frame, frame.stroke_rad, size * rng.choice([1, 4]), size) + 0.3 * grain(
            rng, frame, 0, 8 * px, 8 * px
        )
        signal = signal - rng.normal(0.1, 0.3) / (1 + np.exp(-rng.uniform(2, 8) * (patch - 0.8)))
    if rng.random() < 0.3:
        grey = rng.uniform(0.2, 1.6)
        for _ in range(rng.integers(1, 9)):
            place, size = rng.uniform((0, 0), (cols, rows)), np.exp(rng.uniform(np.log(1.5), np.log(14)))
            angles = np.sort(rng.uniform(0, 2 * np.pi, 9))
            rim = place + size * rng.uniform(0.5, 1.3, (9, 1)) * np.stack([np.cos(angles), np.sin(angles)], 1)
            grain_ = np.zeros(signal.shape, np.uint8)
            cv2.fillPoly(grain_, [rim.astype(np.int32)], 1)
            cap = soft(grain_.astype(np.float32), size / 4)
            shadow = np.roll(soft(grain_.astype(np.float32), size / 2), (int(size / 3) + 1, int(size / 3) + 1), (0, 1))
            signal = np.where(grain_ > 0, grey * (1.6 - cap), signal - 0.5 * shadow)
            hidden |= grain_
    if rng.random() < 0.12:
        top, band = rng.integers(rows), np.zeros(signal.shape, np.float32)
        height, first = rng.integers(2, max(rows // 12, 4)), rng.integers(cols // 2)
        band[top : top + height, first : first + rng.integers(cols // 4, cols)] = 1
        fade = np.exp(-np.abs(np.arange(cols) - first - cols / 8) / (cols * rng.uniform(0.1, 1)))
        band = soft(band * (rng.uniform(0, 1, (rows, 1)) ** 0.5 * fade).astype(np.float32), 1.0)
        force = rng.uniform(0.5, 3)
        signal = signal + force * band
        hidden |= (force * band > 1.6).astype(np.uint8)
    return signal.astype(np.float32), hidden > 0


def scan(rng: np.random.Generator, surface: Surface, tilt_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """The picture in 8 bits, and where debris or charging hides the surface."""
    signal, hidden = soiled(rng, yielded(rng, surface, tilt_deg), surface.frame)
    rows, cols = signal.shape
    blur = rng.choice([rng.uniform(0.3, 0.8), rng.uniform(0.8, 1.6)], p=[0.7, 0.3])
    signal = cv2.GaussianBlur(signal, (0, 0), sigmaX=blur, sigmaY=blur * rng.uniform(0.8, 1.25))
    if rng.random() < 0.2:
        shift = (
            rng.normal(0, rng.uniform(0.1, 0.6), (rows, 1))
            + rng.uniform(0, 0.5) * np.sin(np.arange(rows) / 3.0)[:, None]
        )
        x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
        signal = cv2.remap(signal, (x + shift).astype(np.float32), y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    low, high = np.percentile(signal[::3, ::3], [1, 99])
    signal = (signal - low) / max(high - low, 0.3)
    noise = rng.standard_normal(signal.shape, dtype=np.float32)
    if rng.random() < 0.3:
        noise = cv2.GaussianBlur(noise, (5, 1), rng.uniform(0.4, 0.9)) * 1.4
    signal += np.exp(rng.uniform(np.log(0.008), np.log(0.16))) * np.sqrt(np.clip(signal, 0, 1.3) + 0.15) * noise
    signal += rng.choice([0, 0.015]) * rng.standard_normal((rows, 1), dtype=np.float32)
    lean = rng.uniform(0, 2 * np.pi)
    ramp = np.cos(lean) * np.linspace(-1, 1, cols) + np.sin(lean) * np.linspace(-1, 1, rows)[:, None]
    signal += rng.choice([0, 1]) * rng.uniform(0, 0.15) * ramp
    spread = rng.uniform(0.3, 0.85)
    black = rng.uniform(0.06, 0.94 - spread)
    grey = 255 * (black + spread * np.sign(signal) * np.abs(signal) ** rng.uniform(0.7, 1.4))
    image = np.clip(grey, 0, 255).astype(np.uint8)
    if rng.random() < 0.2:
        image = cv2.imdecode(cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 95))])[1], 0)
    return image, hidden
