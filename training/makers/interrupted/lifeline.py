"""The life line of a groove: how wide and deep it is at each step of its run, and how far metal covers it from either rim."""

from dataclasses import dataclass

import numpy as np

from .grain import log_uniform, wander
from .story import Story


@dataclass(frozen=True, kw_only=True)
class LifeLine:
    """One value a pixel of run. centre, left and right: px across the run (left and right from the centre, both positive);
    depth: µm; cover_left, cover_right: share of the whole width that metal covers from that rim; ghost: 0–1, how well the
    closed rims still show; wall_deg: slope of the walls; skew: px of run that the ends of
    covers lean over for each px across; ends: px that they run ahead, one value for each px across."""

    centre: np.ndarray
    left: np.ndarray
    right: np.ndarray
    depth: np.ndarray
    cover_left: np.ndarray
    cover_right: np.ndarray
    ghost: np.ndarray
    wall_deg: float
    skew: float
    ends: np.ndarray


def spans(rng: np.random.Generator, count: int, share: float, length: float) -> np.ndarray:
    """True over stretches of about `length` steps that take about `share` of the run."""
    if share <= 0:
        return np.zeros(count, bool)
    line = wander(rng, count, length)
    # The line's level is that of a normal variable only in the mean; a short run then has all, some or none.
    level = np.quantile(np.concatenate((line, rng.standard_normal(40))), 1 - min(share, 1.0))
    return line >= level


def existence(rng: np.random.Generator, count: int, width_px: float) -> np.ndarray:
    """0–1 along the run: whole, or ending in tapers, or fading over a length, or two grooves on one line with a wide gap."""
    t = np.arange(count, dtype=np.float32)
    alive = np.ones(count, np.float32)
    draw = rng.random()
    taper = width_px * log_uniform(rng, 1.5, 14)
    if draw < 0.42:
        end = rng.uniform(0.15, 0.85) * count
        alive = np.clip((t - end) / taper * rng.choice((-1, 1)), 0, 1)
    elif draw < 0.58:
        gap = rng.uniform(0.2, 0.8) * count
        half = width_px * log_uniform(rng, 1, 8)
        # Two cuts of two grits: they don't end alike nor cut equally deep.
        first = np.clip((gap - half - t) / taper, 0, 1)
        second = np.clip((t - gap - half) / (taper * log_uniform(rng, 0.3, 3)), 0, 1)
        alive = first + second * rng.uniform(0.5, 1.0)
    elif draw < 0.75:
        dip = rng.uniform(0.1, 0.9) * count
        alive = 1 - rng.uniform(0.7, 1) * np.exp(-(((t - dip) / (taper * rng.uniform(1, 3))) ** 2))
    return alive.astype(np.float32)


def covers(rng: np.random.Generator, count: int, width_px: float, story: Story) -> tuple[np.ndarray, np.ndarray]:
    """Cover from the left rim and from the right one, as shares of the width, of one groove's run."""
    left, right = np.zeros(count, np.float32), np.zeros(count, np.float32)
    if rng.random() > story.smear**0.5:
        return left, right
    style = story.closure if story.closure != "mixed" else rng.choice(("short", "long", "lips", "whole"))
    ragged = rng.uniform(0.02, 0.12) * wander(rng, count, rng.uniform(1, 4)) + 0.08 * wander(rng, count, width_px)
    if style == "lips":
        lip = spans(rng, count, rng.uniform(0.3, 0.9), width_px * rng.uniform(3, 10))
        cover = np.where(lip, rng.uniform(0.3, 0.7) + ragged, 0)
        # The ring pushes metal over the rim that it meets first, so lips are one-sided.
        return (cover, right) if rng.random() < 0.5 else (right, cover)
    if style == "whole":
        shut = np.ones(count, bool)
    else:
        reach = rng.uniform(0.7, 3) if style == "short" else rng.uniform(4, 16)
        shut = spans(rng, count, rng.uniform(0.15, 0.5) if style == "short" else rng.uniform(0.5, 0.95), width_px * reach)
    if rng.random() < 0.5:
        # Ragged ends: each side has got farther at another place, so the closure ends in a slit.
        other = np.roll(shut, int(rng.uniform(-1.5, 1.5) * width_px))
        meet = rng.uniform(0.25, 0.75)
        return np.where(shut, meet + abs(ragged), 0), np.where(other, 1.02 - meet + abs(ragged), 0)
    return np.where(shut, 1.1, 0), right


def live(rng: np.random.Generator, count: int, pixel_size_um: float, story: Story, strength: float, skew: float = 0.0) -> LifeLine:
    """A groove `count` px long; strength scales width and depth against the field's."""
    width_px = float(np.clip(story.width_um * strength, 1.5, 60) / pixel_size_um)
    wall = float(np.clip(story.wall_deg * log_uniform(rng, 0.7, 1.4), 6, 75))
    alive = existence(rng, count, width_px)
    torn = log_uniform(rng, 0.01, 0.12)
    # Tears at a rim are some µm long and deep however wide the groove is.
    fray, tear = min(torn, 1.5 / width_px), rng.uniform(2, 2 + 4 / pixel_size_um)
    half = 0.5 * width_px * (1 + 0.15 * wander(rng, count, 12 * width_px)) * np.sqrt(alive)
    left = np.maximum(half * (1 + fray * wander(rng, count, tear) + torn * wander(rng, count, width_px)), 0)
    right = np.maximum(half * (1 + fray * wander(rng, count, tear) + torn * wander(rng, count, width_px)), 0)
    depth = story.depth_um * strength ** rng.uniform(0.6, 1.2) * (1 + 0.2 * wander(rng, count, 8 * width_px)) * alive
    reach = np.tan(np.radians(wall)) * np.minimum(left, right) * pixel_size_um
    cover_left, cover_right = covers(rng, count, width_px, story)
    return LifeLine(
        centre=log_uniform(rng, 0.02, 0.5) * width_px * wander(rng, count, rng.uniform(8, 40) * width_px),
        left=left,
        right=right,
        depth=np.clip(np.minimum(depth, reach), 0, 10),
        cover_left=cover_left.astype(np.float32),
        cover_right=cover_right.astype(np.float32),
        ghost=np.clip(rng.beta(1.5, 1.5) * (1 + 0.5 * wander(rng, count, 3 * width_px)), 0, 1),
        wall_deg=wall,
        skew=skew,
        ends=log_uniform(rng, 0.4, 5) * wander(rng, count, rng.uniform(1.5, 6)),
    )
