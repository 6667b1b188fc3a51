"""One field from its recipe: surface, signal, exposure, data bar, and the truth of it."""

from dataclasses import dataclass

import numpy as np

from .artefacts import charging, debris, old_frame
from .camera import draw_flaws, expose
from .data_bar import draw_data_bar
from .electrons import signal
from .frames import seen_direction
from .layouts import LAYOUTS, Layout, length_text
from .recipe import Specimen
from .surface import Surface, make_surface


@dataclass(frozen=True, kw_only=True)
class Field:
    """grey: float 0 to 255 with data bar; codes: mask on the same grid; bar: row, first and last column, or None."""

    grey: np.ndarray
    codes: np.ndarray
    bar: tuple[int, int, int] | None
    layout: Layout | None
    surface: Surface


def make_field(seed: int, specimen: Specimen, number: int, in_track: bool) -> Field:
    """Return field number of a specimen."""
    rng = np.random.default_rng([seed, 11, int(specimen.name[1:]), number])
    surface = make_surface(rng, specimen, in_track)
    pixel, setting = specimen.pixel_size_um, specimen.setting
    height, tone, codes = surface.height_um, surface.tone, surface.codes.copy()
    count = int(rng.poisson(1.5)) + int(rng.integers(0, 12)) * int(rng.random() < 0.2)
    lies = debris(rng, height, tone, pixel, count)
    sent = signal(rng, height, tone, surface.groove_um, setting, pixel, specimen.tilt_deg, specimen.finish.width_um)
    if rng.random() < 0.04:
        old_frame(rng, sent)
    if rng.random() < 0.1:
        codes[charging(rng, sent, lies)] = 255
    codes[lies] = 255
    grey = expose(rng, sent, codes != 255, setting, draw_flaws(rng))
    if specimen.scale_from != "bar":
        return Field(grey=grey, codes=codes, bar=None, layout=None, surface=surface)
    layout = LAYOUTS[specimen.style % len(LAYOUTS)]
    marked = draw_data_bar(grey, codes, specimen, layout)
    return Field(grey=marked.grey, codes=marked.codes, bar=marked.bar, layout=layout, surface=surface)


def truth_of(specimen: Specimen, field: Field) -> dict[str, object]:
    """Return the truth that goes with a field; lays and stroke as they read in the picture, the hone angle as honed."""
    counts = np.bincount(field.codes.ravel(), minlength=256)[:4]
    shares = counts / counts.sum()
    squeeze = float(np.cos(np.radians(specimen.tilt_deg)))
    order = np.argsort(field.surface.lay_lengths)[::-1]
    lays = [seen_direction(specimen.stroke_deg + field.surface.lays_deg[i], squeeze) for i in order]
    return {
        "pixel_size_um": f"{specimen.pixel_size_um:.8g}",
        "bar_label": "" if field.layout is None else length_text(specimen.label_um, field.layout),
        "bar_px": "" if field.bar is None else specimen.bar_px,
        "valley_fraction": f"{shares[1]:.6f}", "smeared_fraction": f"{shares[2]:.6f}",
        "scuffed_fraction": f"{shares[3]:.6f}", "plateau_fraction": f"{shares[0]:.6f}",
        "hone_angle_deg": "" if len(lays) < 2 else f"{field.surface.lays_deg[0] - field.surface.lays_deg[1]:.3f}",
        "lay_1_deg": f"{lays[0]:.3f}", "lay_2_deg": "" if len(lays) < 2 else f"{lays[1]:.3f}",
        "stroke_deg": f"{seen_direction(specimen.stroke_deg, squeeze):.3f}",
        "layout": "no data bar" if field.layout is None else field.layout.name,
    }  # fmt: skip
