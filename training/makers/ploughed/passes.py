"""Wear in steps: a ring land goes to and fro, truncates summits to a level that sinks, and carries metal to groove edges."""

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class Strokes:
    """How the land runs. sink_um: wear of the plateau by the end, per column; marks_um: counterface profile, per column,
    0 in the mean; passes: number; kept: share of removed metal that stays on the land (the rest is wear debris);
    supply_um: metal brought from outside the field at each pass, in um of height over one cell; lip_um: thickness of a lip;
    overhang: cells that a lip may hang over a void; sag_um: how far a lip lies below the plateau, map; grip: places where
    metal adheres, map of bool; cells run along the rows."""

    sink_um: np.ndarray
    marks_um: np.ndarray
    passes: int
    kept: float
    supply_um: float
    lip_um: float
    overhang: int
    sag_um: np.ndarray
    grip: np.ndarray


@dataclass
class Worn:
    """Heights in um after the last pass (0: plateau as honed), deposited metal in um, the pass that laid it (0: none),
    and the account of metal in um x cells: cut from the ground and supplied, against deposited, wear and carried out."""

    height: np.ndarray
    metal: np.ndarray
    laid: np.ndarray
    account: dict[str, float] = field(default_factory=lambda: dict.fromkeys(("cut", "supplied", "deposited", "wear", "out"), 0.0))


def land_passes(depth: np.ndarray, summits: np.ndarray, strokes: Strokes) -> Worn:
    """Run the land over grooves of that depth (um, map) on a plateau with those summits (um, map); out of contact (sink 0)
    nothing moves. A lip grows from a supported edge along the motion, one cell for its own thickness of metal, so narrow
    and shallow grooves close first."""
    ground = (summits - depth).astype(np.float32)
    worn = Worn(ground.copy(), np.zeros_like(ground), np.zeros(ground.shape, np.uint8))
    touched = strokes.sink_um > 0
    load = np.where(touched, strokes.supply_um, 0).astype(np.float32)
    for number in range(1, strokes.passes + 1):
        height, metal = worn.height, worn.metal
        sunk = -strokes.sink_um * (number / strokes.passes) + strokes.marks_um
        level = np.where(touched, sunk, np.inf).astype(np.float32)
        cut = np.maximum(height - level, 0)
        cut = np.where(metal > 0, np.minimum(cut, metal), cut)
        height -= cut
        thinned = np.minimum(metal, cut)
        through = (metal > 0) & (metal - cut < 0.02)
        lost = float((metal - thinned)[through].sum())
        metal -= thinned
        metal[through], height[through], worn.laid[through] = 0, np.minimum(ground, level)[through], 0
        gap = np.where(touched, level - height, 0)
        need = np.clip(gap - strokes.sag_um, 0, strokes.lip_um)
        flat = gap < 0.3
        takes = strokes.grip & ~flat & (metal == 0) & (need > 0.02)
        void = touched & (level - ground > strokes.lip_um + strokes.sag_um)
        arrived = load * touched
        supplied = float(arrived.sum())
        load, laid, fallen = _carry(
            cut * strokes.kept, arrived, need, flat | (metal > 0), takes, void, strokes.overhang, forth=number % 2 == 1
        )
        metal[laid], worn.laid[laid] = need[laid], number
        height[laid] = (level - strokes.sag_um)[laid]
        account = worn.account
        account["cut"] += float(cut.sum() - thinned.sum())
        account["supplied"] += supplied
        account["deposited"] += float(need[laid].sum() - thinned.sum()) - lost
        account["wear"] += float(cut.sum()) * (1 - strokes.kept) + fallen + lost
        account["out"] += float(load.sum())
        load = np.full_like(load, strokes.supply_um)
    return worn


def _carry(source, load, need, firm, takes, void, overhang, *, forth):
    """One pass along the rows: metal picked up, held and laid down. Returns the load left at the end, where metal was
    laid, and what fell into grooves as debris (um x cells)."""
    laid = np.zeros(need.shape, bool)
    support, hang, fallen = np.ones(load.shape, bool), np.zeros(load.shape, np.float32), 0.0
    falls = np.where(firm, 1.0, 0.985).astype(np.float32)
    for row in range(len(need)) if forth else range(len(need) - 1, -1, -1):
        load = load + source[row]
        if row % 3 == 0:  # metal spreads sideways under the land
            load = 0.5 * load + 0.25 * (np.roll(load, 1) + np.roll(load, -1))
        can = takes[row] & support
        can &= load >= need[row]
        can &= hang < overhang
        load -= need[row] * can
        support = can | firm[row]
        # lips of earlier passes hang too: a lip reaches only so far from solid ground
        hang = (hang + 1) * (void[row] & support)
        kept = load * falls[row]
        fallen += float((load - kept).sum())
        load, laid[row] = kept, can
    return load, laid, fallen
