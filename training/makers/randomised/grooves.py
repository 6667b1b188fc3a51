"""Grooves of two crossing lays: their depth in micrometres, drawn lay by lay on a turned sheet and turned into the picture."""

from dataclasses import dataclass

import cv2
import numpy as np

from .noise import log_uniform, wander

STEEPEST = np.tan(np.radians(27))
"""Walls of hone grooves slope by 6 to 27°."""
SLIMMEST = 4.0
"""Widths to a depth: a V whose walls slope by 27°."""


@dataclass(frozen=True, kw_only=True)
class Relief:
    """depth: ground below the unworn plateau, µm; crest: greatest depth of the groove's section there, µm;
    name: number of the groove, 0 off them; lay: angle of the groove's lay, radians; lays: the two angles."""

    depth: np.ndarray
    crest: np.ndarray
    name: np.ndarray
    lay: np.ndarray
    lays: tuple[float, float]


def _presence(rng: np.random.Generator, count: int, width: float) -> np.ndarray:
    """Share of a groove's depth along its length (count and width in px): most run through, some end or fade.

    Grit rises out of the metal over a length of some widths, so no groove ends square."""
    along = np.arange(count, dtype=np.float32)
    share = np.ones(count, np.float32)
    for sign in (1, -1):
        if rng.random() < 0.18:
            fade = log_uniform(rng, min(max(4, 2 * width), 0.4 * count), 0.5 * count)
            share *= np.clip(0.5 + sign * (along - rng.uniform(0.1, 0.9) * count) / fade, 0, 1)
    return share * np.clip(1 + rng.uniform(0, 0.3) * wander(rng, count, log_uniform(rng, 15, count)), 0.3, 1.6).astype(np.float32)


def exponent(depth: float, width: float, wanted: float) -> float:
    """The exponent of the section nearest to the wanted one whose flank, from the rim to four fifths of depth, is no
    steeper than 27°; depth and width in one unit."""
    part = 1.6 * depth / (STEEPEST * width)
    return 1.0 if part >= 0.8 else float(min(wanted, np.log(0.2) / np.log(1 - part)))


def _centres(rng: np.random.Generator, count: int, side: int) -> np.ndarray:
    """Rows at which count grooves run on a sheet of side px: at random, in even steps with play, or in groups."""
    habit = rng.random()
    if habit < 0.4:
        return rng.uniform(0, side, count)
    if habit < 0.65:
        return (np.arange(count) + rng.uniform(0, 1) + rng.normal(0, rng.uniform(0.05, 0.4), count)) * side / max(count, 1)
    groups = rng.uniform(0, side, max(1, count // int(rng.integers(2, 6))))
    return rng.choice(groups, count) + rng.normal(0, side * rng.uniform(0.01, 0.08), count)


def _sheet(rng: np.random.Generator, side: int, pixel: float, strength: float, first: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Depth, crest (µm) and groove numbers of one lay on a square sheet, grooves along its rows; pixel in µm."""
    depth, crest = np.zeros((2, side, side), np.float32)
    name = np.zeros((side, side), np.int16)
    widest = min(60.0, 0.22 * side * pixel)
    usual = log_uniform(rng, max(2.5, min(2.5 * pixel, 0.5 * widest)), max(4.0, 0.7 * widest))
    spread, slope = rng.uniform(0.1, 0.7), log_uniform(rng, 0.06, 0.3)
    steepness = log_uniform(rng, 1.0, 7.0)
    cover = log_uniform(rng, 0.06, 0.5) * strength
    count = int(np.clip(rng.poisson(cover * side * pixel / usual), 2 if strength > 0.5 else 1, 140))
    # Stones run straight: whatever sways does so over many widths.
    sway = log_uniform(rng, 0.02, 0.5) * usual / pixel * wander(rng, side, max(8 * usual / pixel, log_uniform(rng, 100, 1500)))
    for number, centre in enumerate(_centres(rng, count, side), start=first):
        width = float(np.clip(usual * np.exp(rng.normal(0, spread)), 2, 60)) / pixel
        deepest = float(np.clip(width * pixel * slope * np.exp(rng.normal(0, 0.4)), 0.2, min(10, width * pixel / SLIMMEST)))
        middle = centre + sway + log_uniform(rng, 0.01, 0.08) * width * wander(rng, side, max(3 * width, log_uniform(rng, 20, 600)))
        middle = middle + rng.normal(0, 0.015) * (np.arange(side) - side / 2)
        play = log_uniform(rng, 0.01, 0.12) * wander(rng, side, max(0.3 * width, log_uniform(rng, 5, 300)))
        half = 0.5 * width * np.clip(1 + play, 0.5, 1.5)
        top, bottom = int(max(0, np.floor((middle - half).min()))), int(min(side, np.ceil((middle + half).max()) + 1))
        if bottom <= top:
            continue
        amount = np.minimum(deepest * _presence(rng, side, width), 10).astype(np.float32)[None, :]
        place = (np.arange(top, bottom, dtype=np.float32)[:, None] - middle.astype(np.float32)) / half.astype(np.float32)
        lean = place + rng.uniform(-0.35, 0.35) * (1 - place * place)
        ground = amount * (1 - np.minimum(np.abs(lean), 1) ** np.float32(exponent(deepest, width * pixel, steepness)))
        inside = (np.abs(place) < 1) & (ground > depth[top:bottom])
        depth[top:bottom][inside] = ground[inside]
        crest[top:bottom][inside] = np.broadcast_to(amount, ground.shape)[inside]
        name[top:bottom][inside] = number
    return depth, crest, name


def lays_of(stroke: float, included: float) -> tuple[float, float]:
    """The two lays, bisected by the direction across the stroke; all in radians."""
    return stroke + np.pi / 2 + included / 2, stroke + np.pi / 2 - included / 2


def cut(rng: np.random.Generator, shape: tuple[int, int], pixel: float, stroke: float) -> Relief:
    """Both lays over a picture of shape (px), pixel in µm; stroke in radians from the row direction."""
    lays = lays_of(stroke, np.deg2rad(rng.uniform(20, 150)))
    weaker = 1.0 if rng.random() < 0.65 else rng.uniform(0.05, 0.5)
    strengths = (1.0, weaker) if rng.random() < 0.5 else (weaker, 1.0)
    side = int(np.ceil(np.hypot(*shape))) + 4
    size = (shape[1], shape[0])
    parts, first = [], 1
    for lay, strength in zip(lays, strengths, strict=True):
        sheets = _sheet(rng, side, pixel, strength, first)
        first += 200
        c, s = np.cos(lay), np.sin(lay)
        # Picture to sheet: warpAffine is given the inverse map, so that each picture pixel asks the sheet.
        turn = np.array([[c, s, side / 2 - c * size[0] / 2 - s * size[1] / 2], [-s, c, side / 2 + s * size[0] / 2 - c * size[1] / 2]])
        nearest, smooth = cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP, cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        parts.append([cv2.warpAffine(sheets[i], turn, size, flags=smooth if i == 0 else nearest) for i in range(3)])
    upper = parts[1][0] > parts[0][0]
    depth, crest, name = (np.where(upper, b, a) for a, b in zip(*parts, strict=True))
    return Relief(depth=depth, crest=crest, name=name, lay=np.where(upper, lays[1], lays[0]).astype(np.float32), lays=lays)
