"""The plateau: grain, finishing marks, wear along the stroke, and things that look like valleys and are not."""

import math

import cv2
import numpy as np

from .strips_frame import Frame, log_uniform


def draw_ground(
    rng: np.random.Generator,
    shape: tuple[int, int],
    pixel_size_um: float,
    stroke: float,
    lays: tuple[float, float],
    worn: np.ndarray,
) -> np.ndarray:
    """The plateau's grey in units of groove contrast; angles in radians."""
    frame = Frame(shape=shape, angle=stroke)
    fine = max(1.0, log_uniform(rng, 0.15, 1.5) / pixel_size_um)
    grain = frame.noise(rng, fine, fine) + 0.7 * frame.noise(rng, 3.3 * fine, 3.3 * fine)
    ground = grain * np.float32(log_uniform(rng, 0.01, 0.16))
    finish = np.zeros(shape, np.float32)
    strength = float(rng.choice([0.0, log_uniform(rng, 0.02, 0.22)], p=[0.2, 0.8]))
    if strength:
        spread = float(rng.choice([0.0, rng.uniform(0, 0.25)]))
        for lay in lays:
            for width, weight in ((rng.uniform(0.3, 1.2), 1.0), (rng.uniform(1.5, 5.0), 0.5)):
                marks = Frame(shape=shape, angle=lay + rng.uniform(-1, 1) * spread)
                across = max(1.0, width / pixel_size_um)
                finish += np.float32(weight * rng.uniform(0.2, 1)) * marks.noise(
                    rng, across * rng.uniform(30, 150), across
                )
        finish *= np.float32(strength)
    if worn.any():
        power = log_uniform(rng, 0.1, 1.0)
        mask = cv2.GaussianBlur(worn.astype(np.float32), (0, 0), max(1.0, rng.uniform(0.5, 6) / pixel_size_um))
        across = max(1.0, log_uniform(rng, 0.25, 2.0) / pixel_size_um)
        marks = frame.noise(rng, across * rng.uniform(40, 300), across)
        marks += 0.6 * frame.noise(rng, across * 200, across * rng.uniform(3, 12))
        tone = rng.uniform(-0.15, 0.3) * power
        ground += mask * (marks * np.float32(0.03 + 0.22 * power) + np.float32(tone))
        ground *= 1 - mask * np.float32(rng.uniform(0, 0.5) * power)
        finish *= 1 - mask * np.float32(rng.uniform(0.3, 1.0) * (0.3 + 0.7 * power))
    ground += finish
    if rng.random() < 0.3:
        ground += np.float32(rng.uniform(0.03, 0.15)) * frame.noise(rng, *(rng.uniform(20, 150, 2) / pixel_size_um))
    return ground


def draw_burnish(
    rng: np.random.Generator, image: np.ndarray, stroke: float, bands: tuple[tuple[float, float], ...], worn: np.ndarray
) -> None:
    """Bands along the stroke (middle and half width across it, px) where the plateau is polished or streaked, in place."""
    height, width = image.shape
    x, y = (
        np.arange(width, dtype=np.float32)[None, :] - width / 2,
        np.arange(height, dtype=np.float32)[:, None] - height / 2,
    )
    across = (y * math.cos(stroke) - x * math.sin(stroke)).astype(np.float32)
    streaks = Frame(shape=image.shape, angle=stroke).noise(rng, rng.uniform(60, 400), rng.uniform(1, 5))
    smooth, tone, rough = (
        rng.uniform(0, 0.8),
        rng.uniform(-0.25, 0.35),
        float(rng.choice([0.0, rng.uniform(0.03, 0.2)])),
    )
    for middle, half in bands:
        soft = max(2.0, half * rng.uniform(0.02, 0.6))
        mask = np.clip((np.float32(half) - np.abs(across - np.float32(middle))) / np.float32(soft) + 0.5, 0, 1) * worn
        image += mask * (np.float32(tone) + streaks * np.float32(rough) - image * np.float32(smooth))


def _stamp(image: np.ndarray, mask: np.ndarray, grey: float) -> None:
    image += mask.astype(np.float32) / 255 * (np.float32(grey) - image)


def draw_flakes(rng: np.random.Generator, image: np.ndarray, pixel_size_um: float) -> None:
    """Graphite flakes and pull-outs: dark lenses and worms, 5–100 µm, in place."""
    height, width = image.shape
    mask = np.zeros(image.shape, np.uint8)
    area = height * width * pixel_size_um**2
    size = log_uniform(rng, 5, 60)
    for _ in range(int(min(1 + rng.poisson(log_uniform(rng, 0.005, 0.08) * area / size**1.3), 120))):
        length = size * rng.lognormal(0, 0.4) / pixel_size_um
        steps = 9
        turn = rng.uniform(0, 2 * math.pi) + np.cumsum(rng.standard_normal(steps)) * rng.uniform(0.05, 0.45)
        points = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * length / steps, 0)
        points += rng.uniform(0, 1, 2) * (width, height)
        thick = length * rng.uniform(0.03, 0.16) * np.sin(np.linspace(0.15, math.pi - 0.15, steps))
        for a, b, t in zip(points[:-1], points[1:], thick[1:], strict=True):
            cv2.line(mask, np.rint(a * 4).astype(int), np.rint(b * 4).astype(int), 255, max(1, int(t)), cv2.LINE_AA, 2)
    _stamp(image, cv2.GaussianBlur(mask, (0, 0), 0.7), -rng.uniform(0.5, 1.6))


def draw_scratches(
    rng: np.random.Generator, image: np.ndarray, pixel_size_um: float, stroke: float, deep: bool
) -> None:
    """Scratches along the stroke, in place."""
    frame = Frame(shape=image.shape, angle=stroke)
    rows, columns = frame.size
    grey, alpha = np.zeros((rows, columns), np.float32), np.zeros((rows, columns), np.float32)
    centre = rng.uniform(0.1, 0.9) * rows
    bundle = rng.random() < 0.3
    for _ in range(int(rng.integers(1, 4) if deep else log_uniform(rng, 1, 30))):
        half = max(0.6, log_uniform(rng, 0.2, 6 if deep else 2) / pixel_size_um / 2)
        row = centre + rng.standard_normal() * 12 * half if bundle else rng.uniform(0, rows)
        reach = int(3 * half + 4)
        start = max(0, int(rng.uniform(-0.6, 0.7) * columns)) if rng.random() < 0.6 else 0
        stop = min(columns, start + int(log_uniform(rng, 0.1, 1.5) * columns))
        first, last = max(0, int(row) - reach), min(rows, int(row) + reach)
        if last - first < 2 or stop - start < 8:
            continue
        off = np.arange(first, last, dtype=np.float32)[:, None] - np.float32(row)
        taper = np.minimum(1, np.minimum(np.arange(stop - start), np.arange(stop - start)[::-1]) / (20.0 * half + 5))
        strength = np.float32(
            (rng.uniform(0.4, 1.1) if deep else rng.uniform(0.08, 0.5)) * (-1 if rng.random() < 0.6 else 1)
        )
        body = np.exp(-((off / half) ** 4)) * taper[None, :].astype(np.float32)
        side = (
            np.exp(-(((np.abs(off) - 1.4 * half) / (0.4 * half + 0.5)) ** 2)) * taper[None, :] * rng.uniform(-0.2, 0.8)
        )
        part = (slice(first, last), slice(start, stop))
        grey[part] += body * strength - side * strength * 0.6
        alpha[part] = np.maximum(alpha[part], body * np.float32(0.8 if deep else 0.3))
    image *= 1 - frame.to_picture(alpha)
    image += frame.to_picture(grey)


def draw_films(rng: np.random.Generator, image: np.ndarray, pixel_size_um: float, stroke: float) -> None:
    """Stains, oil and tribofilm islands, often along the stroke, in place."""
    frame = Frame(shape=image.shape, angle=stroke)
    across = log_uniform(rng, 3, 80) / pixel_size_um
    along = across * float(rng.choice([1.0, rng.uniform(2, 12)]))
    height = frame.noise(rng, along, across) + 0.5 * frame.noise(rng, along / 3, across / 3)
    height += 0.25 * frame.noise(rng, along / 9, across / 9)
    level, soft = rng.uniform(0.6, 1.8), log_uniform(rng, 0.03, 0.6)
    mask = np.clip((height - np.float32(level)) / np.float32(soft), 0, 1) * np.float32(rng.uniform(0.5, 1))
    image *= 1 - mask * np.float32(rng.uniform(0, 0.5))
    image += mask * np.float32(rng.choice([-1, 1], p=[0.65, 0.35]) * rng.uniform(0.1, 0.6))


def draw_spots(rng: np.random.Generator, image: np.ndarray, pixel_size_um: float) -> None:
    """Corrosion spots and tiny particles, in place."""
    height, width = image.shape
    for grey, size in (
        (-rng.uniform(0.3, 1.0), log_uniform(rng, 1, 8)),
        (rng.uniform(0.5, 1.8), log_uniform(rng, 0.2, 0.9)),
    ):
        if rng.random() < 0.5:
            continue
        mask = np.zeros(image.shape, np.uint8)
        for _ in range(int(log_uniform(rng, 2, 60))):
            spot = rng.uniform(0, 1, 2) * (width, height)
            radius = max(1.0, size * rng.lognormal(0, 0.4) / pixel_size_um / 2)
            axes = (max(1, int(radius)), max(1, int(radius * rng.uniform(0.4, 1))))
            cv2.ellipse(mask, spot.astype(int), axes, rng.uniform(0, 180), 0, 360, 255, -1, cv2.LINE_AA)
        _stamp(image, cv2.GaussianBlur(mask, (0, 0), rng.uniform(0.6, 2.0)), grey)


def draw_debris(
    rng: np.random.Generator, image: np.ndarray, codes: np.ndarray, pixel_size_um: float, light: float
) -> None:
    """Lumps of debris: bright, code 255, with a shadow away from the detector at angle `light`; in place."""
    height, width = image.shape
    for _ in range(int(rng.integers(1, 7))):
        radius = min(log_uniform(rng, 1.5, 15) / pixel_size_um, 0.08 * min(height, width)) + 1.5
        reach = int(3.2 * radius + 6)
        x, y = int(rng.uniform(0, width)), int(rng.uniform(0, height))
        left, up, right, low = max(0, x - reach), max(0, y - reach), min(width, x + reach), min(height, y + reach)
        gx, gy = np.arange(left, right)[None, :] - x, np.arange(up, low)[:, None] - y
        angle = np.arctan2(gy, gx)
        wobble = np.ones(angle.shape)
        for order in range(2, 8):
            wobble = wobble + rng.normal(0, 0.35 / order) * np.cos(order * angle + rng.uniform(0, 2 * math.pi))
        out = np.hypot(gx, gy) / (radius * np.maximum(wobble, 0.4))
        far = np.hypot(gx + math.cos(light) * radius * 0.8, gy + math.sin(light) * radius * 0.8) / (radius * 1.3)
        part = (slice(up, low), slice(left, right))
        image[part] -= (np.exp(-(far**4)) * rng.uniform(0.2, 0.9)).astype(np.float32)
        body = np.clip((1 - out) * radius / 1.5 + 0.5, 0, 1)
        lit = rng.uniform(0.4, 1.4) + 0.5 * (gx * math.cos(light) + gy * math.sin(light)) / radius
        lit = lit + 0.2 * rng.standard_normal(out.shape)
        image[part] += (body * (lit - image[part])).astype(np.float32)
        codes[part][out < 1] = 255
