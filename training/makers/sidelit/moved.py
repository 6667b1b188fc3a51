"""Metal that the run moved over grooves: caps, bridges, lips and burnished strips.

Folds interrupt grooves, the deep ones most (tests/SOURCES.md); sizes, sags and mixes: common practice, no source.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.sidelit.frame import Frame, large
from makers.sidelit.ground import LIMIT_UM
from makers.sidelit.hone import Groove
from makers.sidelit.track import Surface

CAP, BRIDGE, LIP, BURNISHED = 1, 2, 3, 4
LENGTHS = {CAP: (0.8, 3.5, 8), BRIDGE: (0.3, 0.8, 8), LIP: (1.5, 5, 8), BURNISHED: (2, 7, 10)}
"""Length over the groove's width from, to; and the width in µm that counts at least."""
SAG_UM = {CAP: 0.20, BRIDGE: 0.25, LIP: 0.14}


@dataclass(frozen=True)
class Moved:
    """Maps (rows, cols): height in µm; codes, uint8 0–2; look, uint8, the kind of moved metal or 0; its texture, ±2 at most."""

    height: np.ndarray
    codes: np.ndarray
    look: np.ndarray
    texture: np.ndarray


def move(frame: Frame, cut: list[Groove], surface: Surface, contact: np.ndarray, smeared: bool) -> Moved:
    """Close parts of the grooves where the ring ran, if smeared, and give each pixel its state by the heights."""
    rng, px, footprint = frame.rng, frame.px, surface.footprint
    height, look = surface.height.copy(), np.zeros(frame.shape, np.uint8)
    texture = 0.65 * frame.noise(10, max(2.0, 2.2 * px)) + 0.65 * frame.noise(max(3.5, 2.4 * px), max(6, 3 * px), octaves=2)
    texture = np.clip(texture, -2, 2)
    if smeared:
        jitter = frame.noise(5, 3.0) * 0.45 + frame.noise(14, 6) * 0.8
        lap = 2 * max(1, int(round(0.9 / px))) + 1
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (lap, lap))
        may = (cv2.dilate(footprint.astype(np.uint8), disc) > 0) & (contact > 0.5)
        level = rng.uniform(0.15, 0.75)
        mix = rng.dirichlet([2.4, 1.2, 1.4, 1.2])
        for groove in cut:
            share = np.clip(level * rng.uniform(0.3, 1.6) * (0.75 + 0.12 * groove.depth), 0.03, 0.92)
            if rng.random() < 0.88:
                i = groove.near
                _close(frame, groove, share, mix, height, look, may.ravel()[i], jitter.ravel()[i], texture.ravel()[i])
    closed, slit = _states(footprint, height, look, contact, max(12, 6 / px**2))
    is_open = footprint & ~closed
    height = np.where(slit, -0.35, np.where(is_open, np.minimum(-surface.depth, -LIMIT_UM), height))
    look[is_open] = 0
    return Moved(height, np.where(closed, 2, np.where(footprint, 1, 0)).astype(np.uint8), look, texture)


def _states(footprint, height, look, contact, crumb: float) -> tuple[np.ndarray, np.ndarray]:
    """Masks (rows, cols) of the closed footprint and of the slits in it; crumbs of few pixels are no state of their own."""
    closed = large(footprint & (height > -LIMIT_UM) & (look > 0), crumb)
    rest = footprint & ~closed
    slit = rest & ~large(rest, crumb) & (contact > 0.5)
    return closed | slit, slit


def _close(frame: Frame, groove: Groove, share: float, mix: np.ndarray, height, look, may, jitter, texture) -> None:
    """Close about a share of one groove, in place, on height and look (rows, cols); may, jitter, texture: at its n pixels."""
    rng, px, width, rel = frame.rng, frame.px, groove.width, groove.rel
    lean = np.clip(np.tan(groove.angle), -0.8, 0.8)
    t = groove.t + groove.s * np.float32(lean) + jitter * np.float32(min(0.2 * width, 2.5))
    at, end = float(groove.t.min()) + rng.exponential(15), float(groove.t.max())
    height, look = height.ravel(), look.ravel()
    seam, bump = rng.uniform(0.24, 0.38), rng.uniform(0.16, 0.28)
    fine = max(0.08, 1.2 * px / width)
    while at < end:
        kind = int(rng.choice(4, p=mix)) + 1
        lengths = {which: rng.uniform(low, high) * max(width, least) for which, (low, high, least) in LENGTHS.items()}
        length = max(lengths[kind], 5 * px)
        inside = (t > at) & (t < at + length) & may
        if kind == LIP:
            side = rng.choice([-1, 1])
            cover = rng.uniform(-0.25, 0.45)
            inside &= (side * rel > -cover + min(0.16, 0.012 * width) * jitter) & (np.abs(rel) < 1.12)
        else:
            inside &= np.abs(rel) < (1.0 if kind == BURNISHED else 1.12)
        k = np.flatnonzero(inside)
        if k.size:
            i, out = groove.near[k], np.abs(rel[k])
            if kind == BURNISHED:
                top = -0.12 * (1 - rel[k] ** 2) - seam * np.exp(-(((out - 0.9) / fine) ** 2)) + 0.07 * texture[k]
            else:
                top = -SAG_UM[kind] * (1 - np.clip(out, 0, 1) ** 2) + 0.03 + bump * texture[k]
                top -= 0.6 * seam * np.exp(-(((out - 0.97) / fine) ** 2)) * np.clip(0.6 + 0.6 * jitter[k], 0, 1)
                if kind == LIP:
                    top += 0.12 * np.exp(-np.abs(side * rel[k] + cover) / 0.2)
            top = np.clip(top, -0.42, 0.45).astype(np.float32)
            height[i] = np.maximum(np.where(height[i] > -0.3, 0.5 * height[i] + 0.5 * top, height[i]), top)
            look[i] = BURNISHED if kind == BURNISHED else np.where(look[i] == BURNISHED, look[i], kind)
        gap = length * (1 - share) / max(share, 0.05) * rng.uniform(0.3, 1.7)
        at += length + max(gap, 1.0)
