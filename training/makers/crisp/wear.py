"""What the ring does to the heights: plateau worn down, metal moved over grooves, metal torn by adhesion. Heights in µm."""

from dataclasses import dataclass

import numpy as np

from .grain import cloud, fine, log_uniform, ramp
from .hone import Sheet

LIMIT_UM = 0.5


@dataclass
class Closure:
    """A sheet's grooves after smearing: depth left (µm), where moved metal lies (0-1), its relief (µm)."""

    depth: np.ndarray
    cap: np.ndarray
    relief: np.ndarray


def track(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, size: float) -> tuple[np.ndarray, bool]:
    """Where the ring ran: everywhere, or one side of a border along the stroke; and whether there is a border."""
    if rng.random() > 0.3:
        return np.ones(along.shape, bool), False
    wander = cloud(rng, along, along * 0, (size * 0.3, size)) * size * log_uniform(rng, 0.001, 0.015)
    return (across + wander) * rng.choice([-1, 1]) > rng.uniform(-0.25, 0.25) * size, True


def smear(rng: np.random.Generator, ground: Sheet, depth: np.ndarray, worn: np.ndarray, share: float, pixel_size_um: float) -> Closure:
    """Close runs of the sheet's grooves. Each run has one form: flush cap, sunk cap, lip from one rim, or folds."""
    bins = 256
    low, span = float(ground.along.min()), float(np.ptp(ground.along))
    amount = np.zeros((ground.count, bins), np.float32)
    form = np.zeros((ground.count, bins), np.int32)
    side = np.repeat(rng.choice([-1, 1], (ground.count, 1)), bins, 1).astype(np.float32)
    hit = rng.random(ground.count) < np.sqrt(share) + 0.15
    for groove in np.flatnonzero(hit):
        done = 0.0
        while done < np.sqrt(share):
            run = float(np.clip(log_uniform(rng, 0.02, 0.8), 8 * pixel_size_um / span, 1))
            start = rng.uniform(-0.2, 1) * bins
            part = slice(max(0, int(start)), max(0, int(start + run * bins)))
            form[groove, part] = rng.integers(4)
            amount[groove, part] = rng.uniform(0.55, 1.0) if rng.random() < 0.35 else 1.3
            done += run
    # the ends of a run are torn, not cut square: shift where the table is read by noise as long as the groove is wide
    torn = cloud(rng, ground.along, ground.place * 6 * pixel_size_um + ground.groove * 40 * pixel_size_um,
                 (6 * pixel_size_um, 5 * pixel_size_um))
    at = np.clip((ground.along - low + torn * pixel_size_um * log_uniform(rng, 1.5, 12)) / span * (bins - 1), 0, bins - 1).astype(np.int32)
    reach, shape, from_side = amount[ground.groove, at], form[ground.groove, at], side[ground.groove, at]
    # metal comes in from one rim: covered as far as `reach` of the way across
    edge = 2 * reach - 1 - ground.place * from_side + 0.25 * torn
    whole = shape != 2
    edge = np.where(whole & (reach > 0), 1.0, edge) + np.where(~whole, -0.35, 0)
    cap = (edge > 0) & (reach > 0) & worn & (depth >= LIMIT_UM)
    sink = np.where(shape == 1, rng.uniform(0.15, 0.38), rng.uniform(-0.05, 0.12))
    # the outer line of the footprint stays as a fine seam, because pressed metal does not weld to the wall
    seam = np.exp(-(((np.abs(ground.place) - 0.85) / 0.12) ** 2)) * rng.uniform(0.15, 0.45)
    lip = np.where(~whole, np.exp(-((edge / 0.3) ** 2)) * rng.uniform(0.1, 0.45), 0)
    pitch = pixel_size_um * log_uniform(rng, 5, 16)
    bow = ground.along + from_side * ground.place**2 * pitch + torn * pitch * 0.25
    fold = np.where(shape == 3, ((bow / pitch) % 1.0) * rng.uniform(0.3, 0.6) - 0.15, 0)
    left = np.where(cap, np.clip(sink + seam * 0.5, 0, 0.45), depth)
    return Closure(left.astype(np.float32), cap, np.where(cap, lip + fold - seam * 0.5, 0).astype(np.float32))


def scuff(
    rng: np.random.Generator, along: np.ndarray, across: np.ndarray, worn: np.ndarray, size: float, pixel_size_um: float
) -> tuple[np.ndarray, np.ndarray]:
    """Torn streaks along the stroke: where they are, and their relief in µm about the plateau."""
    heavy = rng.random() < 0.35
    width = size * log_uniform(rng, 0.015, 0.12)
    streaks = cloud(rng, along, across, (width * log_uniform(rng, 6, 40), width)) + 0.35 * cloud(rng, along, across, (width * 2, width / 4))
    where = (streaks > np.quantile(streaks, 1 - (rng.uniform(0.25, 0.6) if heavy else log_uniform(rng, 0.02, 0.2)))) & worn
    fibre = 3 * pixel_size_um * log_uniform(rng, 0.7, 1.6)
    ridges = cloud(rng, along, across, (fibre * log_uniform(rng, 4, 25), fibre))
    scales = 0.5 * fine(rng, along.shape, 1.2) + cloud(rng, along, across, (fibre * 1.5, fibre * 0.6))
    strength = log_uniform(rng, 0.35, 1.2) * np.sqrt(pixel_size_um / 0.6)
    tear = np.abs(ridges) * 0.9 + 0.35 * scales - 0.55
    return where, (tear * strength * np.clip(0.4 + ramp(streaks, 0.3, 2), 0.4, 1.4)).astype(np.float32)


def marks(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, size: float, pixel_size_um: float) -> np.ndarray:
    """Running-in marks along the stroke, in µm, none as deep as the limit."""
    pitch = pixel_size_um * log_uniform(rng, 1.2, 5)
    lines = cloud(rng, along, across, (size * log_uniform(rng, 0.1, 1.5), pitch))
    return -np.clip(lines - rng.uniform(0, 1.2), 0, 2) * log_uniform(rng, 0.01, 0.16) * min(1.0, pixel_size_um + 0.2)
