"""What looks like a valley and is none: graphite, pull-outs, scratches along the stroke, patches, shadows; and what hides."""

import cv2
import numpy as np

from .lay import Plan
from .paint import Canvas
from .texture import clouds, line_noise, loguniform
from .tone import Look


def paint_graphite(rng: np.random.Generator, grey: np.ndarray, look: Look, pixel_size_um: float) -> None:
    """Lamellae of grey iron, curved at random, some torn out with a bright edge; drawn before the grooves cut them."""
    rows, cols = grey.shape
    sheet = np.zeros(grey.shape, np.uint8)
    typical = loguniform(rng, 8, 80) / pixel_size_um
    for _ in range(int(np.clip(loguniform(rng, 2, 60), 2, 60))):
        count = 12
        length = typical * np.exp(rng.normal(0, 0.4))
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, count)) + rng.normal(0, 0.08) * np.arange(count)
        steps = length / count * np.stack([np.cos(turn), np.sin(turn)], 1)
        path = rng.uniform(0, 1, 2) * (cols, rows) + np.cumsum(steps, 0)
        thick = np.clip(rng.uniform(0.6, 3) / pixel_size_um, 1, 12)
        for first, (start, stop) in enumerate(zip(path[:-1], path[1:], strict=True)):
            wide = max(int(round(thick * np.sin(np.pi * (first + 1) / count))), 1)
            cv2.line(sheet, tuple(np.int32(start * 8)), tuple(np.int32(stop * 8)), 255, wide, cv2.LINE_AA, 3)
    flake = sheet.astype(np.float32) / 255
    if rng.uniform() < 0.4:
        grey += 0.25 * rng.uniform(0, 1) * np.clip(cv2.GaussianBlur(flake, (0, 0), 1.5) - flake, 0, 1)
    grey += flake * (look.graphite + 0.08 * clouds(rng, grey.shape, 2.0))


def paint_scratches(rng: np.random.Generator, grey: np.ndarray, plan: Plan, pixel_size_um: float) -> None:
    """Single lines along the stroke, shallower than 0.5 µm, dark or bright, straight or swaying."""
    rows, cols = grey.shape
    turn = np.deg2rad(plan.stroke_deg)
    way = np.array([np.cos(turn), np.sin(turn)])
    reach = np.hypot(rows, cols)
    sheet = np.zeros(grey.shape, np.float32)
    for _ in range(int(loguniform(rng, 1, 14))):
        middle = rng.uniform(0, 1, 2) * (cols, rows)
        half = reach * loguniform(rng, 0.1, 1)
        at = np.linspace(-half, half, 24)
        path = middle + at[:, None] * way + (line_noise(rng, 24, 10) * rng.uniform(0, 2))[:, None] * way[::-1] * (-1, 1)
        wide = int(np.clip(loguniform(rng, 0.5, 6) / pixel_size_um, 1, 9))
        tone = float(rng.choice([-1, -1, 1]) * loguniform(rng, 0.05, 0.35))
        # a grain bites and lets go gently: a scratch fades towards both ends
        for first, (start, stop) in enumerate(zip(path[:-1], path[1:], strict=True)):
            seen = tone * float(min(1.0, 0.15 + 5 * min(first, 22 - first) / 22))
            cv2.line(sheet, tuple(np.int32(start)), tuple(np.int32(stop)), seen, wide)
    grey += cv2.GaussianBlur(sheet, (0, 0), rng.uniform(0.5, 1.2))


def paint_patches(rng: np.random.Generator, grey: np.ndarray, pixel_size_um: float) -> None:
    """Stains, oil or tribofilm: flat tones with soft or sharp edges that take no notice of the grooves below."""
    lot = clouds(rng, grey.shape, np.clip(loguniform(rng, 8, 120) / pixel_size_um, 8, 150))
    lot += 0.25 * clouds(rng, grey.shape, 8)
    patch = np.clip((lot - rng.uniform(0.6, 1.8)) * loguniform(rng, 1, 15), 0, 1)
    grey += patch * rng.choice([-1, -1, 1]) * loguniform(rng, 0.05, 0.3)


def paint_debris(rng: np.random.Generator, canvas: Canvas, look: Look, pixel_size_um: float) -> None:
    """Grains that hide the surface (255) with a shadow away from the detector, which hides nothing."""
    rows, cols = canvas.codes.shape
    for _ in range(int(loguniform(rng, 1, 25))):
        radius = float(np.clip(loguniform(rng, 0.5, 12) / pixel_size_um, 1.5, 25))
        angle = np.linspace(0, 2 * np.pi, 20, endpoint=False)
        edge = radius * np.clip(1 + 0.35 * line_noise(rng, 20, 2), 0.4, 1.7)
        middle = rng.uniform(0, 1, 2) * (cols, rows)
        outline = middle + edge[:, None] * np.stack([np.cos(angle), np.sin(angle) * rng.uniform(0.5, 1)], 1)
        grain, shade = np.zeros((rows, cols), np.uint8), np.zeros((rows, cols), np.uint8)
        cv2.fillPoly(grain, [np.int32(np.rint(outline))], 1)
        cv2.fillPoly(shade, [np.int32(np.rint(outline - radius * 0.7 * np.array(look.detector)))], 1)
        hidden = grain > 0
        canvas.grey[(shade > 0) & ~hidden] -= rng.uniform(0.05, 0.3)
        if hidden.any():
            rim = cv2.GaussianBlur(grain.astype(np.float32), (0, 0), max(radius / 3, 0.8))
            tone = rng.uniform(0.8, 1.7) + 0.4 * (1 - rim[hidden])
            canvas.grey[hidden] = tone + 0.1 * rng.standard_normal(int(hidden.sum()))
            canvas.codes[hidden] = 255


def paint_charging(rng: np.random.Generator, canvas: Canvas) -> None:
    """A charged spot whose glow runs on along the scanned lines; hidden where it drowns the surface."""
    rows, cols = canvas.codes.shape
    down = (np.arange(rows) - rng.uniform(0, rows))[:, None] / loguniform(rng, 2, 12)
    right = (np.arange(cols) - rng.uniform(0, cols))[None, :] / loguniform(rng, 8, 80)
    glow = np.exp(-(down**2) - np.where(right > 0, right / 2, right**2))
    glow = (glow * np.clip(1 + 0.3 * line_noise(rng, rows, 1.5), 0.3, 1.7)[:, None]).astype(np.float32)
    canvas.grey += rng.uniform(0.8, 1.5) * glow
    canvas.codes[glow > 0.5] = 255
