"""One band of hone grooves, cut straight into an unrolled sheet and then laid over the field along its lay."""

from dataclasses import dataclass

import cv2
import numpy as np

from .fields import along, line_noise, log_uniform, ramp, streaks

STEEPEST = np.tan(np.radians(27))  # walls of hone grooves slope by 6 to 27°
SLIMMEST = 4.0  # widths to a depth: a V that slopes by 27°


@dataclass(frozen=True)
class Band:
    """depth: µm below the unworn plateau; rim: torn-edge height, relative; cap: 0-1 where metal would close the groove
    if the ring ran there; lip: 0-1 on the front and the seams of that metal."""

    depth: np.ndarray
    rim: np.ndarray
    cap: np.ndarray
    lip: np.ndarray


@dataclass(frozen=True)
class Habit:
    """What the grooves of a field have in common: width, depth in µm; cover: area share; wall: exponent (1 is a V);
    closed: share that metal closes; grouping, ending: 0-1; closing_length: in groove widths."""

    width: float
    depth: float
    cover: float
    wall: float
    closed: float
    grouping: float
    ending: float
    closing_length: float


def habit(rng, pixel, shape, closed):
    """Draw what grooves have in common, in a field of `shape` px of `pixel` µm of which a share `closed` is smeared shut."""
    side = pixel * min(shape)
    widest = min(60.0, 0.35 * side)
    width = log_uniform(rng, min(max(2.0, 2.5 * pixel), 0.5 * widest), widest)
    return Habit(
        width=width,
        depth=float(np.clip(width * log_uniform(rng, 0.06, 0.3), 0.55, 10)),
        cover=log_uniform(rng, 0.08, 0.5),
        wall=log_uniform(rng, 1.1, 7),
        closed=closed,
        grouping=rng.uniform(0, 1),
        ending=rng.uniform(0, 0.6) ** 1.5,
        closing_length=log_uniform(rng, 0.7, 12),
    )


def exponent(depth, width, wanted):
    """The wall exponent nearest `wanted` whose flank, taken from the rim to four fifths of depth, is no steeper than the
    stone leaves it; depth and width in µm."""
    part = 1.6 * depth / (STEEPEST * width)
    if part >= 0.8:
        return 1.0
    return float(min(wanted, np.log(0.2) / np.log(1 - part)))


def section(a, wall):
    """Share of the full depth at |a| half widths from the middle, nought from the rim outwards."""
    return np.maximum(1 - np.exp(wall * np.log(a + 1e-4)), 0)


def _places(rng, size, width, cover, grouping):
    """Groove centres in px over `size` px, width in px: random spacing, part of them gathered in groups."""
    count = int(np.clip(rng.poisson(cover * size / width) + 1, 1, 70))
    at = rng.uniform(0, size, count)
    if count > 4:
        heart = rng.uniform(0, size, max(1, count // 5))
        move = rng.uniform(size=count) < 0.7 * grouping
        at[move] = rng.choice(heart, move.sum()) + rng.normal(0, 2.2 * width, move.sum())
    return at


def _present(rng, size, width, ending):
    """0-1 along a groove of `size` px, width in px: where it ends, fades or comes back."""
    level = np.ones(size, np.float32)
    pos = np.arange(size)
    for _ in range(2):
        if rng.uniform() < ending:
            soft = width * log_uniform(rng, 0.7, 20)
            level *= ramp((pos - rng.uniform(0, size)) * rng.choice((-1, 1)), -soft, soft)
    return level


def _closing(rng, size, width, share, length):
    """How far moved metal has come over a groove along its run of `size` px: below -1 not at all, above 1 quite over;
    width in px, length in widths."""
    noise = line_noise(rng, size, max(width * length, 3)) + 0.35 * line_noise(rng, size, max(0.4 * width, 2))
    edge = np.quantile(noise, 1 - np.clip(share, 0.01, 0.99))
    return 2.6 * np.tanh((noise - edge) * log_uniform(rng, 0.4, 2.5))


def cut(rng, shape, pixel, angle, stroke, common, strength):
    """A Band over `shape` px of `pixel` µm with its lay at `angle`, metal dragged along `stroke` (radians); strength (0-1)
    scales how many and how deep."""
    size = int(np.hypot(*shape)) + 40
    sheet = np.zeros((size, size, 4), np.float32)
    # ragged fronts: one cloth of noise for the whole sheet, stretched along the way the metal was dragged
    grain = max(0.3 * common.width / pixel, 2)
    ragged = streaks(rng, (size, size), stroke - angle, grain * rng.uniform(1, 4), grain) * rng.uniform(0.1, 0.7)
    ragged = ragged + 0.15 * streaks(rng, (size, size), stroke - angle, 6, 1.5)
    for centre in _places(rng, size, common.width / pixel, common.cover * strength, common.grouping):
        width = float(np.clip(common.width * log_uniform(rng, 0.45, 2), 2, 60))
        width = max(width, 1.8 * pixel)
        depth = float(np.clip(common.depth * np.sqrt(strength) * log_uniform(rng, 0.35, 2.2), 0.2, min(10, width / SLIMMEST)))
        half = 0.5 * width / pixel
        reach = int(1.9 * half + 3)
        top, end = max(int(centre) - reach, 0), min(int(centre) + reach + 1, size)
        if end - top < 2:
            continue
        run = half * (1 + 0.12 * line_noise(rng, size, 4 * half + 8) + 0.08 * line_noise(rng, size, half + 2))
        sway = centre + 0.15 * half * line_noise(rng, size, 20 * half + 20)
        v = (np.arange(top, end, dtype=np.float32)[:, None] - sway.astype(np.float32)) / np.maximum(run, 0.6).astype(np.float32)
        skew = np.float32(rng.uniform(-0.35, 0.35))
        a = np.abs(v)
        profile = section(a, exponent(depth, width, common.wall * log_uniform(rng, 0.8, 1.25))) * (1 + skew * v)
        here = _present(rng, size, 2 * half, common.ending) * np.clip(1 + 0.2 * line_noise(rng, size, 15 * half + 10), 0.3, 1.6)
        ground = np.minimum(profile * (depth * here).astype(np.float32), 10)
        # deep grooves close first: their edges stand proud and fold
        share = common.closed * rng.uniform(0.3, 1.5) * np.clip(depth / common.depth, 0.6, 1.4)
        over = _closing(rng, size, 2 * half, min(share, 1), common.closing_length) if common.closed else np.full(size, -9.0)
        front = over.astype(np.float32)[None] - v * rng.choice((-1, 1)) + ragged[top:end]
        sharp = np.float32(min(half, 6))
        # metal lies on the ground or doesn't: a breath of it is no cap
        cap = (a < 1.15) * ramp(1 / (1 + np.exp(-np.clip(sharp * front, -30, 30))), 0.3, 0.7)
        torn = np.clip(0.6 + 0.7 * line_noise(rng, size, 0.7 * half + 2), 0, 2) * here
        rim = np.exp(-(((a - 1.12) / 0.16) ** 2)) * torn.astype(np.float32) * min(depth, 3)
        seam = np.exp(-(((a - 0.95) * half / 1.2) ** 2)) * cap * rng.uniform(0.1, 0.8)
        part = sheet[top:end]
        wins = ground > part[..., 0]
        part[..., 2] = np.where(wins, cap, part[..., 2])
        part[..., 3] = np.where(wins, np.maximum(4 * cap * (1 - cap), seam), part[..., 3])
        part[..., 0] = np.maximum(part[..., 0], ground)
        part[..., 1] = np.maximum(part[..., 1], rim)
    s, u = along(shape, angle)
    wave = log_uniform(rng, 0.05, 2.0) * np.sin(s / (size * rng.uniform(0.15, 1)) + rng.uniform(0, 6.3)) / pixel
    bend = rng.normal(0, 0.02) * s * s / size
    across = (u + size / 2 + wave + bend).astype(np.float32)
    laid = cv2.remap(sheet, s + size / 2, across, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101)
    return Band(*(np.ascontiguousarray(laid[..., k]) for k in range(4)))
