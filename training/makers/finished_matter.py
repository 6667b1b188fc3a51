"""What lies in and on the surface: graphite flakes and pull-outs (plateau), oil and tribofilm, debris and charging (hidden)."""

import cv2
import numpy as np

from .finished_noise import cloudy_field, grown, smooth_field


def graphite(rng: np.random.Generator, shape, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return share of graphite 0–1 and depth of pull-outs in µm, (rows, cols) float32: lamellar flakes of grey iron, some
    µm thick and some tens of µm long (ISO 945-1 form I, from memory), cut by the surface, some torn out."""
    flakes, outs = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 * 1e-6
    count = int(min(90, rng.poisson(area_mm2 * np.exp(rng.uniform(np.log(20), np.log(400))))))
    flow = smooth_field(rng, shape, 60, pixel_size_um)
    torn_share, thick_um = rng.uniform(0, 0.4), np.exp(rng.uniform(np.log(0.5), np.log(3)))
    for _ in range(count):
        at, angle = rng.uniform(0, 1, 2) * shape[::-1], rng.uniform(0, 2 * np.pi)
        steps, stride = int(rng.integers(3, 12)), max(2.0, float(np.exp(rng.normal(0.9, 0.5))) / pixel_size_um)
        bend, path, own = rng.uniform(0.05, 0.4), [at], thick_um * np.exp(rng.normal(0, 0.4))
        for _ in range(steps):
            col, row = np.clip(path[-1].astype(int), 0, np.array(shape[::-1]) - 1)
            angle += bend * (rng.normal() + 0.4 * flow[row, col])
            path.append(path[-1] + stride * np.array([np.cos(angle), np.sin(angle)]))
        target = outs if rng.random() < torn_share else flakes
        half = 0.5 * own / pixel_size_um * np.sin(np.pi * (np.arange(steps + 1) + 0.15) / (steps + 0.3)) ** 0.7
        run = np.gradient(np.array(path), axis=0)
        normal = np.column_stack([-run[:, 1], run[:, 0]]) / np.maximum(np.hypot(*run.T), 1e-6)[:, None]
        ragged = half[:, None] * rng.uniform(0.4, 1.6, (2, steps + 1, 1))
        outline = np.concatenate([path + ragged[0] * normal, (path - ragged[1] * normal)[::-1]])
        cv2.fillPoly(target, [np.round(outline * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    soft = max(0.2, 0.4 * pixel_size_um)
    flakes, outs = (grown(values.astype(np.float32) / 255, soft, pixel_size_um) for values in (flakes, outs))
    return flakes, outs * np.float32(rng.uniform(0.2, 1.2))


def film(rng: np.random.Generator, shape, bearing: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return grey (rows, cols) float32 of stains, and of tribofilm pads where the ring bore."""
    stain = np.zeros(shape, np.float32)
    if rng.random() < 0.5:
        clouds = cloudy_field(rng, shape, rng.uniform(30, 200), pixel_size_um)
        stain += rng.normal(0, 0.05) * clouds
        if rng.random() < 0.2:  # a drop that dried, with its edge
            stain += rng.normal(0, 0.1) / (1 + np.exp(-np.clip((clouds - 0.8) / rng.uniform(0.05, 0.4), -20, 20)))
    if bearing.any() and rng.random() < 0.5:
        pads = cloudy_field(rng, shape, rng.uniform(4, 40), pixel_size_um)
        soft = rng.uniform(0.1, 0.8)
        stain += rng.normal(0, 0.09) * bearing / (1 + np.exp(-np.clip((pads - rng.uniform(0, 1.5)) / soft, -20, 20)))
    return stain


def debris(rng: np.random.Generator, shape, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return hidden (rows, cols) bool and its bright signal (float32, 0 elsewhere, negative in shadows)."""
    hidden, signal = np.zeros(shape, bool), np.zeros(shape, np.float32)
    if rng.random() > 0.25:
        return hidden, signal
    lumps = smooth_field(rng, shape, max(2.5, 6 * pixel_size_um), pixel_size_um)
    lumps += 0.3 * smooth_field(rng, shape, max(0.8, 2.5 * pixel_size_um), pixel_size_um)
    for _ in range(int(rng.integers(1, 9))):
        size = max(3 * pixel_size_um, float(np.exp(rng.uniform(np.log(1.5), np.log(15)))))
        size = min(size, 0.12 * min(shape) * pixel_size_um)
        place = rng.uniform(0, 1, 2) * shape
        spread = int(1.8 * size / pixel_size_um) + 3
        top, left = (max(0, int(at) - spread) for at in place)
        window = np.s_[top : min(shape[0], top + 2 * spread), left : min(shape[1], left + 2 * spread)]
        if not hidden[window].size:
            continue
        rows, cols = np.mgrid[window].astype(np.float32)
        turn, ratio = rng.uniform(0, np.pi), rng.uniform(1, 2.2)
        rows, cols = (rows - place[0]) * pixel_size_um, (cols - place[1]) * pixel_size_um
        along, across = cols * np.cos(turn) + rows * np.sin(turn), (rows * np.cos(turn) - cols * np.sin(turn)) * ratio
        body = 1 - np.hypot(along, across) / size + 0.13 * lumps[window]
        inside = body > 0
        signal[window] = np.minimum(signal[window], -0.35 * np.exp(-((np.minimum(body, 0) / 0.35) ** 2)) * ~inside)
        bright = rng.uniform(-0.1, 0.4) + 0.2 * lumps[window] + rng.uniform(0, 0.5) * (1 - np.clip(body, 0, 1)) ** 2
        signal[window] = np.where(inside, bright, signal[window])
        hidden[window] |= inside
    if rng.random() < 0.2:  # charging: a patch that glows, drawn out along the scan lines
        glow = scan_streaks(rng, shape, pixel_size_um) * 0.25 + 1.5 * smooth_field(rng, shape, 70, pixel_size_um)
        patch = np.clip(glow - max(np.quantile(glow, rng.uniform(0.95, 0.997)), 1.0), 0, None)
        hidden |= patch > 0
        signal += np.where(patch > 0, rng.uniform(0.5, 1.2) + patch, 0.1 * np.clip(glow, 0, None)).astype(np.float32)
    return hidden, signal


def scan_streaks(rng: np.random.Generator, shape, pixel_size_um: float) -> np.ndarray:
    """Return a field (rows, cols) that is drawn out along the rows, as charging is along the scan."""
    rows = cv2.resize(rng.standard_normal((shape[0], 6), dtype=np.float32), shape[::-1], interpolation=cv2.INTER_LINEAR)
    return grown(rows, rng.uniform(1, 4) * pixel_size_um, pixel_size_um) * np.float32(1.5)
