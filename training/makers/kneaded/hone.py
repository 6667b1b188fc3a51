"""Two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503), cut one after the other.

Each lay is drawn in its own frame, s across and t along its grooves (t in steps of several px, along which a groove varies
slowly), and then turned into the stroke's frame. A groove is a power-law hollow |x|^p, p from a V to a trough, between two
low ridges of ploughed metal. Finishing scratches are shallower than the valley limit and count as plateau."""

import cv2
import numpy as np

from .chance import grainy
from .specimen import Hone

STEP_PX = 4
FINISH_LIMIT_UM = 0.4


def lay(
    rng: np.random.Generator, hone: Hone, shape: tuple[int, int], angle_deg: float
) -> tuple[np.ndarray, np.ndarray]:
    """Groove depth below the land (µm, ≥ 0) and the relief of ridges and finishing scratches of one lay, stroke frame."""
    cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    half_s = (shape[0] * abs(cos) + shape[1] * abs(sin)) / 2 + 3 * hone.width_px
    half_t = (shape[0] * abs(sin) + shape[1] * abs(cos)) / 2 + 2 * STEP_PX
    size = (int(2 * half_t / STEP_PX) + 2, int(2 * half_s) + 2)
    depth, ridge = cut(rng, hone, size)
    finish = grainy(rng, size, (rng.uniform(10, 60), hone.finish_width_px)) * hone.finish_um
    striae = grainy(rng, size, (rng.uniform(8, 40), rng.uniform(0.8, 2.5)))
    depth *= np.clip(1 + hone.striae * striae, 0.3, 1.7)
    ridge += np.clip(finish, -FINISH_LIMIT_UM, FINISH_LIMIT_UM / 2)
    turn = np.array([[-sin, cos], [cos / STEP_PX, sin / STEP_PX]])
    middle = np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2])
    matrix = np.column_stack([turn, np.array([half_s, half_t / STEP_PX]) - turn @ middle])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    both = cv2.warpAffine(
        cv2.merge([depth, ridge]), matrix, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT
    )
    return both[..., 0].copy(), both[..., 1].copy()


def cut(rng: np.random.Generator, hone: Hone, size: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Depth and ridges in a lay's own frame (rows t, columns s)."""
    depth, ridge = np.zeros(size, np.float32), np.zeros(size, np.float32)
    count = int(np.ceil(hone.share / hone.lays * size[1] / hone.width_px * rng.uniform(0.8, 1.2)))
    t = np.arange(size[0], dtype=np.float32)
    for place in rng.uniform(0, size[1], count):
        scale = np.exp(rng.normal(0, hone.spread))
        width = float(np.clip(hone.width_px * scale, 3.5, 60))
        deep = float(np.clip(hone.depth_um * scale * np.exp(rng.normal(0, 0.3)), 0.15, 10))
        wave = np.interp(t, np.linspace(0, size[0], 9), rng.normal(0, 1, 9)).astype(np.float32)
        fade = ends(rng, t) if rng.random() < 0.18 else np.ones_like(t)
        centre = place + rng.normal(0, 0.015) * STEP_PX * (t - size[0] / 2) + 0.015 * width * wave
        window_t = np.hanning(int(rng.integers(4, 22)))
        ragged = np.convolve(rng.normal(0, 1, t.size), window_t / np.sqrt((window_t**2).sum()), mode="same")
        ragged *= np.exp(rng.normal(-0.3, 0.5))
        half = (
            (0.5 * width * (1 + 0.06 * wave[::-1] + hone.ragged * ragged) * (0.35 + 0.65 * fade))
            .clip(1)
            .astype(np.float32)
        )
        first = max(int(centre.min() - 1.6 * width), 0)
        last = min(int(centre.max() + 1.6 * width) + 2, size[1])
        if last - first < 2:
            continue
        x = (np.arange(first, last, dtype=np.float32) - centre[:, None]) / half[:, None]
        away = np.abs(x + rng.normal(0, 0.2) * (1 - x * x) * (np.abs(x) < 1))
        reach = (deep * (1 + 0.12 * wave) * fade)[:, None]
        window = depth[:, first:last]
        np.maximum(window, reach * np.clip(1 - away**hone.power, 0, 1), out=window)
        ridge[:, first:last] += hone.rim * reach * np.exp(-(((away - 1.25) / 0.22) ** 2)) * (1 + 0.5 * wave)[:, None]
    return depth, ridge


def ends(rng: np.random.Generator, t: np.ndarray) -> np.ndarray:
    """A groove that runs out: a grain enters or leaves the ground over some tens of px."""
    over = rng.uniform(0.2, 0.9) * t.size
    slope = rng.choice([-1, 1]) / rng.uniform(10, 60)
    return np.clip(0.5 + slope * (t - over), 0, 1).astype(np.float32)


def ground(rng: np.random.Generator, hone: Hone, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Groove depth and relief of the whole honed ground: the second lay cuts away the ridges of the first."""
    angles = [hone.angle_deg / 2, -hone.angle_deg / 2][: hone.lays]
    if rng.random() < 0.5:
        angles = [-angle for angle in angles]
    depth, relief = lay(rng, hone, shape, angles[0])
    for angle in angles[1:]:
        other, ridges = lay(rng, hone, shape, angle)
        relief = np.where(other > 0.05, ridges, 0.7 * relief + ridges)
        depth = np.maximum(depth, other)
    relief *= np.exp(-depth / 0.15)
    relief += hone.rough_um * grainy(rng, shape, 1.2)
    relief += hone.floor_rough * np.minimum(0.12 * depth, 0.25) * grainy(rng, shape, max(0.12 * hone.width_px, 1.0))
    return depth, relief
