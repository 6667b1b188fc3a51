"""What isn't a valley though it may look like one: graphite, pull-outs, films, stains, deep-looking scratches, debris. Lengths in um."""

from dataclasses import dataclass

import cv2
import numpy as np

from .ground import Frame, log_uniform


@dataclass
class Others:
    """carbon: share of surface that is graphite; pit: depth (um) of pull-outs and scratches; film: relative loss of yield; debris, hidden: masks;
    glow: share of charging; shade: share of signal that debris keeps from the ground beside it."""

    carbon: np.ndarray
    pit: np.ndarray
    film: np.ndarray
    debris: np.ndarray
    hidden: np.ndarray
    glow: np.ndarray
    shade: np.ndarray


def draw(rng: np.random.Generator, frame: Frame, detector: float) -> Others:
    zeros = np.zeros(frame.shape, np.float32)
    carbon, pit = _graphite(rng, frame) if rng.random() < 0.45 else (zeros, zeros)
    film = _films(rng, frame) if rng.random() < 0.5 else zeros
    if rng.random() < 0.4:
        pit = pit + _scratches(rng, frame)
    debris, hidden, glow, shade = _debris(rng, frame, detector)
    return Others(carbon, pit, film, debris, hidden, glow, shade)


def _graphite(rng, frame) -> tuple[np.ndarray, np.ndarray]:
    """Curved lamellae in the cut, some of them fallen out."""
    rows, columns = frame.shape
    px = frame.pixel_um
    carbon, pit = np.zeros((2, rows, columns), np.uint8)
    count = int(min(rng.poisson(rows * columns * px**2 * log_uniform(rng, 1e-4, 1.5e-3)), 140)) + 1
    for _ in range(count):
        length, thick = log_uniform(rng, 8, 80) / px, log_uniform(rng, 0.6, 4) / px
        steps = np.linspace(0, 1, 9)
        turn = rng.uniform(0, 2 * np.pi) + rng.normal(0, 0.9) * steps + 0.15 * rng.standard_normal(9)
        path = rng.uniform(0, 1, 2) * (columns, rows) + np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1), 0) * length / 9
        into = pit if rng.random() < 0.2 else carbon
        for a, b, wide in zip(path[:-1], path[1:], np.sin(np.pi * (steps[1:] - 0.06)), strict=True):
            ends = [tuple(int(v * 8) for v in point) for point in (a, b)]
            cv2.line(into, *ends, 255, max(1, round(thick * wide)), cv2.LINE_AA, 3)
    if rng.random() < 0.4:
        for _ in range(rng.integers(1, 8)):
            angle = np.linspace(0, 2 * np.pi, 14)[:-1]
            size = min(log_uniform(rng, 1.5, 9) / px, 30) * rng.uniform(0.5, 1.3, (13, 1)) * rng.uniform(0.4, 1, 2)
            outline = rng.uniform(0, 1, 2) * (columns, rows) + np.stack([np.cos(angle), np.sin(angle)], 1) * size
            cv2.fillPoly(pit, [np.int32(outline)], 255, cv2.LINE_AA)
    deep = cv2.GaussianBlur(pit.astype(np.float32) / 255, (0, 0), max(0.6, rng.uniform(0.3, 0.8) / px)) * np.float32(rng.uniform(0.5, 2.5))
    deep *= np.clip(1 + 0.3 * frame.noise(rng, 0, 1.0, 1.0), 0, 2)
    return carbon.astype(np.float32) / 255 * np.float32(rng.uniform(0.4, 1)), deep


def _scratches(rng, frame) -> np.ndarray:
    """Scratches along the stroke, some deeper than 0.5 um: their direction tells them from hone grooves."""
    along, across = frame.turned(frame.stroke + rng.normal(0, 0.02))
    depth = np.zeros(frame.shape, np.float32)
    for _ in range(rng.integers(1, 6)):
        half = log_uniform(rng, 1, 4) * frame.pixel_um
        start, length = rng.uniform(-0.5, 0.5, 2) * frame.span_um
        fade = np.clip(np.minimum(along - start, start + abs(length) - along) / (6 * half), 0, 1)
        off = np.abs(across - np.float32(rng.uniform(-0.4, 0.4) * frame.span_um))
        depth = np.maximum(depth, np.clip(1 - off / np.float32(half), 0, 1) * fade * np.float32(min(log_uniform(rng, 0.1, 1.2), 0.5 * half)))
    return depth


def _films(rng, frame) -> np.ndarray:
    """Films and stains lie over grooves and plateau alike, with hard or soft outlines, drawn out along the stroke or not."""
    size = log_uniform(rng, 20, 150) * frame.pixel_um
    wish = frame.noise(rng, frame.stroke, size * log_uniform(rng, 1, 5), size) + 0.15 * frame.noise(rng, 0, size / 6, size / 6)
    hard = log_uniform(rng, 1, 20)
    level = rng.uniform(0.2, 1.6)
    film = 1 / (1 + np.exp(-np.clip(hard * (wish - level), -30, 30)))
    if rng.random() < 0.3:
        film = film * 0.4 + np.exp(-(((wish - level) * hard / 1.5) ** 2))
    return (film * rng.choice([-0.5, 1]) * rng.uniform(0.05, 0.3)).astype(np.float32)


def _debris(rng, frame, detector):
    rows, columns = frame.shape
    body, dim = np.zeros((2, rows, columns), np.uint8)
    glow = np.zeros((rows, columns), np.float32)
    for _ in range(rng.poisson(log_uniform(rng, 0.2, 7))):
        radius = float(np.clip(log_uniform(rng, 0.5, 14) / frame.pixel_um, 1.5, 28))
        angle = np.sort(rng.uniform(0, 2 * np.pi, 9))
        middle = rng.uniform(0, 1, 2) * (columns, rows)
        shape = np.stack([np.cos(angle), np.sin(angle)], 1) * radius * rng.uniform(0.6, 1.2, (9, 1))
        away = -np.array([np.cos(detector), np.sin(detector)]) * radius * 0.7
        cv2.fillPoly(body, [np.int32(middle + shape)], 255)
        cv2.fillPoly(dim, [np.int32(middle + away + 1.1 * shape)], 255)
        if rng.random() < 0.08 and radius < 10:
            x, y = (frame.right / frame.pixel_um + columns / 2 - middle[0]), (frame.down / frame.pixel_um + rows / 2 - middle[1])
            glow += np.exp(-(x**2 / (radius * 5) ** 2 + y**2 / (radius * 1.5) ** 2)).astype(np.float32)
    debris = body > 0
    shade = cv2.blur(dim.astype(np.float32) / 255, (5, 5)) * np.float32(rng.uniform(0, 0.5)) * ~debris
    return debris, debris | (glow > 0.5), np.minimum(glow, 1), shade
