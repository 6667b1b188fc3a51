"""Moved metal laid over the grooves: what it covers, its own surface, and the traces it leaves.

Lip: metal from one rim narrows the groove. Bridge: metal reaches the other rim over a short length. Flap: a fold that lies on
the groove, with a seam where it doesn't weld. Flush: burnished level, leaving a faint outline. Sunken: metal that hangs
deeper than the limit over most of the width, so that the ground stays open valley by the definition. Kinds of folds after
Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548; their proportions are this maker's own.
"""

import cv2
import numpy as np

from .directions import across_axis, diagonal
from .grooves import Groove
from .randomness import Rng, mottle, wander
from .specimen import Specimen
from .surface import Surface
from .wear_events import draw_flow

OVERLAP = 1.06
"""How far metal may lie beyond the rim, as |u| of the worn rim; welded there, so that it is plain plateau."""


def close(surface: Surface, grooves: list[Groove], specimen: Specimen, rng: Rng) -> None:
    """Let moved metal close stretches of the grooves."""
    warp = [
        mottle(rng, surface.shape, max(size / surface.pixel_um, 2), max(size / surface.pixel_um, 2))
        for size in (7, 2.5)
    ]
    bent = 1.6 / surface.pixel_um * warp[0] + 0.5 / surface.pixel_um * warp[1], 0.07 * warp[0] + 0.05 * warp[1]
    depths = np.sort([groove.nominal_depth_um for groove in grooves])
    for groove in grooves:
        rank = float(np.searchsorted(depths, groove.nominal_depth_um) / max(len(depths), 1))
        _close_one(surface, groove, specimen, rank, bent, rng)
    round_off(surface)


def _close_one(
    surface: Surface, groove: Groove, specimen: Specimen, rank: float, bent: tuple[np.ndarray, np.ndarray], rng: Rng
) -> None:
    flow = draw_flow(rng, groove, specimen, rank)
    if not flow.events:
        return
    found, entry = groove.pixels(surface.shape, surface.pixel_um, 1.0)
    if not found.flat.size:
        return
    cos, sin = across_axis(specimen.stroke_deg)
    size = diagonal(surface.shape)
    mid_row, mid_col = (surface.shape[0] - 1) / 2, (surface.shape[1] - 1) / 2
    place = cos * (found.row - mid_row) + sin * (found.col - mid_col) + bent[0].reshape(-1)[found.flat]
    place = np.clip(np.rint(place).astype(np.int32) + size // 2, 0, size - 1)
    touched = flow.event[place] >= 0
    flat, entry, place = found.flat[touched], entry[touched], place[touched]
    kept = type(found)(flat, found.along[touched], found.across[touched], found.row[touched], found.col[touched])
    across, half, u = groove.across_um(kept, entry, surface.pixel_um)
    rims = groove.place[entry]
    share = np.where(rims > 0.03, u / np.maximum(rims, 0.03), 9.0)
    event = flow.event[place]
    table = {name: np.array([getattr(one, name) for one in flow.events], np.float32)[event] for name in
             ("sag_um", "thickness_um", "tone", "crack", "trace", "flow", "side")}  # fmt: skip
    uneven = bent[1].reshape(-1)[flat]
    near, far = (share + 1) / 2 + uneven, (1 - share) / 2 + uneven
    over = (near < flow.reach[0][place]) | (far < flow.reach[1][place])
    over &= np.abs(share) < OVERLAP
    seam = _seam(rng, groove, specimen, share, half, entry, table["side"]) * table["crack"]
    outline = np.exp(-((((np.abs(share) - 1) * half * rims) / max(0.5, 0.8 * surface.pixel_um)) ** 2)) * table["trace"]
    outline *= groove.rim[entry]
    bowl = np.maximum(1 - share * share, 0)
    depth = surface.depth.reshape(-1)[flat]
    over &= depth > 0
    _put(surface, flat[over], {
        "sag": (table["sag_um"] * (0.35 + 0.65 * bowl))[over],
        "crack": np.clip(seam + 0.45 * outline, 0, 0.92)[over],
        "texture": table["flow"][over],
        "lifted": np.minimum(table["thickness_um"], 1.2)[over],
        "tone": table["tone"][over],
    })  # fmt: skip
    surface.covered.reshape(-1)[flat[over]] = True
    # Bowl of the sagging metal: slope in closed form, across the groove.
    slope = (table["sag_um"] * 0.65 * 2 * share / np.maximum(half * np.maximum(rims, 0.05), 0.3))[over] * (
        np.abs(share[over]) < 1
    )
    normal = across_axis(groove.deg)
    surface.slope_row.reshape(-1)[flat[over]] = slope * normal[0]
    surface.slope_col.reshape(-1)[flat[over]] = slope * normal[1]


def _put(surface: Surface, flat: np.ndarray, values: dict[str, np.ndarray]) -> None:
    for name, value in values.items():
        getattr(surface, name).reshape(-1)[flat] = value


def _seam(
    rng: Rng,
    groove: Groove,
    specimen: Specimen,
    share: np.ndarray,
    half: np.ndarray,
    entry: np.ndarray,
    side: np.ndarray,
) -> np.ndarray:
    """Return 0-1, how close a point is to the meandering seam at the rim that the metal reached."""
    pixel, size = specimen.pixel_um, groove.middle_px.size
    at = 0.78 + 0.10 * wander(rng, size, max(8 / pixel, 3)) + 0.05 * wander(rng, size, max(1.5 / pixel, 1))
    wide = np.maximum(0.35 * np.exp(0.5 * wander(rng, size, max(6 / pixel, 2))), 0.45 * pixel)
    broken = np.clip(0.7 + 0.8 * wander(rng, size, max(10 / pixel, 3)), 0, 1)
    away = (share + side * np.clip(at, 0.4, 1.0)[entry]) * half
    return np.exp(-((away / wide[entry]) ** 2)) * broken[entry] * np.minimum(0.35 / pixel + 0.3, 1)


def round_off(surface: Surface) -> None:
    """Round the fronts of displaced metal: it slopes down, as thick as it is, towards the open ground beside it."""
    ground = ((surface.depth > 0.15) & ~surface.covered).astype(np.float32)
    near = cv2.GaussianBlur(ground, (0, 0), max(0.9 / surface.pixel_um, 1.0))
    thick = surface.lifted * surface.covered / surface.pixel_um
    surface.slope_row -= np.clip(thick * np.gradient(near, axis=0), -1, 1)
    surface.slope_col -= np.clip(thick * np.gradient(near, axis=1), -1, 1)
