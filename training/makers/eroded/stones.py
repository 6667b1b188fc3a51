"""Honing: stones pass under two lays and every grit that protrudes cuts a groove and ploughs a ridge on either side."""

from dataclasses import dataclass, replace

import numpy as np

from .randomly import log_uniform, wandering

RIDGE_LIMIT_UM = 0.45
"""Finishing takes higher ridges off, so the ground beside a groove stays plateau."""

DOUBTFUL_UM = 1.0
"""Shallower grooves are valley or plateau by a hair once the ring has run."""


@dataclass(frozen=True, kw_only=True)
class Grit:
    """width_um between the rims; slope_deg of the walls; blunt 1 (a sharp V) to 4 (a worn flat); teeth: relative
    depth of the striations its fractured edge leaves; ploughed: share of the depth that stands up as a ridge."""

    width_um: float
    slope_deg: float
    blunt: float = 1.0
    teeth: float = 0.0
    ploughed: float = 0.0

    @property
    def depth_um(self) -> float:
        """Of the groove: the wall at its rim is blunt times as steep as the mean wall."""
        return float(self.width_um / 2 * np.tan(np.radians(self.slope_deg)) / self.blunt)


def lays_deg(included_angle_deg: float) -> tuple[float, float]:
    """Directions of the two lays from the circumference, which bisects them."""
    return included_angle_deg / 2, -included_angle_deg / 2


def cut(
    ground_um: np.ndarray,
    grit: Grit,
    *,
    lay_deg: float,
    through: tuple[float, float],
    pixel_size_um: float,
    strength: np.ndarray | None = None,
    wander_px: np.ndarray | None = None,
    rng: np.random.Generator | None = None,
) -> None:
    """Cut one groove into ground_um (rows down the stroke) in place, through a (row, column), lay_deg from the row.

    strength: 0–1 along the groove, how much of the grit's depth it takes; wander_px: sideways error of the path."""
    lay = np.radians(lay_deg)
    steep = abs(np.tan(lay)) > 1
    field = ground_um.T if steep else ground_um
    row, col = through[::-1] if steep else through
    rise = 1 / np.tan(lay) if steep else np.tan(lay)
    breadth, length = field.shape
    stretch = np.hypot(1, rise)
    half = grit.width_um / 2 / pixel_size_um * stretch
    at = np.arange(length)
    centre = row + rise * (at - col)
    if wander_px is not None:
        centre = centre + wander_px[:length] * stretch
    reach = int(np.ceil(half * 1.5)) + 1
    inside = (centre > -reach) & (centre < breadth + reach)
    if not inside.any():
        return
    at, centre = at[inside], centre[inside]
    take = np.ones(len(at)) if strength is None else strength[:length][inside]
    rows = np.round(centre).astype(np.int64)[None, :] + np.arange(-reach, reach + 1)[:, None]
    away = ((rows - centre[None, :]) / half).astype(np.float32)
    held = (rows >= 0) & (rows < breadth)
    flat = np.clip(rows, 0, breadth - 1)
    columns = np.broadcast_to(at[None, :], rows.shape)
    now = field[flat, columns]
    distance = np.abs(away)
    shape = np.clip(1 - distance**grit.blunt, 0, 1)
    ridge = 0.0
    if rng is not None:
        edge = sum(np.cos(away * rng.uniform(3, 24) + rng.uniform(0, 6)) / part for part in (1.0, 1.4, 2.0))
        shape *= np.clip(1 + 0.6 * grit.teeth * edge, 0.3, 1.4)
        torn = np.clip(0.6 + 0.6 * wandering(rng, length, log_uniform(rng, 2, 60)), 0, 2)[inside]
        sides = np.where(away > 0, rng.uniform(0, 1.3), rng.uniform(0, 1.3))
        height = np.minimum(grit.ploughed * grit.depth_um * take * torn, RIDGE_LIMIT_UM)[None, :]
        ridge = sides * height * np.exp(-(((distance - 1.12) / 0.14) ** 2)) * (distance > 1)
        # A ridge stands on ground; over an earlier groove the metal has nothing to stand on.
        ridge = ridge * (now > -0.3)
    floor = np.minimum(now, -grit.depth_um * take[None, :] * shape)
    new = np.where(distance < 1, floor, np.minimum(now + ridge, RIDGE_LIMIT_UM))
    field[flat[held], columns[held]] = np.where(distance < 1.5, new, now)[held]


def loaded(rng: np.random.Generator, length: int, pixel_size_um: float) -> np.ndarray:
    """Strength of a grit along its way: it skips as the stone loads, enters and leaves where it bounces, or breaks."""
    strength = np.ones(length)
    if rng.random() < 0.6:
        strength -= rng.uniform(0.05, 0.45) * np.abs(wandering(rng, length, log_uniform(rng, 8, 200) / pixel_size_um))
    if rng.random() < 0.3:
        end, fade = rng.uniform(0, length), log_uniform(rng, 2, 80) / pixel_size_um
        strength *= 1 / (1 + np.exp(np.clip(rng.choice([-1, 1]) * (np.arange(length) - end) / fade * 3, -30, 30)))
    return np.clip(strength, 0, 1)


def hone(
    rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, included_angle_deg: float
) -> np.ndarray:
    """Heights (µm) over the plateau at 0 of freshly honed ground, stroke down the rows."""
    ground = np.zeros(shape, np.float32)
    field_um = min(shape) * pixel_size_um
    narrow = max(2.0, 4 * pixel_size_um)
    wide = float(np.clip(field_um / 3, narrow * 1.5, 60))
    typical = log_uniform(rng, min(max(narrow * 1.2, 5.0), wide / 1.5), wide)
    scatter = rng.uniform(0.15, 0.7)
    slope = rng.uniform(11, 25)
    coverage = log_uniform(rng, 0.18, 0.8)
    weaker = rng.uniform(0.05, 0.5) if rng.random() < 0.3 else rng.uniform(0.6, 1)
    blunt, teeth, ploughed = log_uniform(rng, 1, 2.2), rng.uniform(0, 0.4), rng.uniform(0, 0.25) ** 1.5 * 3
    grouped, crooked = rng.uniform(0, 1), rng.uniform(0, 1) ** 3
    length = max(shape)
    order = [(lay, share) for lay, share in zip(lays_deg(included_angle_deg), (1.0, weaker), strict=True)]
    if rng.random() < 0.5:
        order = order[::-1]
    for lay, share in order:
        stones = [rng.uniform(0, 1, 2) * shape for _ in range(rng.integers(1, 5))]
        left = coverage * share * shape[0] * shape[1] * pixel_size_um**2 / 2
        # At most so many grits keep the time of a coarse field within bounds.
        for number in range(60):
            grit = Grit(
                width_um=float(np.clip(typical * np.exp(scatter * rng.standard_normal()), narrow, wide * 1.3)),
                slope_deg=float(np.clip(rng.normal(slope, 3), 6, 27)),
                blunt=float(np.clip(blunt * np.exp(0.15 * rng.standard_normal()), 1, 4)),
                teeth=teeth,
                ploughed=ploughed,
            )
            # Coarse stones leave few grooves near the limit that makes a valley.
            if grit.depth_um < DOUBTFUL_UM and rng.random() < 0.65:
                wider = min(grit.width_um * DOUBTFUL_UM / grit.depth_um, wide * 1.3)
                grit = replace(
                    grit, width_um=max(wider, grit.width_um), blunt=1.0 if wider > 0.9 * wide else grit.blunt
                )
            through = rng.uniform(0.03, 0.97, 2) * shape
            bend = log_uniform(rng, 80, 500)
            if rng.random() < grouped * 0.7:
                through = stones[rng.integers(len(stones))] + rng.normal(0, 2.5 * typical / pixel_size_um, 2)
            cut(
                ground,
                grit,
                lay_deg=lay + rng.normal(0, 0.6 + 3 * crooked),
                through=tuple(through),
                pixel_size_um=pixel_size_um,
                strength=loaded(rng, length, pixel_size_um),
                wander_px=crooked
                * min(grit.width_um / pixel_size_um * 0.4, 0.05 * bend)
                * wandering(rng, length, bend),
                rng=rng,
            )
            left -= grit.width_um * length * pixel_size_um * 0.9
            if left < 0 and (number > 0 or share < 0.6):
                break
    return np.maximum(ground, -10)
