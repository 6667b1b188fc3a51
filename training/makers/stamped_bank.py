"""The bank of small stamps, how they are pressed on a canvas, and textures drawn by stretching noise."""

import cv2
import numpy as np

KINDS = ("dab", "dash", "scale", "chip", "crescent")


def log_uniform(rng, low, high, size=None):
    return np.exp(rng.uniform(np.log(low), np.log(high), size))


def streaks(rng, shape, angle, length, width):
    """Noise of unit strength drawn out along angle (rad, from x towards y); length and width in px."""
    diagonal = np.hypot(*shape)
    length, width = max(length, 1.0), max(width, 1.0)
    slip = rng.uniform(0.3, 0.7)
    rows = int(diagonal / width) + 4
    columns = int(diagonal / length + slip * rows) + 4
    if columns * rows > 3e7:
        slip, columns = 0.0, int(diagonal / length) + 4
    noise = rng.standard_normal((rows, columns), dtype=np.float32)
    c, s = np.cos(angle), np.sin(angle)
    x, y = shape[1] / 2, shape[0] / 2
    v = np.array([-s, c, s * x - c * y]) / width
    u = np.array([c, s, -c * x - s * y]) / length + slip * v
    u[2] += columns / 2
    v[2] += rows / 2
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(noise, np.stack([u, v]), shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)


def grain(rng, shape, size):
    """Isotropic noise of about unit strength with lumps of the given size in px."""
    small = [max(2, int(n / max(size, 1.0)) + 1) for n in shape]
    noise = rng.standard_normal(small, dtype=np.float32)
    if size <= 1:
        return noise[: shape[0], : shape[1]]
    return cv2.resize(noise, shape[::-1], interpolation=cv2.INTER_CUBIC)


def walk(rng, count, step):
    """A smooth random line of count values, unit strength, wavelength about step values."""
    knots = rng.standard_normal(int(count / max(step, 1.0)) + 3)
    at = np.arange(count) / max(step, 1.0)
    low = at.astype(int)
    part = at - low
    part = part * part * (3 - 2 * part)
    return knots[low] * (1 - part) + knots[low + 1] * part


def outlines(rng, kind, count):
    """Outlines (count, points, 2) of unit half-length along x and unit half-width along y."""
    points = 6 if kind == "chip" else 14
    around = np.linspace(0, 2 * np.pi, points, endpoint=False) + rng.uniform(0, 0.4, (count, 1))
    x, y = np.cos(around), np.sin(around)
    rough = {"dab": 0.15, "dash": 0.1, "scale": 0.12, "chip": 0.4, "crescent": 0.05}[kind]
    if kind == "dash":
        y = y * np.abs(y) ** 0.7
    elif kind == "scale":
        torn = rng.uniform(-1.0, -0.25, x.shape)
        x = np.where(x < -0.3, torn, x)
        y = y * (1 + 0.3 * np.clip(-x, 0, 1))
    elif kind == "crescent":
        x = np.where(x > 0, x, -x * rng.uniform(0.2, 0.6, (count, 1))) - 0.5
    radius = 1 + rough * rng.standard_normal((count, points))
    return np.stack([x * radius, y * radius], axis=-1)


def place(shapes, centres, length, width, angle):
    """Outlines in px: half-lengths, half-widths (px) and angles (rad) are one a stamp or one for all."""
    length, width, angle = (np.broadcast_to(np.asarray(a, float), len(shapes))[:, None] for a in (length, width, angle))
    x, y = shapes[..., 0] * length, shapes[..., 1] * width
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([x * c - y * s, x * s + y * c], axis=-1) + np.asarray(centres)[:, None, :]


def fixed(polygon):
    """Eighths of a pixel, as the drawing calls want them with shift=3."""
    return np.round(np.clip(polygon, -2e4, 2e4) * 8).astype(np.int32)


def press(canvas, polygons, tones):
    """Press each outline with its own tone, in order."""
    tones = np.broadcast_to(np.asarray(tones, float), len(polygons))
    for polygon, tone in zip(fixed(np.asarray(polygons)), tones.tolist(), strict=True):
        cv2.fillPoly(canvas, [polygon], tone, shift=3)


def press_lit(canvas, polygons, tones, light, reach, strength):
    """As press, each stamp with a bright lip towards the light and a shadow away from it; reach in px."""
    away = np.asarray(light) * reach
    tones = np.broadcast_to(np.asarray(tones, float), len(polygons)).tolist()
    body, bright, dark = (fixed(np.asarray(polygons) + shift) for shift in (0 * away, away, -away))
    for i, tone in enumerate(tones):
        cv2.fillPoly(canvas, [dark[i]], tone - strength, shift=3)
        cv2.fillPoly(canvas, [bright[i]], tone + strength, shift=3)
        cv2.fillPoly(canvas, [body[i]], tone, shift=3)


def polyline(canvas, points, tone, thickness):
    cv2.polylines(canvas, [fixed(points)], False, float(tone), max(1, int(round(thickness))), shift=3)


def shifted(image, dx, dy):
    matrix = np.float64([[1, 0, dx], [0, 1, dy]])
    return cv2.warpAffine(image, matrix, image.shape[::-1], flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def soften(image, sigma):
    return cv2.GaussianBlur(image, (0, 0), sigma) if sigma > 0.2 else image
