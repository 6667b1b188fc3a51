"""The honed and perhaps worn surface of one field: heights, and what each place is."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frames import side, to_frame, to_picture
from .grooves import Habit, band, habit, scratches
from .scuff import scuffed
from .spectra import course, log_uniform, texture, unit
from .wear import push, ring_shape, truncate

VALLEY_UM = 0.5
"""From semwear.terms: ground at least this far below the local plateau is valley."""


@dataclass(frozen=True, kw_only=True)
class Surface:
    """height_um about the plateau's level; valley_um: depth of open groove ground; closed and torn: shares 0-1;
    codes: 0-3; worn: bool."""

    height_um: np.ndarray
    valley_um: np.ndarray
    closed: np.ndarray
    torn: np.ndarray
    codes: np.ndarray
    worn: np.ndarray


def honed(
    rng: np.random.Generator,
    habits: Habit,
    *,
    stroke_deg: float,
    angle_deg: float,
    pixel_size_um: float,
    shape: tuple[int, int],
) -> tuple[np.ndarray, np.ndarray]:
    """Depth of the grooves, and the rest of the relief (plateau's texture, rims, finishing scratches), both in µm."""
    strengths = [1.0, 1.0 if rng.random() < 0.7 else log_uniform(rng, 0.15, 0.8)]
    rng.shuffle(strengths)
    depth, rest = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    fineness = int(log_uniform(rng, 25, 220) * np.clip(max(shape) * pixel_size_um / 150, 0.2, 1))
    # The circumference, across the stroke, bisects the included angle.
    for turn, strength in zip((-0.5, 0.5), strengths, strict=True):
        lay = stroke_deg + 90 + turn * angle_deg
        cut, rims = band(rng, habits, strength=strength, direction_deg=lay, pixel_size_um=pixel_size_um, shape=shape)
        # The later stroke shears off the rims that the earlier one threw up.
        rest = np.where(cut > 0.2, 0, rest) + rims
        depth = np.maximum(depth, cut)
        fine = lay + rng.normal(0, 2)
        deepest = rng.uniform(0.1, 0.48)
        rest -= scratches(
            rng, count=fineness, deepest_um=deepest, direction_deg=fine, pixel_size_um=pixel_size_um, shape=shape
        )
    along = max(1.0, log_uniform(rng, 1, 10) / pixel_size_um)
    grain, waves = texture(rng, shape, along_px=along, across_px=max(0.8, 0.6 * along), fall=rng.uniform(0.5, 1.2))
    rest += log_uniform(rng, 0.015, 0.1) * grain + 0.3 * log_uniform(rng, 0.02, 0.1) * waves
    return depth, rest


def field(
    rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int], stroke_deg: float, state: str
) -> Surface:
    """state: `unworn`, `worn` or `border`."""
    habits = habit(rng, pixel_size_um)
    depth, rest = honed(
        rng, habits, stroke_deg=stroke_deg, angle_deg=rng.uniform(20, 150), pixel_size_um=pixel_size_um, shape=shape
    )
    if state == "unworn":
        if rng.random() < 0.3:
            rest -= scratches(
                rng, count=3, deepest_um=0.9, direction_deg=stroke_deg, pixel_size_um=pixel_size_um, shape=shape
            )
        codes = (depth >= VALLEY_UM).astype(np.uint8)
        nothing = np.zeros(shape, np.float32)
        return Surface(
            height_um=rest - depth, valley_um=depth, closed=nothing, torn=nothing, codes=codes, worn=nothing > 0
        )
    return _run(rng, depth, rest, pixel_size_um=pixel_size_um, stroke_deg=stroke_deg, border=state == "border")


def _run(rng, depth, rest, *, pixel_size_um, stroke_deg, border) -> Surface:
    shape = depth.shape
    angle = np.deg2rad(stroke_deg)
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    across_um = pixel_size_um * ((y - shape[0] / 2) * np.cos(angle) - (x - shape[1] / 2) * np.sin(angle))
    reach = 0.25 * min(shape) * pixel_size_um
    worn_um, track = ring_shape(
        rng,
        across_um,
        deepest_um=log_uniform(rng, 0.04, 0.9),
        border_um=rng.uniform(-reach, reach) if border else None,
        side=int(rng.choice([-1, 1])),
    )
    relief = rest - depth
    cut_off = truncate(relief, worn_um)
    removed = relief - cut_off
    # Depth below the plateau that the ring left.
    left = np.maximum(depth - worn_um, 0)
    height = np.where(track, cut_off + worn_um, relief)
    depth = np.where(track, left, depth)
    marks = scratches(
        rng,
        count=int(log_uniform(rng, 4, 120)),
        deepest_um=log_uniform(rng, 0.04, 0.4),
        direction_deg=stroke_deg,
        pixel_size_um=pixel_size_um,
        shape=shape,
    )
    height -= np.where(track & (depth < VALLEY_UM), marks, 0)
    if rng.random() < 0.4:
        deeper = scratches(
            rng, count=4, deepest_um=1.2, direction_deg=stroke_deg, pixel_size_um=pixel_size_um, shape=shape
        )
        height -= np.where(depth < VALLEY_UM, deeper, 0)
    closed = np.zeros(shape, np.float32)
    footprint = depth >= VALLEY_UM
    if rng.random() < 0.6:
        closed = np.where(
            track, _closed(rng, depth, removed, stroke_deg=stroke_deg, pixel_size_um=pixel_size_um), 0
        ).astype(np.float32)
        cap = _cap(rng, closed, depth, marks, stroke_deg=stroke_deg, pixel_size_um=pixel_size_um)
        height, depth = (1 - closed) * height + closed * cap, (1 - closed) * depth
    codes = (depth >= VALLEY_UM).astype(np.uint8)
    codes[footprint & (depth < VALLEY_UM)] = 2
    torn = np.zeros(shape, bool)
    if rng.random() < 0.25:
        torn, tears = scuffed(rng, track, stroke_deg=stroke_deg, pixel_size_um=pixel_size_um, heavy=rng.random() < 0.3)
        soft = cv2.GaussianBlur(torn.astype(np.float32), (0, 0), 0.8)
        # Torn metal fills the grooves for the most part.
        height = height * (1 - soft) + soft * (tears - 0.25 * np.minimum(depth, 2))
        depth, closed = depth * (1 - soft), closed * (1 - soft)
        codes[torn] = 3
    return Surface(
        height_um=height, valley_um=depth, closed=closed, torn=torn.astype(np.float32), codes=codes, worn=track
    )


def _closed(rng, depth, removed, *, stroke_deg, pixel_size_um) -> np.ndarray:
    """Share of each place closed by metal pushed both ways along the stroke."""
    shape = depth.shape
    # Rows of the frame run along the stroke; its transpose has one station of the stroke a row.
    gap = np.ascontiguousarray(to_frame(depth, stroke_deg).T)
    cut = np.ascontiguousarray(to_frame(np.maximum(removed, 0).astype(np.float32), stroke_deg).T)
    size = side(shape)
    lanes = np.exp(log_uniform(rng, 0.3, 1.4) * course(rng, size, log_uniform(rng, 2, 30) / pixel_size_um))
    spells, _ = texture(
        rng,
        (size // 4 + 1, size // 4 + 1),
        along_px=log_uniform(rng, 5, 60) / pixel_size_um / 4,
        across_px=log_uniform(rng, 3, 25) / pixel_size_um / 4,
        direction_deg=90,
        fall=1.2,
    )
    spells = cv2.resize(np.exp(rng.uniform(0.5, 2) * unit(spells)), (size, size))
    supply = cut * lanes[None, :] * spells
    # Lanes and spells share the metal out; they make none. Beyond what was cut here, passes before brought some along.
    supply *= (cut.sum() / max(float(supply.sum()), 1e-9)) * log_uniform(rng, 0.15, 1.0)
    supply = supply + np.float32(log_uniform(rng, 0.005, 0.15)) * lanes[None, :] * spells
    sheet = log_uniform(rng, 0.25, 1.2)
    down, _, _ = push(0.5 * supply, gap, pixel_size_um=pixel_size_um, sheet_um=sheet)
    up, _, _ = push(0.5 * supply[::-1], gap[::-1], pixel_size_um=pixel_size_um, sheet_um=sheet)
    both = np.maximum(down, up[::-1])
    # A film thinner than the metal's grain breaks away: no closure is narrower than some micrometres.
    least = int(np.clip(round(1.5 / pixel_size_um), 4, 9))
    both = cv2.morphologyEx(both, cv2.MORPH_OPEN, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (least, least)))
    # Sheets tear off in tongues of the metal's grain, not of one pixel's width.
    soft = cv2.GaussianBlur(both, (0, 0), max(0.9, 0.5 / pixel_size_um))
    soft = np.clip((soft - 0.5) * 3 + 0.5, 0, 1)
    return to_picture(np.ascontiguousarray(soft.T), stroke_deg, shape)


def _cap(rng, closed, depth, marks, *, stroke_deg, pixel_size_um) -> np.ndarray:
    """Height (µm) of the moved metal: burnished, with marks along the stroke, fold lines across it, and a lip at its edge."""
    folds, sag = texture(
        rng,
        closed.shape,
        along_px=max(1.5, log_uniform(rng, 1.5, 8) / pixel_size_um),
        across_px=max(3.0, log_uniform(rng, 5, 30) / pixel_size_um),
        direction_deg=stroke_deg,
        fall=1.5,
    )
    # Fold lines lie where a smooth field passes nought: thin, winding, never crossing.
    lines = np.exp(-((folds / rng.uniform(0.08, 0.2)) ** 2)) * rng.choice([0, rng.uniform(0.1, 0.4)])
    lip = 4 * closed * (1 - closed) * rng.uniform(-0.1, 0.45)
    # The sheet is thinnest over the rims, where a seam stays, and sags over the hollow.
    seam = rng.uniform(0.1, 0.4) * np.exp(-(((depth - 0.7) / 0.4) ** 2)) * np.clip(0.8 + 0.5 * folds, 0, 1.2)
    hollow = rng.uniform(0, 0.35) * np.clip(depth / 2, 0, 1)
    cap = -rng.uniform(0, 0.1) + 0.05 * sag - lines - seam - hollow + lip - 0.7 * marks
    return np.clip(cap, -0.45, 0.5).astype(np.float32)
