"""Honed liner fields from kinematics: hone strokes, a plateau pass, ring strokes that push metal, then the microscope."""

import cv2
import numpy as np

from makers.made import Made

from .dirt import draw_dirt
from .electrons import emit
from .honing import draw_band, draw_stone, lay_down
from .instrument import record
from .noise import log_uniform, smooth
from .ring import plough_marks, push_metal, tear, worn_area

LIMIT_UM = 0.5


def _frame(rng: np.random.Generator, shape: tuple[int, int]) -> tuple[tuple[int, int], np.ndarray]:
    """Shape of the stroke frame (stroke down its rows) that covers the field, and the map from field to frame pixels."""
    near_edge = rng.choice((0.0, 90.0), p=(0.65, 0.35)) + rng.normal(0, 4)
    turn = near_edge if rng.random() < 0.8 else rng.uniform(0, 180)
    cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    rows, cols = shape
    tall, wide = (int(abs(a * cos) + abs(b * sin)) + 6 for a, b in ((rows, cols), (cols, rows)))
    there = np.array([[cos, -sin], [sin, cos]])
    centre = np.array([wide / 2, tall / 2]) - there @ np.array([cols / 2, rows / 2])
    return (tall, wide), np.column_stack([there, centre])


def _honed(rng: np.random.Generator, shape: tuple[int, int], pixel: float) -> tuple[np.ndarray, np.ndarray]:
    """Groove heights (um, <= 0) and what lies beside them (um), from both stroke senses, in the stroke frame."""
    stone = draw_stone(rng, pixel, min(shape) * pixel)
    half = np.radians(rng.uniform(20, 150)) / 2
    skew = np.radians(rng.normal(0, 2))
    weak = rng.uniform(0.4, 1) if rng.random() < 0.7 else rng.uniform(0, 0.3)
    shares = np.array([1, weak]) / (1 + weak)
    side = int(np.hypot(*shape)) + 4
    slide = rng.uniform(-0.2, 0.2) / side if rng.random() < 0.15 else 0.0
    sense = rng.choice((-1, 1))
    cut, beside = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    for share, sign in zip(shares, (sense, -sense), strict=True):
        groove, rims = (lay_down(band, shape, sign * half + skew, sign * slide) for band in draw_band(rng, stone, side, share, pixel))
        # The later stroke takes the rims of the earlier one with it where it cuts.
        beside = beside * (groove > -0.05) + rims * (cut > -0.05)
        cut = np.minimum(cut, groove)
    return cut, beside


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of shape (rows, cols) px at pixel_size_um (um/px); all chance comes from rng."""
    pixel = float(pixel_size_um)
    frame, there = _frame(rng, shape)
    state = str(rng.choice(("unworn", "border", "worn"), p=(0.4, 0.15, 0.45)))
    ran = worn_area(rng, frame, state)
    cut, beside = _honed(rng, frame, pixel)
    # Plateau pass: tops go at a level near zero, and rims with them more or less.
    before = np.minimum(cut + beside, log_uniform(rng, 0.05, 1.5))
    height, level = before, np.zeros(frame, np.float32)
    roof, torn = np.zeros(frame, np.float32), np.zeros(frame, bool)
    names = [state]
    if state != "unworn":
        level[ran] = -log_uniform(rng, 0.03, 0.9)
        if state == "border":
            # The ring's edge leans on the land beside it, so the step down into the track is a slope and not a wall.
            level = cv2.GaussianBlur(level, (0, 0), max(0.8, log_uniform(rng, 0.5, 12) / pixel))
        height = np.where(level < -0.01, np.minimum(before, level + 0.02), before)
        if rng.random() < 0.6:
            names.append("smeared")
            roof = push_metal(rng, cut < level - LIMIT_UM, ran, log_uniform(rng, 0.12, 1.6), pixel)
            sag = np.clip(0.15 + 0.13 * smooth(rng, frame, (10 / pixel, 10 / pixel)), 0, 0.4)
            height += np.where(cut < level - 0.1, roof * np.maximum(level - sag - height, 0), 0)
        height += plough_marks(rng, frame, pixel, log_uniform(rng, 0.02, 0.5)) * ran * np.clip(1 + (cut - level + 0.1) * 2, roof, 1)
    footprint = cut < level - LIMIT_UM
    # Present ground of the groove without finishing texture: kept heights decide between open and closed.
    present = cut + roof * np.maximum(level - 0.2 - cut, 0)
    opened = footprint & (present < level - LIMIT_UM)
    if state != "unworn" and rng.random() < 0.25:
        heavy = bool(rng.random() < 0.4)
        names.append("heavily scuffed" if heavy else "scuffed")
        torn, relief = tear(rng, ran, pixel, heavy)
        height = np.where(torn, level - 0.1 + relief, height)
    backscatter = bool(rng.random() < 0.25)
    azimuth = rng.uniform(0, 2 * np.pi)
    side = (float(np.cos(azimuth)), float(np.sin(azimuth)))
    dirt = draw_dirt(rng, frame, pixel, backscatter=backscatter, side=side)
    depth = np.where(torn, 0, np.clip(level - present, 0, None)).astype(np.float32)
    ground = height.astype(np.float32)
    signal = emit(rng, ground, depth, roof * footprint, torn, ran, dirt, pixel, backscatter=backscatter, side=side)
    codes = np.select((dirt.hidden, torn, opened, footprint & ran), (255, 3, 1, 2), 0).astype(np.uint8)
    size = (shape[1], shape[0])
    nearest = cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    codes = cv2.warpAffine(codes, there, size, flags=nearest, borderMode=cv2.BORDER_REPLICATE)
    worn = cv2.warpAffine(ran.astype(np.uint8), there, size, flags=nearest, borderMode=cv2.BORDER_REPLICATE) > 0
    signal = cv2.warpAffine(signal, there, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE)
    image = record(rng, signal)
    return Made(image=image, codes=codes, worn=worn, kind=" ".join(names) + (" backscattered" if backscatter else ""))
