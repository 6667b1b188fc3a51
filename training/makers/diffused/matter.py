"""What lies on or in the metal and is no valley: graphite, pull-outs, films, stains, debris, charging."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, log_uniform


@dataclass(kw_only=True)
class Matter:
    """carbon and oxide are shares 0–1 of the emitting layer; height_um is added to the ground (µm); hidden where debris or charge lies;
    charge is extra signal."""

    carbon: np.ndarray
    oxide: np.ndarray
    height_um: np.ndarray
    hidden: np.ndarray
    charge: np.ndarray


def _flakes(rng: np.random.Generator, frame: Frame) -> np.ndarray:
    """Graphite lamellae of grey iron cut by the surface, 0–1: curved, 10–120 µm long (ISO 945 sizes 4–7, from memory)."""
    mask = np.zeros(frame.shape, np.uint8)
    rows, cols = frame.shape
    pixel = frame.pixel_um
    length = log_uniform(rng, 12, 120) / pixel
    number = int(np.clip(rng.uniform(0.1, 0.8) * rows * cols / (length * length * 0.6 + 400), 1, 150))
    for _ in range(number):
        steps = 9
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, steps))
        own = length * rng.uniform(0.4, 1.3) / steps
        line = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * own, 0) + [
            rng.uniform(0, cols),
            rng.uniform(0, rows),
        ]
        thick = max(int(round(log_uniform(rng, 0.5, 3.5) / pixel)), 1)
        cv2.polylines(
            mask, [np.round(line * 16).astype(np.int32)], False, int(rng.uniform(120, 255)), thick, cv2.LINE_AA, 4
        )
    return mask.astype(np.float32) / 255


def _particles(rng: np.random.Generator, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Debris: height (µm) and where it lies (bool)."""
    height, lies = np.zeros(frame.shape, np.float32), np.zeros(frame.shape, np.uint8)
    for _ in range(int(rng.integers(1, 14))):
        size = max(log_uniform(rng, 0.8, 15) / frame.pixel_um, 2.0)
        size = min(size, min(frame.shape) / 8)
        turn = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(5, 10))))
        radius = size * rng.uniform(0.5, 1, turn.size)
        middle = rng.uniform(0, 1, 2) * frame.shape[::-1]
        corners = np.stack([radius * np.cos(turn) * rng.uniform(0.5, 1), radius * np.sin(turn)], 1) + middle
        one = np.zeros(frame.shape, np.uint8)
        cv2.fillPoly(one, [np.round(corners).astype(np.int32)], 1)
        height[one > 0] = size * frame.pixel_um * rng.uniform(0.3, 1.2)
        lies |= one
    return cv2.blur(height, (3, 3)), lies > 0


def draw_matter(rng: np.random.Generator, frame: Frame, depth_um: np.ndarray, stroke: Frame) -> Matter:
    """Each kind is there in some fields only, and the residue in valleys clings to the deep ones (common practice, no source)."""
    carbon, oxide, height, charge = (np.zeros(frame.shape, np.float32) for _ in range(4))
    hidden = np.zeros(frame.shape, bool)
    if rng.random() < 0.55:
        full = log_uniform(rng, 0.6, 5)
        patchy = np.clip(0.7 + rng.uniform(0, 0.6) * frame.noise(rng, 25, 25), 0, 1)
        carbon += rng.uniform(0.2, 1) * np.clip((depth_um - 0.25) / full, 0, 1) * patchy
    if rng.random() < 0.4:
        flakes = _flakes(rng, frame)
        carbon = np.maximum(carbon, flakes * rng.uniform(0.4, 1))
        height -= flakes * rng.uniform(0, 1.2)
    if rng.random() < 0.3:
        size = max(log_uniform(rng, 2, 12), 3 * frame.pixel_um)
        lumps = (
            frame.noise(rng, size, size)
            + 0.6 * frame.noise(rng, 2.3 * size, 2.7 * size)
            + 0.3 * frame.noise(rng, size / 3, size / 3)
        )
        out = np.clip((lumps - rng.uniform(2.2, 3.2)) * 2, 0, 1)
        height -= out * (rng.uniform(0.5, 3) + 0.4 * frame.noise(rng, size / 4, size / 4))
    if rng.random() < 0.3:
        size = log_uniform(rng, 20, 200)
        stain = np.clip(
            (frame.noise(rng, size, size) + 0.4 * frame.noise(rng, size / 5, size / 5) - rng.uniform(0.3, 1.5)) * 4,
            0,
            1,
        )
        carbon = np.maximum(carbon, stain * rng.uniform(0.05, 0.4))
    if rng.random() < 0.35:
        size = log_uniform(rng, 4, 40)
        film = np.clip(
            (stroke.noise(rng, size, size * rng.uniform(2, 10)) - rng.uniform(0, 1)) * rng.uniform(1, 5), 0, 1
        )
        oxide += film * rng.uniform(0.2, 1)
    if rng.random() < 0.4:
        debris, lies = _particles(rng, frame)
        height += debris
        hidden |= lies
        (carbon if rng.random() < 0.3 else oxide)[lies] = rng.uniform(0, 1)
    if rng.random() < 0.06:
        size = log_uniform(rng, 30, 90) * frame.shape[0] / 450 * frame.pixel_um
        glow = np.clip(frame.noise(rng, size, size * 2) - 1.6, 0, 1)
        hidden |= glow > 0.25
        charge += 3 * glow
    return Matter(
        carbon=np.clip(carbon, 0, 1), oxide=np.clip(oxide, 0, 1), height_um=height, hidden=hidden, charge=charge
    )
