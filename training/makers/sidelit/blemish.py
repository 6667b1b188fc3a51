"""What else lies on the surface: graphite and pits, scratches along the stroke, stains, debris. None is open valley.

Sizes and amounts: common practice, no source.
"""

import cv2
import numpy as np

from makers.sidelit.frame import Frame

SHIFT = 3
"""Bits behind the point of the coordinates that are drawn: eighths of a pixel."""


def _fixed(points: np.ndarray) -> list[np.ndarray]:
    return [np.round(points * 2**SHIFT).astype(np.int32)]


def flakes(frame: Frame, light: np.ndarray, height: np.ndarray) -> None:
    """Graphite flakes and pull-outs, dark in the picture, cut in place into tone and height in µm (rows, cols)."""
    rng, px, size = frame.rng, frame.px, [frame.shape[1], frame.shape[0]]
    many = 0 if rng.random() < 0.15 else rng.uniform(0.3, 3.0)
    area = frame.shape[0] * frame.shape[1] * px * px
    flake, pit = np.zeros(frame.shape, np.uint8), np.zeros(frame.shape, np.uint8)
    for _ in range(min(int(rng.poisson(many * area / 1e4)), 900)):
        joints = int(rng.integers(4, 9))
        length = float(np.clip(rng.lognormal(np.log(14), 0.6), 4, 60))
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.4, joints))
        steps = np.c_[np.cos(heading), np.sin(heading)] * (length / joints / px)
        points = np.cumsum(steps, 0) + rng.uniform(0, 1, 2) * size
        thick = max(1, int(round(rng.uniform(0.7, 2.4) / px)))
        cv2.polylines(flake, _fixed(points), False, int(rng.integers(90, 255)), thick, cv2.LINE_AA, SHIFT)
    corners = np.linspace(0, 2 * np.pi, 9, endpoint=False)
    for _ in range(min(int(rng.poisson(0.25 * many * area / 1e4)), 300)):
        radius = rng.lognormal(np.log(2.6), 0.5) / px * rng.uniform(0.6, 1.4, 9)
        points = np.c_[np.cos(corners) * radius * rng.uniform(0.5, 1), np.sin(corners) * radius] + rng.uniform(0, 1, 2) * size
        cv2.fillPoly(pit, _fixed(points), 255, cv2.LINE_AA, SHIFT)
    flake, pit = frame.blur(flake.astype(np.float32) / 255, 0.2, 0.5), frame.blur(pit.astype(np.float32) / 255, 0.3, 0.5)
    light *= 1 - 0.62 * flake - 0.25 * pit
    height -= 0.35 * flake + 1.4 * pit


def scratches(frame: Frame, height: np.ndarray, codes: np.ndarray, worn: bool) -> None:
    """Scratches along the stroke, up to 1 µm deep, cut in place into height in µm (rows, cols); faint on valley floors."""
    rng, u, v = frame.rng, frame.u, frame.v
    if rng.random() >= 0.75:
        return
    for _ in range(int(rng.integers(1, 9)) if worn else int(rng.integers(0, 4))):
        at, width = rng.uniform(v.min(), v.max()), max(rng.uniform(1, 4), 1.5 * frame.px)
        depth = rng.uniform(0.25, 1.0)
        start, stop = np.sort(rng.uniform(u.min() * 1.3, u.max() * 1.3, 2))
        line = np.exp(-(((v - at - rng.normal(0, 0.01) * u) / (0.5 * width)) ** 2))
        ends = np.clip((u - start) / 25, 0, 1) * np.clip((stop - u) / 25, 0, 1)
        height -= depth * line * ends * np.where(codes == 1, 0.2, 1)


def stains(frame: Frame, light: np.ndarray, worn: bool) -> np.ndarray:
    """The tone (rows, cols) under stains, oil or tribofilm, if there are any; on worn fields some lie along the stroke."""
    rng = frame.rng
    if rng.random() >= 0.35:
        return light
    patch = frame.noise(rng.uniform(0.2, 0.5) * frame.half, rng.uniform(0.2, 0.5) * frame.half, octaves=3) - rng.uniform(0.7, 1.6)
    if worn and rng.random() < 0.5:
        patch = frame.noise(140, 25) - rng.uniform(0.6, 1.4)
    soft = np.clip(patch / rng.uniform(0.15, 0.9), 0, 1)
    return light * (1 - rng.uniform(0.1, 0.38) * soft * np.clip(0.85 + 0.2 * frame.noise(12, 12, octaves=2), 0.3, 1.1))


def debris(frame: Frame, height: np.ndarray, light: np.ndarray, codes: np.ndarray) -> None:
    """Particles that hide the surface, set in place into height in µm, tone and codes (rows, cols): not assessed."""
    rng, px, (rows, cols) = frame.rng, frame.px, frame.shape
    if rng.random() >= 0.3:
        return
    grain = frame.noise(3, 2.5, octaves=3)
    for _ in range(int(rng.integers(1, 5))):
        bright = rng.uniform(0.85, 1.25)
        cy, cx = rng.uniform(0, rows), rng.uniform(0, cols)
        radius = max(rng.uniform(2, 8), 3 * px) / px
        top, bottom = (int(np.clip(cy + reach, 0, rows)) for reach in (-2 * radius, 2 * radius))
        left, right = (int(np.clip(cx + reach, 0, cols)) for reach in (-2 * radius, 2 * radius))
        if bottom - top < 4 or right - left < 4:
            continue
        box = np.s_[top:bottom, left:right]
        y, x = np.mgrid[box]
        angle = np.arctan2(y - cy, x - cx)
        lobes = (amount * np.cos(count * angle + rng.uniform(0, 6)) for count, amount in ((2, 0.25), (3, 0.08), (7, 0.06)))
        out = np.hypot(y - cy, x - cx) / radius / (1 + sum(lobes))
        on = out < 1
        height[box] = np.where(on, 0.8 + 1.6 * np.sqrt(np.clip(1 - out**2, 0, 1)) + 0.25 * grain[box], height[box])
        light[box] = np.where(on, bright, light[box])
        codes[box][on] = 255
