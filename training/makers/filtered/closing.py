"""Moved metal that closes grooves: caps, bridges, one-sided lips, tongues along the stroke and flush burnished strips.
Folds interrupt grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548)."""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.filtered.grain import cloud
from makers.filtered.hone import Sheet

LIMIT_UM = 0.5
"""A valley's ground lies at least this far below the local plateau (the project's own limit)."""
KINDS = ("cap", "bridge", "lip", "tongue", "flush")


@dataclass(frozen=True)
class Closed:
    """After the moved metal, maps of (rows, cols): depth, µm; cover, True under moved metal; edge 0–1, its thin free edges;
    skin, the tone of worked metal about 1 (0 where there is none); flush, True where burnished strips are."""

    depth: np.ndarray
    cover: np.ndarray
    edge: np.ndarray
    skin: np.ndarray
    flush: np.ndarray


def close(rng, sheet: Sheet, worn: np.ndarray, stroke: tuple, stroke_deg: float, pixel_um: float, share: float, mix) -> Closed:
    """Close `share` of the groove length of a sheet within worn; stroke: distances along and across it, µm; mix: odds of KINDS."""
    width, (with_stroke, over_stroke) = sheet.width_um, stroke
    lean = np.sin(np.radians(sheet.lay_deg - stroke_deg))
    fine = max(0.12 * width, 2.2 * pixel_um)
    comb = cloud(rng, with_stroke, over_stroke, (max(3 * width, 6 * pixel_um), fine))
    bend = cloud(rng, sheet.along, sheet.place * width, (max(1.0 * width, 4 * pixel_um), 0.7 * width))
    # ends of closures run along the stroke: the distance across it, stretched to length along the groove
    run = over_stroke / np.float32(lean) + comb * np.float32(0.2 * width) + bend * np.float32(0.25 * width)
    ident, kinds, residual, front, side, tone = _segments(rng, sheet, run, pixel_um, share, mix)
    kind = kinds[ident]
    reach = side[ident] * sheet.place
    cover = np.isin(kind, (0, 1, 4)) | (reach < front[ident] + np.where(kind == 2, 0.22 * bend, 0.55 * comb))
    cover &= ~((kind == 0) & (bend > 2.0) & (comb > 0.4))  # small holes left in a cap
    cover = cv2.medianBlur(cover.astype(np.uint8), 5 if 0.1 * width > pixel_um else 3) > 0
    footprint = (sheet.depth >= LIMIT_UM) & worn
    cover = _readable(cover & footprint & (kind >= 0), footprint)
    left = np.minimum(residual[ident] * (1 + 0.25 * comb), LIMIT_UM - 0.03).clip(0.02)
    depth = np.where(cover, np.minimum(left, sheet.depth), sheet.depth).astype(np.float32)
    flush = cover & (kind == 4)
    near, inner, near_flush, near_open = (
        turn(map_.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        for turn, map_ in ((cv2.dilate, cover), (cv2.erode, cover), (cv2.dilate, flush), (cv2.dilate, footprint & ~cover))
    )
    # free edges over an open groove stand out more than seams along a rim, flush strips least
    edge = (near & ~inner) * np.where(near_open, 1.0, 0.45) * np.where(near_flush, 0.3, 1.0)
    return Closed(depth, cover, edge.astype(np.float32), np.where(cover, tone[ident], 0).astype(np.float32), flush)


def _readable(cover: np.ndarray, footprint: np.ndarray) -> np.ndarray:
    """A cover, bool, without islands and holes of fewer than 14 pixels, which no eye could tell in the picture."""
    for state in (True, False):
        _, number, stats, _ = cv2.connectedComponentsWithStats(((cover == state) & footprint).astype(np.uint8))
        cover = cover ^ np.r_[False, stats[1:, cv2.CC_STAT_AREA] < 14][number]
    return cover


def _segments(rng, sheet, run, pixel_um, share, mix):
    """Stretches of closed groove along `run` (µm): map of their number, and by number: kind (−1 open), depth left (µm),
    front of a lip in half widths, its side, tone of its metal."""
    start, step = float(run.min()), max(sheet.width_um / 5, pixel_um)
    bins = int((float(run.max()) - start) / step) + 2
    table = np.zeros((sheet.count, bins), np.int32)
    rows = [(-1, 0.0, 0.0, 1, 0.0)]
    usual = rng.uniform(1.5, 5.0)
    for groove in range(sheet.count):
        part = float(np.clip(share * np.exp(rng.normal(0, 0.35)), 0.03, 0.85))
        at = -rng.exponential(5.0)
        while at < bins:
            kind = int(rng.choice(5, p=mix))
            length = rng.uniform(0.7, 1.6) if kind == 1 else float(np.clip(usual * np.exp(rng.normal(0, 0.5)), 1.0, 14))
            length = max(length, 6 * pixel_um / sheet.width_um)
            table[groove, max(int(at), 0) : max(int(at + 5 * length), 0)] = len(rows)
            residual = rng.uniform(0.03, 0.15) if kind == 4 else rng.uniform(0.08, 0.42)
            front = rng.uniform(-0.1, 0.4) if kind == 2 else rng.uniform(0.1, 0.7)
            rows.append((kind, residual, front, rng.choice([-1, 1]), np.exp(rng.normal(0, 0.22))))
            at += 5 * length + rng.exponential(5 * max(length, usual * 0.6) * (1 / part - 1))
    ident = table[sheet.index, ((run - np.float32(start)) / np.float32(step)).astype(np.int32)]
    return ident, *np.array(rows, np.float32).T
