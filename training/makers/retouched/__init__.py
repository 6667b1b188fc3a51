"""A retoucher's maker of fields: masks come first, each is filled with the texture of its state, the seams are retouched."""

import cv2
import numpy as np

from makers.made import Made

from . import bands, closures, lookalikes, surface, valleys
from .instrument import photograph
from .textures import loguniform


def _directions(rng: np.random.Generator) -> tuple[float, float, float]:
    """Stroke and the two lays in radians; the circumference, across the stroke, bisects the included angle of the lays."""
    stroke = float(rng.choice([np.pi / 2, 0.0], p=[0.7, 0.3]) + np.radians(rng.normal(0, 4)))
    if rng.random() < 0.2:
        stroke = rng.uniform(0, np.pi)
    included = np.radians(rng.uniform(20, 150))
    return stroke, stroke + np.pi / 2 + included / 2, stroke + np.pi / 2 - included / 2


def _worn(rng: np.random.Generator, shape: tuple[int, int], stroke: float) -> tuple[np.ndarray, str]:
    """Where the ring ran (bool) and what to call it."""
    fate = rng.random()
    if fate < 0.4:
        return np.zeros(shape, bool), "unworn"
    if fate > 0.55:
        return np.ones(shape, bool), "worn"
    rows, cols = np.indices(shape, dtype=np.float32)
    away = (cols - shape[1] / 2) * -np.sin(stroke) + (rows - shape[0] / 2) * np.cos(stroke)
    return away * rng.choice([-1, 1]) > rng.uniform(-0.3, 0.3) * min(shape), "border"


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of shape (rows, cols) at pixel_size_um µm a pixel; everything follows from rng."""
    pixel = float(pixel_size_um)
    stroke, *lays = _directions(rng)
    worn, kind = _worn(rng, shape, stroke)
    smeared, scuffed = bool(worn.any() and rng.random() < 0.6), bool(worn.any() and rng.random() < 0.25)
    backscattered = bool(rng.random() < 0.25)
    turn = rng.uniform(0, 2 * np.pi)
    light = np.array([np.cos(turn), np.sin(turn)])
    depth, width = loguniform(rng, 0.6, 6), loguniform(rng, 3, 35)
    width = float(np.clip(width, 1.5 * pixel, 0.16 * pixel * min(shape)))  # or a field would show nothing that can be told
    truncation = loguniform(rng, 0.03, 0.7) * depth
    shares = [1.0, loguniform(rng, 0.15, 1)]
    grooves = [band for angle, share in zip(rng.permutation(lays), shares, strict=True)
               for band in bands.family(rng, shape, pixel, float(angle), share, worn, truncation, depth, width)]
    grooves.sort(key=lambda band: float(band.depth.max()))  # the deeper groove is the one that runs through at a crossing
    foot, deep = bands.cut(grooves, shape)
    codes = (deep > 0.5).astype(np.uint8)

    track = cv2.GaussianBlur(worn.astype(np.float32), (0, 0), loguniform(rng, 1, 12)) if kind == "border" else worn.astype(np.float32)
    land = surface.plateau(rng, shape, pixel, stroke, lays, track)
    look = valleys.palette(rng, backscattered)
    picture, opened = surface.sink(rng, land, grooves, foot, look, light, pixel)
    if smeared:
        closed = closures.lay_over(rng, grooves, shape, stroke, light)
        closed.mask[~worn] = 0
        picture = surface.close(rng, picture, land, closed, foot)
        opened = opened * (1 - closed.mask)
        codes[(codes == 1) & (closed.mask > 0.5) & worn] = 2
        kind += " smeared" if (codes == 2).any() else ""
    if worn.any() and rng.random() < 0.7:
        picture += lookalikes.scratches(rng, shape, pixel, stroke) * loguniform(rng, 0.03, 0.25) * (1 - opened) * track
    if scuffed:
        torn = surface.scuff(rng, picture, stroke, pixel, track, light)
        codes[(torn > 0.5) & worn] = 3
        kind += " scuffed"
    if rng.random() < 0.4:
        lookalikes.graphite(rng, picture, pixel)
    for _ in range(int(rng.choice(3, p=[0.55, 0.35, 0.1]))):
        lookalikes.veils(rng, picture, stroke if rng.random() < 0.5 else 0.0)
    if rng.random() < 0.25:
        lookalikes.debris(rng, picture, codes, pixel, light)
    if rng.random() < 0.05:
        lookalikes.charging(rng, picture, codes)
    return Made(image=photograph(rng, picture.astype(np.float32)), codes=codes, worn=worn,
                kind=kind + (" backscattered" if backscattered else ""))
