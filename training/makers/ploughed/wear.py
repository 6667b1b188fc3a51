"""A worn stroke frame: where the ring ran, how hard, and what became of the grooves."""

from dataclasses import dataclass

import cv2
import numpy as np

from .chance import decades, line, rough
from .lays import Ground
from .passes import Strokes, land_passes
from .scuff import Torn, tear

LIMIT_UM = 0.5
"""Ground less than this below the local plateau is plateau (semwear.terms)."""
MOST_ROWS = 240


@dataclass(frozen=True)
class Surface:
    """Maps of the stroke frame: height in um (0: plateau as honed), plateau level in um, depth of the open ground below
    it in um, mask codes 0 to 3, track (bool), lid (bool: deposited metal), laid (number of the pass), torn (bool)."""

    height: np.ndarray
    level: np.ndarray
    open_um: np.ndarray
    codes: np.ndarray
    track: np.ndarray
    lid: np.ndarray
    laid: np.ndarray
    torn: np.ndarray


def states(depth: np.ndarray, level: np.ndarray, height: np.ndarray, lid: np.ndarray) -> np.ndarray:
    """Codes 0, 1, 2 read off heights in um: depth as honed, plateau level now, height now, and where metal was laid. A
    groove that truncation alone brought under the limit is plateau."""
    groove = depth + level >= LIMIT_UM
    closed = lid & (level - height < LIMIT_UM)
    return np.where(groove, np.where(closed, 2, 1), 0).astype(np.uint8)


def unworn(ground: Ground) -> Surface:
    """The section as honed, nowhere touched."""
    nothing, zero = np.zeros(ground.depth.shape, bool), np.zeros(ground.depth.shape, np.float32)
    codes = states(ground.depth, zero, -ground.depth, nothing)
    height = ground.rim - ground.depth + ground.finish
    return Surface(height, zero, ground.depth, codes, nothing, nothing, zero, nothing)


def track_columns(rng: np.random.Generator, columns: int, bordered: bool) -> np.ndarray:
    """Share of the full load on each column; 0 out of the track, growing within some pixels of its border."""
    if not bordered:
        return np.ones(columns, np.float32)
    inward = np.arange(columns) - columns * rng.uniform(0.35, 0.65)
    inward *= rng.choice([-1, 1])
    return (np.clip(inward / decades(rng, 2, 0.2 * columns), 0, 1) ** 0.7).astype(np.float32)


def _strokes(rng: np.random.Generator, ground: Ground, share: np.ndarray, cells: tuple[int, int], cell_um: float, smear: bool) -> Strokes:
    pixel_um = cell_um * cells[0] / len(ground.depth)
    sink = decades(rng, 0.08, 1.6) * np.exp(rng.uniform(0.05, 0.5) * line(rng, cells[1], decades(rng, 3, 60) / pixel_um))
    marks = sum(line(rng, cells[1], grain) for grain in (1.5, decades(rng, 2, 12))) * decades(rng, 0.015, 0.09)
    grain = decades(rng, 6, 70) / cell_um, decades(rng, 4, 50) / pixel_um
    hold = rough(rng, cells, grain) + 0.4 * rough(rng, cells, (2, 2)) + rng.uniform(0, 0.8) * line(rng, cells[1], 8)
    ease = rng.uniform(-1.1, 2.4)
    sag = np.abs(rng.uniform(0.05, 0.3) + decades(rng, 0.02, 0.2) * rough(rng, cells, (4, 6)))
    hang_um = decades(rng, 5, 90)
    return Strokes(
        sink_um=np.where(share > 0, sink * share, 0).astype(np.float32),
        marks_um=(np.clip(marks, -0.2, 0.2) * share).astype(np.float32),
        passes=int(rng.integers(6, 15)),
        kept=rng.uniform(0.3, 0.95) if smear else 0.0,
        supply_um=decades(rng, 3, 90) / cell_um if smear else 0.0,
        lip_um=decades(rng, 0.25, 1.5),
        overhang=max(2, int(hang_um / cell_um)),
        sag_um=sag.astype(np.float32),
        grip=hold + ease > 0 if smear else np.zeros(cells, bool),
    )


def run(rng: np.random.Generator, ground: Ground, pixel_um: float, *, bordered: bool, smear: bool, scuff: bool) -> Surface:
    """Run the ring over the ground. The passes go over cells of up to some pixels along the stroke, for speed."""
    rows, columns = ground.depth.shape
    cells = min(rows, MOST_ROWS), columns
    share = track_columns(rng, columns, bordered)
    strokes = _strokes(rng, ground, share, cells, pixel_um * rows / cells[0], smear)

    def coarse(map_):
        return cv2.resize(map_, cells[::-1], interpolation=cv2.INTER_AREA)

    worn = land_passes(coarse(ground.depth), coarse(ground.rim + np.abs(ground.finish)), strokes)

    def full(map_):
        return cv2.resize(np.asarray(map_, np.float32), (columns, rows), interpolation=cv2.INTER_LINEAR)

    track = np.broadcast_to(share > 0, (rows, columns))
    level = np.broadcast_to(-strokes.sink_um, (rows, columns))
    lid = (full(worn.metal > 0) + 0.12 * rough(rng, (rows, columns), (2, 2)) > 0.5) & track
    top = np.where(track, level + strokes.marks_um, np.inf)
    bare = np.minimum(ground.rim - ground.depth + ground.finish, top + 0.2 * ground.finish)
    height = np.where(lid, np.maximum(bare, top - full(strokes.sag_um)), bare).astype(np.float32)
    # truth goes by the ground under its finish: scratches of the finish make no groove
    plain = np.where(lid, np.maximum(-ground.depth, level - full(strokes.sag_um)), np.minimum(-ground.depth, level))
    codes = states(ground.depth, level, plain, lid)
    torn = np.zeros((rows, columns), bool)
    if scuff:
        scar: Torn = tear(rng, share, (rows, columns), pixel_um)
        height, torn = height * (1 - 0.6 * scar.where) + 0.6 * level * scar.where + scar.height, scar.where
        codes = np.where(torn, 3, codes).astype(np.uint8)
    open_um = np.clip(level - plain, 0, None) * ~torn
    laid = full(worn.laid) * (lid & ~torn)
    return Surface(height.astype(np.float32), level, open_um, codes, track, lid & (codes == 2), laid, torn)
