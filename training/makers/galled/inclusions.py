"""Graphite flakes and pull-outs of grey iron: dark in either mode (backscatter coefficient of carbon about 0.06 against 0.28 of
iron), some flakes lifted out to leave rough pits. Neither is a valley.
Flake lengths 20-150 um (from memory), fewer pixels here."""

import cv2
import numpy as np

from .frame import Frame, Map


def ragged(rng: np.random.Generator, frame: Frame, cover: Map) -> Map:
    """The cover with edges that wander by a pixel or two, as a cleaved or torn inclusion has."""
    y, x = np.indices(frame.shape, dtype=np.float32)
    for _ in range(2):
        grain, far = rng.uniform(3, 9), rng.uniform(0.5, 1.6)
        x, y = x + far * frame.noise(rng, 0, grain, grain), y + far * frame.noise(rng, 0, grain, grain)
    return cv2.remap(cover, x, y, cv2.INTER_LINEAR).astype(np.float32) / 255


def flakes(rng: np.random.Generator, frame: Frame) -> Map:
    """Cover of graphite from 0 to 1, partly broken out or smeared over by iron."""
    cover = np.zeros(frame.shape, np.uint8)
    area_um2 = frame.shape[0] * frame.shape[1] * frame.pixel_um**2
    count = int(np.clip(rng.uniform(0.3, 3.0) * 1e-3 * area_um2, 2, 130))
    swarm = rng.uniform(size=(3, 2)) * frame.shape[::-1]
    bend = rng.uniform(0.05, 0.2)
    for _ in range(count):
        length = np.clip(rng.lognormal(np.log(35), 0.5) / frame.pixel_um, 8, frame.size / 2)
        steps = int(np.clip(length / 4, 5, 24))
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(rng.normal(0, 0.06), bend, steps))
        start = swarm[rng.integers(3)] + rng.normal(0, frame.size / 3, 2)
        path = np.round((start + np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1), 0) * length / steps) * 8).astype(
            np.int32
        )
        thick = np.clip(rng.uniform(0.8, 3.5) / frame.pixel_um, 1, min(8, length / 6))
        for i in range(steps - 1):
            girth = max(1, round(thick * np.sin(np.pi * (i + 0.7) / steps) * rng.uniform(0.7, 1.2)))
            cv2.polylines(cover, [path[i : i + 2]], False, 255, girth, cv2.LINE_AA, 3)
    texture = 0.85 + 0.22 * frame.noise(rng, rng.uniform(0, 3), 7, 2.5)
    return ragged(rng, frame, cover) * np.clip(texture, 0.2, 1.2)


def pits(rng: np.random.Generator, frame: Frame) -> Map:
    """Cover of pull-outs: irregular, without direction, rough inside."""
    cover = np.zeros(frame.shape, np.uint8)
    for _ in range(int(rng.integers(2, 16))):
        size = np.clip(rng.lognormal(np.log(4), 0.5) / frame.pixel_um, 2.5, frame.size / 18)
        turn = np.linspace(0, 2 * np.pi, 18, endpoint=False)
        wave = sum(rng.normal(0, 0.22 / k) * np.cos(k * turn + rng.uniform(0, 6)) for k in (2, 3, 5))
        radius = size * np.clip(1 + wave, 0.4, 1.7)
        outline = np.stack([np.cos(turn) * radius * rng.uniform(0.4, 1), np.sin(turn) * radius], 1)
        c, s = np.cos(turn[rng.integers(18)]), np.sin(turn[rng.integers(18)])
        centre = rng.uniform(size=2) * frame.shape[::-1]
        cv2.fillPoly(
            cover,
            [np.round((outline @ np.array([[c, s], [-s, c]]) + centre) * 8).astype(np.int32)],
            255,
            cv2.LINE_AA,
            3,
        )
    rough = 0.8 + 0.3 * frame.noise(rng, rng.uniform(0, 3), 6, 4)
    return cv2.GaussianBlur(ragged(rng, frame, cover), (0, 0), 0.7) * np.clip(rough, 0.1, 1.4)
