"""Textures for the collage: stretched noise, pieces of scikit-image's own pictures, cells, warped waves.

Every texture is a float32 map of mean 0 and spread 1. Grain is in pixels, angles in radians on the picture (x right, y down).
"""

from functools import cache
from pathlib import Path

import cv2
import numpy as np
import skimage.data

PHOTOS = ("grass.png", "gravel.png", "moon.png", "ihc.png")


def log_uniform(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def standard(field):
    mean, spread = cv2.meanStdDev(field)
    return ((field - np.float32(mean[0, 0])) * np.float32(1 / max(spread[0, 0], 1e-6))).astype(np.float32)


@cache
def photo(name):
    """One shipped picture, grey, with its slow shading removed."""
    raw = np.fromfile(Path(skimage.data.__file__).parent / name, np.uint8)
    grey = cv2.imdecode(raw, cv2.IMREAD_GRAYSCALE).astype(np.float32)
    grey = grey[: min(grey.shape[0], 512), : min(grey.shape[1], 512)]
    return standard(grey - cv2.GaussianBlur(grey, (0, 0), 40))


def stretched(rng, shape, along, across, angle):
    """Noise whose grain is `along` px in the direction `angle` and `across` px at right angles to it."""
    along, across = max(along, 1.0), max(across, 1.0)
    reach = float(np.hypot(*shape))
    rows, cols = int(reach / across) + 5, int(reach / along) + 5
    if rows * cols > 1.5 * shape[0] * shape[1]:
        noise = rng.standard_normal(shape, dtype=np.float32)
        return standard(
            cv2.GaussianBlur(noise, (0, 0), 0.6 * np.sqrt(along * across)) if along * across > 1.5 else noise
        )
    noise = rng.standard_normal((rows, cols), dtype=np.float32)
    return standard(turned(noise, shape, along, across, angle, rng.uniform(0, 1, 2)))


def turned(source, shape, along, across, angle, shift=(0.0, 0.0)):
    """The source laid over the picture, turned by `angle`; one source pixel covers along × across px."""
    c, s = np.cos(angle), np.sin(angle)
    y0, x0 = shape[0] / 2, shape[1] / 2
    matrix = np.array([[c / along, s / along, 0], [-s / across, c / across, 0]])
    centre = np.array([source.shape[1] / 2 + shift[0], source.shape[0] / 2 + shift[1]])
    matrix[:, 2] = centre - matrix[:, :2] @ (x0, y0)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(source, matrix, shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)


def fractal(rng, shape, coarse, ratio, angle):
    """Octaves of noise from `coarse` px down to single pixels, stretched by `ratio` along `angle`."""
    total, grain, weight = np.zeros(shape, np.float32), coarse, 1.0
    fade = rng.uniform(0.5, 1.0)
    for _ in range(4):
        total += np.float32(weight) * stretched(rng, shape, grain * ratio, grain, angle)
        if grain < 1.5:
            break
        grain, weight = grain * rng.uniform(0.25, 0.5), weight * fade
    return standard(total)


def pieces(rng, shape, grain, ratio, angle):
    """A shipped picture laid over the field, mirrored at its borders."""
    source = photo(PHOTOS[rng.integers(len(PHOTOS))])
    scale = float(np.clip(grain / 6, 0.35, 6))
    if rng.random() < 0.5:
        source = source.T.copy()
    shift = rng.uniform(-200, 200, 2)
    return standard(np.clip(turned(source, shape, scale * ratio, scale, angle, shift), -3, 3))


def cells(rng, shape, grain, ratio, angle):
    """Distance from scattered points (or a tone for each point's cell), stretched along `angle`."""
    reach = float(np.hypot(*shape))
    size = [int(np.clip(reach / grain * 6, 60, 900)), int(np.clip(reach / grain / ratio * 6, 60, 900))]
    points = np.full(size, 1, np.uint8)
    count = max(6, size[0] * size[1] // 36)
    points[rng.integers(0, size[0], count), rng.integers(0, size[1], count)] = 0
    distance, label = cv2.distanceTransformWithLabels(points, cv2.DIST_L2, 3, labelType=cv2.DIST_LABEL_PIXEL)
    if rng.random() < 0.5:
        distance = rng.standard_normal(label.max() + 1, dtype=np.float32)[label] + 0.3 * distance
    return standard(turned(distance.astype(np.float32), shape, reach / size[1], reach / size[0], angle))


def waves(rng, shape, grain, ratio, angle):
    """Bands along `angle`, bent and broken by noise."""
    y, x = np.indices(shape, dtype=np.float32)
    across = x * np.float32(-np.sin(angle)) + y * np.float32(np.cos(angle))
    bend = stretched(rng, shape, 12 * grain * ratio, 8 * grain, angle)
    phase = across * np.float32(2 * np.pi / (2.5 * grain)) + np.float32(rng.uniform(1, 5)) * bend
    return standard(np.sin(phase) * (1 + 0.7 * stretched(rng, shape, 6 * grain * ratio, 5 * grain, angle)))


def programme(rng, shape, px_um, angle, *, streak=(1.0, 4.0), layers=(1, 3)):
    """A random sum of textures; `streak` is the range of stretch along `angle`."""
    total = np.zeros(shape, np.float32)
    for _ in range(rng.integers(layers[0], layers[1] + 1)):
        grain = float(np.clip(log_uniform(rng, 0.4, 8) / px_um, 1.2, min(shape) / 8))
        ratio = log_uniform(rng, *streak)
        kind = rng.choice(["fractal", "stretched", "pieces", "cells", "waves"], p=[0.31, 0.31, 0.21, 0.12, 0.05])
        if kind == "fractal":
            layer = fractal(rng, shape, grain * 2, ratio, angle)
        elif kind == "stretched":
            layer = stretched(rng, shape, grain * ratio, grain, angle)
        else:
            layer = {"pieces": pieces, "cells": cells, "waves": waves}[kind](rng, shape, grain, ratio, angle)
        total += np.float32(log_uniform(rng, 0.3, 1)) * layer
    bend = rng.random()
    total = standard(total)
    if bend < 0.2:
        total = -np.abs(total)
    elif bend < 0.35:
        total = np.maximum(total, np.float32(rng.uniform(-0.5, 1)))
    return np.clip(standard(total), -3.5, 3.5)
