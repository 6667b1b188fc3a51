"""A maker of fields whose hone grooves lie in bundles with sharp ridges, beside shallow bundles that look like them.

Truth and picture follow from one map of depths: a pixel is open valley where the mean depth over its side is at least
0.5 µm below the local plateau, so a ridge counts only where it, too, lies that deep.
"""

import numpy as np

from makers.made import Made

from . import finish as finishes
from . import matter as matters
from . import picture, strands, wear
from .frame import Frame, cloudy, soft, streaky, turned
from .scuff import scuffed

__all__ = ["make"]


def track(rng: np.random.Generator, frame: Frame) -> np.ndarray:
    """Where the ring ran: all, none, or one side of a straight border along the stroke."""
    draw = rng.random()
    if draw < 0.06:
        return frame.across > rng.uniform(-0.25, 0.25) * frame.reach
    return np.full(frame.across.shape, draw < 0.62)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    finish = finishes.chosen(rng)
    stroke = turned(shape, rng.uniform(0, 180))
    worn = track(rng, stroke)
    run = bool(worn.any())
    amount = float(
        rng.choice([rng.uniform(0, 0.06), rng.uniform(0.08, 0.4), rng.uniform(0.45, 1.0)], p=[0.25, 0.4, 0.35])
    )
    turns = (-0.5, 0.5) if finish.lays == 2 else (float(rng.choice([-0.5, 0.5])),)
    depth, rim, shut, stripes = (np.zeros(shape, np.float32) for _ in range(4))
    striped = np.float32(rng.uniform(0.02, 0.2) * min(pixel_size_um, 1.5))
    for turn in turns:
        frame = turned(shape, stroke.angle_deg + 90 + turn * finish.hone_angle_deg)
        cuts = finishes.scratches(rng, finish, pixel_size_um, frame.reach)
        cuts += finishes.grooves(rng, finish, pixel_size_um, frame.reach, 0.22 * amount * run)
        lay = strands.drawn(rng, cuts, frame)
        shut = np.where(lay.depth > depth, lay.shut, shut)
        stripes = np.where(lay.depth > depth, striped * streaky(rng, frame, 150, 1.8), stripes)
        rim = np.where(lay.depth > 0.1, 0, np.maximum(rim, lay.rim)) * (depth < 0.3)
        depth = np.maximum(depth, lay.depth)
    grain = finish.grain_um * min(pixel_size_um / 0.5, 1.0) * (streaky(rng, frame, 60, 1.5) + cloudy(rng, shape, 1.5))
    loss = (
        float(rng.uniform(0.03, 0.25) if finish.name in ("fine", "plateau") else rng.uniform(0.05, 0.8)) if run else 0.0
    )
    depth = wear.truncated(rng, depth, stroke, worn, loss)
    rim = np.maximum(rim - loss * worn * 1.2, 0)
    ground = wear.moved(rng, depth, shut, stroke, worn, amount * run, pixel_size_um)
    closed = ground.groove & (ground.depth < wear.LIMIT_UM) & worn
    valley = ground.groove & ~closed

    height = (rim - ground.depth + grain * np.where(worn, 0.45, 1.0)).astype(np.float32)
    rough = cloudy(rng, shape, max(0.8 / pixel_size_um, 1.2)) * np.float32(
        rng.uniform(0.03, 0.14) * min(pixel_size_um / 0.35, 1.0)
    )
    height += (rough + stripes) * soft(valley, 1.0)
    glow = np.zeros(shape, np.float32)
    marks = ()
    if run:
        flat = np.exp(-ground.depth / 0.4)
        height += wear.stroke_marks(rng, stroke, worn, pixel_size_um) * flat
        around = (1.8 * soft(closed, 1.8)).clip(0, 1)
        trace = ground.trace * around
        height += trace * (0.05 + 0.12 * ground.flow) * np.float32(min(max(pixel_size_um, 0.3), 1.2))
        glow += trace * (rng.choice([-1, 1]) * rng.uniform(0.1, 0.24) + 0.06 * ground.flow)
        rims = np.maximum(soft(closed, 0.7) - soft(closed, 2.0), 0) * ground.trace
        glow += rng.uniform(0.1, 0.5) * rims - rng.uniform(0.3, 0.9) * ground.crack * around
        marks = tuple(ground.kinds) if closed.any() else ()
    codes = np.where(valley, 1, np.where(closed, 2, 0)).astype(np.uint8)
    if run and rng.random() < 0.33:
        scuff = scuffed(rng, stroke, worn, pixel_size_um)
        part = soft(scuff.where, 0.8)
        height += part * (scuff.height - scuff.wiped * height)
        ground.depth = ground.depth * (1 - part * scuff.wiped)
        glow += part * (scuff.glow - scuff.wiped * glow)
        codes[scuff.where] = 3
        marks += (scuff.kind,)

    matter = matters.present(rng, shape, pixel_size_um)
    height -= soft(matter.pits, 0.9) * np.float32(1.2 * max(pixel_size_um, 0.5))
    height = (height + soft(matter.debris, 3.0) * np.float32(5 * pixel_size_um)).astype(np.float32)
    detector = picture.settings(rng)
    light = picture.signal(height, ground.depth.astype(np.float32), pixel_size_um, detector) + glow
    light += matter.stain * 0.3 + 0.03 * cloudy(rng, shape, rng.uniform(20, 120)) * rng.uniform(0, 1)
    light *= 1 - np.float32(rng.uniform(0.35, 0.75)) * matter.graphite
    light *= 1 - np.float32(rng.uniform(0.1, 0.5)) * soft(matter.pits, 0.7)
    light += matter.debris * np.float32(rng.uniform(0.1, 0.5))
    codes[matter.debris > 0] = 255
    if rng.random() < 0.08:
        charge = picture.charging(rng, shape)
        light += charge * rng.uniform(0.5, 1.2)
        codes[charge > 0.35] = 255
    image = picture.exposed(rng, light, detector)
    kind = " ".join((finish.name, "worn" if run else "unworn", *marks))
    return Made(image=image, codes=codes, worn=worn, kind=kind)
