"""One field: grooves, then wear, then the picture. The order is the order of the surface's life."""

from dataclasses import dataclass

import numpy as np

from .beam import counted, spread
from .closures import close
from .cutting import cut
from .deposits import add_debris
from .electrons import mean_signal
from .flow_marks import add_scratches, add_slope, scratches, skin
from .grains import add_films, add_grains
from .grey import to_grey
from .grooves import draw_grooves
from .inclusions import add_inclusions
from .randomness import Rng, mottle
from .scuffing import scuff
from .specimen import Specimen
from .surface import Surface
from .truth import codes


@dataclass(frozen=True, kw_only=True)
class Field:
    """A field without its data bar: grey values 0-1, codes, lays in order of groove length, and the surface it came from."""

    grey: np.ndarray
    codes: np.ndarray
    lays_deg: tuple[float, ...]
    surface: Surface


def make_field(specimen: Specimen, worn: bool, rng: Rng) -> Field:
    """Return one field of a specimen, worn (in the track) or not."""
    wear, setting, pixel = specimen.wear, specimen.setting, specimen.pixel_um
    surface = Surface(shape=specimen.shape, pixel_um=pixel)
    removed = np.zeros(surface.shape, np.float32)
    level = wear.truncation_um if worn else 0.0
    if worn:
        uneven = mottle(rng, surface.shape, max(150 / pixel, 20), max(150 / pixel, 20))
        removed = (level * np.clip(1 + 0.12 * uneven, 0.5, 1.5)).astype(np.float32)
    grooves = draw_grooves(rng, specimen, level)
    burr = float(np.clip(1 - level / 0.3, 0, 1)) * 0.8 if worn else 1.0
    cut(surface, grooves, setting, removed, specimen.rim * (0.7 if worn else 1.0), burr, rng)
    land = 1 - surface.inner
    left = float(np.exp(-level / 0.15)) if worn else 1.0
    for lay in specimen.lays_deg:
        marks = scratches(rng, surface.shape, lay, pixel, 3500 * left + 300, specimen.mark_um * left, 160, 1.4)
        add_scratches(surface, marks, lay, land)
    if worn:
        close(surface, grooves, specimen, rng)
        _run_in(surface, specimen, rng)
        scuff(surface, specimen, rng)
    add_inclusions(surface, specimen, worn, rng)
    add_grains(surface, specimen, rng)
    add_films(surface, specimen, worn, rng)
    truth_before_debris = codes(surface)
    charge = add_debris(surface, specimen, rng)
    truth = np.where(surface.hidden, np.uint8(255), truth_before_debris)
    signal = spread(mean_signal(surface, setting), setting, pixel)
    plateau = float(np.median(signal[truth == 0])) if (truth == 0).any() else 1.0
    grey, hidden = to_grey(counted(signal, setting, rng), plateau, setting, charge, rng)
    truth[hidden] = 255
    lengths = [
        sum(one.length_px(surface.shape, level) for one in grooves if one.lay == lay)
        for lay in range(len(specimen.lays_deg))
    ]
    order = np.argsort(lengths)[::-1]
    return Field(grey=grey, codes=truth, lays_deg=tuple(specimen.lays_deg[one] for one in order), surface=surface)


def _run_in(surface: Surface, specimen: Specimen, rng: Rng) -> None:
    """Draw the ring's fine marks over plateau and displaced metal, and give displaced metal its streaky skin."""
    wear, pixel, stroke = specimen.wear, surface.pixel_um, specimen.stroke_deg
    touched = np.where(surface.covered, 1, 1 - surface.inner).astype(np.float32)
    marks = scratches(rng, surface.shape, stroke, pixel, wear.marks_per_mm2, wear.mark_um, 180, 1.1)
    add_scratches(surface, marks, stroke, touched)
    if surface.covered.any():
        slope, tone = skin(rng, surface.shape, stroke, pixel)
        weight = surface.texture * surface.covered
        add_slope(surface, slope, stroke, weight * 1.3)
        surface.tone *= 1 + tone * weight
