"""Filling the masks: plateau, open bands, closures and torn metal, and the retouching of their seams; pixel is µm a pixel."""

import cv2
import numpy as np

from .bands import Band
from .closures import Closed
from .textures import cells, filtered, loguniform, strokes
from .valleys import Palette, ribbons


def _soft(mask: np.ndarray, sigma: float) -> np.ndarray:
    return cv2.GaussianBlur(mask, (0, 0), sigma)


def plateau(rng: np.random.Generator, shape: tuple[int, int], pixel: float, stroke: float, lays: list[float],
            track: np.ndarray) -> np.ndarray:
    """The land, about 1: grain and finishing marks of the two lays; in the track (0-1) polished, with marks along the stroke."""
    grain = filtered(rng, shape, loguniform(rng, 0.5, 3), tail=rng.uniform(1, 2.2)) * loguniform(rng, 0.008, 0.07)
    clouds = filtered(rng, shape, loguniform(rng, 10, 60)) * loguniform(rng, 0.004, 0.05)
    count = int(loguniform(rng, 15, 350))
    turned = np.asarray(lays)[rng.integers(0, 2, count)] + rng.normal(0, rng.uniform(0.005, 0.08), count)
    fine = strokes(rng, shape, turned, (0.2 * min(shape), 2.5 * max(shape)), (0.4, max(0.8, 2.0 / pixel)))
    fine = fine * loguniform(rng, 0.03, 0.22)
    if not track.any():
        return 1 + grain + clouds + fine
    run = filtered(rng, shape, loguniform(rng, 30, 150), loguniform(rng, 0.4, 2.5), stroke) * loguniform(rng, 0.004, 0.07)
    if rng.random() < 0.5:
        marks = stroke + rng.normal(0, 0.02, int(loguniform(rng, 10, 200)))
        run = run + strokes(rng, shape, marks, (20, 2 * max(shape)), (0.4, max(0.8, 1.5 / pixel))) * loguniform(rng, 0.03, 0.2)
    keep, gloss = rng.uniform(0.05, 0.9), rng.normal(0, 0.06)
    return 1 + clouds + (grain + fine) * (1 - track * (1 - keep)) + track * (run + gloss)


def sink(rng: np.random.Generator, land: np.ndarray, grooves: list[Band], foot: np.ndarray, look: Palette, light: np.ndarray,
         pixel: float) -> tuple[np.ndarray, np.ndarray]:
    """The land with the open bands painted in, and how much of each place is open band (0-1)."""
    tone, rims, strength, rough = ribbons(rng, grooves, land.shape, look, light)
    feather = loguniform(rng, 0.4, 1.6)
    cover, strength = _soft(foot, feather), _soft(strength, feather + 0.6)
    size = float(np.clip(loguniform(rng, 0.5, 4) / pixel, 0.8, 8))
    style = rng.choice(3)
    along = grooves[int(rng.integers(len(grooves)))].angle
    floor = (filtered(rng, land.shape, size, tail=1.5) if style == 0 else cells(rng, land.shape, size) if style == 1
             else filtered(rng, land.shape, 8 * size, 0.8 * size, along))
    paint = 1 + _soft(tone, feather) + look.rough * rough * floor
    opened = cover * strength
    picture = land + opened * (paint - land)
    # the rim is thrown up in grains, so its line is broken by a texture
    rag = np.clip(1 + 0.5 * filtered(rng, land.shape, 2.0), 0, 2.5)
    picture += _soft(rims, loguniform(rng, 0.5, 1.4)) * rag * strength
    if rng.random() < 0.5:
        # halo: more electrons leave along the brink, a few µm wide
        wide = float(np.clip(loguniform(rng, 1, 5) / pixel, 1.5, 12))
        picture += (_soft(opened, wide) * (1 - cover)) * loguniform(rng, 0.02, 0.3)
    return np.clip(picture, 0.03, None), opened


def close(rng: np.random.Generator, picture: np.ndarray, land: np.ndarray, closed: Closed, foot: np.ndarray) -> np.ndarray:
    """The picture with caps laid on: smooth burnished metal, lips and seams as lines, a shadow where a cap ends over a hole."""
    near = np.clip(2 * _soft(foot, 1.5), 0, 1)
    mask = _soft(closed.mask, loguniform(rng, 0.4, 1.0)) * near
    sheen = filtered(rng, land.shape, loguniform(rng, 2, 12), loguniform(rng, 1, 4), rng.uniform(0, np.pi)) * loguniform(rng, 0.004, 0.05)
    calm = _soft(land, 2.5)
    plate = calm + closed.through * (land - calm) + closed.tone * (1 - 0.8 * (closed.through > 0.9)) + sheen
    shadow = np.clip(_soft(closed.mask, 2.2) - closed.mask, 0, 1) * np.clip(foot, 0, 1) * rng.uniform(0, 0.5)
    out = picture * (1 - shadow)
    out = out + mask * (plate - out)
    return np.clip(out + _soft(closed.lines, 0.6) * near, 0.03, None)


def scuff(rng: np.random.Generator, picture: np.ndarray, stroke: float, pixel: float, track: np.ndarray, light: np.ndarray) -> np.ndarray:
    """Paint streaks of torn metal in place; returns their mask (0-1)."""
    shape = picture.shape
    across = float(np.clip(loguniform(rng, 3, 40) / pixel, 3, 45))
    lanes = filtered(rng, shape, across * loguniform(rng, 4, 15), across, stroke)
    ragged = filtered(rng, shape, 14.0, 2.0, stroke)
    share = rng.uniform(0.3, 0.85) if rng.random() < 0.3 else loguniform(rng, 0.02, 0.3)
    height = lanes + rng.uniform(0.08, 0.35) * ragged
    inside = track > 0.5
    mask = (height > np.quantile(height[inside][::7], 1 - share)).astype(np.float32) * inside
    # specks too small to be torn metal are brushed out
    mask = (_soft(mask, 1.5) > 0.5).astype(np.float32)
    grit = float(np.clip(loguniform(rng, 0.8, 6) / pixel, 1.0, 7))
    crumbled = rng.random() < 0.5
    torn = (cells(rng, shape, grit, loguniform(rng, 1, 4), stroke) if crumbled
            else filtered(rng, shape, grit * 3, grit, stroke, tail=1.6))
    ridges = 1 - np.minimum(np.abs(filtered(rng, shape, grit * 12, grit * 1.2, stroke)) * 2.5, 1)
    base = 1 + rng.normal(0, 0.12)
    paint = base + loguniform(rng, 0.14, 0.4) * torn + loguniform(rng, 0.15, 0.7) * ridges ** 2
    soft = _soft(mask, loguniform(rng, 0.6, 2.0))
    dx, dy = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    picture += soft * (paint - picture) * rng.uniform(0.75, 1.0)
    picture -= (dx * light[0] + dy * light[1]) * loguniform(rng, 0.02, 0.2)
    np.clip(picture, 0.03, None, out=picture)
    return mask
