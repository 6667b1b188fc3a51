"""Scuffing: torn and ploughed streaks along the stroke, drawn in the stroke's frame."""

import cv2
import numpy as np

from .strips_frame import Frame, line, log_uniform, sheet


def _torn(rng: np.random.Generator, rows: int, columns: int, pixel_size_um: float) -> np.ndarray:
    """One texture of torn metal, about unit spread: ridges, scales, grain and lumps in random shares."""
    fine = max(1.2, log_uniform(rng, 0.3, 2.5) / pixel_size_um)
    weights = rng.dirichlet(np.full(4, 0.7))
    texture = np.zeros((rows, columns), np.float32)
    if weights[0] > 0.08:
        ridges = sheet(rng, rows, columns, fine * rng.uniform(15, 80), fine)
        ridges += 0.8 * sheet(rng, rows, columns, fine * 60, fine * rng.uniform(2, 5))
        story = np.clip(0.8 + 0.5 * line(rng, columns, fine * rng.uniform(10, 60)), 0.1, 2)
        texture += np.float32(1.2 * weights[0]) * ridges * story[None, :]
    if weights[1] > 0.08:
        pitch = fine * rng.uniform(5, 25)
        bend = np.abs(sheet(rng, rows, columns, pitch * 4, pitch * rng.uniform(0.5, 1.5)))
        bend += 0.4 * sheet(rng, rows, columns, pitch, pitch * 0.3)
        phase = (
            np.arange(columns, dtype=np.float32)[None, :] / np.float32(pitch) + np.float32(rng.choice([-1, 1])) * bend
        )
        saw = np.mod(phase, 1.0)
        if rng.random() < 0.5:
            saw = 1 - saw
        texture += np.float32(3 * weights[1]) * (saw**2 - 0.33)
    if weights[2] > 0.08:
        rough = sheet(rng, rows, columns, fine * 1.5, fine) + sheet(rng, rows, columns, fine * 6, fine * 3)
        texture += np.float32(weights[2]) * rough
    if weights[3] > 0.08:
        size = fine * rng.uniform(3, 10)
        lumps = sheet(rng, rows, columns, size * rng.uniform(1, 2.5), size)
        edge = np.exp(-(((lumps - 0.7) / 0.25) ** 2))
        texture += np.float32(2 * weights[3]) * ((lumps > 0.7) * np.float32(rng.uniform(-0.5, 0.5)) + edge - 0.25)
    texture /= max(float(texture.std()), 1e-3)
    speck = max(1.0, rng.uniform(0.15, 0.6) / pixel_size_um)
    texture += np.float32(rng.uniform(0.15, 0.6)) * sheet(rng, rows, columns, speck * rng.uniform(1, 4), speck)
    return texture / max(float(texture.std()), 1e-3)


def draw_scuffing(
    rng: np.random.Generator,
    image: np.ndarray,
    codes: np.ndarray,
    worn: np.ndarray,
    pixel_size_um: float,
    stroke: float,
) -> None:
    """Scuffed streaks over everything, in place, on worn ground only."""
    frame = Frame(shape=image.shape, angle=stroke)
    rows, columns = frame.size
    inside = np.full((rows, columns), -1e4, np.float32)
    fringe = max(1.0, log_uniform(rng, 0.3, 6) / pixel_size_um)
    reach = min(image.shape)
    share = float(rng.choice([rng.uniform(0.01, 0.15), rng.uniform(0.15, 0.9)], p=[0.6, 0.4]))
    width = max(4.0, log_uniform(rng, 3, 400) / pixel_size_um)
    width = min(width, share * reach + 4)
    broken = rng.random() < 0.5
    # Streaks aim at worn rows, so that a field with a track edge gets its share too.
    level = cv2.warpAffine(
        worn.astype(np.uint8), frame.matrix(), (columns, rows), flags=cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT
    )
    weight = level.sum(1).astype(np.float64) + 1e-9
    weight /= weight.sum()
    aim = rng.choice(rows, size=60, p=weight)
    done, need = 0.0, share * reach
    for row in aim:
        half = width * rng.lognormal(0, 0.5) / 2
        first, last = max(0, int(row - 2 * half - 4 * fringe)), min(rows, int(row + 2 * half + 4 * fringe) + 1)
        edge = half * (1 + 0.25 * line(rng, columns, max(width * rng.uniform(2, 10), 20)))
        drift = line(rng, columns, columns) * 0.15 * half
        off = np.abs(np.arange(first, last, dtype=np.float32)[:, None] - np.float32(row) - drift[None, :])
        np.maximum(inside[first:last], edge[None, :] - off, out=inside[first:last])
        done += 2 * half * (0.6 if broken else 1)
        if done > need:
            break
    if broken:
        breaks = sheet(rng, rows, columns, width * rng.uniform(1.5, 8), max(2.0, width * rng.uniform(0.15, 0.5)))
        breaks += 0.5 * sheet(rng, rows, columns, fringe * 20, fringe)
        inside = np.minimum(inside, (breaks + np.float32(rng.uniform(0, 1))) * np.float32(0.4 * width))
    ragged = sheet(rng, rows, columns, fringe * rng.uniform(3, 25), fringe)
    inside += ragged * np.float32(min(fringe, width * 0.3))
    soft = max(1.5, float(rng.choice([1.5, min(fringe, 0.25 * width)])))
    cover = frame.to_picture(np.clip(0.5 + inside / np.float32(soft), 0, 1))
    cover = cover * np.clip(cv2.GaussianBlur(worn.astype(np.float32), (0, 0), 1.5) * 2 - 1, 0, 1)
    strength = float(rng.uniform(0.25, 0.9))
    texture = frame.to_picture(_torn(rng, rows, columns, pixel_size_um))
    tone = float(rng.choice([0.0, rng.uniform(-0.8, -0.15), rng.uniform(0.15, 0.8)], p=[0.35, 0.4, 0.25]))
    if abs(tone) < 0.15:
        strength = max(strength, 0.5)
    metal = np.float32(tone) + texture * np.float32(strength)
    image += cover * np.float32(rng.uniform(0.85, 1)) * (metal - image)
    now = (cover >= 0.5) & worn & (codes != 255)
    codes[now] = 3
