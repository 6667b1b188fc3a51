"""Which tools a field has seen: base hone, finishing stone, both, or one stone with depths about the limit.

The limit of 0.5 µm (semwear.terms) parts valley from plateau, whatever is seen; so every population here is chosen by depth
alone, and widths follow from the walls' slopes and the pixel size.
"""

import numpy as np

from .finished_lays import Tool

FINISHES = {"both stones": 0.46, "finishing stone": 0.17, "base hone": 0.13, "one stone": 0.24}
"""Kinds of finish and their shares (own choice)."""
SHALLOWEST_UM, DEEPEST_UM = 0.03, 7.0


def draw_tools(rng: np.random.Generator, lays, shares, stroke_deg: float, pixel_size_um: float) -> tuple[str, list[Tool]]:
    """Return the finish's name and its tools in the order of their use; the first is the base hone (or the only stone)."""
    finish = str(rng.choice(list(FINISHES), p=list(FINISHES.values())))
    if finish == "base hone":
        return finish, [base_hone(rng, lays, shares, pixel_size_um)]
    if finish == "one stone":
        return finish, [one_stone(rng, lays, shares, pixel_size_um)]
    if finish == "finishing stone":
        return finish, [finishing_stone(rng, lays, shares, stroke_deg, pixel_size_um, least_cover=0.5)]
    scratches = finishing_stone(rng, lays, shares, stroke_deg, pixel_size_um)
    return finish, [base_hone(rng, lays, shares, pixel_size_um), scratches]


def base_hone(rng: np.random.Generator, lays, shares, pixel_size_um: float) -> Tool:
    """Deep wide grooves: median depth 0.9–3 µm, less where a field is small, with a log-normal spread through the limit."""
    median = float(np.exp(rng.uniform(np.log(0.9), np.log(2.8)))) * min(1.0, (pixel_size_um / 0.6) ** 0.3)
    median = max(median, 0.75)
    return Tool(
        lays_deg=lays, shares=shares, spread_deg=float(rng.uniform(0.5, 3.5)), cover=_between(rng, 0.12, 0.9),
        depth_um=median, depth_spread=float(rng.uniform(0.25, 0.75)), depth_limits_um=(0.15, DEEPEST_UM),
        slopes_deg=(float(rng.uniform(6, 14)), 27.0), floor_um=_between(rng, 0.3, 3.0) * max(1.0, pixel_size_um / 0.45),
        length_um=_between(rng, 250, 3000),
        bundle=float(rng.choice([1.0, 1.5, 3.0, 8.0], p=[0.45, 0.25, 0.18, 0.12])),
        rim=float(rng.uniform(0, 0.12)), unevenness=float(rng.uniform(0.05, 0.4)), tone=0.0, tone_spread=0.0,
    )  # fmt: skip


def one_stone(rng: np.random.Generator, lays, shares, pixel_size_um: float) -> Tool:
    """One continuous population whose median lies about the limit, 0.3–0.9 µm."""
    sign = rng.choice([-1.0, 1.0], p=[0.6, 0.4])
    return Tool(
        lays_deg=lays, shares=shares, spread_deg=float(rng.uniform(0.5, 4)), cover=_between(rng, 0.35, 1.8),
        depth_um=_between(rng, 0.3, 0.9), depth_spread=float(rng.uniform(0.6, 1.0)),
        depth_limits_um=(SHALLOWEST_UM, DEEPEST_UM), slopes_deg=(float(rng.uniform(6, 16)), 27.0),
        floor_um=_between(rng, 0.6, 2.5) * pixel_size_um,
        length_um=_side_um(rng, pixel_size_um) * 1.5, bundle=float(rng.choice([1.0, 2.0, 6.0])),
        rim=float(rng.uniform(0, 0.15)), unevenness=float(rng.uniform(0.05, 0.4)),
        tone=float(sign * rng.uniform(0, 0.15)), tone_spread=float(rng.uniform(0, 0.1)),
    )  # fmt: skip


def finishing_stone(
    rng: np.random.Generator, lays, shares, stroke_deg: float, pixel_size_um: float, least_cover: float = 0.2
) -> Tool:
    """Shallow scratches, all less deep than the limit, from sparse to covering the plateau and from faint to plain."""
    if rng.random() < 0.2:  # another machine, other angles
        turn = rng.uniform(5, 25) * rng.choice([-1, 1])
        lays = tuple((2 * (stroke_deg + 90) - lay if rng.random() < 0.3 else lay) + turn for lay in lays)
    else:
        lays = tuple(lay + rng.normal(0, 1.5) for lay in lays)
    plain = _between(rng, 0.03, 0.4)
    sign, spread = rng.choice([-1.0, 1.0, 0.0], p=[0.5, 0.3, 0.2]), rng.uniform(0.1, 0.7)
    return Tool(
        lays_deg=lays, shares=shares, spread_deg=float(rng.uniform(0.5, 5)), cover=_between(rng, least_cover, 2.2),
        depth_um=_between(rng, 0.08, 0.33), depth_spread=float(rng.uniform(0.25, 0.6)), depth_limits_um=(SHALLOWEST_UM, 0.46),
        slopes_deg=(float(rng.uniform(6, 16)), 27.0), floor_um=_between(rng, 0.5, 2.2) * pixel_size_um**0.7,
        length_um=_side_um(rng, pixel_size_um) * float(rng.uniform(0.4, 2)),
        bundle=float(rng.choice([1.0, 2.0, 5.0, 12.0], p=[0.35, 0.3, 0.23, 0.12])),
        rim=float(rng.uniform(0, 0.25)), unevenness=float(rng.uniform(0.05, 0.5)),
        tone=float(sign * plain), tone_spread=float(plain * (spread if sign else 1)),
    )  # fmt: skip


def _between(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _side_um(rng: np.random.Generator, pixel_size_um: float) -> float:
    """Lengths of tracks: some hundred µm, however large the field (from memory)."""
    return _between(rng, 150, 1500) * max(0.4, min(1.0, pixel_size_um))
