"""What the ring did: the track, the plateau it wore off, flush burnished strips and torn streaks along the stroke."""

from dataclasses import dataclass

import numpy as np

from .grain import lattice, log_uniform, turned
from .ground import Ground
from .story import Story

LIMIT_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Surface:
    """Maps of the picture. below: depth of the ground under the local plateau now, µm; codes: mask codes 0–3; worn, burnished,
    torn: where the ring ran, where metal was spread flush, where it tore; ghost: 0–1 faint remains of closed rims;
    along, across: px along the stroke and across it."""

    below: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    burnished: np.ndarray
    torn: np.ndarray
    ghost: np.ndarray
    along: np.ndarray
    across: np.ndarray


def strip(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, half_px: float, half_length_px: float) -> np.ndarray:
    """A band along the stroke with clear or ragged ends and edges."""
    size = max(along.shape)
    centre = rng.uniform(-0.45, 0.45, 2) * size
    edge = half_px * (1 + 0.15 * lattice(rng, along, across, 8 * half_px, half_px))
    ragged = half_px * rng.choice((0.05, 1.2)) * lattice(rng, along, across, 60, max(half_px / 4, 1.5))
    return (abs(across - centre[0]) < edge) & (abs(along - centre[1]) + ragged < half_length_px)


def torn_streaks(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, share: float, width_px: float) -> np.ndarray:
    """Streaks along the stroke over about `share` of the picture, in bunches, as adhesion goes on where it began."""
    streak = lattice(rng, along, across, width_px * log_uniform(rng, 12, 40), width_px)
    bunch = lattice(rng, along, across, 500, 6 * width_px)
    edge = lattice(rng, along, across, 8, 2)
    level = streak + bunch + 0.15 * edge
    return level > np.quantile(level[::5, ::5], 1 - share)


def run(rng: np.random.Generator, ground: Ground, pixel_size_um: float, story: Story) -> Surface:
    """The surface after the test; unworn ground comes back as the hone left it."""
    shape = ground.cut.shape
    along, across = turned(shape, np.radians(story.stroke_deg))
    worn = np.full(shape, story.wear == "worn")
    if story.wear == "border":
        side = rng.choice((-1, 1))
        worn = side * (across - story.border_px) > 2 * lattice(rng, along, across, 40, 900)
    patchy = np.clip(1 + 0.8 * lattice(rng, along, across, 260, 90), 0, 3)
    truncated = (story.truncation_um * patchy * worn).astype(np.float32)
    cut = np.maximum(ground.cut - truncated, 0)
    left_open = np.where(worn, np.maximum(ground.left_open - truncated, 0), cut)
    burnished = np.zeros(shape, bool)
    for _ in range(story.strips):
        half = np.clip(log_uniform(rng, 3, 40) / pixel_size_um, 4, 0.12 * max(shape))
        burnished |= strip(rng, along, across, half, log_uniform(rng, 0.15, 0.8) * max(shape))
    burnished &= worn
    left_open = np.where(burnished, np.minimum(left_open, 0), left_open)
    footprint, still = cut >= LIMIT_UM, left_open >= LIMIT_UM
    shut = footprint & ~still & worn
    codes = np.where(still, 1, np.where(shut, 2, 0)).astype(np.uint8)
    # Moved metal lies a little low over the groove that it closed, always within the limit.
    sag = np.clip(rng.uniform(0.05, 0.25) + 0.1 * lattice(rng, along, across, 30, 6), 0, 0.45)
    covered = worn & (cut > left_open + 1e-3)
    below = np.where(covered, np.maximum(left_open, np.minimum(sag, cut)), cut)
    torn = np.zeros(shape, bool)
    if story.scuff > 0:
        width = np.clip(log_uniform(rng, 3, 50) / pixel_size_um, 5, 0.15 * max(shape))
        torn = torn_streaks(rng, along, across, story.scuff, width) & worn
        codes[torn] = 3
    ghost = np.where(burnished & footprint, 0.35, ground.ghost) * (shut & ~torn)
    return Surface(
        below=below.astype(np.float32), codes=codes, worn=worn, burnished=(burnished | shut) & ~torn, torn=torn,
        ghost=ghost.astype(np.float32), along=along, across=across,
    )
