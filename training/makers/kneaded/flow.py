"""Metal is moved, not drawn: a slider of asperities sweeps the height map along the stroke, row by row of the stroke frame.

At each step, for all places across the stroke at once:
- what stands above the contact level is shorn off (all that the metal there, by its hardness, lets go) and joins the wedge
  carried ahead of the slider; a share is lost as wear debris;
- over a hollow, ductile metal leaves the edge as a sheet of some thickness, which roofs the hollow at the contact level and
  leaves a void below, for as long as the wedge feeds it and the span stays within its reach; then it breaks off as a lip;
- otherwise the wedge falls into the hollow, a share at each step, and fills it.
After Suh's delamination and Challen and Oxley's wave model of a wedge before an asperity (Wear 53 (1979) 229), from memory;
folds that interrupt the deep grooves are seen on honed liners (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548).

The ledger closes: solid metal before + carried in = solid after + carried out + lost, where solid = height − void."""

from dataclasses import dataclass

import numpy as np

from .specimen import Run

WEDGE_LIMIT_UM_PX = 30.0
HOLLOW_UM = 0.12


@dataclass(kw_only=True)
class Ground:
    """Maps of the stroke frame, µm: surface height, voids sealed below it, metal come to rest on it; and metal lost."""

    height: np.ndarray
    void: np.ndarray
    rested: np.ndarray
    lost: float = 0.0
    carried_in: float = 0.0
    carried_out: float = 0.0


def start(height: np.ndarray) -> Ground:
    """A ground on which nothing has moved yet."""
    return Ground(height=height.copy(), void=np.zeros_like(height), rested=np.zeros_like(height))


def sweep(
    ground: Ground, run: Run, *, contact: np.ndarray, ductile: np.ndarray, wedge: np.ndarray, forward: bool
) -> None:
    """One pass, in place. contact: level in µm to which the slider presses; ductile: 0–1, above 1 − bridging the metal
    spans hollows; wedge: metal carried in, µm·px across the stroke."""
    rows = range(contact.shape[0]) if forward else range(contact.shape[0] - 1, -1, -1)
    ahead = 1 if forward else -1
    keep, sheet = np.float32(1 - run.loss), np.float32(run.sheet_um)
    ground.carried_in += float(wedge.sum(dtype=float))
    wedge, span = wedge.astype(np.float32).copy(), np.zeros(contact.shape[1], np.float32)
    whole = np.ones(contact.shape[1], bool)
    lost = 0.0
    reach = run.reach_px * (0.4 + 1.2 * ductile)
    spans = ductile > 1 - run.bridging
    excess = np.maximum(ground.height - contact, 0)
    np.minimum(excess, 0.5 * ground.rested, out=excess, where=ground.void > 0)
    ground.height -= excess
    ground.rested -= np.minimum(excess, ground.rested)
    lost += float(excess.sum(dtype=float)) * run.loss
    gaps = contact - ground.height
    last = rows[-1]
    for row in rows:
        wedge += keep * excess[row]
        gap = gaps[row]
        hollow = gap > HOLLOW_UM
        fed = wedge > sheet
        whole |= ~hollow
        whole &= fed | ~hollow
        span = (span + 1) * hollow
        roof = hollow & whole & spans[row] & (span <= reach[row]) & (gap > 2 * sheet)
        if row != last:
            # the sheet stops short of the far edge, and a crack stays, where the metal is less ductile
            roof &= (gaps[row + ahead] > HOLLOW_UM) | (ductile[row] > 0.72)
        whole &= roof | ~hollow
        sag = np.minimum(run.sag * (0.3 + 0.08 * span), 0.35) * roof
        void = np.maximum(gap - sag - sheet, 0) * roof
        fall = np.minimum(run.fill_rate * wedge, 0.85 * gap) * (hollow & ~roof)
        placed = sheet * roof + fall
        ground.void[row] += void
        ground.height[row] += placed + void
        ground.rested[row] += placed
        wedge -= placed
        if row % 3 == 0:
            over = np.maximum(wedge - WEDGE_LIMIT_UM_PX, 0)
            lost += float(over.sum(dtype=float))
            wedge -= over
            half = 0.12 * np.diff(wedge)
            wedge[:-1] += half
            wedge[1:] -= half
    ground.lost += lost
    ground.carried_out += float(wedge.sum(dtype=float))
