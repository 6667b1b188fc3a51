"""Fields about smear: a catalogue of the ways in which moved metal closes a hone groove, and of what only looks so."""

import cv2
import numpy as np

from ..made import Made
from .clutter import draw_clutter
from .grooves import draw_band
from .microscope import emit, record
from .noise import between, grain, streaks, wander
from .plan import Plan, draw_plan
from .relief import codes_of, draw_relief
from .scuff import draw_scuff


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """A field of honed ground; pixel_size_um in µm, shape in rows and columns."""
    px = pixel_size_um
    plan = draw_plan(rng)
    stroke = np.radians(plan.stroke_deg)
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    along = (x * np.cos(stroke) + y * np.sin(stroke)).astype(np.float32)
    across = (y * np.cos(stroke) - x * np.sin(stroke)).astype(np.float32)
    worn = _track(rng, plan, along, across)

    weights = [1.0, between(rng, 0.15, 1.0)]
    grooves = []
    # The stone that cut last is drawn last, over the other's torn rims.
    for turn in rng.permutation(2):
        grooves += draw_band(rng, plan.lays_deg[turn], pixel_size_um=px, shape=shape, weight=weights[turn])
    relief = draw_relief(rng, plan, grooves, worn, across * px, px)
    clutter = draw_clutter(rng, along, across, worn, px)
    scuffed, torn_um = draw_scuff(rng, along, across, worn, share=plan.scuff, px=px)

    codes = codes_of(relief)
    codes[scuffed] = 3
    codes[clutter.hidden] = 255

    depth = np.where(scuffed, 0.25 * relief.depth_um, relief.depth_um).astype(np.float32)
    height = relief.rim_um * ~scuffed - depth + torn_um - clutter.pit_um * (depth < 0.5) + _skin(rng, plan, relief, worn, px)
    height = np.maximum(height, clutter.lump_um - 0.2 * depth) + clutter.lump_um
    backscatter = bool(rng.random() < 0.3)
    signal = emit(
        rng, height.astype(np.float32), depth, clutter.carbon * (depth < 0.5) * ~scuffed, px=px, backscatter=backscatter
    )
    signal = signal * clutter.stain * (1 + relief.glow * ~scuffed) + clutter.charge
    shadow = cv2.GaussianBlur(clutter.hidden.astype(np.float32), (0, 0), 3) * ~clutter.hidden
    signal = signal * (1 - rng.uniform(0, 0.7) * shadow)
    image = record(rng, signal)
    return Made(image=image, codes=codes, worn=worn, kind=_kind(plan))


def _track(rng: np.random.Generator, plan: Plan, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    if not plan.worn:
        return np.zeros(along.shape, bool)
    if not plan.border:
        return np.ones(along.shape, bool)
    border = np.quantile(across, rng.uniform(0.25, 0.75))
    uneven = rng.uniform(0, 6) * wander(rng, along.ravel(), 60).reshape(along.shape)
    return (across + uneven - border) * rng.choice([-1, 1]) > 0


def _skin(rng: np.random.Generator, plan: Plan, relief, worn: np.ndarray, px: float) -> np.ndarray:
    """Roughness (µm) within the plateau: fine finishing scratches along both lays, grain, and what polishing left."""
    shape = worn.shape
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    rough = np.zeros(shape, np.float32)
    for lay in np.radians(plan.lays_deg):
        fine = streaks(
            rng, x * np.cos(lay) + y * np.sin(lay), y * np.cos(lay) - x * np.sin(lay), between(rng, 60, 400), between(rng, 2, 5)
        )
        rough += between(rng, 0.01, 0.09) * np.clip(fine, -2, 2)
    rough += between(rng, 0.005, 0.06) * grain(rng, shape, between(rng, 1, 4))
    # Finer than the finish, and on a slope rather than a height: what shows scales with the pixel.
    rough *= 1.6 * min(1.0, px / 0.4) ** 0.7
    polish = np.where(worn, between(rng, 0.15, 1.0), 1.0)
    torn = between(rng, 0.05, 0.2) * min(px, 1.0) * grain(rng, shape, between(rng, 1.5, 4))
    # Burnished metal loses the finish; thrown metal has a roughness of its own.
    lidded = relief.smooth * 0.1 * rough + (1 - relief.smooth) * torn
    floor = between(rng, 0.06, 0.35) * min(px, 1.0) * grain(rng, shape, between(rng, 1.5, 5))
    open_ground = relief.depth_um >= 0.4
    return np.where(relief.lid, lidded, np.where(open_ground, floor, polish * rough)).astype(np.float32)


def _kind(plan: Plan) -> str:
    if not plan.worn:
        return "unworn"
    parts = ["border" if plan.border else "worn"]
    parts += sorted(set(plan.closures))
    if plan.scuff:
        parts.append("scuffed")
    return "-".join(parts)
