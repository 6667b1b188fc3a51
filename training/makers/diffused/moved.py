"""Wear in the track: truncation, metal moved over grooves, running-in marks and scuffing; and the mask codes that follow."""

from dataclasses import dataclass

import cv2
import numpy as np

from .band import Band, Closing
from .frame import Frame, log_uniform

LIMIT_UM = 0.5
"""Ground at least this far below the local plateau is open valley (semwear.terms)."""


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Below the local plateau: before_um and after_um metal was moved (µm, truncation taken off both); cover 0–1 of moved metal."""

    before_um: np.ndarray
    after_um: np.ndarray
    cover: np.ndarray


def draw_closing(rng: np.random.Generator, pixel_um: float) -> Closing:
    """From a few tucked-in rims to nearly all grooves closed along most of their length."""
    return Closing(
        touched=rng.uniform(0.3, 1.0),
        bias=rng.normal(0.05, 0.4),
        length_um=max(log_uniform(rng, 5, 300), 4 * pixel_um),
        side=int(rng.choice([-1, 1])),
        strength=1.0 if rng.random() < 0.7 else rng.uniform(0.6, 1.0),
    )


def truncate_and_close(
    bands: list[Band], truncated_um: np.ndarray, residue_um: np.ndarray, in_track: np.ndarray
) -> Ground:
    """Truncation lowers the plateau, so grooves grow shallow by it everywhere; moved metal fills them to residue_um at best."""
    before = after = np.zeros_like(truncated_um)
    cover = np.zeros_like(truncated_um)
    for band in bands:
        own = np.maximum(band.depth_um - truncated_um, 0)
        over = band.cover * in_track
        left = own * (1 - over) + np.minimum(own, residue_um) * over
        cover = np.where(own > before, over, cover)
        # At a crossing the deeper of what is left counts: metal over one groove doesn't fill the other.
        before, after = np.maximum(before, own), np.maximum(after, left)
    return Ground(before_um=before, after_um=after, cover=cover)


def codes_of(ground: Ground, scuffed: np.ndarray, hidden: np.ndarray) -> np.ndarray:
    """Mask codes of semwear.terms from depths (µm) and from where metal is torn or the surface hidden (bool)."""
    codes = np.zeros(ground.before_um.shape, np.uint8)
    codes[ground.before_um >= LIMIT_UM] = 2
    codes[ground.after_um >= LIMIT_UM] = 1
    codes[scuffed] = 3
    codes[hidden] = 255
    return codes


def draw_track(rng: np.random.Generator, stroke: Frame, worn: str) -> np.ndarray:
    """Where the ring ran, bool: 'none', 'all', or one side of a border along the stroke that wanders a little."""
    if worn != "border":
        return np.full(stroke.shape, worn == "all")
    reach = min(stroke.shape) * stroke.pixel_um
    wander = stroke.noise(rng, reach, reach * rng.uniform(0.05, 0.3)) * reach * log_uniform(rng, 0.001, 0.02)
    return (stroke.across_um() + wander) * rng.choice([-1, 1]) > rng.uniform(-0.3, 0.3) * reach


def draw_marks(rng: np.random.Generator, stroke: Frame) -> np.ndarray:
    """Depth (µm) of running-in marks along the stroke, all shallower than the limit."""
    fine = stroke.noise(rng, max(log_uniform(rng, 0.3, 3), stroke.pixel_um), log_uniform(rng, 60, 800))
    depth = np.maximum(fine - rng.uniform(0, 1.5), 0) * log_uniform(rng, 0.02, 0.3)
    wide = stroke.noise(rng, log_uniform(rng, 4, 40), 900) * log_uniform(rng, 0.01, 0.15)
    return np.clip(depth + wide, -0.1, 0.45)


def draw_scuffing(rng: np.random.Generator, stroke: Frame, in_track: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where metal is torn (bool) in streaks along the stroke, and the relief of it (µm): ploughed ridges, and tears across them."""
    reach = min(stroke.shape) * stroke.pixel_um
    width = float(np.clip(log_uniform(rng, 5, 80), 10 * stroke.pixel_um, reach / 3))
    streak = stroke.noise(rng, width, width * log_uniform(rng, 5, 30)) + 0.35 * stroke.noise(
        rng, width / 6, width * rng.uniform(0.5, 2)
    )
    level = np.quantile(streak, 1 - log_uniform(rng, 0.04, 0.8))
    torn = cv2.medianBlur(((streak > level) & in_track).astype(np.uint8), 5).astype(bool) & in_track
    size = max(log_uniform(rng, 0.6, 3), 1.5 * stroke.pixel_um)
    ridges = stroke.noise(rng, size, size * log_uniform(rng, 6, 50))
    # Torn metal parts in steps across the stroke, sharp on one side: a folded-over noise has such crests, a smooth one has none.
    tears = 1 - 2 * np.abs(stroke.noise(rng, 1.5 * size, size * rng.uniform(0.5, 1.2)))
    tears *= np.clip(0.6 + stroke.noise(rng, 6 * size, 8 * size), 0, 2)
    grain = stroke.noise(rng, size * 0.35, size * rng.uniform(0.3, 1.0))
    relief = (
        (ridges * rng.uniform(0.3, 1) + tears * rng.uniform(0.1, 0.5) + 0.35 * grain)
        * log_uniform(rng, 0.4, 1.6)
        * max(size / 2, 0.6)
    )
    return torn, np.clip(relief, -4, 4)
