"""Grey of a groove by position in its cross-section: rims, walls towards and away from the detector, floor, fill."""

from dataclasses import dataclass

import numpy as np

from .closing import covered
from .raster import read, strip
from .sections import VALLEY_DEPTH_UM, Groove, ground_depth_um


@dataclass(frozen=True)
class Look:
    """How the ground looks in one field, in shares of the plateau's grey. detector_rad: its side on the picture."""

    detector_rad: float
    wall: float
    tilt: float
    rim: float
    rim_um: float
    floor: float
    starved: float
    rough: float
    carbon: float
    burnish: float
    plug: float
    seam: float
    lip: float
    dragged: float
    outline: float


@dataclass
class Canvas:
    """The picture being made: tone (grey over the plateau's), deepest ground drawn so far in µm, open and closed
    footprints of grooves, smooth 0–1 where burnishing wiped the plateau's texture; all flat. The grains are fields of
    spread 1: fine, and drawn out along the stroke."""

    shape: tuple[int, int]
    pixel_size_um: float
    stroke_rad: float
    tone: np.ndarray
    deepest_um: np.ndarray
    open: np.ndarray
    closed: np.ndarray
    smooth: np.ndarray
    fine: np.ndarray
    lumpy: np.ndarray
    along: np.ndarray


def starved_escape(depth_um, width_um):
    """Share of electrons that leave the middle of a long trench's floor: half the sum of the sines of the angles
    under which its rims stand, the view factor of a strip to the sky; 1 on open ground."""
    return 1 / np.sqrt(1 + (2 * depth_um / np.maximum(width_um, 1e-3)) ** 2)


def wall_grey(wall_deg, facing, look: Look):
    """Grey over the plateau's of a wall of this slope, facing (−1 to 1) the detector: the detector's side, and the
    secondary yield 1/cos of the slope, held where the escape of electrons ends its rise."""
    slope = np.radians(wall_deg)
    return look.wall * np.sin(slope) * facing + look.tilt * (np.minimum(1 / np.cos(slope), 3) - 1)


def draw(canvas: Canvas, groove: Groove, look: Look, worn) -> None:
    """Adds the groove to the canvas; metal closes it where worn only."""
    laid = strip(groove, canvas.shape, canvas.pixel_size_um, canvas.stroke_rad, 0.12 * groove.width_um() * canvas.lumpy)
    if laid is None:
        return
    at, u = laid.index, laid.u_um
    left, right, depth, wall_l, wall_r = (
        read(values, laid.place)
        for values in (groove.left_um, groove.right_um, groove.depth_um, groove.left_wall_deg, groove.right_wall_deg)
    )
    width = np.maximum(left + right, 1e-3)
    ground = ground_depth_um(u, left, right, depth, wall_l, wall_r, groove.floor)
    v = (2 * u + left - right) / width
    inside = np.abs(v) < 1
    footprint = inside & (ground >= VALLEY_DEPTH_UM)
    any_fold = (groove.fold_left + groove.fold_right).any() or np.isfinite(groove.plug_um).any()
    fill = np.full(len(at), 50.0, np.float32)
    shut = np.zeros(len(at), bool)
    if any_fold:
        fold_l, fold_r, fill, hollow, lip = (
            read(values, laid.closure_place)
            for values in (groove.fold_left, groove.fold_right, groove.plug_um, groove.hollow, groove.lip)
        )
        shut = covered(v, fold_l, fold_r, fill) & worn[at]
        fill = np.where(worn[at], fill, 50.0)
    filled = np.minimum(ground, fill)
    opened = footprint & ~shut & (filled >= VALLEY_DEPTH_UM)
    canvas.open[at] |= opened
    canvas.closed[at] |= footprint & ~opened

    facing = float(np.cos(groove.angle_rad + np.pi / 2 - look.detector_rad))
    rises_l, rises_r = (u + left) * np.tan(np.radians(wall_l)), (right - u) * np.tan(np.radians(wall_r))
    floor_um = np.minimum(depth, fill)
    on_left, on_right = (rises_l < floor_um) & (rises_l <= rises_r), (rises_r < floor_um) & (rises_r < rises_l)
    bowed = 0.35 * look.wall * facing * -v if groove.floor == "round" else 0.0
    seen = starved_escape(filled, width)
    carbon = groove.carbon * look.carbon
    tone = look.floor * np.minimum(depth, 3) / 3 + bowed + look.rough * (canvas.fine[at] + 0.6 * canvas.lumpy[at])
    tone = tone - carbon * (canvas.lumpy[at] > -0.4)
    tone = np.where(fill < ground, tone + 0.5 * look.plug + 0.6 * look.rough * canvas.fine[at], tone)
    tone = np.where(on_left, wall_grey(wall_l, facing, look) + 0.4 * look.rough * canvas.lumpy[at], tone)
    tone = np.where(on_right, wall_grey(wall_r, -facing, look) + 0.4 * look.rough * canvas.lumpy[at], tone)
    tone = tone - look.starved * (1 - seen) * (0.5 + 0.5 * np.minimum(filled, 2) / 2)
    # Ground too shallow for a valley fades into the plateau.
    strength = np.clip(filled / VALLEY_DEPTH_UM, 0, 1)
    if any_fold:
        tone = np.where(shut, _moved(canvas, at, v, width, fold_l, fold_r, fill, hollow, look), tone)
        fringe = np.where(shut, lip * look.lip * np.clip(1 + 0.5 * canvas.fine[at], 0, 2), 0)
        tone, strength = tone + fringe, np.where(shut, np.clip(ground / VALLEY_DEPTH_UM, 0, 1), strength)
        canvas.smooth[at] = np.where(shut & footprint, 1.0, np.where(opened, 0.0, canvas.smooth[at]))
    over = inside & (filled > canvas.deepest_um[at]) | (shut & footprint & ~canvas.open[at])
    canvas.tone[at] = np.where(over, tone * strength, canvas.tone[at])
    canvas.deepest_um[at] = np.where(shut, canvas.deepest_um[at], np.maximum(canvas.deepest_um[at], filled))

    to_rim = np.minimum(np.abs(u + left), np.abs(right - u))
    # What truncation left shallow, or walls that meet early, has no rim to shine.
    deep = np.minimum(depth, width / (1 / np.tan(np.radians(wall_l)) + 1 / np.tan(np.radians(wall_r))))
    sharp = np.clip((deep - 0.25) / 1.2, 0, 1)
    edge = np.exp(-((to_rim / look.rim_um) ** 2)) * sharp * np.where(shut, look.outline, look.rim)
    edge = edge * np.clip(1 + 0.5 * canvas.lumpy[at], 0.1, 2)
    if groove.shoulder:
        pile = np.exp(-(((to_rim / width - 0.12) / 0.1) ** 2)) * ~inside
        edge = edge + groove.shoulder * 0.5 * look.wall * pile * facing * np.sign(u) * np.clip(deep, 0, 1)
    canvas.tone[at] += np.where((canvas.deepest_um[at] > filled + 0.3) & ~shut, 0.2, 1.0) * edge


def _moved(canvas: Canvas, at, v, width, fold_l, fold_r, fill, hollow, look: Look):
    """Grey of metal over a groove: bent in and burnished, or debris pressed level; the seam of the fronts, dark."""
    tone = look.burnish + look.dragged * canvas.along[at]
    reached = (v < -1 + 2 * fold_l) | (v > 1 - 2 * fold_r)
    tone = np.where(~reached & (fill < 0.5), look.plug + 0.5 * look.rough * canvas.fine[at] + 0.5 * tone, tone)
    front = np.where(v < -1 + 2 * fold_l, -1 + 2 * fold_l - v, v - 1 + 2 * fold_r) * width / 2
    thin = np.maximum(0.7 * canvas.pixel_size_um, 0.05 * width)
    met = (fold_l + fold_r >= 0.97) & (hollow < 0.5)
    line = np.exp(-((front / thin) ** 2)) * (reached & (np.minimum(fold_l, fold_r) < 0.97))
    tone = tone - np.where(met, look.seam, 0) * line
    return tone + np.where(met | (hollow > 0.5), 0, look.lip) * line
