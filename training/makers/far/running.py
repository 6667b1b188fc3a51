"""What the stroke leaves: scuffed streaks, scratches, fine marks; and what lies in or on the iron: graphite, films, debris."""

import math

import cv2
import numpy as np

from .chance import blur, canvas_side, cloth, line, ramp, stroke_cloth, turned
from .recipe import log_uniform


def scuffed_ground(rng, specimen, stroke):
    """Mask of torn streaks, their height (µm) and their tone; all along the stroke."""
    wear, pixel, shape = specimen.wear, specimen.pixel, specimen.shape
    side = canvas_side(shape)
    mask = np.zeros((side, side), bool)
    ridges = np.zeros((side, side), np.float32)
    inner = (side - min(shape)) // 2
    broad = wear.scuff > 0.3
    taken, tries = 0.0, 0
    while taken < wear.scuff * 1.15 and tries < 60:
        tries += 1
        half = min(log_uniform(rng, 15, 90) if broad else log_uniform(rng, 2, 22), 0.22 * side * pixel) / pixel / 2
        half = max(half, 4.0)
        row = int(rng.uniform(inner, side - inner))
        length = side * (rng.uniform(0.5, 2) if broad or rng.random() < 0.6 else rng.uniform(0.08, 0.5))
        start = rng.uniform(-0.3 * length, side - 0.5 * length)
        place = (np.arange(side) - start) / length
        inside = np.clip(4 * place * (1 - place), 0, 1) ** rng.uniform(0.2, 0.7)
        reach = int(half * 2.2 + 6)
        top, bottom = max(row - reach, 0), min(row + reach, side)
        offset = np.arange(top, bottom)[:, None] - row - (0.2 * half + 1) * line(rng, side, max(60, 30 * half))[None, :]
        ragged = 0.18 * cloth(rng, offset.shape, max(1.5, half / 3), max(9, half * 3))
        ragged += 0.18 * cloth(rng, offset.shape, max(1.5, half / 5), max(5, half * rng.uniform(0.8, 6)))
        edge = half * (
            inside[None, :] * (1 + ragged + 0.25 * line(rng, side, max(40, rng.uniform(4, 20) * half))[None, :]) - 0.1
        )
        streak = (np.abs(offset) < edge) & (edge > 1.2)
        mask[top:bottom] |= streak
        piled = rng.uniform(0, 0.6) * np.exp(-(((np.abs(offset) - edge) / max(1.0, 0.6 / pixel)) ** 2)) * (edge > 1.2)
        ridges[top:bottom] = np.maximum(ridges[top:bottom], piled)
        taken += 2 * half * min(length, side) * 0.75 / side**2 * 1.2
    # Torn ground: scales that rise slowly and break off steeply along the stroke, over parallel furrows.
    scale = log_uniform(rng, 1.2, 6) / pixel
    torn = np.zeros((side, side), np.float32)
    for size, weight in ((scale, 0.6), (2.3 * scale, 0.4)):
        lanes = cloth(rng, (side, side), size, 9 * size) + 0.25 * cloth(rng, (side, side), max(1.2, size / 3))
        rise = np.mod(np.arange(side)[None, :] / (rng.uniform(2.5, 6) * size) + 1.3 * lanes, 1)
        torn += weight * rise * np.clip(0.6 + 0.6 * cloth(rng, (side, side), 2 * size, 4 * size), 0, 1.4)
    furrows = cloth(rng, (side, side), max(1.2, 0.7 / pixel), 30 / pixel)
    deep = cloth(rng, (side, side), 3 / pixel, 90 / pixel)
    grit = cloth(rng, (side, side), max(1.0, 0.5 / pixel)) + cloth(
        rng, (side, side), max(1.0, 1.2 / pixel), 2.5 / pixel
    )
    tearing = rng.uniform(0.2, 1.0)
    height = tearing * 0.8 * torn + (1.1 - tearing) * (0.25 * furrows + 0.35 * deep) + rng.uniform(0.04, 0.14) * grit
    height *= rng.uniform(0.6, 1.4)
    tone = rng.choice([rng.uniform(-0.16, -0.06), rng.uniform(0.06, 0.16), rng.uniform(-0.03, 0.03)])
    mottle = tone + 0.05 * cloth(rng, (side, side), 2 * scale, 6 * scale)
    mask = turned(mask.astype(np.uint8), stroke, shape, nearest=True)
    mask = cv2.medianBlur(mask, 3) > 0
    return mask, turned(height, stroke, shape), turned(ridges, stroke, shape), turned(mottle, stroke, shape)


def stroke_marks(rng, specimen, stroke):
    """Height of fine marks along the stroke on worn ground (µm)."""
    pixel = specimen.pixel
    fine = stroke_cloth(rng, specimen.shape, stroke, max(1.0, 0.4 / pixel), log_uniform(rng, 40, 300) / pixel)
    wide = stroke_cloth(rng, specimen.shape, stroke, 3.5 / pixel, log_uniform(rng, 80, 500) / pixel)
    patch = ramp(cloth(rng, specimen.shape, specimen.shape[0] / 3), -1.2, 0.6)
    return specimen.wear.marks * (fine + 0.6 * wide) * (0.5 + 0.5 * patch)


def scratches(rng, specimen, stroke, count):
    """Height of single scratches close to the stroke's direction (µm, negative, with thrown-up sides): plateau."""
    side, pixel = canvas_side(specimen.shape), specimen.pixel
    canvas = np.zeros((side, side), np.float32)
    for _ in range(count):
        half = max(0.8, log_uniform(rng, 0.5, 5) / pixel / 2)
        row = rng.uniform(0, side)
        start, stop = sorted(rng.uniform(-0.5, 1.5, 2) * side)
        if stop < 2 or start > side - 2:
            continue
        columns = slice(max(int(start), 0), int(stop))
        reach = int(3 * half + 3 + half)
        top, bottom = max(int(row) - reach, 0), min(int(row) + reach, side)
        centre = row + half * 0.5 * line(rng, side, side / 2)
        across = ((np.arange(top, bottom)[:, None] - centre[None, :]) / half)[:, columns]
        depth = log_uniform(rng, 0.25, 1.2)
        cut = -depth * np.exp(-(across**2)) + 0.25 * depth * np.exp(-((np.abs(across) - 1.7) ** 2) * 4)
        strength = 0.65 + 0.35 * line(rng, side, side / 6)[None, columns]
        canvas[top:bottom, columns] += cut * np.clip(strength, 0, 1.2)
    return turned(canvas, stroke + rng.normal(0, 1), specimen.shape)


def graphite(rng, specimen):
    """Share of each pixel that is graphite: curved flakes of grey iron, some torn out."""
    shape, pixel = specimen.shape, specimen.pixel
    canvas = np.zeros(shape, np.uint8)
    area = shape[0] * shape[1]
    taken = 0.0
    for _ in range(400):
        if taken > specimen.graphite * area:
            break
        length = specimen.graphite_size * math.exp(rng.normal(0, 0.5)) / pixel
        thick = max(1.3, length * log_uniform(rng, 0.04, 0.14))
        count = int(np.clip(length / (0.25 * thick), 8, 120))
        heading = rng.uniform(0, 2 * math.pi) + np.cumsum(rng.normal(0, 1 / math.sqrt(count), count))
        step = length / count
        xs = rng.uniform(0, shape[1]) + np.cumsum(np.cos(heading)) * step
        ys = rng.uniform(0, shape[0]) + np.cumsum(np.sin(heading)) * step
        body = np.sin(np.linspace(0.12, math.pi - 0.12, count)) ** 0.7
        for x, y, r in zip(xs, ys, thick / 2 * body * (1 + 0.25 * line(rng, count, count / 5)), strict=True):
            cv2.circle(canvas, (int(x * 8), int(y * 8)), max(int(r * 8), 5), 255, -1, cv2.LINE_AA, 3)
        taken += 0.75 * length * thick
    return blur(canvas.astype(np.float32) / 255, 0.6)


def films(rng, specimen, stroke):
    """Tone of oil and tribofilm islands, drawn out along the stroke."""
    cell = log_uniform(rng, 4, 25) / specimen.pixel
    ground = stroke_cloth(rng, specimen.shape, stroke, cell, cell * log_uniform(rng, 1.2, 8))
    ground += 0.5 * cloth(rng, specimen.shape, max(1.5, cell / 5))
    limit = np.quantile(ground[::4, ::4], 1 - specimen.wear.film)
    tone = rng.choice([-1, -1, -1, 0.5]) * rng.uniform(0.05, 0.15)
    return (tone * ramp(ground, limit - 0.15, limit + 0.15)).astype(np.float32)


def stains(rng, specimen):
    """Tone of dried drops, on any ground."""
    canvas = np.zeros(specimen.shape, np.float32)
    for _ in range(rng.integers(0, 3)):
        radius = log_uniform(rng, 15, 120) / specimen.pixel
        y, x = rng.uniform(0, specimen.shape[0]), rng.uniform(0, specimen.shape[1])
        rows, columns = np.ogrid[: specimen.shape[0], : specimen.shape[1]]
        away = np.hypot(rows - y, columns - x) / radius + 0.18 * cloth(rng, specimen.shape, radius / 1.5)
        canvas -= rng.uniform(0.02, 0.1) * (1 - ramp(away, 0.9, 1.1)) - 0.03 * np.exp(-(((away - 1) / 0.06) ** 2))
    return canvas


def debris(rng, specimen):
    """Lumps on the surface: their mask, height (µm) and tone."""
    shape, pixel = specimen.shape, specimen.pixel
    canvas = np.zeros(shape, np.uint8)
    count = rng.poisson(specimen.debris * 4)
    for _ in range(count):
        radius = max(1.8, min(log_uniform(rng, 0.6, 9) / pixel, 40))
        corners = rng.integers(6, 13)
        turn = np.sort(rng.uniform(0, 2 * math.pi, corners))
        reach = radius * rng.uniform(0.6, 1.25, corners)
        x, y = rng.uniform(0, shape[1]), rng.uniform(0, shape[0])
        points = np.stack([x + reach * np.cos(turn), y + reach * np.sin(turn)], axis=1)
        cv2.fillPoly(canvas, [np.round(points).astype(np.int32)], 1)
    return canvas > 0
