"""Micrographs as sketches: plainly bounded states in many tones. See grooves, moved and picture for what is drawn and how."""

import cv2
import numpy as np

from ..made import Made
from . import grooves, moved
from .frames import Frame, streaks, wander
from .picture import Scene, exposed, surface

__all__ = ["make"]


def matter(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Graphite flakes, bent and pointed, and small round pull-outs, 1 inside."""
    board = np.zeros(shape, np.uint8)
    rows, cols = shape
    area_mm2 = rows * cols * pixel_size_um**2 * 1e-6
    if rng.random() < 0.45:
        for _ in range(min(1 + rng.poisson(area_mm2 * rng.uniform(20, 120)), 60)):
            length = float(np.clip(rng.uniform(10, 70) / pixel_size_um, 8, 0.4 * min(shape)))
            thick = float(np.clip(rng.uniform(0.03, 0.1) * length, 1, 12))
            heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, 12))
            steps = np.column_stack([np.cos(heading), np.sin(heading)]) * length / 12
            line = np.cumsum(steps, 0) + rng.uniform(0, 1, 2) * (cols, rows)
            across = np.column_stack([-np.sin(heading), np.cos(heading)])
            wide = (np.sin(np.linspace(0.15, np.pi - 0.1, 12)) * thick / 2 * rng.uniform(0.6, 1.3, 12))[:, None]
            outline = np.vstack([line + across * wide, (line - across * wide)[::-1]])
            cv2.fillPoly(board, [np.rint(outline * 8).astype(np.int32)], 1, shift=3)
    if rng.random() < 0.4:
        board |= blobs(rng, shape, int(rng.integers(2, 25)), 1.5, 6)
    return board.astype(np.float32)


def blobs(rng: np.random.Generator, shape: tuple[int, int], count: int, least_px: float, most_px: float) -> np.ndarray:
    board = np.zeros(shape, np.uint8)
    turns = np.linspace(0, 2 * np.pi, 14)[:-1]
    for _ in range(count):
        radius = rng.uniform(least_px, most_px) * rng.uniform(0.6, 1.4, 13)
        centre = rng.uniform(0, 1, 2) * shape[::-1]
        outline = centre + np.column_stack([np.cos(turns) * rng.uniform(0.5, 1), np.sin(turns)]) * radius[:, None]
        cv2.fillPoly(board, [np.rint(outline * 8).astype(np.int32)], 1, shift=3)
    return board


def track(rng: np.random.Generator, stroke: Frame) -> np.ndarray:
    """Where the ring ran: all of the field, none, or up to a straight border along the stroke."""
    chance = rng.random()
    if chance < 0.05:
        border = stroke.side * rng.uniform(0.35, 0.65) + wander(rng, stroke.side, 40) * 1.5
        return stroke.show((np.arange(stroke.side)[:, None] > border).astype(np.float32)) > 0.5
    return np.full(stroke.shape, chance < 0.6)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    tilt_cos = float(np.cos(np.radians(rng.uniform(5, 30)))) if rng.random() < 0.25 else 1.0
    stroke = Frame(shape=shape, angle=float(rng.uniform(0, np.pi)), tilt_cos=tilt_cos)
    side = stroke.side
    worn = track(rng, stroke)
    ran = worn.any()
    lays = 1 if rng.random() < 0.1 else 2
    angles = grooves.lay_angles(stroke.angle, grooves.hone_angle_deg(rng))[:lays]
    frames = [Frame(shape=shape, angle=angle, tilt_cos=tilt_cos) for angle in angles]
    families, finish = grooves.population(rng, side, pixel_size_um, lays)
    worn_off_um = rng.uniform(0, 0.4) if ran else 0.0
    share = float(rng.choice([rng.uniform(0, 0.06), rng.uniform(0.12, 0.4), rng.uniform(0.4, 0.9)], p=[0.2, 0.4, 0.4]))
    kinds = rng.dirichlet(np.array([1.2, 0.9, 0.9, 0.6, 0.8]))
    plain = rng.uniform(0.55, 1)

    depth = np.zeros(shape, np.float32)
    deeper = np.zeros(shape, np.uint8)
    cover, sag, contrast, crack = np.zeros((4, *shape), np.float32)
    for number, (frame, family) in enumerate(zip(frames, families, strict=True)):
        cut = frame.show(grooves.cut(family, side))
        deeper[cut > depth] = number
        np.maximum(depth, cut, out=depth)
        if ran and share > 0:
            shear = 1 / np.tan(stroke.angle - frame.angle)
            closed = moved.smear(rng, side, family, share, kinds, float(shear), plain)
            for whole, part in (
                (cover, closed.cover),
                (sag, closed.sag_um),
                (contrast, closed.contrast),
                (crack, closed.crack),
            ):
                np.maximum(whole, frame.show(part) * worn, out=whole)
    depth = np.clip(depth - np.float32(worn_off_um) * worn, 0, None)

    ground = cv2.dilate((depth >= grooves.VALLEY_DEPTH_UM).astype(np.float32), np.ones((3, 3)))
    cover, crack = (
        cover * ground,
        crack * ground,
    )  # on a groove too shallow for a valley metal leaves nothing to be told

    scuffed = np.zeros(shape, np.float32)
    if ran and rng.random() < 0.3:
        board = moved.scuff(rng, stroke, rng.uniform(0.02, 0.24), pixel_size_um)
        tongues = rng.uniform(0, 0.35) * streaks(rng, stroke, rng.uniform(20, 60), rng.uniform(3, 6))
        band = cv2.GaussianBlur(stroke.show(board), (0, 0), 3.0)
        scuffed = ((band + tongues * (band > 0.02) > 0.5) & worn).astype(np.float32)
    codes, left = moved.truth(depth, cover, sag, scuffed > 0.5)

    marks = np.zeros(shape, np.float32)
    dense = rng.choice([0, 25, 150])
    for frame in frames:
        marks = np.maximum(marks, grooves.scratches(rng, frame, int(dense), rng.uniform(0.1, 0.45), 2.5))
    marks *= 1 - 0.8 * worn * rng.uniform(0, 1)
    if ran:
        run = grooves.scratches(rng, stroke, int(rng.integers(5, 160)), rng.uniform(0.1, 0.45), 2.5)
        marks = np.maximum(marks, run * worn)
    scene = Scene(
        stroke=stroke,
        lays=frames,
        pixel_size_um=pixel_size_um,
        depth_um=depth,
        deeper=deeper,
        left_um=left,
        cover=cover,
        contrast=contrast,
        crack=crack,
        scuffed=scuffed,
        marks_um=marks * (1 - np.clip(depth / 0.5, 0, 1) * (1 - cover)),
        matter=matter(rng, shape, pixel_size_um),
        worn=worn.astype(np.float32),
    )
    turn = rng.uniform(0, 2 * np.pi)
    grey = surface(rng, scene, np.array([np.cos(turn), np.sin(turn)]))
    if rng.random() < 0.15:
        lying = blobs(rng, shape, int(rng.integers(1, 6)), 4, 16)
        lump = cv2.GaussianBlur(lying.astype(np.float32), (0, 0), 1.2)
        grey = grey + lump * (rng.uniform(0.68, 0.95) - grey)
        grey -= 0.2 * np.clip(np.roll(lump, (2, 3), (0, 1)) - lump, 0, 1)
        codes[lying > 0] = 255
    image, hidden = exposed(rng, grey)
    codes[hidden] = 255
    return Made(image=image, codes=codes, worn=worn, kind=f"{finish}, {'worn' if ran else 'unworn'}")
