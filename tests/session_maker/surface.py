"""The surface of one field: grooves of two lays, what the ring did to them, what lies on top."""

import numpy as np

from tests.session_maker.canvas import Canvas
from tests.session_maker.caps import lay_caps
from tests.session_maker.closures import closed_by_flow
from tests.session_maker.flakes import add_flakes
from tests.session_maker.grooves import draw_lay
from tests.session_maker.matrix import colour_floors, colour_matrix
from tests.session_maker.noise import smooth_noise
from tests.session_maker.pits import add_debris, add_pits
from tests.session_maker.relief import Relief
from tests.session_maker.running_in import LIMIT_UM, run_in, worn_off
from tests.session_maker.scratches import add_scratches
from tests.session_maker.scuffing import scuff
from tests.session_maker.specimen import Specimen
from tests.session_maker.stains import add_stains
from tests.session_maker.wear import Wear

MARGIN_PX = 48
"""Made around the picture and cut off, so that far electrons and blurs know what lies beyond its border: own choice."""

FOLDED_BY_HONING_DEG = 8
"""Out of the track honing folds metal about along a lay, this much off it: own choice."""

LAY_STRAYS_DEG, STROKE_STRAYS_DEG = 0.4, 0.5
"""Standard deviations within a field: own choice."""


def make_surface(
    rng: np.random.Generator, specimen: Specimen, wear: Wear, stroke_deg: float, rows: int, in_track: bool
) -> Relief:  # fmt: skip
    """Make one field of ``rows`` rows, and ``MARGIN_PX`` on all sides; ``stroke_deg``: the field's own direction."""
    shape = (rows + 2 * MARGIN_PX, specimen.shape[1] + 2 * MARGIN_PX)
    hone, iron, flow, pixel_size_um = specimen.hone, specimen.iron, specimen.flow, specimen.pixel_size_um
    across_deg = stroke_deg + 90
    first_deg = across_deg + specimen.hone_angle_deg / 2 + rng.normal(0, LAY_STRAYS_DEG)
    first = draw_lay(rng, shape, first_deg, specimen, hone.balance)
    second_deg = across_deg - specimen.hone_angle_deg / 2 + rng.normal(0, LAY_STRAYS_DEG)
    second = draw_lay(rng, shape, second_deg, specimen, 2 - hone.balance)
    unrun = np.maximum(first.depth, second.depth)
    fibres = np.where(first.depth > second.depth, first.fibres, second.fibres)
    rim = np.maximum(first.rim, second.rim) * (unrun < 0.3)
    rough = (
        smooth_noise(rng, shape, 2.2, 2.2) * 0.02
        + smooth_noise(rng, shape, 7, 7) * 0.025
        + smooth_noise(rng, shape, 260, 260) * 0.15
    )
    heights = -unrun - np.minimum(first.marks + second.marks, 0.42) + rim + rough * hone.rough
    heights += -np.clip(unrun, 0, 1.2) * 0.11 * (smooth_noise(rng, shape, 3, 3) + fibres) * iron.floor_rough

    stroke = Canvas(shape, stroke_deg + rng.normal(0, STROKE_STRAYS_DEG))
    worn_um, depth = 0.0, unrun
    if in_track:
        worn_um = worn_off(unrun, wear.polished_to)
        heights = run_in(rng, heights, worn_um, stroke, flow)
        depth = np.maximum(unrun - worn_um, 0)
    relief = Relief(heights=heights, brightness=np.ones(shape, np.float32), codes=np.zeros(shape, np.uint8))
    footprint = depth > LIMIT_UM
    closed = np.zeros(shape, bool)
    if wear.smeared > 0 and in_track:
        closed = closed_by_flow(rng, footprint, depth, stroke_deg, wear.smeared, flow, wear.open_strips)
    elif wear.smeared > 0:
        side = rng.choice([-1, 1])
        folded_deg = across_deg + side * specimen.hone_angle_deg / 2 + FOLDED_BY_HONING_DEG
        closed = closed_by_flow(rng, footprint, depth, folded_deg, wear.smeared, flow)
    if closed.any():
        lay_caps(rng, relief, closed, footprint, depth, worn_um, stroke, flow)
    relief.codes[footprint] = 1
    relief.codes[closed] = 2

    colour_floors(rng, relief, depth, closed, fibres, iron)
    colour_matrix(rng, relief, pixel_size_um, iron)
    add_flakes(rng, relief, closed, pixel_size_um, iron, wear.flakes_kept if in_track else None)
    add_pits(rng, relief, pixel_size_um, iron)
    add_scratches(rng, relief, depth, stroke, pixel_size_um, iron, in_track)
    if wear.scuffed > 0:
        scuff(rng, relief, wear.scuffed, worn_um, stroke, pixel_size_um, flow)
    add_stains(rng, relief, stroke, iron.stain, in_track)
    add_debris(rng, relief, pixel_size_um, iron)
    return relief
