"""A groove as a ribbon: a line over the picture with depth, width and closure along it, and the labels drawn from it."""

from dataclasses import dataclass

import numpy as np

from .texture import line_noise, loguniform

OPEN_UM = 0.5
"""Ground at least this far below the local plateau is open valley (semwear.terms)."""


@dataclass(frozen=True)
class Ribbon:
    """Arrays run over the pixels of the axis that the ribbon follows most (x where along_x).

    centre: the line's place on the other axis, px; stretch: perpendicular over other-axis distance; depth_um: before wear;
    floor_um: half the flat floor; tan_slope: of both walls; normal: unit (x, y), towards a growing other axis;
    cover: 0 where open to 1 where closed across; side: -1 or 1 where one rim moved, 0 where both did.
    """

    along_x: bool
    centre: np.ndarray
    stretch: float
    depth_um: np.ndarray
    floor_um: float
    tan_slope: float
    normal: tuple[float, float]
    cover: np.ndarray
    side: int

    @property
    def half_um(self) -> np.ndarray:
        """Half the width between the rims, before wear; the flat floor narrows where a groove fades."""
        return self.depth_um / self.tan_slope + self.floor_um * np.minimum(self.depth_um / max(self.depth_um.max(), 1e-6), 1)


@dataclass(frozen=True)
class Strip:
    """The pixels of one ribbon and its rims: row, col; place: index along; cross_um: signed distance from the line;
    half_um, depth_um: between the rims and at the floor, after wear; ground_um: depth of the ground, negative beyond the rims."""

    row: np.ndarray
    col: np.ndarray
    place: np.ndarray
    cross_um: np.ndarray
    half_um: np.ndarray
    depth_um: np.ndarray
    ground_um: np.ndarray


def strip_of(ribbon: Ribbon, worn: np.ndarray, lost_um: float, pixel_size_um: float, rim_um: float) -> Strip | None:
    """A ribbon on the picture's grid; wear takes lost_um from the plateau, so it lowers depth and draws the rims together."""
    other = worn.shape[0] if ribbon.along_x else worn.shape[1]
    half_um = ribbon.half_um
    step_um = ribbon.stretch * pixel_size_um
    reach = int(np.ceil((half_um.max() + rim_um) / step_um)) + 1
    near = np.rint(ribbon.centre).astype(int)
    alive = np.flatnonzero((ribbon.depth_um > 0.02) & (near > -reach) & (near < other + reach))
    if not alive.size:
        return None
    place = alive[:, None]
    at = near[place] + np.arange(-reach, reach + 1)
    cross_um = (at - ribbon.centre[place]) * step_um
    keep = (at >= 0) & (at < other) & (np.abs(cross_um) < half_um[place] + rim_um)
    place = np.broadcast_to(place, at.shape)[keep]
    at, cross_um = at[keep], cross_um[keep]
    row, col = (at, place) if ribbon.along_x else (place, at)
    lost = np.where(worn[row, col], lost_um, 0.0)
    depth_um = ribbon.depth_um[place] - lost
    half_um = half_um[place] - lost / ribbon.tan_slope
    ground_um = np.minimum(depth_um, (half_um - np.abs(cross_um)) * ribbon.tan_slope)
    return Strip(row, col, place, cross_um, half_um, depth_um, ground_um)


def closed_of(ribbon: Ribbon, strip: Strip, worn: np.ndarray) -> np.ndarray:
    """Where moved metal lies over the ribbon: from one rim or from both towards the middle; in the track only."""
    v = strip.cross_um / np.maximum(strip.half_um, 1e-3)
    cover = ribbon.cover[strip.place]
    from_rim = 1 - 2 * cover if ribbon.side else 1 - cover
    reach = ribbon.side * v if ribbon.side else np.abs(v)
    return (cover > 0.02) & (reach > from_rim) & worn[strip.row, strip.col]


def labelled(ground_um: np.ndarray, closed: np.ndarray) -> np.ndarray:
    """Mask codes of a ribbon's pixels (semwear.terms): a footprint open or closed, else plateau."""
    deep = ground_um >= OPEN_UM
    return np.where(deep, np.where(closed, 2, 1), 0).astype(np.uint8)


def drawn_line(
    rng: np.random.Generator, shape: tuple[int, int], lay_deg: float, through: tuple[float, float], wave_px: float
) -> tuple[bool, np.ndarray, float, tuple[float, float]]:
    """along_x, centre, stretch and normal of a line that runs along lay_deg through a point (x, y), swaying by wave_px."""
    turn = np.deg2rad(lay_deg)
    dx, dy = float(np.cos(turn)), float(np.sin(turn))
    along_x = abs(dx) >= abs(dy)
    count = shape[1] if along_x else shape[0]
    main, minor = (dx, dy) if along_x else (dy, dx)
    first, second = through if along_x else through[::-1]
    centre = second + (np.arange(count) - first) * minor / main + wave_px * line_noise(rng, count, loguniform(rng, 0.2, 1.0) * count)
    stretch = abs(main)
    normal = (-dy, dx) if along_x else (dy, -dx)
    sign = 1 if (normal[1] if along_x else normal[0]) >= 0 else -1
    return along_x, centre, stretch, (sign * normal[0], sign * normal[1])
