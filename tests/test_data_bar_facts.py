"""What is read again: facts that contradict a bar, and lines that nearly hold a length. The readings are stand-ins."""

import math

import numpy as np
import pytest

from semwear.data_bar import label_check, layers, reading_ways
from semwear.data_bar.ink import Ink
from semwear.data_bar.label_point import Label
from semwear.data_bar.labels import facts_in, lengths_in
from semwear.data_bar.lines import Line
from semwear.data_bar.pairing import _holds_more
from semwear.data_bar.text import Reading
from semwear.data_bar.words import Printed, _columns


@pytest.mark.parametrize(
    ("again", "magnification"),
    [
        (["256x", "256x", "256x"], 256.0),
        (["256x", "250x", "25x"], 25.0),
        (["256x", "256x", "25x"], math.nan),
        (["", "", ""], 25.0),
    ],
)
def test_a_magnification_is_believed_as_most_readings_have_it(monkeypatch, again, magnification):
    """Read as 25x at first; where as many readings say one thing as the other, neither is believed."""
    first, texts = "25x", iter(again)
    monkeypatch.setattr(layers, "rows_read_again", lambda words, **way: [next(texts)])
    layer = layers.Layer(ink=None, words=layers.Words(bars=(), printed=(), rows=(first,), columns=(), ink=None))
    facts = layers.facts_read_again([layer], facts_in([first], []))
    assert facts.magnification == pytest.approx(magnification, nan_ok=True)
    assert math.isnan(facts.field_width_um)


def test_a_line_read_in_a_wider_box_comes_with_that_box(monkeypatch):
    """Places of characters count across the box that was read."""
    monkeypatch.setattr(
        reading_ways,
        "read_printed",
        lambda ink, line, **way: Reading(
            text="10 µm" if line.col_0 < 20 else "10 µ", probabilities=5 * (1.0,), places=(0.0, 0.2, 0.4, 0.6, 0.8)
        ),
    )
    monkeypatch.setattr(reading_ways, "read_soft", lambda ink, line: Reading(text="", probabilities=(), places=()))
    line = Line(row_0=5, row_1=15, col_0=20, col_1=60, letter_px=9.0, regularity=2)
    found, box = reading_ways.read_carefully(None, line, near=True)
    assert (found.text, box.col_0, box.col_1) == ("10 µm", 11, 69)


@pytest.mark.parametrize(
    ("longer", "shorter", "more"), [("2.5µm", "5µm", True), ("25 µm", "5 µm", True), ("20 µm", "25 µm", False)]
)
def test_a_label_that_lost_its_first_figures_is_known_by_the_longer_one(longer, shorter, more):
    labels = [Label(ink=None, printed=None, length=lengths_in(text)[0]) for text in (longer, shorter)]
    assert _holds_more(*labels) is more and not _holds_more(*labels[::-1])


def test_a_reading_with_more_figures_counts_against_a_label_however_unsure(monkeypatch):
    """Six readings have lost the first figure of 200 µm, one has it and is unsure of it."""
    full = Reading(text="200 µm", probabilities=(0.33, 1.0, 1.0, 1.0, 1.0, 1.0), places=(0.0, 0.2, 0.4, 0.6, 0.7, 0.9))
    lost = Reading(text="10 µm", probabilities=5 * (0.95,), places=(0.0, 0.2, 0.4, 0.6, 0.8))
    ways = iter([lost, lost, lost, lost, full])
    monkeypatch.setattr(label_check, "read_printed", lambda *args, **way: next(ways))
    line = Line(row_0=5, row_1=15, col_0=20, col_1=60, letter_px=9.0, regularity=2)
    printed = Printed(line=line, reading=lost, lengths=())
    ink = Ink(
        plane=np.zeros((1, 1), np.uint8),
        mask=np.zeros((1, 1), bool),
        low=0.0,
        high=255.0,
        row_0=0,
        col_0=0,
        name="white ink",
    )
    doubt, contradicted = label_check.label_doubt(
        Label(ink=ink, printed=printed, length=lengths_in("10 µm")[0]), "silent", bar_px=100.0
    )
    assert "200 µm" in doubt and contradicted


def test_a_reading_by_which_no_micrograph_has_a_pixel_says_nothing_against_a_label():
    """10 mm over 100 px would be pixels of 100 µm; the largest field of an SEM is some 100 mm wide (common practice, no source)."""
    lengths = lengths_in("10 mm  10 µm")
    assert [length.text for length in label_check._possible(lengths, 100.0)] == ["10 µm"]
    assert [length.text for length in label_check._possible(lengths, 600.0)] == ["10 mm", "10 µm"]


def test_three_figures_after_a_point_may_be_thousands():
    """ "10.000 x" is 10 000 where the point parts thousands (ISO 80000-1 has a blank there); "1.000 K X" is 1000 either way."""
    assert math.isnan(facts_in(["10.000 x  10 kV"], []).magnification)
    assert facts_in(["1.000 K X"], []).magnification == 1000.0


@pytest.mark.parametrize(
    ("text", "magnification"),
    [
        ("Electron Image 8", math.nan),
        ("Imaging 12  Mag 500 x", 500.0),
        ("2033 08 12 400x", 400.0),
        ("20 kV  specimen X9  WD 9 mm", math.nan),
        ("Sample x12  Mag 500 x", 500.0),
        ("specimen 4 x900", 900.0),
        ("Mag 12 400 x", 12400.0),
        ("WD 10 mm 12 400x", 12400.0),
        ("MAG9.200  DET SE", math.nan),
        ("MAG9,200 x", 9200.0),
    ],
)
def test_figures_of_an_image_or_a_date_are_no_magnification(text, magnification):
    """A number is parted in groups of three by a blank (ISO 80000-1, 7.3.1); the groups of a date are of two figures."""
    assert facts_in([text], []).magnification == pytest.approx(magnification, nan_ok=True)


@pytest.mark.parametrize(
    ("text", "magnification"),
    [
        ("P.C. 24 609 X4905 10 kV", math.nan),
        ("10 kV X4905", 4905.0),
        ("609 X 10 kV", 609.0),
        ("14:51:40 x500", 500.0),
        ("14:51:40 x58.000", math.nan),
    ],
)
def test_an_x_between_two_numbers_belongs_to_neither_for_sure(text, magnification):
    assert facts_in([text], []).magnification == pytest.approx(magnification, nan_ok=True)


def test_a_field_width_that_begins_with_noughts_was_misread():
    assert math.isnan(facts_in(["Field 001 um  SEI"], []).field_width_um)
    assert facts_in(["Field 601 um  SEI"], []).field_width_um == 601
    assert facts_in(["Field 0.60 um  SEI"], []).field_width_um == pytest.approx(0.6)


def test_cells_of_a_table_read_as_one_line_stand_below_their_own_headings():
    """A strip at 0.7 of its size: 10.0 mm is the working distance and 254 µm the field width (no source: the layout is usual)."""

    def printed(text: str, columns: tuple[int, int], row: int) -> Printed:
        line = Line(row_0=row, row_1=row + 9, col_0=columns[0], col_1=columns[1], letter_px=8.0, regularity=2)
        places = tuple(np.linspace(0, 1, len(text)))
        return Printed(line=line, reading=Reading(text=text, probabilities=(0.99,) * len(text), places=places), lengths=())

    heads = [printed("WD", (225, 238), 8), printed("HFW", (263, 283), 8)]
    joined = printed("10.0 mm 254 µm", (216, 286), 25)
    assert _columns([joined], [*heads, joined]) == [("WD", "10.0 mm"), ("HFW", "254 µm")]
    alone = printed("254 µm", (255, 286), 25)
    assert _columns([alone], [*heads, alone]) == [("HFW", "254 µm")]
    assert facts_in([], _columns([joined], [*heads, joined])).field_width_um == 254.0
