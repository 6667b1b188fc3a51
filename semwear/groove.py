"""Grooves traced along their lays, across interruptions, on maps of evidence from any source.

The maps say how likely each pixel is open valley and how likely it is a closed (smeared) footprint: probabilities of a
network or the masks of a geometric segmentation. For each lay the maps are turned so that the lay runs along the rows
and averaged along it; what stays is a groove of that lay, bridged over gaps shorter than half of the average's length,
while grooves of the other lay, flakes and scratches fade. Each groove is then read column by column: its open and
smeared length, and its width where it is open.

The border of the picture, or of what was assessed, cuts grooves lengthwise. A cross-section counts by its rims, half a length
for each that is there: where one rim is cut off, the groove's middle is as often inside as outside, so that length per area has
no bias, as in the unbiased counting of stereology (Howard and Reed, Unbiased Stereology, from memory).

Continuity = open length / (open length + smeared length). A stretch without evidence of either kind counts for neither:
there the groove was worn shallow or was never cut, and the picture can't tell which.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from semwear.lay import Lays

WORKING_SIDE_PX = 512
"""Longest side of the reduced maps that are traced, px."""
COARSEST_WORKING_PIXEL_UM = 3.0
"""Maps are never reduced to coarser pixels than this, the narrowest hone grooves being 5 µm wide, µm."""
BRIDGE_LENGTH_UM = 80.0
"""Length of the average along the lay, µm."""
SHORTEST_GROOVE_UM = 60.0
"""Shorter pieces are no grooves, µm."""
SLENDERNESS_MIN = 4.0
"""Least length of a groove in multiples of its width."""
FOOTPRINT_MIN = 0.5
"""Averaged evidence from which a pixel belongs to a groove."""
EVIDENCE_MIN = 0.25
"""Least mean evidence across a groove for a stretch to count as open or smeared."""
SLOPE_MAX_DEG = 5.0
"""Largest angle between a groove and its lay."""


@dataclass(frozen=True, kw_only=True)
class Grooves:
    """The traced grooves of one field, one entry a groove in every array, longest first.

    lay_index: index into the directions of the lays; direction_deg: own direction in [0, 180); row_px, col_px: middle of
    the groove in the picture's own pixels; position_um: distance of the groove from the picture's centre, measured
    across its lay (positive towards direction + 90°); width_um: mean width where open, nan if nowhere open;
    open_length_um, smeared_length_um: lengths in each state; unseen_length_um: length without evidence of either; stretches
    with one rim cut off count half in all three.
    assessed_area_mm2: area that was traced. All arrays are float64 except lay_index (int64).
    """

    lay_index: np.ndarray
    direction_deg: np.ndarray
    row_px: np.ndarray
    col_px: np.ndarray
    position_um: np.ndarray
    width_um: np.ndarray
    open_length_um: np.ndarray
    smeared_length_um: np.ndarray
    unseen_length_um: np.ndarray
    assessed_area_mm2: float

    def __len__(self) -> int:
        return self.lay_index.size

    @property
    def continuity(self) -> float:
        """Open length over open and smeared length, 0 to 1; nan without grooves."""
        traced_um = float(self.open_length_um.sum() + self.smeared_length_um.sum())
        return float(self.open_length_um.sum()) / traced_um if traced_um else float("nan")

    @property
    def length_density_per_mm(self) -> float:
        """Open groove length per assessed area, mm/mm²; nan without an assessed area."""
        if not self.assessed_area_mm2:
            return float("nan")
        return float(self.open_length_um.sum()) * 1e-3 / self.assessed_area_mm2


class Turn:
    """A picture turned so that one lay runs along the rows (to the right), and the way back.

    shape: (rows, cols) of the picture; turned_shape: that of the turned canvas, which holds the whole picture.
    """

    def __init__(self, shape: tuple[int, int], lay_deg: float):
        rows, cols = shape
        angle = np.deg2rad(lay_deg)
        cosine, sine = float(np.cos(angle)), float(np.sin(angle))
        turned_cols = int(np.ceil(cols * abs(cosine) + rows * abs(sine)))
        turned_rows = int(np.ceil(cols * abs(sine) + rows * abs(cosine)))
        self.shape, self.turned_shape = (rows, cols), (turned_rows, turned_cols)
        # Along the lay = (cosine, -sine) in (col, row): rows grow downwards on the screen.
        linear = np.array([[cosine, -sine], [sine, cosine]])
        centre, turned_centre = np.array([cols - 1, rows - 1]) / 2.0, np.array([turned_cols - 1, turned_rows - 1]) / 2.0
        self.forward = np.hstack([linear, (turned_centre - linear @ centre)[:, None]])
        self.backward = np.hstack([linear.T, (centre - linear.T @ turned_centre)[:, None]])

    def turn(self, picture: np.ndarray, *, flags: int = cv2.INTER_LINEAR) -> np.ndarray:
        """Return a (rows, cols[, channels]) picture on the turned canvas, 0 beyond its edges."""
        return cv2.warpAffine(picture, self.forward, self.turned_shape[::-1], flags=flags)

    def turn_back(self, turned: np.ndarray, *, flags: int = cv2.INTER_LINEAR) -> np.ndarray:
        """Return a picture on the turned canvas back on the picture's own grid."""
        return cv2.warpAffine(turned, self.backward, self.shape[::-1], flags=flags)

    def to_picture(self, turned_row: np.ndarray, turned_col: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return (row, col) of the picture for points of the turned canvas."""
        col, row = self.backward[:, :2] @ np.stack([turned_col, turned_row]) + self.backward[:, 2:]
        return row, col


def odd_length_px(length_um: float, pixel_size_um: float) -> int:
    """Return a length as an odd number of pixels, at least 1.

    >>> odd_length_px(10.0, 2.0)
    5
    """
    return 2 * int(length_um / pixel_size_um / 2.0) + 1


def average_along(turned: np.ndarray, share: np.ndarray, length_px: int) -> np.ndarray:
    """Return the mean of a turned map along its rows over the assessed share, 0 where nothing is assessed.

    turned: (rows, cols) float32, already multiplied by share; share: (rows, cols) float32, 0..1.
    """
    total = cv2.blur(turned, (length_px, 1), borderType=cv2.BORDER_CONSTANT)
    weight = cv2.blur(share, (length_px, 1), borderType=cv2.BORDER_CONSTANT)
    return np.where(weight > 0.1, total / np.maximum(weight, 0.1), 0.0).astype(np.float32)


def trace_grooves(
    open_evidence: np.ndarray,
    closed_evidence: np.ndarray,
    lays: Lays,
    pixel_size_um: float,
    assessed: np.ndarray,
) -> Grooves:
    """Return the grooves of every lay, traced on maps of evidence.

    open_evidence, closed_evidence: (rows, cols) in 0..1, any real dtype or bool, for open valley and smeared footprint;
    assessed: (rows, cols) bool; pixel_size_um: side of a pixel of the maps, µm. Without lays, or without a groove, the
    result is empty. Raises ValueError for maps of unlike shape or a pixel size that isn't positive.
    """
    if open_evidence.shape != closed_evidence.shape or open_evidence.shape != assessed.shape:
        shapes = (open_evidence.shape, closed_evidence.shape, assessed.shape)
        raise ValueError(f"maps have unlike shapes {shapes}; give all three on one grid")
    if not pixel_size_um > 0.0:
        raise ValueError(f"pixel_size_um is {pixel_size_um}; state a positive size")
    area_mm2 = float(np.count_nonzero(assessed)) * (pixel_size_um * 1e-3) ** 2
    maps, reduction = _reduced_maps(open_evidence, closed_evidence, assessed, pixel_size_um)
    working_um = pixel_size_um * reduction
    field_um = min(maps.shape[:2]) * working_um
    length_px = odd_length_px(min(BRIDGE_LENGTH_UM, field_um / 4.0), working_um)
    turns = [Turn(maps.shape[:2], direction) for direction in lays.directions_deg]
    turned = [turn.turn(maps) for turn in turns]
    averaged = [
        average_along(np.minimum(each[..., 0] + each[..., 1], each[..., 2]), each[..., 2], length_px) for each in turned
    ]
    tables = []
    for index, (turn, layers, footprint) in enumerate(zip(turns, turned, averaged, strict=True)):
        member = (footprint > FOOTPRINT_MIN) & (layers[..., 2] > 0.5)
        if len(turns) == 2:
            # A broad groove of the other lay stays above the limit, but it is stronger along its own lay.
            other = turn.turn(turns[1 - index].turn_back(averaged[1 - index]))
            member &= footprint > other - 0.1
        table = _read_grooves(member, layers, working_um, field_um)
        slope_deg = np.rad2deg(np.arctan(table["slope"]))
        row, col = turn.to_picture(table["row"], table["col"])
        table |= {
            "lay_index": np.full(slope_deg.size, index),
            "direction_deg": (lays.directions_deg[index] - slope_deg) % 180.0,
            "position_um": ((turn.turned_shape[0] - 1) / 2.0 - table["row"]) * working_um,
            "row_px": (row + 0.5) * reduction - 0.5,
            "col_px": (col + 0.5) * reduction - 0.5,
        }
        tables.append(table)
    return _as_grooves(tables, area_mm2)


def _reduced_maps(open_evidence, closed_evidence, assessed, pixel_size_um: float) -> tuple[np.ndarray, float]:
    """Return open, closed and assessed share as one (rows, cols, 3) float32 stack at the working size; the reduction."""
    rows, cols = open_evidence.shape
    reduction = max(1.0, min(max(rows, cols) / WORKING_SIDE_PX, COARSEST_WORKING_PIXEL_UM / pixel_size_um))
    size = (max(1, round(cols / reduction)), max(1, round(rows / reduction)))
    share = assessed.astype(np.float32)
    layers = [np.multiply(layer, share, dtype=np.float32) for layer in (open_evidence, closed_evidence)]
    layers = [cv2.resize(layer, size, interpolation=cv2.INTER_AREA) for layer in (*layers, share)]
    return cv2.merge(layers), cols / size[0]


def _read_grooves(member: np.ndarray, layers: np.ndarray, working_um: float, field_um: float) -> dict:
    """Return the table of the grooves in one turned mask: arrays by name, in px of the turned canvas and µm.

    member: (rows, cols) bool, pixels of grooves; layers: (rows, cols, 3) float32, open, closed, assessed share.
    """
    # Column by column, so that each run of member pixels across the lay is one piece of one groove, one pixel long.
    upright = np.ascontiguousarray(member.T)
    starts = upright.copy()
    starts[:, 1:] &= ~upright[:, :-1]
    pixel_col, pixel_row = np.nonzero(upright)
    run = np.cumsum(starts[pixel_col, pixel_row]) - 1
    runs = int(run[-1]) + 1 if run.size else 0
    thickness_px = np.bincount(run, minlength=runs)
    opened_px = np.bincount(run, weights=layers[pixel_row, pixel_col, 0], minlength=runs)
    closed_px = np.bincount(run, weights=layers[pixel_row, pixel_col, 1], minlength=runs)
    first = np.flatnonzero(starts[pixel_col, pixel_row])
    rims = _rims(layers[..., 2], pixel_col[first], pixel_row[first], thickness_px)
    run_col = pixel_col[first].astype(np.float64)
    run_row = pixel_row[first] + (thickness_px - 1) / 2.0
    groove = _link_runs(upright, run, runs)
    seen = np.maximum(opened_px, closed_px) >= EVIDENCE_MIN * thickness_px
    is_open, is_closed = seen & (opened_px >= closed_px), seen & (closed_px > opened_px)

    def total(values):
        return np.bincount(groove, weights=values)

    def counted(chosen):
        return total(chosen * rims / 2.0)

    length = total(np.ones(runs))
    with np.errstate(invalid="ignore", divide="ignore"):
        row, col = total(run_row) / length, total(run_col) / length
        spread = total(run_col**2) / length - col**2
        slope = np.where(spread > 0.0, (total(run_row * run_col) / length - row * col) / spread, 0.0)
        # Width where the groove is open from rim to rim: cut columns, and half-closed ones at the ends of a closure, are left
        # out as long as others are left.
        width_um = np.full(length.size, np.nan)
        for clear in (is_open & (rims == 2) & (closed_px <= 0.2 * opened_px), is_open & (rims == 2), is_open):
            width_um = np.where(np.isnan(width_um), total(thickness_px * clear) / total(clear) * working_um, width_um)
        thickness_um = total(thickness_px) / length * working_um
    step_um = working_um * np.sqrt(1.0 + slope**2)
    shortest_um = max(min(SHORTEST_GROOVE_UM, field_um / 4.0), 4.0 * working_um)
    kept = (length * step_um >= shortest_um) & (length * step_um >= SLENDERNESS_MIN * thickness_um)
    kept &= np.abs(slope) <= np.tan(np.deg2rad(SLOPE_MAX_DEG))
    table = {
        "row": row,
        "col": col,
        "slope": slope,
        "width_um": width_um,
        "open_length_um": counted(is_open) * step_um,
        "smeared_length_um": counted(is_closed) * step_um,
        "unseen_length_um": counted(~seen) * step_um,
    }
    return {name: values[kept] for name, values in table.items()}


def _rims(share: np.ndarray, col: np.ndarray, top: np.ndarray, thickness_px: np.ndarray) -> np.ndarray:
    """Return how many of its two rims each run has in what was assessed, (runs,) int; the others are cut off.

    share: (rows, cols) assessed share; col, top, thickness_px: (runs,) column, first row and thickness of each run.
    """
    inside = np.pad(share > 0.5, ((1, 1), (0, 0)))
    return inside[top, col].astype(int) + inside[top + thickness_px + 1, col]


def _link_runs(upright: np.ndarray, run: np.ndarray, runs: int) -> np.ndarray:
    """Return the number of the groove that each run belongs to, (runs,) int.

    Runs of neighbouring columns belong together if each is the one that the other shares most pixels with, so that
    grooves that touch or fork stay apart.
    """
    if not runs:
        return np.zeros(0, np.int64)
    run_of_pixel = np.zeros(upright.shape, np.int64)
    run_of_pixel[upright] = run
    both = upright[:-1] & upright[1:]
    pairs, overlap = np.unique(run_of_pixel[:-1][both] * np.int64(runs) + run_of_pixel[1:][both], return_counts=True)
    left, right = pairs // runs, pairs % runs
    best_right, best_left = np.full(runs, -1), np.full(runs, -1)
    order = np.argsort(overlap, kind="stable")  # the last written, so the largest overlap, stays
    best_right[left[order]] = right[order]
    best_left[right[order]] = left[order]
    joined = np.flatnonzero((best_right >= 0) & (best_left[best_right] == np.arange(runs)))
    links = coo_array((np.ones(joined.size), (joined, best_right[joined])), shape=(runs, runs))
    return connected_components(links, directed=False)[1]


def _as_grooves(tables: list[dict], area_mm2: float) -> Grooves:
    """Return the tables of all lays as one, longest groove first."""
    names = ["direction_deg", "row_px", "col_px", "position_um", "width_um"]
    names += ["open_length_um", "smeared_length_um", "unseen_length_um"]
    columns = {name: np.concatenate([np.zeros(0), *(table[name] for table in tables)]) for name in names}
    lay_index = np.concatenate([np.zeros(0, np.int64), *(table["lay_index"] for table in tables)]).astype(np.int64)
    length_um = columns["open_length_um"] + columns["smeared_length_um"] + columns["unseen_length_um"]
    order = np.argsort(-length_um, kind="stable")
    columns = {name: values[order] for name, values in columns.items()}
    return Grooves(lay_index=lay_index[order], assessed_area_mm2=area_mm2, **columns)
