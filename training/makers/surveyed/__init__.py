"""Simulation of honed, run surfaces with exact truth: a height map in µm, surveyed by a simulated electron beam.

Order of making is order of events: the liner is honed (two lays, a finish, iron with its graphite), the ring truncates
it and moves metal over its grooves, some tracks scuff, and the specimen is then looked at. The truth is read off the
maps of those events, never off the picture.
"""

import cv2
import numpy as np

from makers.made import Made

from .beam import signal
from .frames import Array, Frame, Rng
from .honed import honed
from .iron import matter
from .record import recorded
from .running import VALLEY_DEPTH_UM, run
from .scuffing import bands, torn

PLATEAU, VALLEY, SMEARED, SCUFFED, NOT_ASSESSED = 0, 1, 2, 3, 255


def _track(rng: Rng, frame: Frame) -> Array:
    """Where the ring ran: all of the field, none of it, or one side of a border along the stroke."""
    kind = rng.random()
    if kind < 0.05:
        return frame.across > rng.uniform(-0.3, 0.3) * min(frame.shape)
    return np.full(frame.shape, kind < 0.62)


def make(rng: Rng, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Draw one field."""
    ground = honed(rng, shape, pixel_size_um)
    stroke = Frame(shape, ground.stroke)
    worn = _track(rng, stroke)
    iron = matter(rng, shape, pixel_size_um)
    ran = run(rng, ground, worn, pixel_size_um)
    moved = np.clip((ran.depth - ran.after) / np.maximum(ran.depth, 0.05), 0, 1)
    open_depth = ran.after * (1 - moved)
    bare = np.clip(1 - 1.3 * moved, 0, 1)
    graphite = iron.graphite * bare
    height = ran.height - (0.25 * graphite + iron.pit) * bare
    codes = np.zeros(shape, np.uint8)
    foot = ran.depth >= VALLEY_DEPTH_UM
    codes[foot] = SMEARED
    codes[ran.after >= VALLEY_DEPTH_UM] = VALLEY
    kind, shade = ground.finish, np.zeros(shape, np.float32)
    if worn.any() and rng.random() < 0.33:
        mask = bands(rng, stroke, worn)
        height, grey = torn(rng, stroke, height, mask, pixel_size_um)
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.2)
        open_depth, graphite, shade = open_depth * (1 - soft), graphite * (1 - soft), soft * np.float32(grey)
        codes[mask] = SCUFFED
        kind += " scuffed"
    lying = iron.particles > 0.3 * pixel_size_um
    height = (height + iron.particles).astype(np.float32)
    yielded = signal(rng, height, open_depth, graphite, np.where(lying, 0, ran.skin), pixel_size_um)
    yielded *= (1 + shade) * np.where(lying, np.float32(rng.uniform(0.9, 1.5)), np.float32(1))
    image, hidden = recorded(rng, yielded.astype(np.float32), lying)
    codes[lying | hidden] = NOT_ASSESSED
    return Made(image=image, codes=codes, worn=worn, kind=kind if worn.any() else kind + " unworn")
