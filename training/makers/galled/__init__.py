"""Galled liner fields: scuffing in all its forms, and what looks like it but isn't. Ground is honed, run (truncated, scratched,
burnished, smeared) and in some three fifths of worn fields scuffed, as a height map in um with its truth; then looked at."""

import numpy as np

from makers.made import Made

from . import honing, inclusions, microscope, running, scuffing
from .frame import Frame, Map

VALLEY_DEPTH_UM = 0.5


def ground(rng: np.random.Generator, frame: Frame) -> tuple[Map, Map, Map, Map, str]:
    """Height about the local plateau (um), grey difference, codes, worn, and what was drawn."""
    honed = honing.hone(rng, frame)
    _, v = frame.axes(frame.stroke)
    kind = rng.random()
    worn = np.full(frame.shape, kind < 0.58) if kind < 0.95 else v > np.float32(rng.uniform(-0.3, 0.3) * frame.size)
    ran = bool(worn.any())
    usual = (
        float(np.median(honed.depth[honed.depth > VALLEY_DEPTH_UM])) if (honed.depth > VALLEY_DEPTH_UM).any() else 1.0
    )
    cut = np.where(worn, np.float32(rng.uniform(0.0, 0.35) * min(usual, 2.0)), 0).astype(np.float32)
    depth = np.maximum(honed.depth - cut, 0)
    plateau = honed.rough + np.where(worn, np.minimum(honed.ridge, 0.03), honed.ridge)
    scratch = np.maximum(honed.scratch - 1.5 * cut, 0)
    grey = np.zeros(frame.shape, np.float32)
    codes = np.where(depth >= VALLEY_DEPTH_UM, 1, 0).astype(np.uint8)
    name = f"{honed.finish}, {'run' if ran else 'unrun'}"

    polish = np.zeros(frame.shape, np.float32)
    if ran:
        film, polish = running.films(rng, frame)
        grey += np.where(worn, film, 0)
        plateau = np.where(
            worn, plateau * rng.uniform(0.3, 1.0) * (1 - polish) + running.stroke_marks(rng, frame), plateau
        )
        scratch = scratch * (1 - polish * worn)
    elif rng.random() < 0.08:
        plateau = plateau + running.scratches(rng, frame, int(rng.integers(1, 4)))
    on = np.clip(1 - depth / 0.4, 0, 1)
    height = plateau * on - np.maximum(depth, scratch) + honed.floor * (1 - on) * np.minimum(depth / 2, 1)
    if rng.random() < 0.25:
        grey += rng.uniform(-0.3, -0.05) * np.clip(depth / 1.2, 0, 1)  # carbon and oil left on groove floors

    if rng.random() < 0.6:
        carbon = inclusions.flakes(rng, frame) * on
        grey += carbon * rng.uniform(-0.65, -0.3)
        height -= carbon * rng.uniform(0, 0.4)
    if rng.random() < 0.35:
        holes = inclusions.pits(rng, frame) * on
        height -= holes * rng.uniform(0.4, 0.9) * np.clip(4 * frame.pixel_um, 0.5, 3)
        grey -= holes * rng.uniform(0.0, 0.3)

    if ran:
        moved = running.smear(rng, frame, depth, worn)
        height = np.where(moved.closed, moved.level - 0.3 * moved.crack, height)
        grey = np.where(moved.closed, grey * 0.3 + moved.grey - 0.4 * moved.crack, grey)
        codes[moved.closed] = 2
    if ran and rng.random() < 0.6:
        inside, form = scuffing.where_destroyed(rng, frame, worn, most=rng.uniform(0.01, 0.35))
        if (inside > 0).any():
            relief, weight, tone, what = scuffing.destroy(rng, frame, inside, form)
            height = height * (1 - weight) + relief
            grey = grey * (1 - weight) + tone
            codes[inside > 0] = 3
            name += f", scuffed {form} {what}"
    return height.astype(np.float32), grey.astype(np.float32), codes, worn, name


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field with its truth; everything follows from rng."""
    frame = Frame(shape, float(pixel_size_um), float(rng.uniform(0, np.pi)))
    height, grey, codes, worn, name = ground(rng, frame)
    signal = microscope.secondaries(rng, frame, height, grey)
    if rng.random() < 0.2:
        codes[microscope.debris(rng, frame, signal)] = 255
    if rng.random() < 0.06:
        codes[microscope.charging(rng, frame, signal)] = 255
    return Made(image=microscope.developed(rng, frame, signal), codes=codes, worn=worn, kind=name)
