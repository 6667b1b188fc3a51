"""Events that move metal over grooves along the stroke: lips, folds, caps, flakes, flush strips; and those that change them.

Folds smear and interrupt hone grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548)."""

from dataclasses import dataclass

import cv2
import numpy as np

from .grain import ramp
from .surface import COVERED, Surface, cover, uncover, window_around

FOOT_UM = 0.15
"""Depth from which metal over a groove is drawn as cover (its rim's rounding left out)."""


@dataclass(frozen=True, kw_only=True)
class Grains:
    """Random fields of the whole frame that events cut their raggedness from: fine, lump, streak (unit spread)."""

    fine: np.ndarray
    lump: np.ndarray
    streak: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Chords:
    """Along each row, pixels from the groove's edge behind and to its edge ahead (0 on land)."""

    behind: np.ndarray
    ahead: np.ndarray


def chords(groove: np.ndarray) -> Chords:
    """Of every groove's footprint, along the stroke."""
    inside = groove > FOOT_UM
    column = np.arange(groove.shape[1], dtype=np.int32)[None, :]
    last = np.maximum.accumulate(np.where(inside, -1, column), axis=1)
    next_ = np.minimum.accumulate(np.where(inside, groove.shape[1], column)[:, ::-1], axis=1)[:, ::-1]
    return Chords(behind=(column - last).astype(np.float32), ahead=(next_ - column).astype(np.float32))


def patch(
    surface: Surface, grains: Grains, at: tuple[int, int], half_long: float, half_wide: float, ragged: float
) -> tuple[tuple[slice, slice], np.ndarray]:
    """Window around a place and the ragged loaded patch within it, longer along the stroke."""
    reach = (int(1.4 * half_wide) + 2, int(1.4 * half_long) + 2)
    window, dy, dx = window_around(surface.groove.shape, at, reach)
    dy, dx = dy / half_wide, dx / half_long
    dy = dy + 0.5 * ragged * grains.lump[window]
    inside = dy * dy + np.abs(dx) ** 3 < 1 + ragged * (0.5 * grains.lump[window] + 0.5 * grains.streak[window])
    return window, inside


def _skin(surface: Surface, grains: Grains, window: tuple[slice, slice], sag: float, rough: float) -> np.ndarray:
    """Top of moved metal: sags over deep ground, striated along the stroke, within 0.45 µm of the plateau."""
    depth = np.minimum(surface.groove[window], 3)
    top = -sag * depth + rough * (0.6 * grains.streak[window] + 0.5 * grains.lump[window] + 0.4 * grains.fine[window])
    return np.clip(top, -0.42, 0.42)


def _weld(
    surface: Surface, grains: Grains, edges: Chords, window: tuple[slice, slice], where: np.ndarray, gape: float
) -> None:
    """Where moved metal meets the old rim the joint gapes in places: a broken faint outline of the groove that was."""
    rim = where & (np.minimum(edges.behind, edges.ahead)[window] <= 1.6) & (surface.state[window] == COVERED)
    gaps = np.clip(0.75 + 0.4 * grains.lump[window], 0.15, 1.3) * np.float32(gape)
    surface.crack[window] = np.where(rim, np.maximum(surface.crack[window], gaps), surface.crack[window])


def lip(
    surface: Surface, grains: Grains, edges: Chords, at: tuple[int, int], size: tuple[float, float], share: float,
    forward: bool, glow: float, rough: float,
) -> None:  # fmt: skip
    """Drag the groove's edge along the stroke over this share of its chord; the free edge is frayed and turned up."""
    window, inside = patch(surface, grains, at, *size, 0.45)
    start, stop = (edges.behind, edges.ahead) if forward else (edges.ahead, edges.behind)
    start, stop = start[window], stop[window]
    chord = start + stop - 1
    reach = np.clip(share * (1 + 0.3 * grains.lump[window]), 0.12, 0.85) * chord + 0.8 * grains.fine[window]
    root = np.arange(start.shape[1]) - (start.astype(int) - 1) * (1 if forward else -1)
    rooted = np.take_along_axis(inside, np.clip(root, 0, start.shape[1] - 1), axis=1)
    where = rooted & (root >= 0) & (root < start.shape[1]) & (start > 0) & (start <= reach)
    edge = where & (start > reach - np.maximum(1.5, 0.1 * chord))
    top = _skin(surface, grains, window, 0.04, rough) + 0.3 * edge
    cover(surface, window, where, np.clip(top, -0.45, 0.45), glow)
    _weld(surface, grains, edges, window, where, 0.3 * glow)


def fold(
    surface: Surface, grains: Grains, edges: Chords, at: tuple[int, int], size: tuple[float, float], share: float,
    glow: float, rough: float, open_crack: float,
) -> None:  # fmt: skip
    """Fold both edges over the groove until they meet in a crack line at this share of the chord (a cap: at its end)."""
    window, inside = patch(surface, grains, at, *size, 0.5)
    behind, ahead = edges.behind[window], edges.ahead[window]
    where = inside & (behind > 0)
    cover(surface, window, where, _skin(surface, grains, window, 0.08, rough), glow)
    _weld(surface, grains, edges, window, where, 0.1 + 0.4 * open_crack)
    chord = behind + ahead - 1
    off = np.abs(behind - np.clip(share + 0.06 * grains.lump[window], 0.03, 1) * chord)
    seam = (
        where
        & (surface.state[window] == COVERED)
        & (off < np.clip(0.03 * chord, 0.75, 2.2))
        & (grains.streak[window] > -1.2)
    )
    surface.crack[window] = np.maximum(surface.crack[window], seam * np.float32(open_crack))


def strip(
    surface: Surface, grains: Grains, edges: Chords, at: tuple[int, int], size: tuple[float, float], sag: float, glow: float,
    rough: float,
) -> None:  # fmt: skip
    """Burnish flush: a long strip where the groove is left as a faint trace."""
    window, inside = patch(surface, grains, at, *size, 0.35)
    where = inside & (edges.behind[window] > 0)
    cover(surface, window, where, _skin(surface, grains, window, sag, rough), glow)
    _weld(surface, grains, edges, window, where, 2.5 * sag)


def flake(
    rng: np.random.Generator, surface: Surface, grains: Grains, at: tuple[int, int], size: tuple[float, float],
    thickness_um: float, glow: float, rough: float,
) -> None:  # fmt: skip
    """Lay a sheet of many corners over groove and land, frayed downstream; pressed in, it stands up to 0.45 µm proud."""
    window, _ = patch(surface, grains, at, *size, 0.0)
    rows, cols = surface.groove[window].shape
    sides = (np.arange(13) + rng.uniform(-0.4, 0.4, 13)) * 2 * np.pi / 13
    reach = rng.uniform(0.8, 1.15, 13)
    ring = np.stack([size[0] * reach * np.cos(sides), size[1] * reach * np.sin(sides)], 1)
    ring += np.array([at[1] - window[1].start, at[0] - window[0].start])
    sheet = np.zeros((rows, cols), np.uint8)
    cv2.fillPoly(sheet, [np.round(ring).astype(np.int32)], 1)
    column = np.arange(cols, dtype=np.float32)[None, :] - (at[1] - window[1].start)
    frayed = column < size[0] * (0.75 + 0.25 * grains.streak[window] + 0.1 * grains.fine[window])
    where = (sheet > 0) & frayed
    proud = min(0.45, 0.35 * thickness_um + 0.05)
    top = np.clip(_skin(surface, grains, window, 0.03, rough) + proud, -0.3, 0.48)
    cover(surface, window, where, top, glow)
    below = cv2.erode(where.astype(np.uint8), np.ones((3, 3), np.uint8)) == 0
    rim = where & below & (surface.state[window] == COVERED) & (grains.lump[window] > -0.2)
    surface.crack[window] = np.maximum(surface.crack[window], rim * np.float32(min(0.6, 0.3 * thickness_um)))


def rub(surface: Surface, grains: Grains, at: tuple[int, int], size: tuple[float, float]) -> None:
    """Rub what lies proud flush: rims and cracks close, the skin turns smooth."""
    window, inside = patch(surface, grains, at, *size, 0.2)
    where = inside & (surface.state[window] == COVERED)
    surface.top[window][where] *= 0.35
    surface.crack[window][where] *= 0.4
    surface.glow[window][where] *= 0.7


def tear_open(surface: Surface, grains: Grains, at: tuple[int, int], size: tuple[float, float]) -> None:
    """Tear a cover off: open valley again, with a ragged edge."""
    window, inside = patch(surface, grains, at, *size, 0.6)
    uncover(surface, window, inside & (grains.fine[window] < 2.2))


def loaded(grains: Grains) -> np.ndarray:
    """Where the ring bore hardest (0–1), in bands along the stroke."""
    return ramp(0.7 * cv2.blur(grains.streak, (61, 9)) * 2 + 0.5 * grains.lump, -1, 1.2)
