"""A specimen: one section under one microscope, with the directions and sizes that all its fields share."""

from dataclasses import dataclass

import numpy as np

from tests.microscope_maker.electrons import Beam, draw_beam
from tests.microscope_maker.figures import Figures
from tests.microscope_maker.finish import draw_angle_deg, draw_finish, draw_lay_deg
from tests.microscope_maker.frame import draw_tilt_deg

PIXEL_SIZES_UM = (0.2, 1.5)
ROWS = (600, 960)


@dataclass(frozen=True, kw_only=True)
class Specimen:
    """own: the figures it keeps; shape: rows and columns of its pictures; ending: of its files; directions in degrees
    anticlockwise from the rows; hone_angle_deg: bisected by the direction across the stroke."""

    name: str
    own: Figures
    pixel_size_um: float
    shape: tuple[int, int]
    ending: str
    beam: Beam
    finish: str
    stroke_deg: float
    lays_deg: tuple[float, float]
    hone_angle_deg: float


def draw_specimen(seed: int, number: int, scale: float = 1.0) -> Specimen:
    """Draw a specimen: 0.2 to 1.5 µm a pixel, log-uniform; 600 x 800 to 960 x 1280 px times ``scale``."""
    own = Figures((seed, number))
    finish, tilt = draw_finish(own), draw_tilt_deg(own)
    alpha = draw_angle_deg(own, finish)
    first, second = (-draw_lay_deg(own, alpha, side, tilt) for side in (1, -1))
    rows = own["rows"].integers(ROWS[0], ROWS[1] + 1) * scale
    return Specimen(
        name=f"MI-{number + 1:03d}",
        own=own,
        pixel_size_um=round(float(np.exp(own["pixel size"].uniform(*np.log(PIXEL_SIZES_UM)))), 5),
        shape=(int(round(rows)), int(round(rows * 4 / 3))),
        ending=str(own["ending"].choice(("png", "tif"))),
        beam=draw_beam(own),
        finish=finish,
        stroke_deg=float((90 + tilt) % 180),
        lays_deg=(float(first % 180), float(second % 180)),
        hone_angle_deg=float(second - first),
    )
