"""What lies on the ground beside grooves: finishing marks, scratches, graphite, films, debris, torn streaks."""

import cv2
import numpy as np

from .texture import grain, log_uniform


def marks(rng: np.random.Generator, shape, pixel_size_um: float, angle_rad: float, spread: float) -> np.ndarray:
    """Fine parallel marks shallower than 0.5 µm, as grey of about this spread."""
    width = log_uniform(rng, 0.3, 2.5) / pixel_size_um
    long = log_uniform(rng, 30, 400) / pixel_size_um
    lines = grain(rng, shape, long, width, angle_rad)
    if rng.random() < 0.5:
        lines = np.sign(lines) * np.maximum(np.abs(lines) - rng.uniform(0.5, 1.6), 0) * 1.5
    return spread * lines


def scratches(rng: np.random.Generator, tone: np.ndarray, pixel_size_um: float, stroke_rad: float) -> None:
    """A few scratches along the stroke, each a dark or bright line, shallower than a valley."""
    for _ in range(rng.integers(1, 9)):
        angle = stroke_rad + np.radians(rng.normal(0, 1.5))
        reach = log_uniform(rng, 0.1, 1.5) * max(tone.shape)
        x, y = rng.uniform(0, tone.shape[1]), rng.uniform(0, tone.shape[0])
        line = np.zeros(tone.shape, np.float32)
        ends = [(int(x + s * reach / 2 * np.cos(angle)), int(y + s * reach / 2 * np.sin(angle))) for s in (-1, 1)]
        cv2.line(line, *ends, 1.0, int(np.clip(rng.uniform(0.3, 2.5) / pixel_size_um, 1, 6)), cv2.LINE_AA)
        tone += rng.uniform(-0.2, 0.2) * line


def graphite(rng: np.random.Generator, shape, pixel_size_um: float) -> np.ndarray:
    """Cover 0–1 of graphite flakes, curved blades 10–120 µm long, and of pull-outs where one fell out."""
    cover = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 / 1e6
    count = min(int(rng.poisson(area_mm2 * log_uniform(rng, 60, 900))) + rng.integers(0, 3), 90)
    for _ in range(count):
        angle, bend = rng.uniform(0, 2 * np.pi), rng.normal(0, 0.25)
        step = log_uniform(rng, 10, 120) / pixel_size_um / 10
        turns = angle + np.cumsum(bend * 0.5 + rng.normal(0, 0.12, 10))
        points = np.cumsum(step * np.column_stack([np.cos(turns), np.sin(turns)]), axis=0)
        points += rng.uniform(0, 1, 2) * shape[::-1] - points[5]
        thick = int(np.clip(log_uniform(rng, 0.6, 4) / pixel_size_um, 1, 9))
        cv2.polylines(cover, [np.rint(points).astype(np.int32)], False, 255, thick, cv2.LINE_AA)
        if rng.random() < 0.15:
            size = np.maximum(np.array([log_uniform(rng, 2, 14), log_uniform(rng, 1, 5)]) / pixel_size_um, 1)
            cv2.ellipse(cover, (points[5].tolist(), size.tolist(), np.degrees(angle)), 255, -1, cv2.LINE_AA)
    return cover.astype(np.float32) / 255


def films(rng: np.random.Generator, shape, pixel_size_um: float, stroke_rad: float) -> np.ndarray:
    """Grey of stains of oil or patches of tribofilm, soft or sharp of edge."""
    size = log_uniform(rng, 10, 200) / pixel_size_um
    patch = grain(rng, shape, size * rng.uniform(1, 5), size, stroke_rad) + 0.25 * grain(rng, shape, size / 5, size / 5)
    return rng.uniform(-0.25, 0.12) * np.clip((patch - rng.uniform(0.3, 1.5)) * log_uniform(rng, 1, 12), 0, 1)


def torn_streaks(rng: np.random.Generator, shape, pixel_size_um: float, stroke_rad: float, heavy: bool) -> np.ndarray:
    """Where metal was torn by adhesion: ragged streaks along the stroke."""
    wide = log_uniform(rng, 6, 60 if heavy else 30)
    wide = float(np.clip(wide / pixel_size_um, 5, max(shape) / 4))
    long = wide * log_uniform(rng, 5, 25)
    field = grain(rng, shape, long, wide, stroke_rad) + 0.22 * grain(rng, shape, wide, max(wide / 6, 1.5), stroke_rad)
    share = rng.uniform(0.2, 0.7) if heavy else rng.uniform(0.03, 0.2)
    torn = (field > np.quantile(field, 1 - share)).astype(np.uint8)
    return cv2.morphologyEx(torn, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)).astype(bool)


def torn_grey(rng: np.random.Generator, shape, pixel_size_um: float, stroke_rad: float, detector_rad: float):
    """Grey of torn metal: ploughed ridges along the stroke, bright crests, lumps lit from the detector's side."""
    ridge = log_uniform(rng, 0.8, 4) / pixel_size_um
    ploughed = grain(rng, shape, ridge * rng.uniform(4, 15), max(ridge, 1.3), stroke_rad)
    lumps = grain(rng, shape, 2.5 * ridge, 2 * ridge, stroke_rad)
    height = ploughed + rng.uniform(0.4, 1.4) * lumps
    lit = np.cos(detector_rad) * cv2.Sobel(height, cv2.CV_32F, 1, 0) + np.sin(detector_rad) * cv2.Sobel(height, cv2.CV_32F, 0, 1)
    crest = np.clip(height - 0.9, 0, 2)
    grey = rng.uniform(0.08, 0.2) * lit / (lit.std() + 1e-6) + rng.uniform(0.15, 0.4) * crest + rng.uniform(0.03, 0.15) * ploughed
    return grey + rng.uniform(-0.2, 0.15)


def debris(rng: np.random.Generator, shape, pixel_size_um: float, detector_rad: float):
    """Grey of loose particles and of the shadow beside each, away from the detector; and the pixels that they hide."""
    grey, hides = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    shadow = np.zeros(shape, np.float32)
    for _ in range(rng.integers(1, 9)):
        radius = float(np.clip(log_uniform(rng, 1, 15) / pixel_size_um, 2, 26))
        turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
        spokes = radius * rng.uniform(0.6, 1.2, 12)
        middle = rng.uniform(0, 1, 2) * shape[::-1]
        outline = middle + np.column_stack([spokes * np.cos(turn), spokes * np.sin(turn)])
        away = radius * rng.uniform(0.4, 1.2) * np.array([np.cos(detector_rad), np.sin(detector_rad)])
        cv2.fillPoly(shadow, [np.rint(outline - away).astype(np.int32)], -rng.uniform(0.1, 0.4))
        cv2.fillPoly(hides, [np.rint(outline).astype(np.int32)], 1)
    shadow = cv2.GaussianBlur(shadow, (0, 0), 1.5)
    lump = cv2.GaussianBlur(hides.astype(np.float32), (0, 0), 2.5)
    relief = np.cos(detector_rad) * cv2.Sobel(lump, cv2.CV_32F, 1, 0) + np.sin(detector_rad) * cv2.Sobel(lump, cv2.CV_32F, 0, 1)
    grey = rng.uniform(0.05, 0.7) - 0.3 * relief + 0.1 * grain(rng, shape, 2, 2)
    return np.where(hides > 0, grey, shadow), hides > 0
