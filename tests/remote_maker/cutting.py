"""Cutting the grooves into the surface, and what each mechanism of contrast gets from a groove's own section.

Free directions: an electron that leaves with Lambert's cosine law from the ground of a long trench escapes past the left rim
with a share of cos(a)/2, a being the elevation of that rim, and past the right one likewise (follows by integration over a
trench without end). A detector at one side weighs the two.

Edges: within the electrons' range of a convex edge more secondaries leave; the excess falls off exponentially with the
distance and grows with the wall's slope (edge effect, textbooks; from memory). Rims carry burrs where they weren't run.
"""

import numpy as np

from .directions import across_axis
from .grooves import Groove
from .microscope import Setting, electron_range_um
from .randomness import Rng, mottle
from .surface import Surface

BURR_UM = 1.6


def cut(
    surface: Surface, grooves: list[Groove], setting: Setting, worn: np.ndarray, rim: float, burr: float, rng: Rng
) -> None:
    """Cut the grooves one after the other; where two cross, the deeper ground stays.

    ``worn``: (rows, cols) µm removed from the plateau; ``rim``: brightness of rims; ``burr``: 0-1, what is left of burrs.
    """
    azimuth = np.radians(setting.azimuth_deg)
    towards = (-np.sin(azimuth), np.cos(azimuth))
    reach = max(electron_range_um(setting.kv), 0.45 * surface.pixel_um)
    torn = mottle(rng, surface.shape, max(1.2 / surface.pixel_um, 1.2), max(1.2 / surface.pixel_um, 1.2))
    for groove in grooves:
        _cut_one(surface, groove, setting, worn, rim, burr, towards, reach, torn)


def _cut_one(
    surface: Surface, groove: Groove, setting: Setting, worn: np.ndarray, rim: float, burr: float, towards: tuple, reach: float,
    torn: np.ndarray,
) -> None:  # fmt: skip
    found, entry = groove.pixels(surface.shape, surface.pixel_um, 2.5 * reach + 2 * BURR_UM * burr)
    if not found.flat.size:
        return
    across, half, u = groove.across_um(found, entry, surface.pixel_um)
    before, fall, relative = groove.ground_um(u, entry)
    here = worn.reshape(-1)[found.flat]
    depth = before - here
    flat = found.flat
    maps = {name: getattr(surface, name).reshape(-1) for name in
            ("before", "depth", "slope_row", "slope_col", "gather", "edge", "tone", "inner")}  # fmt: skip
    maps["before"][flat] = np.maximum(maps["before"][flat], before)
    normal = across_axis(groove.deg)
    # What lies beside the rim: burr and extra yield, on ground that no deeper groove has taken.
    place = groove.place[entry]
    beyond = np.abs(across) - half * place
    alive = np.minimum(groove.depth_um[entry] * 2, 1) * (place > 0.05)
    wall = np.minimum(groove.depth_um[entry] * groove.power / half, 0.7)
    lip = (
        np.exp(-np.maximum(np.abs(beyond) - 0.3 * surface.pixel_um, 0) / reach)
        * alive
        * rim
        * groove.rim[entry]
        * (0.25 + wall)
    )
    open_here = maps["depth"][flat] < 0.4
    maps["edge"][flat] = np.where(
        open_here | (depth > 0), np.maximum(maps["edge"][flat] * (open_here | (depth < 0)), lip), maps["edge"][flat]
    )
    if burr > 0:
        piled = (beyond > 0) & open_here
        raised = burr * groove.rim[entry] ** 2 * alive * np.minimum(groove.depth_um[entry] * 0.22, 0.5)
        slope = -raised / BURR_UM * np.exp(-np.maximum(beyond, 0) / BURR_UM) * np.sign(across) * piled
        maps["slope_row"][flat] += slope * normal[0]
        maps["slope_col"][flat] += slope * normal[1]
    # The ground itself.
    deeper = (depth > 0) & (depth > maps["depth"][flat])
    flat, depth, entry, across, half = flat[deeper], depth[deeper], entry[deeper], across[deeper], half[deeper]
    fall, u, place, relative = fall[deeper], u[deeper], place[deeper], relative[deeper]
    rough = torn.reshape(-1)[flat] * groove.torn[entry]
    maps["depth"][flat] = depth
    slope = -fall / half + 0.10 * rough * np.minimum(depth, 1)
    maps["slope_row"][flat] = slope * normal[0] + 0.05 * rough
    maps["slope_col"][flat] = slope * normal[1] - 0.05 * rough
    # A wall is never steeper than STEEPEST, so that a rim can't be nearer than the depth over that (striae aside).
    left = np.maximum(across + groove.left_um[entry] * place, 0.7 * depth + 0.02)
    right = np.maximum(groove.right_um[entry] * place - across, 0.7 * depth + 0.02)
    bias = setting.side * (normal[0] * towards[0] + normal[1] * towards[1])
    share = 0.5 * (1 - bias) * left / np.hypot(left, depth) + 0.5 * (1 + bias) * right / np.hypot(right, depth)
    maps["gather"][flat] = share
    maps["inner"][flat] = np.minimum(depth / 1.2, 1)
    # Ridges between striae catch more of the beam's electrons near their crests than the slope alone says.
    crest = groove.striae(u, entry)
    maps["tone"][flat] = 1 + 0.10 * rough - np.clip(0.9 * crest * np.minimum(relative * 2, 1), -0.2, 0.2)
