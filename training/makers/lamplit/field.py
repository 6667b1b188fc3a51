"""The scene: relief, what covers it, and the truth read off the finished relief. Heights in um."""

from dataclasses import dataclass

import numpy as np

from . import lookalikes, track
from .closing import BURNISHED, PACKED, Plan, draw_plan
from .lays import Lay, draw_lay, draw_stone
from .noise import Turned, cloud, log_between

LEVEL_UM = 0.5


@dataclass(frozen=True)
class Scene:
    """height (um) with all lumps and pits; depth (um) of what is open; codes; worn; masks of the states to be shown."""

    height: np.ndarray
    depth: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    burnished: np.ndarray
    packed: np.ndarray
    graphite: np.ndarray
    stains: np.ndarray
    lumps: np.ndarray
    glare: np.ndarray
    kind: str


def _lays(rng: np.random.Generator, shape, pixel_size_um: float, stroke: float, plan: Plan | None) -> list[Lay]:
    included = rng.uniform(20, 150)
    off = rng.normal(0, 3)
    field_um = min(shape) * pixel_size_um
    first = draw_stone(rng, pixel_size_um, field_um)
    second = first if rng.random() < 0.5 else draw_stone(rng, pixel_size_um, field_um)
    made = [
        draw_lay(rng, Turned(shape, stroke + 90 + off + sign * included / 2), stone, pixel_size_um, plan, stroke)
        for sign, stone in ((-1, first), (1, second))
    ]
    if rng.random() < 0.2:
        weak = np.float32(rng.uniform(0.05, 0.5))
        which = int(rng.integers(2))
        lay = made[which]
        made[which] = Lay(lay.depth * weak, lay.rim * weak, lay.cap, lay.lip, lay.label)
    return made


def _plateau(rng: np.random.Generator, shape, stroke: float, worn: np.ndarray) -> np.ndarray:
    fine = log_between(rng, 0.02, 0.35)
    ground = sum(track.marks(rng, Turned(shape, rng.uniform(0, 180)), fine) for _ in range(int(rng.integers(1, 3))))
    along = Turned(shape, stroke + rng.normal(0, 1))
    # The ring polishes the finishing marks off and leaves its own along the stroke.
    run_in = track.marks(rng, along, log_between(rng, 0.03, 0.4)) if worn.any() else 0.0
    left = np.float32(rng.uniform(0.0, 0.6))
    ground = np.where(worn, left * ground + run_in, ground)
    ground = np.minimum(ground, lookalikes.stroke_scratches(rng, along)) if rng.random() < 0.6 else ground
    return np.maximum(ground, -0.48) + log_between(rng, 0.005, 0.06) * cloud(rng, shape, 1.3)


def draw_scene(rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]) -> Scene:
    """One field, before any light falls on it."""
    stroke = float(rng.choice([0.0, 90.0]) + rng.normal(0, 4) if rng.random() < 0.75 else rng.uniform(0, 180))
    along = Turned(shape, stroke)
    worn = track.draw_worn(rng, along)
    ran = bool(worn.any())
    plan = draw_plan(rng) if ran and rng.random() < 0.6 else None
    lays = _lays(rng, shape, pixel_size_um, stroke, plan)
    lost = track.truncation(rng, worn, pixel_size_um) if ran else np.zeros(shape, np.float32)
    cut = [np.maximum(lay.depth - lost, 0) for lay in lays]
    was = np.maximum(*cut)
    # Closures lie on the worn plateau and inside the track only.
    left = [np.where(worn, np.minimum(depth, lay.cap), depth) for depth, lay in zip(cut, lays, strict=True)]
    depth = np.maximum(*left)
    closed = (was >= LEVEL_UM) & (depth < LEVEL_UM)
    codes = np.where(depth >= LEVEL_UM, 1, np.where(closed, 2, 0)).astype(np.uint8)
    label = np.where(cut[0] >= cut[1], lays[0].label, lays[1].label)
    rim = np.maximum(lays[0].rim, lays[1].rim) * (was < 0.3)
    rim = np.where(worn, np.clip(rim - lost, 0, None) * 0.5, rim)
    plateau = _plateau(rng, shape, stroke, worn)
    packed = closed & (label == PACKED)
    burnished = closed & (label == BURNISHED)
    floor = log_between(rng, 0.02, 0.5) * cloud(rng, shape, rng.uniform(1.2, 3.0)) * (codes == 1)
    flow = track.marks(rng, along, 0.12) if plan else 0.0
    height = np.where(codes == 0, plateau, np.where(burnished, flow, 0)) - depth + rim + floor
    height += closed * np.maximum(lays[0].lip, lays[1].lip) + packed * log_between(rng, 0.08, 0.5) * cloud(rng, shape, 2.0)
    scuffed = np.zeros(shape, bool)
    if ran and rng.random() < 0.25:
        scuffed, torn = track.scuff(rng, along, pixel_size_um)
        scuffed &= worn
        codes[scuffed] = 3
        depth = np.where(scuffed, 0, depth)
        height = np.where(scuffed, torn + 0.1 * height, height)
    flakes = lookalikes.graphite(rng, shape, pixel_size_um) * np.where(scuffed, 0.15, np.where(closed, 0.3, 1))
    height -= flakes * rng.uniform(0, 0.9)
    lumps, glare = lookalikes.debris(rng, shape, pixel_size_um), lookalikes.charging(rng, shape)
    codes[(lumps > 0) | (glare > 0.5)] = 255
    words = ["unworn" if not ran else "worn" if worn.all() else "border"]
    words += [name for name, there in (("smeared", plan is not None), ("scuffed", scuffed.any())) if there]
    return Scene(
        height + lumps, depth, codes, worn, burnished, packed, flakes, lookalikes.stains(rng, shape, along), lumps, glare, "+".join(words)
    )
