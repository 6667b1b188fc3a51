"""Which grooves lie where: two bands of strokes, each with a depth and wall slope that say how wide and whether it is a valley."""

from dataclasses import dataclass

import numpy as np

from .ribbon import Ribbon, jagged, ribbon

VALLEY_UM = 0.5


@dataclass(frozen=True)
class Groove:
    """rims: from rim to rim; valley: where the ground is at least 0.5 µm down (half width 0 where it never is);
    depth_um (n,) left along the line; slope_deg of the walls; lay_deg on the picture."""

    rims: Ribbon
    valley: Ribbon
    depth_um: np.ndarray
    slope_deg: float
    lay_deg: float


def half_width_um(depth_um, floor_um: float, slope_deg: float, below_um: float = 0.0):
    """Half width at `below_um` under the plateau of a groove with a flat floor (half of it: floor_um) and straight walls."""
    depth_um = np.asarray(depth_um, float)
    return np.where(depth_um > below_um, floor_um + (depth_um - below_um) / np.tan(np.deg2rad(slope_deg)), 0.0)


def lays(stroke_deg: float, hone_angle_deg: float) -> tuple[float, float]:
    """Directions of the bands, degrees: the circumference, across the stroke, halves the included angle."""
    return stroke_deg + 90 - hone_angle_deg / 2, stroke_deg + 90 + hone_angle_deg / 2


def _groove(rng, shape, pixel_size_um, lay_deg, middle, depth_um, slope_deg, habits, worn, truncation_um) -> Groove | None:
    reach = np.hypot(*shape) * 0.62
    count = int(np.clip(2 * reach / 5, 40, 180))
    along = np.linspace(-reach, reach, count)
    angle = np.deg2rad(lay_deg)
    sway = habits["sway_um"] / pixel_size_um * np.sin(along / habits["sway_px"] + rng.uniform(0, 6.3)) * rng.uniform(0, 1)
    points = middle + np.outer(along, [np.cos(angle), np.sin(angle)]) + np.outer(sway, [-np.sin(angle), np.cos(angle)])
    depth = depth_um * np.clip(1 + habits["uneven"] * jagged(rng, count, 22), 0.15, 1.6)
    for side in (1, -1):
        if rng.random() < habits["ending"]:
            end, taper = rng.uniform(-0.9, 0.9) * reach, rng.uniform(10, 200)
            depth *= np.clip((end - side * along) / taper, 0, 1)
    rows, cols = (np.clip(points[:, axis].astype(int), 0, shape[1 - axis] - 1) for axis in (1, 0))
    depth = depth - truncation_um * worn[rows, cols]
    floor_um = rng.uniform(0.0, 1.0) ** 2 * 0.5 * depth_um / np.tan(np.deg2rad(slope_deg)) + 0.3
    # Tearing follows the grain of the metal, so it doesn't grow with the groove.
    tear = habits["ragged_um"] * (jagged(rng, count, 1) + jagged(rng, count, 4)) / (floor_um + depth_um / np.tan(np.deg2rad(slope_deg)))
    ragged = np.clip(1 + tear, 0.75, 1.25)
    rims, valley = (half_width_um(depth, floor_um, slope_deg, below) * ragged / pixel_size_um for below in (0.0, VALLEY_UM))
    if rims.max() < 0.3:
        return None
    return Groove(ribbon(points, rims), ribbon(points, valley), np.maximum(depth, 0), slope_deg, lay_deg)


def draw_grooves(rng, shape, pixel_size_um, stroke_deg, hone_angle_deg, worn, truncation_um) -> list[Groove]:
    """Both bands, shallow grooves first as deeper ones cut through them; worn (rows, cols) bool, truncation_um where True."""
    span = np.hypot(*shape)
    centre = np.array([shape[1], shape[0]]) / 2
    grooves = []
    # A picture taken closer up is taken of finer grooves: the microscopist chooses so that some are seen whole.
    usual_depth = np.exp(rng.uniform(np.log(0.7), np.log(np.clip(span * pixel_size_um / 40, 1.3, 4.5))))
    usual_width_um = 2.5 * usual_depth / np.tan(np.deg2rad(15))
    for band, lay_deg in enumerate(lays(stroke_deg, hone_angle_deg)):
        habits = {
            "sway_um": np.exp(rng.uniform(np.log(0.05), np.log(4))),
            "sway_px": rng.uniform(25, 250),
            "uneven": rng.uniform(0.02, 0.25),
            "ending": rng.uniform(0, 0.45),
            "ragged_um": np.exp(rng.uniform(np.log(0.03), np.log(0.7))),
        }
        weak = 1.0 if band == 0 or rng.random() < 0.65 else rng.uniform(0.15, 0.6)
        spacing = max(usual_width_um * np.exp(rng.uniform(np.log(1.6), np.log(9))) / weak / pixel_size_um, 11.0)
        count = int(np.clip(span / spacing, 2, 60))
        grouped = rng.random() < 0.4
        offsets = rng.uniform(-0.5, 0.5, count) * span
        if grouped:
            nests = rng.uniform(-0.5, 0.5, max(count // 4, 1)) * span
            offsets = rng.choice(nests, count) + rng.normal(0, 1.2 * spacing, count)
        if rng.random() < 0.3:
            offsets = np.linspace(-0.5, 0.5, count) * span + rng.normal(0, 0.35 * spacing, count)
        spread = rng.uniform(0.3, 2.5)
        for offset in offsets:
            slope = float(np.clip(rng.normal(15, 5), 6, 27))
            depth = float(np.clip(usual_depth * weak**0.5 * np.exp(rng.normal(0, 0.6)), 0.2, 10))
            # No hone stone leaves a groove wider than some 60 µm: steeper or shallower then, never wider.
            depth = min(depth, 18 * np.tan(np.deg2rad(slope)))
            lay = lay_deg + rng.normal(0, spread)
            across = np.deg2rad(lay + 90)
            middle = centre + offset * np.array([np.cos(across), np.sin(across)])
            groove = _groove(rng, shape, pixel_size_um, lay, middle, depth, slope, habits, worn, truncation_um)
            if groove is not None:
                grooves.append(groove)
    return sorted(grooves, key=lambda groove: float(groove.depth_um.mean()))
