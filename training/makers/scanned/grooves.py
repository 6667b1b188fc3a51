"""Height of honed ground: bands of grooves, each a profile across the lay that fades and ends along it."""

from dataclasses import dataclass

import cv2
import numpy as np

from .draws import log_uniform, smooth_map

WALL_SLOPE_DEG = (6.0, 27.0)
DEPTH_UM = (0.2, 10.0)
WIDTH_UM = (2.0, 60.0)


@dataclass(frozen=True, kw_only=True)
class Band:
    """Grooves of one lay: depth_um (positive down), across (0 to 1 from rim to rim, -1 on land), groove (number of the
    groove, -1 on land), along_um and
    across_um (distance along and across the lay from the first), count of grooves, width_um map."""

    depth_um: np.ndarray
    across: np.ndarray
    groove: np.ndarray
    along_um: np.ndarray
    across_um: np.ndarray
    count: int
    width_um: np.ndarray


def lays_deg(stroke_deg: float, included_deg: float) -> tuple[float, float]:
    """Directions of the two lays: the circumference, across the stroke, bisects the included hone angle."""
    return stroke_deg + 90 - included_deg / 2, stroke_deg + 90 + included_deg / 2


def depth_of(width_um: float, slope_deg: float, floor_share: float) -> float:
    """Depth in µm of a groove with a flat floor over floor_share of its width and straight walls of slope_deg."""
    return float(np.clip(width_um / 2 * (1 - floor_share) * np.tan(np.radians(slope_deg)), *DEPTH_UM))


def profile(place: np.ndarray, floor_share: float, lean: float) -> np.ndarray:
    """Depth share 0 to 1 at place 0 to 1 from rim to rim; lean moves the deepest place off the middle."""
    middle = 0.5 + lean
    wall = np.where(place < middle, place / middle, (1 - place) / (1 - middle))
    return np.clip(wall / (1 - floor_share), 0, 1)


def band(
    rng: np.random.Generator, x_um: np.ndarray, y_um: np.ndarray, lay_deg: float, share: float, pixel_size_um: float
) -> Band:
    """Grooves over about `share` of the ground, at random places, some in groups."""
    angle = np.radians(lay_deg)
    along = (x_um * np.cos(angle) + y_um * np.sin(angle)).astype(np.float32)
    across = (y_um * np.cos(angle) - x_um * np.sin(angle)).astype(np.float32)
    along -= along.min()
    across -= across.min()
    length, span = float(along.max()), float(across.max())
    wave = log_uniform(rng, 0.02, 1.0) * pixel_size_um * 3
    # Stones tear rims as they cut: no edge is ruled.
    torn = log_uniform(rng, 0.1, 1.0) * pixel_size_um * smooth_map(rng, x_um.shape, (7, 7))
    across = np.clip(across + torn + wave * np.sin(along * (2 * np.pi / (length * rng.uniform(0.4, 2))) + rng.uniform(0, 6)), 0, span)
    step = min(pixel_size_um, 0.5) / 2
    line = np.arange(0, span + 2 * step, step)
    depth, place, number, widths = np.zeros(line.size), np.full(line.size, -1.0), np.full(line.size, -1), np.zeros(line.size)
    low = max(WIDTH_UM[0], 2.5 * pixel_size_um)
    high = max(low * 1.5, min(WIDTH_UM[1], span / 5))
    typical, spread = log_uniform(rng, low * 1.3, high), rng.uniform(0.2, 0.7)
    slope, group = rng.uniform(9, 24), rng.random() < 0.4
    centre, count = rng.uniform(0, span), 0
    for count in range(1, 200):
        width = float(np.clip(typical * np.exp(spread * rng.standard_normal()), low, high))
        near = group and rng.random() < 0.6
        centre = (centre + rng.normal(0, 2.5 * width)) % span if near else rng.uniform(0, span)
        floor, lean = rng.uniform(0, 0.55), rng.uniform(-0.25, 0.25)
        deep = depth_of(width, float(np.clip(rng.normal(slope, 4), *WALL_SLOPE_DEG)), floor)
        first, last = np.searchsorted(line, (centre - width / 2, centre + width / 2))
        here = (line[first:last] - centre) / width + 0.5
        new = deep * profile(here, floor, lean)
        over = new > depth[first:last]
        for map_, value in ((depth, new), (place, here), (number, np.full(here.size, count - 1)), (widths, np.full(here.size, width))):
            map_[first:last][over] = value[over]
        if (depth > 0.3).mean() >= share:
            break
    index = np.clip(across / step, 0, line.size - 2)
    at = index.astype(np.int32)
    rest = index - at
    groove = number[at].astype(np.int32)
    fade = along_grooves(rng, groove, along, count, log_uniform(rng, 0.15, 2) * length)
    ending = np.clip(0.85 + rng.uniform(0.05, 0.5) * fade, 0, 1.1) * (groove >= 0)
    ground = (depth[at] * (1 - rest) + depth[at + 1] * rest) * ending
    return Band(
        depth_um=ground.astype(np.float32), across=place[at].astype(np.float32), groove=groove, along_um=along,
        across_um=across.astype(np.float32), count=count, width_um=widths[at].astype(np.float32),
    )


def along_grooves(
    rng: np.random.Generator, groove: np.ndarray, along_um: np.ndarray, count: int, cell_um: float
) -> np.ndarray:
    """Random map of about unit spread that changes along every groove within about cell_um, each groove for itself."""
    cells = int(min(along_um.max() / cell_um + 3, 3000))
    table = rng.standard_normal((count, cells), dtype=np.float32)
    shift = rng.random(count, dtype=np.float32)
    row = np.maximum(groove, 0)
    return cv2.remap(
        table, (along_um / cell_um + shift[row]).astype(np.float32), row.astype(np.float32), cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ) * 1.2
