"""Heights, materials and truth of one field: two bands of grooves, then wear, then what lies about."""

from dataclasses import dataclass

import numpy as np

from . import band, litter, wear
from .fields import blur, cloud, log_uniform, ramp, rough, streaks
from .truth import codes_of, settle


@dataclass(frozen=True)
class Ground:
    """height: µm; atomic: yield beside iron's; glow: factor of charging; codes, worn, name as in Made."""

    height: np.ndarray
    atomic: np.ndarray
    glow: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    name: str


def _stroke(rng):
    """Direction of the stroke, radians from the x axis: most often upright or level."""
    if rng.uniform() < 0.2:
        return rng.uniform(0, np.pi)
    return rng.choice((0, np.pi / 2), p=(0.35, 0.65)) + np.radians(rng.normal(0, 4))


def lays_of(stroke, included):
    """The two lays, bisected by the direction across the stroke; all in radians."""
    return stroke + np.pi / 2 + included / 2, stroke + np.pi / 2 - included / 2


def _plateau(rng, shape, pixel, lays):
    """Finishing scratches and grain of the land, µm, well within 0.5 µm; pixel in µm."""
    total = np.zeros(shape, np.float32)
    for lay in lays:
        width = max(log_uniform(rng, 0.4, 2.5) / pixel, 1)
        total += streaks(rng, shape, lay + rng.normal(0, 0.04), width * log_uniform(rng, 20, 200), width) * log_uniform(rng, 0.01, 0.12)
    return total + rough(rng, shape, max(log_uniform(rng, 0.5, 4) / pixel, 1.5)) * np.float32(log_uniform(rng, 0.005, 0.06))


def closed(rng, bands, ran, worn_off, grain):
    """Depths in µm below the worn plateau, of each band and of both before and after metal moved; grain of caps in px."""
    cuts = [np.maximum(b.depth - worn_off, 0) for b in bands]
    sag = np.clip(0.15 + 0.13 * cloud(rng, ran.shape, grain), 0, 0.42)
    shut = [d + b.cap * ran * (np.minimum(d, sag) - d) for b, d in zip(bands, cuts, strict=True)]
    return cuts, np.maximum(*cuts), np.maximum(*shut)


def _texture(rng, pixel, lays, stroke, depth, moved, ran):
    """Heights in µm of all that is finer than grooves, from land worn bright to torn floors; pixel in µm."""
    shape, floor = depth.shape, ramp(depth, 0.3, 0.9)
    polish = 1 - rng.uniform(0.3, 0.9) * ran
    texture = _plateau(rng, shape, pixel, lays) * (polish * (1 - moved * rng.uniform(0.5, 0.95)))
    texture = texture + wear.marks(rng, shape, pixel, stroke) * ran * (1 - floor)
    if rng.uniform() < 0.25:
        # handling and assembly scratch along the stroke too, whether the ring ran or not
        texture = texture + wear.marks(rng, shape, pixel, stroke + rng.normal(0, 0.05)) * (1 - floor)
    deep = rough(rng, shape, max(log_uniform(rng, 0.6, 5) / pixel, 1.5)) * log_uniform(rng, 0.03, 0.5)
    texture = texture + floor * np.clip(deep, -1, 1) * np.minimum(depth, 1)
    drag = streaks(rng, shape, stroke, max(12 / pixel, 8), max(0.8 / pixel, 1.2))
    return texture + blur(moved, 0.8) * drag * log_uniform(rng, 0.02, 0.15)


def _edges(rng, bands, cuts, depth, ran):
    """Heights in µm of torn rims, which the ring takes off, and of the folds at the fronts of moved metal."""
    rim = np.maximum(*(b.rim for b in bands)) * log_uniform(rng, 0.02, 0.3)
    lip = np.maximum(*(b.lip * d for b, d in zip(bands, cuts, strict=True))) * ran
    fold = np.minimum(lip, 1.5) * (rng.uniform(0.1, 0.5) * np.sign(cloud(rng, ran.shape, 25) + rng.normal(0, 0.7)))
    return np.minimum(rim, 0.6) * (1 - 0.8 * ran) * (1 - ramp(depth, 0.3, 0.9)) + fold


def _yield(rng, depth, moved, grain):
    """Yield beside iron's: soot on floors, and caps a shade off; grain of the soot in px."""
    atomic = np.ones(depth.shape, np.float32)
    if rng.uniform() < 0.55:
        low = rng.normal(-0.5, 0.8)
        soot = ramp(rough(rng, depth.shape, grain), low, low + log_uniform(rng, 0.3, 2))
        atomic -= ramp(depth, 0.3, 0.9) * soot * rng.uniform(0.1, 0.65)
    return atomic + blur(moved, 0.8) * rng.uniform(-0.08, 0.12)


def build(rng, pixel, shape):
    """Draw a Ground of `shape` px, pixel in µm."""
    stroke = _stroke(rng)
    lays = lays_of(stroke, np.radians(rng.uniform(20, 150)))
    worn, name = wear.track(rng, shape, stroke)
    ran = blur(worn.astype(np.float32), 1.5) * worn
    smeared = worn.any() and rng.uniform() < 0.6
    scuffed = worn.any() and rng.uniform() < 0.25
    common = band.habit(rng, pixel, shape, log_uniform(rng, 0.12, 0.95) if smeared else 0.0)
    weak = log_uniform(rng, 0.1, 1) if rng.uniform() < 0.5 else 1.0
    pairs = zip(lays, rng.permutation((1.0, weak)), strict=True)
    bands = [band.cut(rng, shape, pixel, lay, stroke, common, strength) for lay, strength in pairs]

    grain = max(common.width / pixel, 3)
    worn_off = np.float32(log_uniform(rng, 0.02, min(1.0, 0.4 * common.depth))) * ran
    cuts, before, depth = closed(rng, bands, ran, worn_off, grain)
    codes = codes_of(before, depth)
    moved = (codes == 2).astype(np.float32)
    height = _texture(rng, pixel, lays, stroke, depth, moved, ran) - depth + _edges(rng, bands, cuts, depth, ran)
    height = settle(height, codes)
    atomic = _yield(rng, depth, moved, grain)
    if scuffed:
        share = rng.uniform(0.35, 0.85) if rng.uniform() < 0.3 else log_uniform(rng, 0.03, 0.35)
        torn, relief = wear.torn(rng, shape, pixel, stroke, worn, share)
        height = height * (1 - torn) + torn * (relief - 0.2 * np.minimum(depth, 2))
        atomic = atomic * (1 - torn) + torn * (1 - 0.2 * ramp(-relief, 0, 1))
        codes[torn > 0.5] = 3
    name += "+smear" * bool((codes == 2).any()) + "+scuff" * bool((codes == 3).any())
    height, atomic, glow, codes = litter.strew(rng, pixel, height, atomic, codes)
    return Ground(height, atomic, glow, codes, worn, name)
