"""A session: its specimens' kinds and layouts, each specimen's six sittings at the instrument, each field as drawn."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.session_maker.data_bar import LAYOUTS, DataBar, draw_data_bar
from tests.session_maker.detector import electrons
from tests.session_maker.imprint import imprint
from tests.session_maker.instrument import Instrument, draw_instrument, field_instrument
from tests.session_maker.recording import record
from tests.session_maker.specimen import LAY_SCATTER_DEG, Specimen, draw_specimen
from tests.session_maker.surface import MARGIN_PX, make_surface
from tests.session_maker.wear import KINDS, field_wear

ZONES = ("out-of-track",) * 3 + ("in-track",) * 3
"""Six fields of a specimen."""

NOT_ASSESSED = 255
ENDINGS = ("png", "tif", "jpg")
LETTERS = tuple("ABCDEFGHKLMNPRSTUVW")
"""A specimen's name begins with one of these: own choice."""

LAYOUT_WORD, KIND_WORD, SPECIMEN_WORD, SERIAL_WORD, FIELD_WORD = 7719, 7720, 31, 555, 977
"""Set the generators of one seed apart: own choice."""


@dataclass(frozen=True, kw_only=True)
class Sitting:
    """One specimen at the instrument. seed, number: what its fields follow from; ending, in_colour, quality: of its files;
    stems: (6,) its fields' names without ending; serials: (6,) their numbers, out of order."""

    seed: int
    number: int
    name: str
    specimen: Specimen
    bar: DataBar
    instrument: Instrument
    ending: str
    in_colour: bool
    quality: int
    stems: tuple[str, ...]
    serials: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class DrawnField:
    """picture: (rows, cols) uint8, data bar included; codes: (rows, cols) uint8 mask codes, 255 under print."""

    picture: np.ndarray
    codes: np.ndarray


def draw_session(seed: int, specimens: int, scale: float = 1.0) -> Iterator[Sitting]:
    """Draw a session's sittings: each layout once in twelve specimens, each kind as often as ``KINDS`` has it."""
    for_layouts, for_kinds = (np.random.default_rng([seed, word]) for word in (LAYOUT_WORD, KIND_WORD))
    layouts: list[int] = []
    while len(layouts) < specimens:
        layouts += for_layouts.permutation(LAYOUTS).tolist()
    kinds: list[str] = []
    while len(kinds) < specimens:
        kinds += [KINDS[i] for i in for_kinds.permutation(len(KINDS))]
    for number in range(specimens):
        yield _draw_sitting(seed, number, kinds[number], layouts[number], scale)


def _draw_sitting(seed: int, number: int, kind: str, layout: int, scale: float) -> Sitting:
    rng = np.random.default_rng([seed, number, SPECIMEN_WORD])
    specimen = draw_specimen(rng, kind, number, scale)
    bar = draw_data_bar(rng, layout, specimen)
    instrument = draw_instrument(rng)
    ending = str(rng.choice(ENDINGS))
    in_colour, quality = rng.random() < 0.2, int(rng.integers(84, 97))
    naming, first = int(rng.integers(4)), int(rng.integers(1, 900))
    name = f"{rng.choice(LETTERS)}{number + 1:02d}"
    order = np.random.default_rng([seed, number, SERIAL_WORD]).permutation(len(ZONES))
    serials = tuple(int(first + n) for n in order)
    return Sitting(
        seed=seed, number=number, name=name, specimen=specimen, bar=bar, instrument=instrument, ending=ending,
        in_colour=in_colour, quality=quality, stems=tuple(_stem(name, serial, naming) for serial in serials),
        serials=serials,
    )  # fmt: skip


def _stem(name: str, serial: int, naming: int) -> str:
    """Return a picture's name without its ending, in one of four habits."""
    habits = (
        f"{name}_{serial:04d}",
        f"{name}-{serial}",
        f"img{serial:05d}_{name}",
        f"{name.lower()}_f{serial:03d}",
    )
    return habits[naming]


def draw_field(sitting: Sitting, place: int) -> DrawnField:
    """Draw one of the six fields of a sitting; its zone is ``ZONES[place]``."""
    rng = np.random.default_rng([sitting.seed, sitting.number, place, FIELD_WORD])
    specimen, bar = sitting.specimen, sitting.bar
    in_track = ZONES[place] == "in-track"
    wear = field_wear(rng, specimen.wear, in_track)
    stroke_deg = specimen.stroke_deg + rng.normal(0, LAY_SCATTER_DEG)
    rows = specimen.shape[0] - bar.strip_px
    relief = make_surface(rng, specimen, wear, stroke_deg, rows, in_track)
    setting = field_instrument(rng, sitting.instrument)
    inner = np.s_[MARGIN_PX:-MARGIN_PX, MARGIN_PX:-MARGIN_PX]
    signal = electrons(relief.heights, relief.brightness, specimen.pixel_size_um, setting)[inner]
    picture = record(rng, signal, setting)
    sheet = imprint(picture, bar, specimen.shape, specimen.pixel_size_um, sitting.serials[place])
    codes = np.full(specimen.shape, NOT_ASSESSED, np.uint8)
    first = bar.strip_px if bar.at_top else 0
    codes[first : first + rows] = relief.codes[inner]
    codes[sheet.covered] = NOT_ASSESSED
    return DrawnField(picture=sheet.picture, codes=codes)
