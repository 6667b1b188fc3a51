"""Closing of grooves by moved metal: caps, bridges, one-sided lips, tongues along the stroke and flush burnished strips."""

import cv2
import numpy as np

from makers.backscattered.hone import Groove, ground
from makers.backscattered.texture import Grid, wander

LIMIT_UM = 0.5
"""A groove is open from here down (semwear/terms.py)."""

LENGTHS = {"cap": (1.2, 3.5), "bridge": (0.5, 1.1), "lip": (1.5, 4.5), "tongue": (0.6, 1.4), "flush": (2.0, 8.0)}
"""Length of a closure along its groove, in groove widths (common practice, no source)."""
Closed = tuple[np.ndarray, np.ndarray, np.ndarray]
"""Maps (rows, cols) after closing: depth in µm; the footprint that moved metal closed, bool; and 1 where it is burnished flush
and only a trace of it is seen."""


def covered(rng: np.random.Generator, kind: str, t: np.ndarray, place: np.ndarray, side: int) -> np.ndarray:
    """Where one closure lies (bool): t is the place along its groove in half lengths, place across it in half widths."""
    edge = 0.1 * wander(rng, place, 0.5)
    if kind == "lip":
        reach = rng.uniform(1.1, 1.7) * np.sqrt(np.clip(1 - t * t, 0, 1)) * (1 + 0.12 * wander(rng, t, 0.3))
        return (np.abs(t) < 1) & (1 - side * place < reach)
    if kind == "tongue":
        crossed = (1 - side * place) / 2
        return (np.abs(t) < 1 - 0.55 * crossed + edge) & (crossed < rng.uniform(0.75, 1.2))
    if kind == "bridge":
        return np.abs(t) < 0.72 + 0.28 * place**2 + edge
    return np.abs(t) < 1 - (0.3 if kind == "cap" else 0.05) * place**2 + edge


def close(rng: np.random.Generator, grid: Grid, grooves: list[Groove], worn: np.ndarray, stroke_deg: float, share: float) -> Closed:
    """The grooves closed over about the given share of their length in the track, worn (rows, cols) bool."""
    depth, track = ground(grid, grooves), worn.ravel()
    filled, faint, residue, opened = (np.zeros(track.size, np.float32) for _ in range(4))
    odds = rng.dirichlet([1.2, 0.8, 0.9, 0.9, 1.1])
    for each in grooves:
        cover, flush = along_groove(rng, grid, each, stroke_deg, np.clip(share * rng.uniform(0.7, 1.4), 0.05, 0.9), odds)
        cover &= track[each.at]
        sag = rng.uniform(0, 0.4) * (1 - each.place**2) * (1 - 0.7 * flush)
        opened[each.at] = np.maximum(opened[each.at], np.where(cover, 0, each.depth))
        filled[each.at] = np.maximum(filled[each.at], cover)
        faint[each.at] = np.maximum(faint[each.at], flush * cover)
        residue[each.at] = np.maximum(residue[each.at], sag)
    cap = ((filled > 0) & (opened < LIMIT_UM)).reshape(grid.shape) & (depth >= LIMIT_UM)
    joined = cv2.morphologyEx(cap.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    cap = (cv2.morphologyEx(joined, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0) & (depth >= LIMIT_UM) & worn
    sunk = np.minimum(cv2.GaussianBlur(residue.reshape(grid.shape), (0, 0), 1.0), 0.9 * LIMIT_UM)
    return np.where(cap, sunk, depth), cap, faint.reshape(grid.shape)


def along_groove(
    rng: np.random.Generator, grid: Grid, each: Groove, stroke_deg: float, share: float, odds: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Cover (bool) and flushness (float32) on the pixels of one groove; the closures' ends follow the stroke."""
    cover, flush = np.zeros(each.at.size, bool), np.zeros(each.at.size, np.float32)
    lean = np.clip(1 / np.tan(np.radians(stroke_deg - each.lay_deg)), -1.5, 1.5)
    at = each.along - np.float32(lean * each.half_um) * each.place
    place, end, width = float(at.min()), float(at.max()), 2 * each.half_um
    while place < end:
        kind = str(rng.choice(list(LENGTHS), p=odds))
        length = max(width * rng.uniform(*LENGTHS[kind]), 9 * grid.pixel_um)
        gap = rng.gamma(2.0, 0.5) * length * (1 - share) / share * (0.6 if kind in ("lip", "tongue") else 1)
        place += max(gap, 5 * grid.pixel_um)
        t = 2 * (at - place) / length - 1
        near = np.flatnonzero(np.abs(t) < 1.5)
        lies = near[covered(rng, kind, t[near], each.place[near], int(rng.choice([-1, 1])))]
        cover[lies] = True
        flush[lies] = kind == "flush"
        place += length
    return cover, flush
