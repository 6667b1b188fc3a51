"""The ground of a field: grooves cut, worn and closed, and the mask that follows from depths alone."""

from dataclasses import dataclass

import numpy as np

from .grooves import LIMIT_UM, Groove
from .lids import LIDS, Lid, flush
from .noise import between
from .plan import Plan


@dataclass
class Relief:
    """Maps of a field: open_um depth before and depth_um after the metal moved; lid True under moved metal;
    smooth 0–1 of lids; glow, extra signal; rim_um, height of torn rims."""

    open_um: np.ndarray
    depth_um: np.ndarray
    lid: np.ndarray
    smooth: np.ndarray
    glow: np.ndarray
    rim_um: np.ndarray


def codes_of(relief: Relief) -> np.ndarray:
    """0, 1 and 2 by depth: smeared is what was a valley, is none now, and lies under moved metal. Wear of the plateau
    acts on both depths alike, so that it can't make smear."""
    codes = (relief.depth_um >= LIMIT_UM).astype(np.uint8)
    codes[relief.lid & (relief.open_um >= LIMIT_UM) & (relief.depth_um < LIMIT_UM)] = 2
    return codes


def closing_chance(severity: float, width_um: float, depth_um: float) -> float:
    """Share of a groove's length that moved metal closes: it falls with width and depth, since the layer that the
    ring drags along is a few micrometres thick (common practice, no source)."""
    return float(np.clip(severity * 1.6 * np.exp(-width_um / 60 - depth_um / 9), 0, 1))


def empty(shape: tuple[int, int]) -> Relief:
    zeros = [np.zeros(shape, np.float32) for _ in range(5)]
    return Relief(
        open_um=zeros[0], depth_um=zeros[1], lid=np.zeros(shape, bool), smooth=zeros[2], glow=zeros[3], rim_um=zeros[4]
    )


def cut(relief: Relief, groove: Groove, truncation_um: np.ndarray, rim_um: float, rim_reach_um: float) -> None:
    """Cut the groove and wear the plateau down by truncation_um (a map), which takes the torn rims first."""
    depth = groove.cell_depth_um - truncation_um.flat[groove.index]
    relief.open_um.flat[groove.index] = np.maximum(relief.open_um.flat[groove.index], depth)
    beyond = np.maximum(-groove.u_um - groove.left_um, groove.u_um - groove.right_um)
    pile = rim_um * np.exp(-((beyond / rim_reach_um) ** 2)) * (groove.cell_depth_um > -1)
    pile = np.clip(pile - truncation_um.flat[groove.index], 0, None)
    relief.rim_um.flat[groove.index] = np.maximum(relief.rim_um.flat[groove.index] * (depth < 0.2), pile)


def close(relief: Relief, groove: Groove, lid: Lid, where: np.ndarray) -> None:
    """Lay a lid over its groove, where the ring ran; a deeper groove that crosses stays open beneath."""
    index = groove.index
    deeper = relief.open_um.flat[index] > groove.cell_depth_um + 0.6
    here = where.flat[index] & ~deeper
    cover = lid.cover & here
    at = index[cover]
    relief.depth_um.flat[at] = np.minimum(relief.depth_um.flat[at], lid.dip_um[cover])
    relief.lid.flat[at] = True
    relief.smooth.flat[at] = lid.smooth[cover]
    # A front's shadow falls outside the cover too, but only beside it.
    marked = here & (lid.cover | (lid.glow < -0.08) & (groove.cell_depth_um > 0))
    relief.glow.flat[index[marked]] = lid.glow[marked]


def draw_relief(
    rng: np.random.Generator, plan: Plan, grooves: list[Groove], worn: np.ndarray, across_um: np.ndarray, px: float
) -> Relief:
    relief = empty(worn.shape)
    truncation = plan.truncation_um * worn.astype(np.float32)
    rim_um, rim_reach = between(rng, 0.03, 0.8), between(rng, 1.0, 2.5) * px
    for groove in grooves:
        cut(relief, groove, truncation, rim_um * min(1, groove.depth_um / 3), rim_reach)
    relief.depth_um[:] = relief.open_um
    band = _closed_band(rng, worn, across_um) if "band" in plan.closures else None
    limit_um = between(rng, 1.5, 5)
    for groove in grooves if plan.closures else ():
        flow = plan.stroke_deg + (180 if rng.random() < 0.15 else 0)
        if groove.depth_um - plan.truncation_um < LIMIT_UM:
            continue
        if band is not None and groove.depth_um < limit_um:
            style = flush if rng.random() < 0.7 else LIDS["fold"]
            close(relief, groove, style(rng, groove, flow, px, 2.5), band)
        choices = [name for name in plan.closures if name != "band"]
        share = closing_chance(plan.severity, groove.width_um, groove.depth_um)
        if choices and share > 0.01:
            name = str(rng.choice(choices))
            if name == "long" and rng.random() > 1.3 * share:
                continue
            close(relief, groove, LIDS[name](rng, groove, flow, px, share), worn)
    return relief


def _closed_band(rng: np.random.Generator, worn: np.ndarray, across_um: np.ndarray) -> np.ndarray:
    """A band of the track along the stroke, in which the fine grooves close."""
    middle = rng.choice(across_um[worn]) if worn.any() else 0.0
    return worn & (np.abs(across_um - middle) < 0.5 * np.ptp(across_um) * rng.uniform(0.15, 0.6))
