"""From painted states to an 8-bit picture: look-alikes on the plateau, particles, and what the microscope adds."""

import cv2
import numpy as np

from makers.spectral_fields import above, blur, log_uniform, stretched


def edge_response(rng: np.random.Generator, soft: np.ndarray, px: float, light: float, strength: float) -> np.ndarray:
    """Band-passes of a soft mask: rims outside, rims inside, and one side against the other by the direction `light`."""
    near = float(np.clip(log_uniform(rng, 0.15, 1.5) / px, 0.6, 6))
    wide = blur(soft, near)
    diff = wide - soft
    out = np.zeros_like(soft)
    how = rng.choice(["rim", "inner", "double", "sided", "all"])
    if how in ("rim", "double", "all"):
        out += 2.2 * strength * np.maximum(diff, 0)
    if how in ("inner", "double", "all"):
        out += rng.choice([-1, 1], p=[0.7, 0.3]) * 2.2 * strength * np.maximum(-diff, 0)
    if how in ("sided", "all"):
        t = np.deg2rad(light)
        gx, gy = np.gradient(wide, axis=1), np.gradient(wide, axis=0)
        out += 2.5 * near * strength * (np.cos(t) * gx + np.sin(t) * gy)
    return out


def look_alikes(
    rng: np.random.Generator, shape: tuple[int, int], stroke: float, px: float, worn: np.ndarray, unit: float
) -> np.ndarray:
    """Grey offsets of what lies on the plateau and is none of the other states."""
    out = np.zeros(shape, np.float32)
    if rng.random() < 0.35:  # scratches along the stroke, in or out of the track
        width = max(1.0, log_uniform(rng, 0.5, 12) / px)
        field = stretched(rng, shape, width * log_uniform(rng, 60, 800), width, stroke + rng.normal(0, 1.5))
        lines = blur(above(field, log_uniform(rng, 0.004, 0.08)).astype(np.float32), 0.6)
        depth = log_uniform(rng, 0.3, 2.5) * unit
        rim = np.maximum(blur(lines, 1.5) - lines, 0)
        out += depth * (rng.choice([-1, 1], p=[0.75, 0.25]) * lines + rng.uniform(0, 1.5) * rim)
    if rng.random() < 0.35:  # graphite: worms along level lines, or lenses
        size = float(np.clip(log_uniform(rng, 2, 25) / px, 3, 0.06 * max(shape)))
        field = stretched(rng, shape, size * rng.uniform(1, 3), size, rng.uniform(0, 180))
        if rng.random() < 0.6:
            gate = stretched(rng, shape, 0.8 * size, 0.8 * size)
            dark = (np.abs(field) < rng.uniform(0.04, 0.15)) & above(gate, log_uniform(rng, 0.05, 0.3))
        else:
            dark = above(field, log_uniform(rng, 0.002, 0.02))
        flake = blur(dark.astype(np.float32), 0.7)
        out += unit * (rng.uniform(0.5, 1.5) * np.maximum(blur(flake, 1.5) - flake, 0) - rng.uniform(0.8, 3.0) * flake)
    if rng.random() < 0.4:  # stains, oil, tribofilm islands
        size = max(4.0, log_uniform(rng, 5, 200) / px)
        field = stretched(rng, shape, size * log_uniform(rng, 1, 8), size, stroke)
        patch = blur(
            above(field, log_uniform(rng, 0.03, 0.4)).astype(np.float32), log_uniform(rng, 0.7, 0.3 * size + 1)
        )
        out += rng.choice([-1, 1]) * log_uniform(rng, 0.15, 1.2) * unit * patch
    if rng.random() < 0.12:  # corrosion spots
        size = max(1.5, log_uniform(rng, 0.5, 6) / px)
        out -= (
            rng.uniform(0.5, 2)
            * unit
            * blur(above(stretched(rng, shape, size, size), log_uniform(rng, 0.001, 0.02)).astype(np.float32), 0.6)
        )
    if worn.any() and rng.random() < 0.9:  # marks of running along the stroke
        width = max(0.8, log_uniform(rng, 0.2, 4) / px)
        marks = stretched(rng, shape, width * log_uniform(rng, 30, 300), width, stroke)
        amount = log_uniform(rng, 0.05, 0.6) * unit
        out += np.where(worn, amount * marks + rng.normal(0, 0.3) * unit, 0).astype(np.float32)
    return out


def scatter_debris(rng: np.random.Generator, image: np.ndarray, px: float, unit: float, light: float) -> np.ndarray:
    """Draw particles into the image (in place); returns their bool map. Their shadows are not part of it."""
    rows, cols = image.shape
    debris = np.zeros(image.shape, np.uint8)
    if rng.random() > 0.35:
        return debris > 0
    big = log_uniform(rng, 1, 12) / px
    for _ in range(int(log_uniform(rng, 1, 30))):
        r = float(np.clip(big * log_uniform(rng, 0.3, 1.5), 1.2, 0.06 * min(image.shape)))
        angles = np.sort(rng.uniform(0, 2 * np.pi, 9))
        radii = r * rng.uniform(0.6, 1.2, 9)
        x, y = rng.uniform(0, cols), rng.uniform(0, rows)
        ring = np.stack([x + radii * np.cos(angles), y + radii * np.sin(angles)], axis=1)
        cv2.fillPoly(debris, [np.round(ring).astype(np.int32)], 1)
    soft = blur(debris.astype(np.float32), 0.6)
    t = np.deg2rad(light)
    reach = min(8.0, 0.6 * big + 1)
    move = np.array([[1, 0, reach * np.cos(t)], [0, 1, reach * np.sin(t)]])
    shadow = blur(cv2.warpAffine(soft, move, (cols, rows)), 1.0)
    image -= rng.uniform(0, 1.5) * unit * shadow * (1 - soft)
    tone = rng.uniform(0.8, 3) * unit  # dark specks are graphite or corrosion here, so particles are bright
    grain = 0.4 * unit * stretched(rng, image.shape, 2, 2) if rng.random() < 0.5 else 0
    image += soft * (tone + grain - 0.8 * image)
    return debris > 0


def expose(rng: np.random.Generator, image: np.ndarray, unit: float, finest: float) -> np.ndarray:
    """Shading, drift, blur, noise, line faults, gain and offset; uint8 without heavy clipping. `finest`: width in pixels of
    the grooves that must stay visible."""
    shape = image.shape
    rows, cols = shape
    far = float(max(shape))
    if rng.random() < 0.6:
        image = image + log_uniform(rng, 0.05, 1.0) * unit * stretched(rng, shape, far, far * rng.uniform(0.5, 1))
    if rng.random() < 0.2:
        image = image + log_uniform(rng, 0.03, 0.4) * unit * stretched(rng, (rows, 1), 1, far / 8, 0.0)
    if rng.random() < 0.6:
        image = blur(image, min(log_uniform(rng, 0.3, 2.5), max(0.4, 0.3 * finest)))
    if rng.random() < 0.15:  # lines shifted against each other
        shift = (rng.standard_normal(rows) * log_uniform(rng, 0.1, 0.7)).astype(np.float32)
        x = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None]
        y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, axis=1)
        image = cv2.remap(image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    if rng.random() < 0.12:  # charging: bright places trail along their line
        trail = cv2.blur(np.maximum(image - 1.2 * unit, 0), (int(cols / 6) | 1, 1))
        image = image + rng.uniform(0.5, 3) * rng.choice([-1, 1]) * trail
    low, high = np.percentile(image[::3, ::3], [0.7, 99.3])
    middle = (low + high) / 2
    span = max(high - low, rng.uniform(1.5, 3.5) * unit)
    image = np.clip(0.5 + (image - middle) / span, -0.1, 1.15)
    image = np.sign(image) * np.abs(image) ** np.float32(log_uniform(rng, 0.65, 1.5))
    amount = log_uniform(rng, 0.008, 0.13)
    noise = rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.25:
        noise = blur(noise, 0.7) * 2.0
    noise *= np.sqrt(np.clip(image, 0.15, 1)) if rng.random() < 0.6 else np.float32(0.7)
    image = image + amount * noise
    bottom, top = rng.uniform(8, 70), rng.uniform(150, 245)
    grey = np.clip(np.round(bottom + (top - bottom) * image), 0, 255).astype(np.uint8)
    if rng.random() < 0.2:
        ok, packed = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(40, 95))])
        grey = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE) if ok else grey
    return grey
