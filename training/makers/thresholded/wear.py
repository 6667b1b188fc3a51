"""What the ring does: truncation, closure by moved metal, scuffing; depths and heights in µm."""

from dataclasses import dataclass

import cv2
import numpy as np

from .grooves import Ground
from .random_fields import above, even, log_uniform, smooth_step, stretched

LIMIT_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Surface:
    """The surface as it is photographed: height_um over the plateau; depth_um of the grooves left; codes 0 to 3; worn;
    cap 0..1 where closing metal lies; torn 0..1 where scuffed; seam 0..1 fold lines and lips."""

    height_um: np.ndarray
    depth_um: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    cap: np.ndarray
    torn: np.ndarray
    seam: np.ndarray
    history: str


def run_ring(rng: np.random.Generator, ground: Ground, *, pixel_um: float, stroke_deg: float) -> Surface:
    """The state of a field, from unworn to scuffed; the stroke in degrees from the rows."""
    shape = ground.depth_um.shape
    draw = rng.random()
    history = "unworn" if draw < 0.4 else "border" if draw < 0.55 else "worn"
    where = _track(rng, shape, history=history, pixel_um=pixel_um, stroke_deg=stroke_deg)
    worn = where > 0.5
    depth, fine, rim = ground.depth_um, ground.fine_um, ground.rim_um
    nothing = np.zeros(shape, np.float32)
    cap, torn, seam, marks = nothing, nothing, nothing, nothing
    residue = depth
    if history != "unworn":
        # Truncation lowers the plateau: a groove keeps its ground but loses depth, and its rims and fine scratches go.
        loss = log_uniform(rng, 0.05, 1.3) * np.exp(0.5 * even(rng, shape, log_uniform(rng, 80, 600))) * where
        depth = np.maximum(depth - loss, 0)
        polish = where * rng.uniform(0.5, 1)
        fine, rim = fine * (1 - polish), rim * (1 - np.clip(loss / 0.3, 0, 1))
        marks = _marks(rng, shape, pixel_um=pixel_um, stroke_deg=stroke_deg) * where
        residue = depth
        if rng.random() < 0.6:
            history += "+smear"
            cap, seam = _closure(rng, ground, depth, pixel_um=pixel_um, stroke_deg=stroke_deg)
            cap, seam = cap * worn, seam * worn
            sunk = np.clip(0.2 + 0.12 * even(rng, shape, max(8 / pixel_um, 3)), 0.03, 0.42)
            residue = depth * (1 - cap) + cap * np.minimum(depth, sunk)
        if rng.random() < 0.25:
            history += "+scuff"
            torn = _scuffing(rng, shape, worn, pixel_um=pixel_um, stroke_deg=stroke_deg)
    codes = (residue >= LIMIT_UM).astype(np.uint8)
    # Closed is what wear alone had left deep, by the very limit that an open groove is judged by.
    codes[(depth >= LIMIT_UM) & (residue < LIMIT_UM)] = 2
    codes[torn > 0.5] = 3
    # The cap itself reaches on to the rims and is lit as far.
    reach = int(np.clip(np.ceil(LIMIT_UM / ground.wall / pixel_um), 1, 25))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    footprint = (cv2.dilate((depth >= LIMIT_UM).astype(np.uint8), disc) > 0) & (depth > 0.04)
    cap = cap * footprint
    seam = seam * cv2.dilate(footprint.astype(np.uint8), np.ones((3, 3), np.uint8))
    height = -residue + fine * (1 - cap) + rim + marks * (residue < 0.8) + 0.18 * seam
    if torn.any():
        height = height * (1 - torn) + torn * (0.25 * height + _torn_relief(rng, shape, pixel_um=pixel_um, stroke_deg=stroke_deg))
        cap, seam = cap * (1 - torn), seam * (1 - torn)
    return Surface(
        height_um=height.astype(np.float32), depth_um=(residue * (1 - torn)).astype(np.float32), codes=codes, worn=worn,
        cap=cap.astype(np.float32), torn=torn.astype(np.float32), seam=seam.astype(np.float32), history=history,
    )


def _track(rng: np.random.Generator, shape: tuple[int, int], *, history: str, pixel_um: float, stroke_deg: float) -> np.ndarray:
    """0 outside the ring's track, 1 inside."""
    if history != "border":
        return np.full(shape, float(history == "worn"), np.float32)
    turn = np.deg2rad(stroke_deg)
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    across = (y - shape[0] * rng.uniform(0.3, 0.7)) * np.cos(turn) - (x - shape[1] * rng.uniform(0.3, 0.7)) * np.sin(turn)
    across += stretched(rng, shape, angle_deg=stroke_deg, long_px=200 / pixel_um, short_px=10 / pixel_um) * rng.uniform(0, 4) / pixel_um
    soft = log_uniform(rng, 1, 15) / pixel_um
    return smooth_step(across * rng.choice([-1, 1]), -soft, soft)


def _marks(rng: np.random.Generator, shape: tuple[int, int], *, pixel_um: float, stroke_deg: float) -> np.ndarray:
    """Relief of running marks along the stroke, shallower than 0.5 µm."""
    width = max(log_uniform(rng, 0.5, 5) / pixel_um, 0.9)
    lines = stretched(rng, shape, angle_deg=stroke_deg + rng.normal(0, 0.6), long_px=log_uniform(rng, 50, 1500) / pixel_um, short_px=width)
    return np.clip(-log_uniform(rng, 0.015, 0.2) * np.clip(lines - rng.uniform(-0.5, 1.5), 0, 4), -0.45, 0)


def _closure(
    rng: np.random.Generator, ground: Ground, depth: np.ndarray, *, pixel_um: float, stroke_deg: float
) -> tuple[np.ndarray, np.ndarray]:
    """Where moved metal closes the grooves (0..1), and the folds and lips it shows (0..1)."""
    shape = depth.shape
    short = max(log_uniform(rng, 3, 50) / pixel_um, 4)
    field = stretched(rng, shape, angle_deg=stroke_deg + rng.normal(0, 2), long_px=short * log_uniform(rng, 1.2, 8), short_px=short)
    lay = ground.lays_deg[int(rng.integers(2))]
    # Long closures follow the groove itself rather than the stroke.
    field += rng.uniform(0, 0.9) * stretched(rng, shape, angle_deg=lay, long_px=10 * short, short_px=short)
    field += rng.uniform(0, 0.25) * even(rng, shape, max(short / 6, 1.5))
    # Deep grooves want more metal than shallow ones.
    field -= rng.uniform(0, 0.25) * np.minimum(depth, 5)
    share = rng.uniform(0.08, 0.95)
    deep = field[depth >= LIMIT_UM]
    level = float(np.quantile(deep, 1 - share)) if deep.size else float(field.max()) + 1
    soft = log_uniform(rng, 0.02, 0.25)
    cap = smooth_step(field, level - soft, level + soft)
    gy, gx = np.gradient(field)
    away = np.abs(field - level) / (np.hypot(gx, gy) + 1e-4)
    thick = max(log_uniform(rng, 0.3, 1.2) / pixel_um, 0.7)
    lips = np.exp(-((away / thick) ** 2)) * rng.uniform(0.3, 1)
    folds = stretched(rng, shape, angle_deg=lay + rng.normal(0, 8), long_px=40 / pixel_um, short_px=max(4 / pixel_um, 2.5))
    gy, gx = np.gradient(folds)
    lines = np.exp(-((np.abs(folds - 0.8) / (np.hypot(gx, gy) + 1e-3) / thick) ** 2)) * cap
    return cap, np.clip(lips - rng.uniform(0.2, 0.9) * lines, -1, 1)


def _scuffing(rng: np.random.Generator, shape: tuple[int, int], worn: np.ndarray, *, pixel_um: float, stroke_deg: float) -> np.ndarray:
    """Torn streaks (0..1): the extremes of a field long with the stroke."""
    width = max(log_uniform(rng, 5, 60) / pixel_um, 5)
    field = stretched(rng, shape, angle_deg=stroke_deg, long_px=width * log_uniform(rng, 8, 60), short_px=width)
    # Torn metal ends in fringes, drawn out along the stroke.
    for part in (4, 14):
        field += rng.uniform(0.05, 0.25) * stretched(
            rng, shape, angle_deg=stroke_deg, long_px=width * 10 / part, short_px=max(width / part, 1.2)
        )
    share = rng.uniform(0.3, 0.7) if rng.random() < 0.3 else log_uniform(rng, 0.02, 0.3)
    level = above(field, share)
    return smooth_step(field, level - 0.06, level + 0.06) * worn


def _torn_relief(rng: np.random.Generator, shape: tuple[int, int], *, pixel_um: float, stroke_deg: float) -> np.ndarray:
    """Relief (µm) of torn metal: ploughed ridges, and tears across them."""
    grain = max(log_uniform(rng, 1, 4) / pixel_um, 1.2)
    ridges = stretched(rng, shape, angle_deg=stroke_deg, long_px=grain * log_uniform(rng, 6, 30), short_px=grain)
    tears = stretched(rng, shape, angle_deg=stroke_deg + 90, long_px=3 * grain, short_px=1.3 * grain)
    relief = log_uniform(rng, 0.3, 0.9) * (ridges - rng.uniform(0.5, 1.2) * np.clip(tears - 0.5, 0, 3)) * max(grain * pixel_um / 2, 0.6)
    # Coarse ridges carry fine ones, or torn metal would look molten at a small pixel.
    fine = stretched(rng, shape, angle_deg=stroke_deg, long_px=grain * 2, short_px=max(grain / 5, 1))
    return relief + log_uniform(rng, 0.06, 0.25) * fine + 0.08 * even(rng, shape, max(0.25 / pixel_um, 1))
