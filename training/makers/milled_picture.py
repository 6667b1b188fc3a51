"""Secondary-electron pictures of milled height maps: look-alikes, signal, instrument, and what of the truth can be seen.

The signal is a sum of slope towards the detector, yield of steep ground, edge brightening (height over its neighbourhood
within the electron range), starved escape from deep ground, and tones of floors and materials. These parts are as commonly
taught (Reimer, Scanning Electron Microscopy, from memory); their gains are drawn freely.
"""

import cv2
import numpy as np


def smooth_field(rng: np.random.Generator, rows: int, cols: int, rows_px: float, cols_px: float) -> np.ndarray:
    """Smooth noise of about unit spread, (rows, cols) float32, features of rows_px by cols_px."""
    if min(rows_px, cols_px) >= 3:  # rounded: knots at half the distance, averaged
        knots = (int(2 * rows / rows_px) + 5, int(2 * cols / cols_px) + 5)
        grid = cv2.GaussianBlur(rng.standard_normal(knots, dtype=np.float32), (5, 5), 1.0) * np.float32(3.4)
        return cv2.resize(grid[1:-1, 1:-1], (cols, rows), interpolation=cv2.INTER_LINEAR)
    if max(rows_px, cols_px) < 8:
        grain = rng.standard_normal((rows, cols), dtype=np.float32)
        wide, high = max(cols_px / 2.4, 0.3), max(rows_px / 2.4, 0.3)
        gain = np.sqrt(max(2 * np.sqrt(np.pi) * wide, 1.0) * max(2 * np.sqrt(np.pi) * high, 1.0))
        return cv2.GaussianBlur(grain, (0, 0), wide, sigmaY=high) * np.float32(gain)
    knots = (int(rows / max(rows_px, 1.0)) + 3, int(cols / max(cols_px, 1.0)) + 3)
    grid = rng.standard_normal(knots, dtype=np.float32)
    if knots[0] >= rows and knots[1] >= cols:
        return grid[:rows, :cols]
    return cv2.resize(grid, (cols, rows), interpolation=cv2.INTER_LINEAR) * np.float32(1.35)


def _blob(rng: np.random.Generator, ink: np.ndarray, radius_px: float) -> None:
    """Fill one rounded, lopsided blob of about this radius into ink (uint8), anywhere."""
    spin = np.linspace(0, 2 * np.pi, 20, endpoint=False)
    lobes = rng.normal(0, (0.22, 0.15, 0.12, 0.08, 0.06))
    reach = radius_px * np.clip(1 + np.cos(np.outer(spin, (2, 3, 4, 6, 7)) + rng.uniform(0, 6, 5)) @ lobes, 0.25, 2)
    outline = rng.uniform(0, 1, 2) * ink.shape[::-1] + np.c_[np.cos(spin) * reach, np.sin(spin) * reach]
    cv2.fillPoly(ink, [np.round(outline * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)


def look_alikes(
    rng: np.random.Generator, shape: tuple[int, int], px: float, stroke, ran: bool
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Graphite, pull-outs, stains, scratches, handling marks, contamination squares, debris.

    stroke is the frame of the stroke (direction_deg, radius, to_picture). Returns pits and bumps (µm), material tone (fraction, darker < 0) and the debris (uint8), all (rows, cols).
    """
    rows, cols = shape
    relief, tone = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    area_mm2 = rows * cols * px * px * 1e-6
    ink = np.zeros(shape, np.uint8)
    if rng.random() < 0.35:  # lamellar graphite
        for _ in range(min(rng.poisson(rng.uniform(30, 500) * area_mm2), 90)):
            steps, turn = rng.integers(4, 9), rng.uniform(0, 2 * np.pi)
            bends = turn + np.cumsum(rng.normal(0, 0.35, steps))
            stride = rng.uniform(3, 12) / px
            path = rng.uniform(0, 1, 2) * (cols, rows) + np.cumsum(np.c_[np.cos(bends), np.sin(bends)] * stride, axis=0)
            thick = max(1, round(rng.uniform(0.8, 3.5) / px))
            path = np.round(path * 8).astype(np.int32)
            cv2.polylines(ink, [path], False, 255, max(thick // 2, 1), cv2.LINE_AA, 3)
            cv2.polylines(ink, [path[1:-1]], False, 255, thick, cv2.LINE_AA, 3)  # thinner towards the tips
        depth = ink.astype(np.float32) * np.float32(1 / 255)
        relief -= depth * np.float32(rng.uniform(0, 0.8))
        tone -= depth * np.float32(rng.uniform(0.3, 0.9))
    if rng.random() < 0.4:  # pull-outs
        ink[:] = 0
        for _ in range(min(rng.poisson(rng.uniform(20, 400) * area_mm2), 80)):
            _blob(rng, ink, np.exp(rng.normal(np.log(3.5), 0.6)) / px)
        relief -= ink.astype(np.float32) * np.float32(rng.uniform(0.6, 2.5) / 255)
        tone -= ink.astype(np.float32) * np.float32(rng.uniform(0.1, 0.6) / 255)
    if rng.random() < 0.33:  # stains, oil, tribofilm
        scale = rng.uniform(8, 80) / px
        size = 2 * stroke.radius
        if ran and rng.random() < 0.7:
            patch = stroke.to_picture(smooth_field(rng, size, size, scale / 2, scale * rng.uniform(1, 6)))
        else:
            patch = smooth_field(rng, rows, cols, scale, scale)
        patch = np.clip((patch - rng.uniform(0.3, 1.5)) * rng.uniform(1, 6), 0, 1)
        tone += patch * np.float32(rng.uniform(-0.3, 0.2))
    if rng.random() < 0.5:  # scratches along the stroke, and hairlines of handling
        ink[:] = 0
        for _ in range(rng.integers(1, 7)):
            angle = np.radians(
                stroke.direction_deg + rng.normal(0, 1.5) if rng.random() < 0.75 else rng.uniform(0, 180)
            )
            start, length = rng.uniform(0, 1, 2) * (cols, rows), rng.uniform(0.2, 1.5) * max(shape)
            ends = np.array([start, start + length * np.array([np.cos(angle), -np.sin(angle)])])
            ends = np.round(np.clip(ends, -4 * max(shape), 4 * max(shape)) * 8).astype(np.int32)
            cv2.polylines(
                ink, [ends], False, int(rng.integers(60, 255)), max(1, round(rng.uniform(0.6, 3) / px)), cv2.LINE_AA, 3
            )
        relief -= ink.astype(np.float32) * np.float32(rng.uniform(0.2, 1.2) / 255)
    if rng.random() < 0.06:  # the square that an earlier, closer scan left
        r, c = rng.integers(0, rows), rng.integers(0, cols)
        tone[r : r + rows // 3, c : c + cols // 3] -= np.float32(rng.uniform(0.05, 0.2))
    debris = np.zeros(shape, np.uint8)
    if rng.random() < 0.3:
        for _ in range(rng.integers(1, 9)):
            _blob(rng, debris, max(np.exp(rng.normal(np.log(3.0), 0.6)) / px, 1.5))
        debris = (debris > 127).astype(np.uint8)
        bulk = cv2.GaussianBlur(debris.astype(np.float32), (0, 0), max(0.6 / px, 0.6))
        relief += bulk * (1 + np.float32(0.3) * smooth_field(rng, rows, cols, 1.5 / px, 1.5 / px))
        tone += debris * np.float32(rng.uniform(0.05, 0.6))
        shadow = cv2.GaussianBlur(debris.astype(np.float32), (0, 0), max(2 / px, 1.0))
        tone -= (1 - debris) * shadow * np.float32(rng.uniform(0, 0.6))
    return relief, tone, debris


def electrons(
    rng: np.random.Generator, height: np.ndarray, floor: np.ndarray, material: np.ndarray, px: float
) -> np.ndarray:
    """Secondary signal of a height map (µm) with floor darkening and material tones; (rows, cols) float32, plateau near 0."""
    spread_px = max(rng.uniform(0.08, 0.7) / px, 0.45)
    smooth = cv2.GaussianBlur(height, (0, 0), spread_px)
    right = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * px))
    down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * px))
    side = rng.uniform(0, 2 * np.pi)
    facing = np.float32(np.cos(side)) * right + np.float32(np.sin(side)) * down
    kneed = np.float32(rng.uniform(0.15, 0.5))
    signal = np.float32(rng.uniform(0.02, 0.55)) * facing / (kneed + np.abs(facing))
    steep = right * right + down * down
    signal += np.float32(rng.uniform(0.0, 0.5)) * steep / (steep + np.float32(rng.uniform(0.05, 0.3)))
    edge_px = max(rng.uniform(0.4, 1.6) / px, 1.2)
    over = smooth - cv2.GaussianBlur(smooth, (0, 0), edge_px)
    signal += np.float32(rng.uniform(0.1, 0.8)) * np.clip(over, -0.15, 0.6)
    wide_px = min(max(rng.uniform(5, 14) / px, 3), 40)
    small = cv2.resize(smooth, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), max(wide_px / 4, 0.8))
    sky = cv2.resize(small, height.shape[::-1], interpolation=cv2.INTER_LINEAR) - smooth
    signal -= np.float32(rng.uniform(0.0, 0.12)) * np.clip(sky, -0.5, 4)
    mood = rng.random()  # most floors darker; some tell by their rims alone; a few lighter
    gain = rng.uniform(0.25, 0.6) if mood < 0.8 else (rng.uniform(0, 0.12) if mood < 0.9 else rng.uniform(-0.4, -0.15))
    signal -= np.float32(gain) * floor
    return signal + material


def instrument(rng: np.random.Generator, signal: np.ndarray, contrast: float, *, hard: bool) -> np.ndarray:
    """Grey picture, (rows, cols) uint8, from a signal whose plateau lies near 0: beam, shading, noise, 8 bits;
    hard pictures are blurred, flat or noisy."""
    rows, cols = signal.shape
    beam = rng.uniform(0.2, 1.0) if not hard else rng.uniform(0.8, 1.9)
    signal = cv2.GaussianBlur(signal, (0, 0), max(beam, 0.25), sigmaY=max(beam * rng.uniform(0.75, 1.3), 0.25))
    step = rng.uniform(28, 85) if not hard else rng.uniform(10, 40)
    level = rng.uniform(75, 180)
    down, right = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, cols, dtype=np.float32)
    tilt = rng.normal(0, 7, 2)
    grey = signal * np.float32(step / contrast)
    knee = np.float32(min(level, 255 - level) * rng.uniform(0.9, 1.6))
    grey = grey / (1 + np.abs(grey) / (3 * knee)) + np.float32(level)
    grey += (
        np.float32(tilt[0]) * down
        + np.float32(tilt[1]) * right
        - np.float32(rng.uniform(-4, 14)) * (down**2 + right**2)
    )
    if rng.random() < 0.15:  # charging: bright ground drags a tail along the scan
        tail = max(int(rng.uniform(10, 60)), 3)
        grey += np.float32(rng.uniform(-0.5, 0.5)) * cv2.blur(
            np.maximum(grey - level - 15, 0), (tail, 1), anchor=(tail - 1, 0)
        )
    noise = min(np.exp(rng.normal(np.log(5.5), 0.5)), step * (0.22 if not hard else 0.6))
    grain = rng.standard_normal((rows, cols), dtype=np.float32)
    if rng.random() < 0.3:
        grain = cv2.GaussianBlur(grain, (0, 0), 0.7, sigmaY=0.4) * np.float32(1.7)
    grey += grain * np.sqrt(np.clip(grey, 8, 255) / np.float32(level)) * np.float32(noise)
    if rng.random() < 0.5:
        grey += rng.normal(0, rng.uniform(0.2, 2.0), (rows, 1)).astype(np.float32)
    if rng.random() < 0.06:
        shift = rng.normal(0, 0.5, rows).astype(np.float32)[:, None]
        columns = np.arange(cols, dtype=np.float32)[None, :] + shift
        lines = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], (rows, cols)).copy()
        grey = cv2.remap(grey, columns, lines, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    curve = np.clip(np.arange(256) / 255, 0, 1) ** np.exp(rng.normal(0, 0.15)) * 255
    image = cv2.LUT(np.clip(np.rint(grey), 0, 255).astype(np.uint8), np.rint(curve).astype(np.uint8))
    if rng.random() < 0.15:
        _, packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 95))])
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return image


def drop_unseen(signal: np.ndarray, codes: np.ndarray, contrast: float, px: float) -> None:
    """Take out of the truth, in place, pieces of valley, closed groove or scuffing that the signal does not show."""
    plateau = (codes == 0).astype(np.float32)
    if plateau.mean() < 0.02:
        return
    window = int(max(24 / px, 9)) | 1
    seen = cv2.GaussianBlur(signal, (0, 0), 1.2)
    level = cv2.blur(seen * plateau, (window, window)) / (cv2.blur(plateau, (window, window)) + np.float32(1e-3))
    away = seen - level
    texture = float(np.abs(away[codes == 0]).mean())
    least_px = max(12, 4 / px**2)
    near_open = cv2.dilate((codes == 1).astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    for code, rough in ((1, 0.9), (2, 1.2), (3, 1.2)):
        count, labels, stats, _ = cv2.connectedComponentsWithStats((codes == code).astype(np.uint8), connectivity=8)
        area = np.maximum(stats[:, cv2.CC_STAT_AREA], 1)
        inside = (labels > 0) & (~near_open if code > 1 else True)  # the edge of open ground beside it is no evidence
        piece, there = labels[inside], away[inside]
        judged = np.maximum(np.bincount(piece, minlength=count), 1)
        tone = np.abs(np.bincount(piece, there, count)) / judged  # a whole piece lighter or darker is seen sooner
        relief = np.bincount(piece, np.abs(there), count) / judged
        shown = (relief > max(rough * texture, 0.09 * contrast)) | (tone > max(0.5 * texture, 0.11 * contrast))
        drop = (~shown & (judged > least_px)) | (area < least_px)
        drop[0] = False
        codes[drop[labels]] = 0
