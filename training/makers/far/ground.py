"""One field: its surface, its true states, and what the beam meets there."""

from dataclasses import dataclass

import cv2
import numpy as np

from . import running
from .chance import blur, canvas_side, cloth, line
from .hone import cut_lay, faint_marks, lay_in_field
from .recipe import LIMIT_UM


@dataclass
class Ground:
    height: np.ndarray  # µm
    depth: np.ndarray  # open groove depth, µm
    marks: np.ndarray  # depth of finishing marks, µm
    tone: np.ndarray
    graphite: np.ndarray
    rough: np.ndarray  # share of torn, rough metal
    debris: np.ndarray
    states: np.ndarray


def _without_specks(mask, least):
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    keep = stats[:, cv2.CC_STAT_AREA] >= least
    keep[0] = False
    return keep[labels] if count > 1 else mask


def draw_ground(rng, specimen, stroke, turn, worn):
    """turn: how far this field is turned from the specimen's directions (degrees)."""
    shape, pixel, hone, wear = specimen.shape, specimen.pixel, specimen.hone, specimen.wear
    side = canvas_side(shape)
    band = wear.bands * line(rng, side, rng.uniform(0.06, 0.3) * side)
    lays = []
    finish = np.zeros(shape, np.float32)
    for direction, cover in zip(hone.lays, hone.cover, strict=True):
        lay = cut_lay(rng, specimen, direction + turn, cover * rng.uniform(0.85, 1.15), stroke, band, worn)
        lays.append(lay_in_field(lay, direction + turn, shape))
        finish += faint_marks(rng, specimen, direction + turn, cover, worn)
    first = np.max([lay.first for lay in lays], axis=0)
    left = np.max([lay.left for lay in lays], axis=0)
    moved = [(lay.first >= LIMIT_UM) & (lay.left < LIMIT_UM) for lay in lays]
    cover = np.any(moved, axis=0)
    footprint = first >= LIMIT_UM
    opened = footprint & (left >= LIMIT_UM)
    closed = _without_specks(footprint & ~opened, 8)
    opened = footprint & ~closed
    opened = _without_specks(opened, 6)
    shown = np.where(closed, np.minimum(left, 0.45), np.where(opened, np.maximum(left, 0.52), left))

    tone = np.zeros(shape, np.float32)
    marked = np.ones(shape, np.float32)
    rough = np.zeros(shape, np.float32)
    lift = np.zeros(shape, np.float32)
    for lay, here in zip(lays, moved, strict=True):
        here = here & closed
        tone = np.where(here, lay.tone, tone)
        marked = np.where(here, lay.marked, marked)
        rough = np.maximum(rough, np.where(here, lay.rough, 0))
        lift = np.maximum(lift, np.where(here | ~cover, lay.lift, 0))

    plain = 1 - np.clip(blur(opened.astype(np.float32), 0.7) * 1.2, 0, 1)
    height = finish * plain
    marks = np.where(closed, 0, -finish) * plain
    # A cover hides the finishing marks of the plateau it lies level with.
    height = np.where(closed, height * np.clip(marked - 0.3, 0, 1), height)
    if worn:
        height = height + running.stroke_marks(rng, specimen, stroke) * plain * marked
        burnish = running.stroke_cloth(rng, shape, stroke, shape[0] / 12, shape[0] / 2.5)
        tone += wear.burnish * plain * np.clip(0.5 + 0.5 * burnish, 0, 1.2)
        if wear.film:
            tone += running.films(rng, specimen, stroke) * plain
    grit = cloth(rng, shape, max(1.0, 0.8 / pixel))
    scales = cloth(rng, shape, max(1.3, 1.6 / pixel))
    height = height + lift + rough * (0.1 * grit + 0.18 * scales) + 0.012 * grit
    count = (wear.scratches if worn else 0) + specimen.handling
    height = height + running.scratches(rng, specimen, stroke, count)
    height = height - shown

    states = np.where(closed, 2, opened.astype(np.uint8)).astype(np.uint8)
    carbon = running.graphite(rng, specimen)
    carbon = carbon * np.where(closed, 0.15, 1.0)
    if worn:
        # Plateau metal rubbed over the flakes hides some of them.
        carbon = carbon * np.clip(0.75 + 0.5 * cloth(rng, shape, 20 / pixel), 0.05, 1)
    tone += running.stains(rng, specimen)
    if worn and wear.scuff:
        torn, torn_height, ridges, torn_tone = running.scuffed_ground(rng, specimen, stroke)
        soft = blur(torn.astype(np.float32), 0.8)
        height = height * (1 - soft) + (torn_height - 0.4) * soft + ridges * (1 - 0.5 * soft)
        tone = tone * (1 - soft) + torn_tone * soft
        carbon = carbon * (1 - 0.8 * soft)
        shown, marks = shown * (1 - soft), marks * (1 - soft)
        rough = np.maximum(rough, soft)
        states[torn] = 3
    lumps = running.debris(rng, specimen) if specimen.debris else np.zeros(shape, bool)
    states[lumps] = 255
    return Ground(height.astype(np.float32), shown, marks, tone, carbon, rough, lumps, states)
