"""Closed stretches of grooves and scuffing, as thresholds of further random fields. Lengths in pixels."""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.spectral_fields import above, blur, log_uniform, stretched
from makers.spectral_network import Lay

KINDS = ["along", "iso", "stroke", "whole", "lip", "slit", "band", "tongue"]
ODDS = [0.22, 0.14, 0.12, 0.13, 0.11, 0.06, 0.1, 0.12]


@dataclass(kw_only=True)
class Closing:
    """What closed and what of the look depends on it."""

    smeared: np.ndarray
    footprint: np.ndarray
    seam: np.ndarray
    alone: np.ndarray


def _shifted(mask: np.ndarray, angle: float, distance: float) -> np.ndarray:
    t = np.deg2rad(angle)
    move = np.array([[1, 0, -distance * np.sin(t)], [0, 1, distance * np.cos(t)]])
    return cv2.warpAffine(
        mask.astype(np.uint8), move, mask.shape[::-1], flags=cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE
    )


def _without_specks(closed: np.ndarray, grooves: np.ndarray, area: float) -> np.ndarray:
    """Closed specks under `area` pixels open again; open ones under a few pixels close."""
    for _ in range(2):
        _, label, stats, _ = cv2.connectedComponentsWithStats(closed.astype(np.uint8), connectivity=4)
        small = stats[:, cv2.CC_STAT_AREA] < area
        small[0] = False
        closed = grooves & ~(closed & ~small[label])
        area = 5.0
    return closed


def _one(rng: np.random.Generator, lay: Lay, kind: str, share: float, stroke: float) -> np.ndarray:
    """Bool map of where grooves of this lay close, before it is restricted to them."""
    shape = lay.grooves.shape
    width = max(lay.width, 3.0)
    far = max(shape) / 2
    if kind == "along":
        return above(lay.along, share, lay.grooves)
    if kind == "whole":
        return above(lay.per_groove, min(share, 0.6), lay.grooves)
    if kind == "band":
        field = stretched(rng, shape, far * 8, log_uniform(rng, 2 * width, 2 * far + 2 * width), stroke)
        return above(field + 0.05 * stretched(rng, shape, width, width), share, lay.grooves)
    if kind in ("lip", "slit"):
        gate = stretched(rng, shape, log_uniform(rng, 3, 60) * width, log_uniform(rng, 1, 8) * width, lay.angle)
        where = above(gate, min(1.0, 1.6 * share), lay.grooves)
        wobble = rng.uniform(0, 0.3) * width * stretched(rng, shape, 1.5 * width, 1.5 * width)
        if kind == "slit":
            return where & (lay.inside < rng.uniform(0.15, 0.35) * width + 0.5 * wobble)
        side = _shifted(lay.grooves, lay.angle, rng.choice([-1, 1]) * max(1.0, rng.uniform(0.3, 0.8) * width))
        ragged = blur(side.astype(np.float32), 0.15 * width) + wobble / width
        return where & (ragged < 0.5)
    scale = float(np.clip(log_uniform(rng, 0.5 * width, far), 2, far))
    if kind == "iso":
        field = stretched(rng, shape, scale, scale)
    else:
        field = stretched(rng, shape, scale * log_uniform(rng, 2, 15), scale, stroke)
    if rng.random() < 0.5:  # ragged borders
        fine = max(2.0, log_uniform(rng, 0.1, 0.6) * width)
        field = field + rng.uniform(0.1, 0.6) * stretched(rng, shape, 3 * fine, fine, stroke)
    if kind == "tongue":  # blunt at one end, drawn out at the other
        t = np.deg2rad(stroke)
        reach = int(np.clip(log_uniform(rng, 0.5, 3) * width, 2, 25)) * (1 if rng.random() < 0.5 else -1)
        for part in (0.25, 0.5, 1.0):
            move = np.array([[1, 0, reach * part * np.cos(t)], [0, 1, reach * part * np.sin(t)]])
            moved = cv2.warpAffine(field, move, shape[::-1], flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
            field = np.maximum(field, moved - 0.35 * part)
    return above(field, share, lay.grooves)


def close_grooves(rng: np.random.Generator, lays: list[Lay], worn: np.ndarray, stroke: float) -> Closing:
    shape = worn.shape
    smeared, footprint, seam, alone, still_open = (np.zeros(shape, bool) for _ in range(5))
    only = int(rng.integers(len(lays))) if len(lays) > 1 and rng.random() < 0.15 else None
    kinds = list(rng.choice(KINDS, size=int(rng.integers(1, 4)), replace=False, p=ODDS))
    total = rng.beta(1.3, 1.5) * 0.95 + 0.04
    parts = rng.dirichlet(np.ones(len(kinds))) * total
    for i, lay in enumerate(lays):
        closed = np.zeros(shape, bool)
        if only is None or i == only:
            for kind, part in zip(kinds, parts, strict=True):
                closed |= _one(rng, lay, kind, float(part), stroke)
            if rng.random() < 0.2:  # porous or cracked covers
                scale = max(2.0, lay.width * log_uniform(rng, 0.1, 0.5))
                field = stretched(rng, shape, scale * rng.uniform(1, 4), scale, stroke)
                cracked = rng.random() < 0.4
                holes = np.abs(field) < 0.12 if cracked else above(field, log_uniform(rng, 0.03, 0.25))
                closed &= ~holes
            closed &= lay.grooves & worn
            if min(lay.width, 20) > 4:
                closed = (cv2.medianBlur(closed.astype(np.uint8), 3 if lay.width < 12 else 5) > 0) & lay.grooves
            closed = _without_specks(closed, lay.grooves, max(5.0, 0.15 * lay.width**2))
        here_open = lay.grooves & ~closed
        if closed.any():
            _, label = cv2.connectedComponents(lay.grooves.astype(np.uint8), connectivity=4)
            n = int(label.max()) + 1
            open_share = np.bincount(label[here_open], minlength=n) / np.maximum(np.bincount(label.ravel()), 1)
            alone |= closed & (open_share < 0.25)[label]
            half = _shifted(lay.grooves, lay.angle, rng.choice([-1, 1]) * lay.width * rng.uniform(0.3, 0.6)) > 0
            seam |= closed & (
                cv2.morphologyEx(half.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
            )
        smeared |= closed
        footprint |= lay.grooves
        still_open |= here_open
    # At crossings the groove that stayed open shows, or the cover of the other lies over both.
    smeared &= ~still_open if rng.random() < 0.5 else footprint
    return Closing(smeared=smeared, footprint=footprint, seam=seam & smeared, alone=alone & smeared)


def scuff_map(rng: np.random.Generator, worn: np.ndarray, stroke: float, px: float) -> np.ndarray:
    """Bool map of torn streaks along the stroke, from one of 3 µm to nearly all of the field."""
    shape = worn.shape
    far = float(max(shape))
    across = float(np.clip(log_uniform(rng, 4, 400) / px, 2.5, far / 1.5))
    field = stretched(rng, shape, far * log_uniform(rng, 0.2, 6) + 6 * across, across, stroke)
    if rng.random() < 0.7:
        thin = max(2.5, across * log_uniform(rng, 0.05, 0.4))
        field = field + rng.uniform(0.1, 0.7) * stretched(rng, shape, thin * log_uniform(rng, 4, 30), thin, stroke)
    if rng.random() < 0.6:
        rag = max(2.0, log_uniform(rng, 1, 12) / px)
        field = field + rng.uniform(0.05, 0.4) * stretched(rng, shape, rag * rng.uniform(1, 4), rag, stroke)
    torn = above(field, log_uniform(rng, 0.04, 0.9), worn).astype(np.uint8)
    size = 3 if across < 8 else 5
    return (cv2.medianBlur(cv2.medianBlur(torn, size), size) > 0) & worn
