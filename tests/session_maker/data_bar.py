"""What a specimen's data bar says and looks like; the same on each of its pictures."""

from dataclasses import dataclass

import numpy as np

from tests.session_maker.fonts import installed_faces
from tests.session_maker.specimen import Specimen

LAYOUTS = 12
STRIPS = (0, 1, 5, 6, 7, 9, 10)
"""Layouts that have a strip of their own; the others are printed over the picture."""

TOP_STRIP = 6
"""The layout whose strip lies above the picture."""

ROUND_UM = (2, 5, 10, 20, 25, 30, 40, 50, 100, 150, 200, 250, 300, 400, 500)
LESS_ROUND_UM = (25, 150, 250)
"""Lengths of scale bars, µm: common practice, no source."""

BAR_SHARES = (0.11, 0.3)
"""Length of a bar, of the picture's width: common practice, no source."""

DISPLAY_UM = 127000
"""Width of the display that magnifications refer to, 127 mm: common practice, no source; conventions differ
[D, tests/SOURCES.md]."""

USUAL_COLS = 1024
"""Sizes of letters and strips are given for pictures of so many columns."""


@dataclass(frozen=True, kw_only=True)
class DataBar:
    """Sizes in px for the picture at hand. layout: 0-11; face: a font's file; bar_um: length of the scale bar; decimal: whether
    its label has a decimal; tick_px, line_px: half height of ticks, thickness of lines; strip_px: height of the strip, 0 where
    there is none; grey: of a dark strip; flipped: the layout's other version; the rest is printed as it stands."""

    layout: int
    face: str
    letters_px: int
    unit: str
    decimal: bool
    bar_um: float
    tick_px: int
    line_px: int
    kv: str
    working_distance: str
    detector: str
    date: str
    place: str
    field_width: str
    magnification: int
    pixel: str
    strip_px: int
    grey: int
    flipped: bool

    @property
    def at_top(self) -> bool:
        """Whether the strip lies above the picture."""
        return self.layout == TOP_STRIP

    @property
    def label(self) -> str:
        """The scale bar's label."""
        return (f"{self.bar_um:.1f}" if self.decimal else f"{self.bar_um:g}") + self.unit


def draw_data_bar(rng: np.random.Generator, layout: int, specimen: Specimen) -> DataBar:
    """Draw what a data bar says; all of it but the scale bar, its label, field width and pixel size is invented."""
    cols, pixel_size_um = specimen.shape[1], specimen.pixel_size_um
    size = cols / USUAL_COLS
    faces = installed_faces()
    face = faces[int(rng.integers(len(faces)))]
    letters_px = int(round(rng.uniform(16, 22) * size))
    unit = str(rng.choice([" µm", " µm", "µm", " um", "um"]))
    decimal = bool(rng.random() < 0.25)
    bar_um = _bar_um(rng, pixel_size_um, BAR_SHARES[0] * cols, BAR_SHARES[1] * cols)
    tick_px, line_px = int(rng.integers(5, 10)), int(rng.integers(1, 4))
    kv = f"{rng.choice([5, 10, 12, 15, 20])}.{'0' if rng.random() < 0.5 else '00'}"
    working_distance = f"{rng.uniform(6, 18):.1f}"
    detector = str(rng.choice(["SE", "SE1", "SE2", "ETD", "BSE", "LVD", "T2"]))
    date = f"{rng.integers(1, 29):02d}/{rng.integers(1, 13):02d}/20{rng.integers(8, 25):02d}"
    place = str(rng.choice(["Tribology Lab", "Surface group", "Engine materials", "Metallography", "Bench 4", ""]))
    strip_px = int(round(rng.uniform(46, 72) * size))
    return DataBar(
        layout=layout, face=face, letters_px=letters_px, unit=unit, decimal=decimal, bar_um=bar_um, tick_px=tick_px,
        line_px=line_px, kv=kv, working_distance=working_distance, detector=detector, date=date, place=place,
        field_width=f"{pixel_size_um * cols:.0f}",
        magnification=int(round(DISPLAY_UM / (pixel_size_um * cols) / 10) * 10),
        pixel=f"{pixel_size_um * 1000:.1f} nm" if pixel_size_um < 1 else f"{pixel_size_um:.3f} µm",
        strip_px=strip_px if layout in STRIPS else 0, grey=int(rng.integers(25, 90)), flipped=bool(rng.random() < 0.5),
    )  # fmt: skip


def _bar_um(rng: np.random.Generator, pixel_size_um: float, least_px: float, most_px: float) -> float:
    """Return a round length between two lengths in px, mostly a 1, 2 or 5; the nearest one where none lies between."""
    fitting = [length for length in ROUND_UM if least_px <= length / pixel_size_um <= most_px]
    rounder = [length for length in fitting if str(length)[0] in "125" and length not in LESS_ROUND_UM]
    if rounder and rng.random() < 0.8:
        fitting = rounder
    if not fitting:
        return min(ROUND_UM, key=lambda length: abs(length / pixel_size_um - (least_px + most_px) / 2))
    return fitting[int(rng.integers(len(fitting)))]
