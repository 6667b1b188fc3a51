"""Wear as an operator on heights: the land sinks and flattens, carried metal fills hollows, adhesion tears. Heights in um."""

from dataclasses import dataclass

import cv2
import numpy as np

from .hone import Ground
from .processes import chance, fractal, log_uniform, standard, streaks

CLOSED = 0.5  # um below the land, the contract's limit


@dataclass(frozen=True, kw_only=True)
class Surface:
    """height: um, land at 0; depth: ground below the land (um); codes: 0-3; worn: where the ring ran; burnish: share of
    freshly moved metal (0-1); torn: share of torn metal (0-1); name: what happened."""

    height: np.ndarray
    depth: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    burnish: np.ndarray
    torn: np.ndarray
    name: str


def track(rng: np.random.Generator, shape: tuple[int, int], pixel: float, stroke: float) -> tuple[np.ndarray, np.ndarray, str]:
    """Where the ring ran (bool), how fully (0-1), and a name; a border runs along the stroke."""
    draw = rng.random()
    if draw < 0.4:
        return np.zeros(shape, bool), np.zeros(shape, np.float32), "unworn"
    if draw > 0.58:
        return np.ones(shape, bool), np.ones(shape, np.float32), "worn"
    y, x = np.indices(shape, dtype=np.float32)
    across = -np.sin(stroke) * (x - shape[1] / 2) + np.cos(stroke) * (y - shape[0] / 2)
    across = across * rng.choice([-1, 1]) + rng.uniform(-0.3, 0.3) * min(shape)
    across += streaks(rng, shape, stroke, 40, log_uniform(rng, 30, 300)) * log_uniform(rng, 0.3, 6)
    ramp = log_uniform(rng, 2, 40) / pixel
    return across > 0, np.clip(across / ramp, 0, 1).astype(np.float32), "border"


def soft(field: np.ndarray, level: float, width: float) -> np.ndarray:
    """1 where field lies above level, over a ramp of the given width."""
    return np.clip((field - level) / width + 0.5, 0, 1)


def folded(rng: np.random.Generator, shape, pixel: float, stroke: float, deep: np.ndarray) -> np.ndarray:
    """Share closed by metal pushed over the rim from one end of the stroke: it reaches a drawn distance from that rim."""
    land = (deep < 0.15).astype(np.float32)
    reach = log_uniform(rng, 3, 40) / pixel
    sign = rng.choice([-1, 1])
    over = np.zeros(shape, np.float32)
    for share in (0.25, 0.5, 0.75, 1.0):
        dx, dy = sign * share * reach * np.cos(stroke), sign * share * reach * np.sin(stroke)
        moved = cv2.warpAffine(land, np.array([[1, 0, dx], [0, 1, dy]]), shape[::-1], borderMode=cv2.BORDER_REFLECT)
        np.maximum(over, moved, out=over)
    return over


def closing(rng: np.random.Generator, ground: Ground, pixel: float, deep: np.ndarray) -> np.ndarray:
    """Share of each pixel's groove that carried metal closes (0-1), from ready grooves, tongues of metal and folds."""
    shape, stroke = deep.shape, ground.stroke
    amount = rng.normal(0.15, 0.75)
    tongue = streaks(rng, shape, stroke, log_uniform(rng, 2, 30) / pixel + 1, log_uniform(rng, 15, 400) / pixel + 2)
    patch = fractal(rng, shape, 0.7, log_uniform(rng, 10, 80) / pixel)
    weights = rng.dirichlet([1.0, 0.8, 0.5])
    weights /= np.linalg.norm(weights)
    # Shallow hollows fill up first: the same flux of metal raises a deep one less.
    need = log_uniform(rng, 0.02, 0.3) * np.log(np.maximum(deep, CLOSED) / 1.5)
    flux = weights[0] * ground.closing + weights[1] * tongue + weights[2] * patch + 0.15 * rng.normal() + amount - need
    shut = soft(flux, 0.0, log_uniform(rng, 0.05, 0.5))
    if chance(rng, 0.5):
        shut = np.maximum(shut, folded(rng, shape, pixel, stroke, deep) * soft(tongue + 0.5 * patch, rng.uniform(-0.4, 1.0), 0.2))
    blur = max(0.5, log_uniform(rng, 0.2, 1.2) / pixel)
    return cv2.GaussianBlur(shut.astype(np.float32), (0, 0), min(blur, 4.0))


def scuffing(rng: np.random.Generator, shape, pixel: float, stroke: float, run: np.ndarray) -> np.ndarray:
    """Share of torn metal (0-1) in streaks along the stroke."""
    broad = streaks(rng, shape, stroke, log_uniform(rng, 10, 80) / pixel + 2, log_uniform(rng, 150, 1500) / pixel)
    thin = streaks(rng, shape, stroke, log_uniform(rng, 1.5, 8) / pixel + 1, log_uniform(rng, 40, 300) / pixel)
    grain = fractal(rng, shape, 0.5, 8 / pixel + 2)
    heavy = chance(rng, 0.3)
    level = rng.uniform(-0.5, 0.5) if heavy else rng.uniform(0.8, 1.6)
    field = (broad + rng.uniform(0.2, 0.7) * thin + 0.15 * grain) / 1.15
    return soft(field - level - 3 * (run < 0.5), 0, 0.25).astype(np.float32)


def torn_relief(rng: np.random.Generator, shape, pixel: float, stroke: float) -> np.ndarray:
    """Heights of torn metal (um): ploughed ridges, pulled scales across them, and rough fracture."""
    plough = streaks(rng, shape, stroke, log_uniform(rng, 1.5, 5) / pixel + 1, log_uniform(rng, 15, 120) / pixel + 2)
    scales = streaks(rng, shape, stroke + np.pi / 2, log_uniform(rng, 1.5, 7) / pixel + 1, log_uniform(rng, 4, 20) / pixel + 2)
    rough = fractal(rng, shape, rng.uniform(0.2, 0.7), log_uniform(rng, 2, 10) / pixel + 2)
    mix = rng.dirichlet([2, 1, 1.5])
    return log_uniform(rng, 0.4, 1.8) * standard(mix[0] * plough + mix[1] * np.abs(scales) + mix[2] * rough)


def run(rng: np.random.Generator, ground: Ground, pixel: float, scratch: np.ndarray) -> Surface:
    """The ground after its history; `scratch` is the depth (um) of odd scratches along the stroke."""
    shape, stroke = ground.depth.shape, ground.stroke
    worn, full, name = track(rng, shape, pixel, stroke)
    zeros = np.zeros(shape, np.float32)
    footing = fractal(rng, shape, 0.4, log_uniform(rng, 2, 12) / pixel + 1)
    floor = log_uniform(rng, 0.03, 0.4) * footing * np.clip(ground.depth / 1.0, 0, 1)
    if not worn.any():
        codes = (ground.depth >= CLOSED).astype(np.uint8)
        height = ground.fine + ground.rim - ground.depth + floor - scratch
        return Surface(height=height, depth=ground.depth, codes=codes, worn=worn, burnish=zeros, torn=zeros, name=name)

    lost = log_uniform(rng, 0.03, 0.75) * min(ground.usual_depth, 2.5) * full
    deep = np.maximum(ground.depth - lost, 0)
    # The bearing curve above the truncation level is pressed flat; what lay below keeps its height.
    left = 1 - full * rng.uniform(0.5, 0.97)
    land = ground.fine * left
    rim = ground.rim * left**2
    marks = streaks(rng, shape, stroke, log_uniform(rng, 0.5, 4) / pixel + 1, log_uniform(rng, 60, 900) / pixel)
    land = land + full * log_uniform(rng, 0.01, 0.12) * np.clip(marks, -3, 2)
    footprint = deep >= CLOSED
    shut, after = zeros, deep
    if chance(rng, 0.6):
        name += "_smear"
        shut = closing(rng, ground, pixel, deep) * np.clip(full * 1.5, 0, 1) * worn
        sunk = np.clip(0.15 + rng.uniform(0.02, 0.15) * streaks(rng, shape, stroke, 3 / pixel + 1, 20 / pixel + 1), 0.0, 0.38)
        after = deep * (1 - shut) + np.minimum(deep, sunk) * shut
    smeared = footprint & (after < CLOSED) & worn
    burnish = shut * np.clip(deep / CLOSED, 0, 1)
    # A seam stays where the carried metal lies against the old rim, and a lip stands where the cap ends in the open.
    seam = log_uniform(rng, 0.1, 0.45) * np.exp(-(((deep - 0.3) / 0.3) ** 2)) * (deep > 0) * shut
    lip = log_uniform(rng, 0.1, 0.7) * 4 * shut * (1 - shut) * np.clip(deep, 0, 1)
    folds = streaks(rng, shape, stroke + np.pi / 2 + rng.normal(0, 0.2), log_uniform(rng, 1.5, 6) / pixel + 1, 12 / pixel + 2)
    fold = log_uniform(rng, 0.03, 0.35) * np.clip(1 - np.abs(folds) / 0.35, 0, 1) * burnish
    scratch = np.maximum(scratch * (1 - burnish), 0)
    height = land * (1 - 0.6 * burnish) + rim * (1 - shut) - after + floor * (1 - shut) - seam + lip - fold - scratch
    torn = zeros
    if chance(rng, 0.25):
        name += "_scuff"
        torn = scuffing(rng, shape, pixel, stroke, full) * worn
        relief = torn_relief(rng, shape, pixel, stroke)
        height = height * (1 - 0.85 * torn) + relief * torn
    codes = np.where(after >= CLOSED, 1, 0).astype(np.uint8)
    codes[smeared] = 2
    codes[(torn > 0.5) & worn] = 3
    return Surface(
        height=height.astype(np.float32), depth=after, codes=codes, worn=worn, burnish=burnish * (1 - torn), torn=torn, name=name
    )
