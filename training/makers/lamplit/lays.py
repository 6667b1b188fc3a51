"""One band of hone grooves, drawn straight on its own turned canvas and then laid on the picture. Depths in um."""

from dataclasses import dataclass

import numpy as np

from .closing import OPEN, Plan, close
from .noise import Turned, log_between, wander
from .sections import NAMES, section


@dataclass(frozen=True)
class Lay:
    """What a band brings, all on the picture's grid: depth, rim, cap (depth moved metal leaves at most), lip, all um; label."""

    depth: np.ndarray
    rim: np.ndarray
    cap: np.ndarray
    lip: np.ndarray
    label: np.ndarray


@dataclass(frozen=True)
class Stone:
    """A hone's habits: width and depth (um, middle values), pitch in widths, and how much each wanders."""

    width_um: float
    depth_um: float
    pitch: float
    spread: float
    sections: tuple[str, ...]
    steep: float
    wave: float
    fading: float
    rim_um: float
    grouped: bool


def draw_stone(rng: np.random.Generator, pixel_size_um: float, field_um: float) -> Stone:
    """Widths stay between some pixels and a third of the field, or the truth could not be seen at all."""
    low = max(2.0, 3.0 * pixel_size_um)
    width = log_between(rng, low, max(min(45.0, 0.22 * field_um), 1.3 * low))
    return Stone(
        width_um=width,
        depth_um=min(log_between(rng, 0.6, 7.0), 0.6 * width),
        pitch=log_between(rng, 1.8, 9.0),
        spread=float(rng.uniform(0.1, 0.6)),
        sections=tuple(rng.choice(NAMES, rng.integers(1, 4))),
        steep=float(rng.uniform(0.05, 1.0)),
        wave=float(rng.choice([0.0, rng.uniform(0, 0.5)])),
        fading=float(rng.beta(0.8, 2.0)),
        rim_um=log_between(rng, 0.03, 0.9),
        grouped=bool(rng.random() < 0.5),
    )


def _places(rng: np.random.Generator, stone: Stone, side: int, pixel_size_um: float) -> np.ndarray:
    pitch = max(stone.pitch * stone.width_um / pixel_size_um, 5.0)
    gaps = pitch * (rng.gamma(0.7, 1 / 0.7, 60) if stone.grouped else rng.gamma(3.0, 1 / 3.0, 60))
    places = np.cumsum(gaps) - rng.uniform(0, pitch)
    places = places[places < side]
    return places if places.size else rng.uniform(0.3, 0.7, 1) * side


def draw_lay(rng: np.random.Generator, turned: Turned, stone: Stone, pixel_size_um: float, plan: Plan | None, stroke_deg: float) -> Lay:
    """Cut the band; with a plan, moved metal closes part of it."""
    side = turned.side
    depth, rim, lip = (np.zeros((side, side), np.float32) for _ in range(3))
    cap = np.full((side, side), OPEN, np.float32)
    label = np.zeros((side, side), np.uint8)
    turn = np.radians(stroke_deg - turned.angle_deg)
    shear = np.cos(turn) / (np.sin(turn) if abs(np.sin(turn)) > 0.2 else 0.2)
    shared = wander(rng, side, side / 2) * stone.wave * stone.width_um / pixel_size_um
    for place in _places(rng, stone, side, pixel_size_um):
        half = stone.width_um * np.exp(stone.spread * rng.standard_normal()) / 2
        half = float(np.clip(half, max(1.0, 1.2 * pixel_size_um), 30.0)) / pixel_size_um
        deepest = float(np.clip(stone.depth_um * np.exp(1.2 * stone.spread * rng.standard_normal()), 0.2, 10.0))
        middle = place + shared + wander(rng, side, side / rng.uniform(2, 9)) * stone.wave * half * 0.3
        low, high = int(max(middle.min() - 1.5 * half - 1, 0)), int(min(middle.max() + 1.5 * half + 2, side))
        if high - low < 2:
            continue
        offset = np.arange(low, high, dtype=np.float32)[:, None] - middle[None, :].astype(np.float32)
        skew = np.float32(rng.uniform(-0.5, 0.5))
        breadth = np.maximum(1 + 0.1 * rng.random() * wander(rng, side, 3 * half), 0.5)[None, :]
        s = offset / (half * np.where(offset < 0, 1 - skew, 1 + skew) * breadth)
        t = np.abs(s)
        along = np.ones(side, np.float32)
        if rng.random() < stone.fading:
            start, fade = rng.uniform(0, side), side * log_between(rng, 0.03, 0.6)
            along = np.clip((np.arange(side, dtype=np.float32) - start) / fade * rng.choice([-1, 1]) + 0.5, 0, 1)
        along = along * np.clip(1 + 0.15 * wander(rng, side, 4 * half), 0.3, 1.6)
        rows = slice(low, high)
        share = section(str(rng.choice(stone.sections)), t, stone.steep, rng.uniform(5, 16))
        depth[rows] = np.maximum(depth[rows], share * (deepest * along)[None, :])
        torn = np.clip(wander(rng, side, max(half * rng.uniform(0.2, 2), 2)) * 0.8 + 0.7, 0, 2.5) * along * stone.rim_um
        rim[rows] = np.maximum(rim[rows], np.clip(1 - np.abs(t - 1.15) / 0.2, 0, 1) * torn[None, :])
        if plan is not None:
            close(rng, plan, (cap, lip, label), rows, s, offset, half, shear, deepest)
    flat = [turned.to_picture(layer) for layer in (depth, rim, cap, lip)]
    return Lay(*flat, turned.to_picture(label, labels=True))
