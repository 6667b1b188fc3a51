"""Things that are no valleys: graphite, pull-outs, stains, oil, long scratches, debris with its shadow. Lengths in µm unless said."""

import cv2
import numpy as np

from .textures import cells, filtered, loguniform, wave


def graphite(rng: np.random.Generator, picture: np.ndarray, pixel: float) -> None:
    """Flakes of graphite, thin curved and dark, and pull-outs with a torn bright border, painted in place."""
    rows, cols = picture.shape
    area = rows * cols * pixel**2
    count = int(np.clip(area * loguniform(rng, 1e-5, 1.2e-3), 1, 120))
    sheet, rim = np.zeros(picture.shape, np.uint8), np.zeros(picture.shape, np.uint8)
    long, thick = min(loguniform(rng, 8, 80), 0.4 * pixel * min(rows, cols)), loguniform(rng, 0.6, 4)
    pulled = rng.uniform(0, 0.5)
    for _ in range(count):
        x, y, turn = rng.uniform(0, cols), rng.uniform(0, rows), rng.uniform(0, 2 * np.pi)
        size = long * np.exp(0.5 * rng.standard_normal()) / pixel
        if rng.random() < pulled:
            a = np.linspace(0, 2 * np.pi, 32, endpoint=False)
            torn = 1 + 0.2 * wave(rng, 32, 4) + 0.1 * rng.standard_normal(32)
            r = np.clip(size * 0.12, 1.5, 0.06 * min(rows, cols)) * np.clip(torn, 0.4, 1.6)
            ring = np.stack([x + r * np.cos(a + turn) * rng.uniform(1, 2.5), y + r * np.sin(a + turn)], 1)
            grey, thickness = int(rng.uniform(50, 255)), int(rng.integers(1, 4))
            cv2.polylines(rim, [np.round(ring * 8).astype(np.int32)], True, grey, thickness, cv2.LINE_AA, 3)
            cv2.fillPoly(sheet, [np.round(ring * 8).astype(np.int32)], int(rng.uniform(150, 255)), cv2.LINE_AA, 3)
            continue
        n = max(int(size / 4), 5)
        heading = turn + np.linspace(0, rng.normal(0, 1.2), n) + 0.35 * wave(rng, n, 3)
        path = np.array([x, y]) + np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1), 0) * size / n
        w = thick / pixel * np.clip(np.sin(np.linspace(0.15, 3.0, n)) * (1 + 0.4 * wave(rng, n, 2)), 0.15, 2) / 2
        side = np.stack([-np.sin(heading), np.cos(heading)], 1) * w[:, None]
        body = np.concatenate([path + side, (path - side)[::-1]])
        cv2.fillPoly(sheet, [np.round(body * 8).astype(np.int32)], int(rng.uniform(120, 255)), cv2.LINE_AA, 3)
    dark = sheet.astype(np.float32) / 255
    picture += rim.astype(np.float32) / 255 * loguniform(rng, 0.03, 0.4) * (1 - dark)
    floor = 1 - rng.uniform(0, 0.3) * np.clip(filtered(rng, picture.shape, loguniform(rng, 1, 5)), -1, 1.5)
    picture *= np.clip(1 - dark * loguniform(rng, 0.2, 0.85) * floor, 0.05, 1)


def veils(rng: np.random.Generator, picture: np.ndarray, stroke: float) -> None:
    """Stains with soft borders and oil or tribofilm with sharp ones, painted in place; a film also hides fine grain."""
    size = loguniform(rng, 12, 130)
    sheet = filtered(rng, picture.shape, size * loguniform(rng, 1, 4), size, stroke)
    sharp = loguniform(rng, 0.8, 20)
    film = 1 / (1 + np.exp(-np.clip(sharp * (sheet - rng.uniform(0.2, 1.8)), -30, 30)))
    depth = loguniform(rng, 0.03, 0.35) * (1 if rng.random() < 0.25 else -1)
    if sharp > 3:
        picture += film * rng.uniform(0, 0.5) * (cv2.GaussianBlur(picture, (0, 0), loguniform(rng, 0.8, 3)) - picture)
    picture *= 1 + depth * film


def scratches(rng: np.random.Generator, shape: tuple[int, int], pixel: float, stroke: float) -> np.ndarray:
    """Scratches along the stroke, shallower than 0.5 µm: signed grey, a dark line with one bright side."""
    rows, cols = shape
    sheet = np.zeros(shape, np.float32)
    way, normal = np.array([np.cos(stroke), np.sin(stroke)]), np.array([-np.sin(stroke), np.cos(stroke)])
    for _ in range(int(loguniform(rng, 1, 30))):
        n = 12
        long = loguniform(rng, 0.1, 2.0) * max(shape)
        middle = rng.uniform(0, 1, 2) * [cols, rows]
        path = middle + np.linspace(-0.5, 0.5, n)[:, None] * long * way + (0.6 * wave(rng, n, 5))[:, None] * normal
        thick = max(int(loguniform(rng, 0.4, 5) / pixel), 1)
        grey = rng.uniform(0.2, 1)
        cv2.polylines(sheet, [np.round((path + normal * (thick * 0.5 + 0.5)) * 8).astype(np.int32)], False, 0.7 * grey, 1, cv2.LINE_8, 3)
        cv2.polylines(sheet, [np.round(path * 8).astype(np.int32)], False, -grey, thick, cv2.LINE_8, 3)
    return cv2.GaussianBlur(sheet, (0, 0), 0.7)


def debris(rng: np.random.Generator, picture: np.ndarray, codes: np.ndarray, pixel: float, light: np.ndarray) -> None:
    """Particles lying on the surface, bright or glowing, each with a shadow on the side away from the detector; painted in place
    and written as 255 (the shadow keeps its state)."""
    rows, cols = picture.shape
    body, shade = np.zeros((2, rows, cols), np.uint8)
    spread = loguniform(rng, 1, 12)
    for _ in range(int(loguniform(rng, 1, 14))):
        size = np.clip(spread * np.exp(0.5 * rng.standard_normal()) / pixel, 1.5, 0.12 * min(rows, cols))
        middle = rng.uniform(0, 1, 2) * [cols, rows]
        a = np.linspace(0, 2 * np.pi, 11, endpoint=False)
        r = size * np.clip(1 + 0.3 * rng.standard_normal(11), 0.4, 1.7)
        ring = middle + np.stack([r * np.cos(a), r * np.sin(a) * rng.uniform(0.5, 1)], 1)
        cv2.fillPoly(shade, [np.round((ring - light * size * rng.uniform(0.2, 1.2)) * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)
        cv2.fillPoly(body, [np.round(ring * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)
    soft = cv2.GaussianBlur(shade, (0, 0), loguniform(rng, 0.8, 5)).astype(np.float32) / 255
    picture *= 1 - soft * rng.uniform(0.0, 0.5)
    grain = cells(rng, picture.shape, max(1.5, spread / pixel / 3))
    cover = body.astype(np.float32) / 255
    glow = cv2.GaussianBlur(body, (0, 0), 2.5).astype(np.float32) / 255
    edge = np.clip(4 * cover * (1 - glow), 0, 1)
    picture += cover * (rng.uniform(0.85, 1.7) + 0.15 * grain + 0.4 * edge - picture)
    codes[body > 127] = 255


def charging(rng: np.random.Generator, picture: np.ndarray, codes: np.ndarray) -> None:
    """A patch that charges up and flares along the scan lines, hidden from judgement where it glares."""
    size = loguniform(rng, 10, 50)
    sheet = filtered(rng, picture.shape, size * 2.5, size * 0.7)
    rows = 0.5 * rng.standard_normal((picture.shape[0], 1)).astype(np.float32)
    glare = np.clip((sheet + 0.3 * rows - rng.uniform(1.5, 2.3)) * 2.5, 0, 1)
    picture += glare * (rng.uniform(1.5, 2.0) + 0.1 * rows - picture) * 0.95
    codes[glare > 0.6] = 255
