"""A groove as a list of cross-sections along its length."""

from dataclasses import dataclass

import numpy as np

from .texture import log_uniform, wander

VALLEY_DEPTH_UM = 0.5


@dataclass
class Groove:
    """A groove through the point (x_um, y_um) in the direction angle_rad. Arrays hold one value a section, step_um
    apart, the middle one at the point: offset_um of the centre line, left_um and right_um from it to the rims,
    depth_um below the plateau, walls in degrees. Of closed metal: folds as shares of the width covered from the left
    and from the right rim, plug_um the level of pressed debris below the plateau (inf where none), hollow where a cap
    bears it, lip 0–1 at the ends of closures. floor: 'flat', 'round' or 'vee'."""

    x_um: float
    y_um: float
    angle_rad: float
    step_um: float
    offset_um: np.ndarray
    left_um: np.ndarray
    right_um: np.ndarray
    depth_um: np.ndarray
    left_wall_deg: np.ndarray
    right_wall_deg: np.ndarray
    fold_left: np.ndarray
    fold_right: np.ndarray
    plug_um: np.ndarray
    hollow: np.ndarray
    lip: np.ndarray
    floor: str
    shoulder: float
    carbon: float

    def width_um(self) -> float:
        return float(np.median(self.left_um + self.right_um))


def ground_depth_um(u_um, left_um, right_um, depth_um, left_wall_deg, right_wall_deg, floor: str):
    """Depth in µm below the plateau at the distance u_um across the groove (left rim at −left_um); walls rise in
    degrees from the plateau and meet where they are too gentle for the depth asked."""
    from_left, from_right = u_um + left_um, right_um - u_um
    walls = np.minimum(from_left * np.tan(np.radians(left_wall_deg)), from_right * np.tan(np.radians(right_wall_deg)))
    if floor == "vee":
        return np.clip(walls, 0, None)
    if floor == "flat":
        return np.clip(np.minimum(walls, depth_um), 0, None)
    middle = np.clip(4 * from_left * from_right / np.maximum((left_um + right_um) ** 2, 1e-6), 0, 1)
    return np.clip(np.minimum(walls, depth_um * (0.6 + 0.4 * middle)), 0, None)


def truncate(groove: Groove, wear_um: np.ndarray) -> None:
    """Takes wear_um of the plateau off at each section: the rims draw in as the walls say, the depth falls."""
    groove.left_um = np.maximum(groove.left_um - wear_um / np.tan(np.radians(groove.left_wall_deg)), 0)
    groove.right_um = np.maximum(groove.right_um - wear_um / np.tan(np.radians(groove.right_wall_deg)), 0)
    groove.depth_um = np.maximum(groove.depth_um - wear_um, 0)
    groove.shoulder *= float(np.median(wear_um) < 0.05)


def cut(
    rng: np.random.Generator,
    *,
    at_um: tuple[float, float],
    angle_rad: float,
    reach_um: float,
    pixel_size_um: float,
    width_um: float,
    depth_um: float,
    wall_deg: float,
    torn: float,
) -> Groove:
    """One groove of a sharp grit. torn: the rims' raggedness as a share of the width."""
    step = max(pixel_size_um, width_um / 8)
    count = 2 * int(reach_um / step) + 3
    long, short = reach_um / step * rng.uniform(0.1, 0.6), max(width_um / step * rng.uniform(0.15, 0.8), 1)
    swell = np.exp(rng.uniform(0.02, 0.25) * wander(rng, count, long))
    half = width_um / 2 * swell
    rims = [half * np.clip(1 + torn * wander(rng, count, short), 0.4, 1.6) for _ in range(2)]
    depth = depth_um * np.exp(rng.uniform(0.02, 0.3) * wander(rng, count, long))
    if rng.random() < 0.3:
        # A grit that lifts off: the groove grows shallow and narrow towards its end.
        end, fade = rng.uniform(0.1, 0.9) * count, width_um / step * rng.uniform(1, 12)
        side = rng.choice([-1, 1])
        kept = np.clip(side * (np.arange(count) - end) / fade, 0, 1)
        depth, rims = depth * kept, [rim * np.sqrt(kept) for rim in rims]
    walls = [np.clip(wall_deg + rng.normal(0, 6) + 4 * wander(rng, count, long), 20, 75) for _ in range(2)]
    return Groove(
        *at_um, angle_rad, step, width_um * rng.uniform(0, 0.2) * wander(rng, count, long), *rims, depth, *walls,
        np.zeros(count), np.zeros(count), np.full(count, np.inf), np.zeros(count), np.zeros(count),
        floor=str(rng.choice(["flat", "round", "vee"], p=[0.45, 0.35, 0.2])),
        shoulder=rng.uniform(0, 1) if rng.random() < 0.5 else 0.0,
        carbon=rng.uniform(0.2, 1) if rng.random() < 0.35 else 0.0,
    )  # fmt: skip


def band(
    rng: np.random.Generator, *, angle_rad: float, field_um: tuple[float, float], pixel_size_um: float, share: float
) -> list[Groove]:
    """Grooves of one lay over a field of rows and columns field_um, till they cover about this share of it."""
    low, high = max(1.5, 2.2 * pixel_size_um), min(60.0, 0.22 * min(field_um))
    usual, spread = log_uniform(rng, low, max(low * 1.3, high * 0.5)), rng.uniform(0.1, 0.8)
    usual_depth, wall, torn = log_uniform(rng, 1.0, 8), rng.uniform(22, 73), rng.uniform(0, 0.12)
    middle, reach = np.array(field_um[::-1]) / 2, float(np.hypot(*field_um)) / 2 * 1.1
    normal = np.array([-np.sin(angle_rad), np.cos(angle_rad)])
    groups = rng.uniform(-reach, reach, rng.integers(2, 7)) if rng.random() < 0.4 else None
    grooves, covered = [], 0.0
    while covered < share * 2 * reach and len(grooves) < 55:
        width = float(np.clip(usual * np.exp(spread * rng.standard_normal()), low, max(high, low * 1.5)))
        away = rng.uniform(-reach, reach)
        if groups is not None and rng.random() < 0.8:
            away = rng.choice(groups) + 3 * usual * rng.standard_normal()
        depth = float(np.clip(usual_depth * np.exp(0.6 * rng.standard_normal()), 0.2, 10))
        grooves.append(
            cut(
                rng, at_um=tuple(middle + away * normal), angle_rad=angle_rad + np.radians(rng.normal(0, 1.5)),
                reach_um=reach, pixel_size_um=pixel_size_um, width_um=width, depth_um=depth,
                wall_deg=float(np.clip(wall + rng.normal(0, 8), 20, 75)), torn=torn,
            )
        )  # fmt: skip
        covered += width
    return grooves
