"""The height map of a field, µm, and its truth from heights before and after wear."""

from dataclasses import dataclass

import cv2
import numpy as np

from .grooves import cut_band, scratches
from .moved import close_band, scuff
from .noise import Frame, field, log_uniform

VALLEY_UM = 0.5
"""Below the local plateau: the definition of an open valley."""


@dataclass
class Surface:
    """height µm (0 = local plateau, cut downwards), codes 0…3, worn, depth µm still open, fold lines 0…1, smooth 0…1 (burnished),
    rough 0…1 (torn); stroke: radians from the row axis."""

    height: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    depth: np.ndarray
    lines: np.ndarray
    smooth: np.ndarray
    rough: np.ndarray
    stroke: float
    kind: str


def _stroke(rng: np.random.Generator) -> float:
    """Direction of the stroke, radians: mostly upright or level within some degrees, else any."""
    draw = rng.random()
    if draw < 0.8:
        return float((np.pi / 2 if draw < 0.45 else 0.0) + np.deg2rad(6) * rng.standard_normal())
    return float(rng.uniform(0, np.pi))


def _worn(rng: np.random.Generator, shape: tuple[int, int], frame: Frame) -> tuple[np.ndarray, str]:
    """Where the ring ran (bool): nowhere, on one side of a border along the stroke, or everywhere."""
    draw = rng.random()
    if draw < 0.4:
        return np.zeros(shape, bool), "unworn"
    if draw < 0.57:
        rows, columns = np.indices(shape, dtype=np.float32)
        offset = (columns - shape[1] / 2) * frame.across[0] + (rows - shape[0] / 2) * frame.across[1]
        edge = rng.uniform(-0.3, 0.3) * min(shape) + 1.5 * field(rng, shape, 60, 60)
        return (offset > edge) ^ (rng.random() < 0.5), "border"
    return np.ones(shape, bool), "worn"


def lays(stroke: float, included: float) -> tuple[float, float]:
    """Directions of the two lays, radians, at `included` radians, bisected by the direction across the stroke."""
    return stroke + np.pi / 2 - included / 2, stroke + np.pi / 2 + included / 2


def _bands(rng: np.random.Generator, shape: tuple[int, int], stroke: float, pixel_um: float) -> list:
    """The two bands of grooves, bisected by the direction across the stroke."""
    directions = lays(stroke, np.deg2rad(rng.uniform(20, 150)))
    depth_um, width_um = log_uniform(rng, 0.9, 7.0), log_uniform(rng, 3.0, 45.0)
    # Shallow walls make deep grooves wide.
    width_um = max(width_um, min(7 * depth_um, 45.0))
    width = np.clip(width_um / pixel_um, 4.0, 0.22 * min(shape))
    share = log_uniform(rng, 0.08, 0.32)
    weak = rng.random() < 0.3
    order = directions if rng.random() < 0.5 else directions[::-1]
    bands = []
    for place, direction in enumerate(order):
        frame = Frame(shape, direction)
        scale = rng.uniform(0.2, 0.6) if weak and place else 1.0
        gap = float(np.clip(width / share, 6.0, 0.7 * min(shape))) / scale
        bands.append(
            cut_band(
                rng, frame, pixel_um, depth_um=depth_um * scale**0.5, width_um=width * pixel_um * scale**0.3, gap=gap
            )
        )
    return bands


def states(cut: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Mask codes 0, 1, 2 from depths (µm) below the local plateau: `cut` without, `after` with the metal that moved in."""
    return np.where(after >= VALLEY_UM, 1, np.where(cut >= VALLEY_UM, 2, 0)).astype(np.uint8)


def make_surface(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> Surface:
    """Hone, wear and smear a surface of `shape` px with pixels of `pixel_um` µm."""
    stroke = _stroke(rng)
    along = Frame(shape, stroke)
    worn, kind = _worn(rng, shape, along)
    wear = worn.astype(np.float32)
    truncated = log_uniform(rng, 0.02, 1.0)
    bands = _bands(rng, shape, stroke, pixel_um)
    smear = worn.any() and rng.random() < 0.6
    share_grooves = rng.uniform(0.45, 1.0)
    share_length = float(rng.choice([0.2, 0.5, 0.8, 1.0])) * rng.uniform(0.7, 1.1)
    sense = float(rng.choice([-1, 1]))

    cut, after, rim = (np.zeros(shape, np.float32) for _ in range(3))
    lines, fills = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    for number, band in enumerate(bands):
        ground = band.frame.to_picture(band.depth)
        # Wear lowers the plateau, so the same ground lies less deep below it.
        ground = np.maximum(ground - truncated * wear, 0)
        cut = np.maximum(cut, ground)
        rim = np.maximum(rim, band.frame.to_picture(band.rim))
        if smear:
            fill, dip, crease = close_band(
                rng, band, share_grooves=share_grooves, share_length=share_length, sense=sense * (1 - 2 * number)
            )
            fill = band.frame.to_picture(fill) * wear * (ground >= VALLEY_UM)
            dip, crease = band.frame.to_picture(dip), band.frame.to_picture(crease)
            lines = np.maximum(lines, crease * wear)
            fills = np.maximum(fills, fill)
            ground = ground * (1 - fill) + np.minimum(dip, ground) * fill
        after = np.maximum(after, ground)
    codes = states(cut, after)
    closed = codes == 2
    # Fold lines lie at the rims, a little outside the closed footprint too.
    lines *= (cv2.dilate(closed.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0) & (codes != 1)

    # One-process surfaces keep their peaks; a worn plateau loses them.
    texture = log_uniform(rng, 0.03, 0.2)
    grain = field(rng, shape, 2.5, 2.5) * 0.6 + field(rng, shape, 7, 7) * 0.4
    polish = 1 - rng.uniform(0.3, 0.8) * wear
    fine = np.zeros(shape, np.float32)
    for band in bands:
        fine = np.maximum(
            fine, band.frame.to_picture(scratches(rng, band.frame, int(rng.uniform(5, 110)), rng.uniform(0.05, 0.4)))
        )
    marks = along.to_picture(scratches(rng, along, int(rng.uniform(10, 160)), rng.uniform(0.08, 0.45)))
    unworn_marks = rng.random() < 0.25
    marks = marks * np.maximum(wear, 0.7 * unworn_marks)
    burnish = np.where(closed, fills, 0)
    land = (after < VALLEY_UM).astype(np.float32)
    pitch = min(1.0, 0.3 + pixel_um)
    fine = fine * polish * (1 - 0.8 * burnish)
    floor = log_uniform(rng, 0.05, 0.5) * field(rng, shape, 3, 3) * np.clip(after, 0, 1.5)
    height = -after + rim * (1 - 0.7 * wear) * (1 - burnish)
    height += pitch * (texture * grain * polish * (1 - 0.7 * burnish) - (fine + marks) * land + floor)
    height += pitch * (0.5 * np.roll(lines, 1, axis=1) - 0.7 * lines)
    rough = np.zeros(shape, np.float32)
    if worn.any() and rng.random() < 0.25:
        heavy = rng.random() < 0.35
        torn, torn_height = scuff(
            rng, along, pixel_um, rng.uniform(0.4, 0.8) if heavy else log_uniform(rng, 0.05, 0.35)
        )
        torn &= worn
        codes[torn] = 3
        height = np.where(torn, torn_height + 0.25 * height, height)
        after, lines, burnish = (np.where(torn, 0, part) for part in (after, lines, burnish))
        rough = torn.astype(np.float32)
        kind += " scuffed"
    if smear:
        kind += " smeared"
    smooth = np.maximum(burnish, 0.4 * wear * land * (1 - rough)).astype(np.float32)
    return Surface(height.astype(np.float32), codes, worn, after, lines, smooth, rough, stroke, kind)
