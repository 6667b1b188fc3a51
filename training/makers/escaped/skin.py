"""The skin of each state: its grain, its grey and the seams between, composed over the surface with soft borders."""

import cv2
import numpy as np

from makers.escaped.closing import Closed
from makers.escaped.frame import Frame, axes, cloud, soft
from makers.escaped.hone import Relief
from makers.escaped.scuffing import Torn

APART = 0.13
"""Moved metal differs at least so much in yield from the open floor beside it (common practice, no source)."""


def skin(
    rng: np.random.Generator, codes: np.ndarray, relief: Relief, closed: Closed, torn: Torn, track: np.ndarray, frame: Frame
) -> tuple[np.ndarray, np.ndarray]:
    """Height in µm, upwards, and yield of the material, 1 on the mean plateau (rows, cols)."""
    border = rng.uniform(0.5, 1.0)
    floor, moved, tears = (soft(codes == code, border) for code in (1, 2, 3))
    bold = moved * closed.bold
    plain = 1 - np.clip(floor + bold + tears, 0, 1)
    lays = [axes(frame.shape, frame.pixel_um, lay) for lay in relief.lays_deg]
    states = {
        "plateau": (plain, _plateau(rng, lays, track, frame), 0.0, rng.uniform(0.03, 0.10), rng.uniform(0.01, 0.05)),
        "floor": (floor, _floor(rng, lays, relief.lay, frame), *_floor_look(rng)),
    }
    if bold.any():
        states["moved"] = (bold, _moved(rng, frame), *_moved_look(rng, states["floor"][2]))
    if tears.any():
        states["torn"] = (tears, torn.grain, rng.uniform(-0.25, 0.35), rng.uniform(0.09, 0.24), 0.0)
    height = -closed.depth + relief.rim * (1 - np.clip(moved + floor, 0, 1))
    height = height * (1 - tears) + torn.height * tears
    material = np.ones(frame.shape, np.float32)
    for weight, grain, grey, contrast, rough_um in states.values():
        material += weight * (np.float32(grey) + np.float32(contrast) * grain)
        height += weight * np.float32(rough_um) * grain
    if bold.any():
        material += bold * rng.uniform(0.005, 0.025) * closed.tone + _seams(rng, codes, closed.bold, frame)
    return height.astype(np.float32), np.clip(material, 0.05, None).astype(np.float32)


def _floor_look(rng) -> tuple[float, float, float]:
    """Grey, contrast of grain and roughness in µm: most floors hold oil and carbon and are dark, some are rough and bright."""
    grey = rng.uniform(-0.38, -0.1) if rng.random() < 0.68 else rng.uniform(0.08, 0.3)
    return grey, rng.uniform(0.07, 0.2), rng.uniform(0.03, 0.15)


def _moved_look(rng, floor_grey: float) -> tuple[float, float, float]:
    """Grey, contrast of grain and roughness in µm of moved metal: unlike the plateau and unlike the open floor."""
    greys = [grey for grey in rng.choice((-1, 1), 8) * rng.uniform(0.13, 0.28, 8) if abs(grey - floor_grey) > APART]
    grey = greys[0] if greys else -np.sign(floor_grey) * 0.16
    return float(grey), rng.uniform(0.06, 0.16), rng.uniform(0.02, 0.08)


def _plateau(rng, lays, track, frame) -> np.ndarray:
    """Finishing marks along both lays, wiped by the ring, which leaves its own along the stroke."""
    fine = frame.at_least(rng.uniform(0.5, 1.6), 1.3)
    marks = sum(cloud(rng, *lay, (fine * rng.uniform(30, 80), fine)) for lay in lays) * np.float32(0.7)
    grit = cloud(rng, frame.along, frame.across, (frame.at_least(0.4, 1.2),) * 2)
    wiped = np.float32(rng.uniform(0.3, 0.9)) * track
    ring = cloud(rng, frame.along, frame.across, (fine * rng.uniform(25, 90), fine * rng.uniform(1, 1.8)))
    return marks * (1 - wiped) + 0.8 * ring * wiped + np.float32(rng.uniform(0.1, 0.5)) * grit


def _floor(rng, lays, lay, frame) -> np.ndarray:
    """Furrows of the grits along the lay, and torn scales in some fields."""
    furrow = frame.at_least(rng.uniform(0.7, 2.0), 1.6)
    first, second = (cloud(rng, *axis, (furrow * rng.uniform(6, 20), furrow)) for axis in lays)
    scale = frame.at_least(rng.uniform(0.6, 1.6), 1.8)
    scales = cloud(rng, frame.along, frame.across, (scale, scale))
    grit = cloud(rng, frame.along, frame.across, (frame.at_least(0.3, 1.3),) * 2)
    scaly, gritty = (np.float32(rng.uniform(*limits)) for limits in ((0.1, 0.7), (0.2, 0.6)))
    return np.where(lay == 0, first, second) + scaly * scales + gritty * grit


def _moved(rng, frame) -> np.ndarray:
    """Metal drawn out along the stroke, with folds across it."""
    fibre = frame.at_least(rng.uniform(0.8, 2.5), 1.8)
    fibres = cloud(rng, frame.along, frame.across, (fibre * rng.uniform(4, 12), fibre))
    folds = cloud(rng, frame.along, frame.across, (1.3 * fibre, 4 * fibre))
    fine = cloud(rng, frame.along, frame.across, (frame.at_least(0.7, 3), frame.at_least(0.3, 1.4)))
    return 0.8 * fibres + np.float32(rng.uniform(0.2, 0.8)) * folds + np.float32(rng.uniform(0.3, 0.7)) * fine


def _seams(rng, codes, bold, frame) -> np.ndarray:
    """The broken line round each piece of moved metal, dark as a crack or bright as an edge (rows, cols)."""
    thick_px = np.clip(rng.uniform(0.3, 0.8) / frame.pixel_um, 1, 4)
    kernel = np.ones((3, 3), np.uint8)
    moved = (codes == 2).astype(np.uint8)
    line = soft(cv2.morphologyEx(moved, cv2.MORPH_GRADIENT, kernel), 0.45 * thick_px) * np.float32(np.sqrt(thick_px))
    broken = np.clip(0.6 + 0.6 * cloud(rng, frame.along, frame.across, (frame.at_least(2.5, 5),) * 2), 0, 1.3)
    strength = rng.uniform(-0.5, -0.2) if rng.random() < 0.7 else rng.uniform(0.15, 0.4)
    near = cv2.dilate(bold, kernel)
    return np.float32(strength) * line * broken * near**2 * (codes != 3)
