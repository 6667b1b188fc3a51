"""What words of a data bar mean: the expected values are what the printed text says."""

import math

import numpy as np
import pytest

from semwear.data_bar.bar_ends import plain_bar
from semwear.data_bar.ink import Ink
from semwear.data_bar.label_point import Label, figure_places
from semwear.data_bar.labels import facts_in, is_round, lengths_in
from semwear.data_bar.lines import Line
from semwear.data_bar.pairing import _standing
from semwear.data_bar.text import Reading
from semwear.data_bar.words import Printed


@pytest.mark.parametrize(
    ("text", "um"),
    [
        ("10 µm", 10.0), ("10µm", 10.0), ("10μm", 10.0), ("10um", 10.0), ("10.0um", 10.0), ("10 UM", 10.0),
        ("500 nm", 0.5), ("500nm", 0.5), ("1 mm", 1000.0), ("1.00mm", 1000.0), ("2.5 µm", 2.5), ("2,5 µm", 2.5),
        ("1,000 µm", 1000.0), ("1OO µm", 100.0), ("lO nm", 0.01), ("x1,000 10µm", 10.0), ("15kV X500 50µm 0012", 50.0),
        ("Scale bar = 20 µm", 20.0), ("Maßstab 10 µm", 10.0), ("échelle: 5 µm", 5.0),
        ("10 pm", 10.0), ("I 200 microns", 200.0), ("1 20 um", 20.0), ("11 300um", 300.0),
        ("Scale 10 µm", 10.0), ("15 kV 20 µm", 20.0), ("2.50 KX 10 µm", 10.0), ("x10.0k SE(M) 5.00um", 5.0), ("TLD 20 µm", 20.0),
    ],
)  # fmt: skip
def test_lengths_that_label_a_bar(text, um):
    assert [length.um for length in lengths_in(text) if length.may_label] == [pytest.approx(um)]


@pytest.mark.parametrize(
    "text",
    [
        "WD = 10 mm", "WD 10mm", "WD: 10.0 mm", "HFW 50 µm", "FOV: 300 µm", "Width = 500 nm", "Pixel Size = 2 nm",
        "Aperture Size = 30.00 µm", "10.0kV 10.0mm x1.00k SE(M)", "2 nm/px", "20 µm x 15 µm", "14.4 µm", "556.0 nm",
        "10 m", "10 kV", "1000x", "20 Pa", "", "25 mA", "10 µmol", "Ap 120 µm", "InL  Ap 60 µm", "SLIT 20 µm", "Spacing: 50 nm",
        "Sample 20 µm", "Probe 10 nm", "15 kV  Film 50 µm", "60. 10 um",
    ],
)  # fmt: skip
def test_lengths_that_never_label_a_bar(text):
    assert not [length for length in lengths_in(text) if length.may_label]


def test_a_length_below_a_heading_belongs_to_the_heading():
    assert not lengths_in("20 µm", above="HFW")[0].may_label
    assert not lengths_in("10 mm", before="WD =")[0].may_label
    assert lengths_in("20 µm", before="1000 x")[0].may_label
    assert lengths_in("20 µm", before="939.0 nm/pixel")[0].may_label
    assert not lengths_in("20 nm", before="Image pixel")[0].may_label
    assert not lengths_in("Aper  ture 60.00 um")[0].may_label
    assert not lengths_in("ture 60.00 um", before="Aper")[0].may_label


def test_nanometres_go_up_to_five_figures():
    assert [length.um for length in lengths_in("50000 nm")] == [50.0]
    assert not lengths_in("50000 µm") and not lengths_in("500000 nm")


@pytest.mark.parametrize(
    ("text", "magnification"),
    [
        ("x1.00k", 1000.0), ("×1.00k", 1000.0), ("1,000 x", 1000.0), ("Mag = 1.00 K X", 1000.0), ("200x", 200.0),
        ("X3.50k", 3500.0), ("10 000 x", 10000.0), ("MAG: 714x", 714.0), ("Mag  500.00 K X", 500000.0),
        ("img m6  1,000 X", 1000.0), ("500 x  X 1.2 Y 3.4 mm", 500.0),
    ],
)  # fmt: skip
def test_magnifications(text, magnification):
    assert facts_in([text], []).magnification == pytest.approx(magnification)


@pytest.mark.parametrize(
    "text", ["Stage X 11.048 mm", "x 500 µm", "MAG:073x", "30.3  X 19.981 Y 26.941 mm", "21:58:41 X-6.119Y27.264mm", "x = 12.5, y = -3"]
)
def test_what_is_no_magnification(text):
    """A length after an x is a place or a size, x before y a place of the stage, and a nought before other figures was another
    figure."""
    assert math.isnan(facts_in([text], []).magnification)


def test_a_field_width_of_nought_counts_as_unread():
    assert math.isnan(facts_in(["Field 0 µm"], []).field_width_um)


def test_field_width_and_pixel_size_by_word_and_by_heading():
    facts = facts_in(["HFW = 556 nm", "Image Pixel Size = 1.861 nm", "EHT = 20.00 kV  Signal A = InLens"], [])
    assert facts.field_width_um == pytest.approx(0.556)
    assert facts.pixel_size_um == pytest.approx(0.001861)
    assert (facts.kv, facts.detector) == (20.0, "InLens")
    assert facts_in([], [("HFW", "20.7 µm")]).field_width_um == pytest.approx(20.7)
    assert facts_in(["0.94 µm/pixel"], []).pixel_size_um == pytest.approx(0.94)


def test_facts_that_contradict_each_other_count_as_unread():
    facts = facts_in(["HFW = 100 µm", "Width = 200 µm", "5 kV", "10 kV"], [])
    assert math.isnan(facts.field_width_um) and math.isnan(facts.kv)


def test_a_last_decimal_of_nought_gives_half_a_unit_of_its_place_as_rounding():
    assert lengths_in("50.0um")[0].rounding_um == pytest.approx(0.05)
    assert lengths_in("2.50 mm")[0].rounding_um == pytest.approx(5.0)


@pytest.mark.parametrize("text", ["50 µm", "0.1 mm", "0.05 mm", "2.5 µm", "0,25 mm"])
def test_a_label_of_no_more_figures_than_its_number_needs_is_exact(text):
    """0.1 mm labels the bar that 100 µm labels: half a unit of its place would be half of the bar (common practice, no
    source)."""
    assert lengths_in(text)[0].rounding_um == 0.0


@pytest.mark.parametrize(("um", "expected"), [(1.0, True), (0.05, True), (250.0, True), (13.0, False), (0.0, False)])
def test_round_numbers(um, expected):
    assert is_round(um) is expected


@pytest.mark.parametrize("text", ["04um", "00 µm", "05 nm"])
def test_a_number_that_begins_with_nought_labels_no_bar(text):
    assert not any(length.may_label for length in lengths_in(text))


def test_a_pixel_size_that_no_electron_micrograph_has_counts_as_unread():
    assert math.isnan(facts_in(["939.0 mm/px"], []).pixel_size_um)
    assert facts_in(["939.0 nm/px"], []).pixel_size_um == pytest.approx(0.939)


@pytest.mark.parametrize(
    ("text", "um", "rounding_um"),
    [("0,500 µm", 0.5, 0.0005), ("0,025 mm", 25.0, 0.0), ("1,000 µm", 1000.0, 0.0), ("1,000,000 nm", 1000.0, 0.0)],
)
def test_a_comma_after_a_nought_parts_decimals_and_never_thousands(text, um, rounding_um):
    """No number of thousands begins with a nought, so that three figures after the comma are decimals."""
    (length,) = lengths_in(text)
    assert length.may_label
    assert (length.um, length.rounding_um) == pytest.approx((um, rounding_um))


def test_figures_that_were_read_as_letters_are_figures():
    """ "loum" is 10 µm: beside a unit l and o are figures (mended), and their places are asked for."""
    reading = Reading(text="loum", probabilities=(0.9,) * 4, places=(0.15, 0.35, 0.55, 0.75))
    line = Line(row_0=10, row_1=30, col_0=20, col_1=120, letter_px=20.0, regularity=3)
    length = lengths_in(reading.text)[0]
    plane = np.zeros((60, 160), np.uint8)
    ink = Ink(plane=plane, mask=plane > 0, low=0.0, high=255.0, row_0=0, col_0=0, name="white ink")
    label = Label(ink=ink, printed=Printed(line=line, reading=reading, lengths=(length,), inside=None), length=length)
    assert (length.um, figure_places(label)) == (10.0, [0, 1])


@pytest.mark.parametrize(("places", "is_label"), [((0.4, 0.45, 0.5, 0.55), True), ((0.75, 0.8, 0.85, 0.9), False)])
def test_a_bar_holds_its_label_in_its_middle(places, is_label):
    """A box from which the bar was cut away holds a label, too, wherever it stood."""
    box = (10, 34, 20, 300)
    bar = plain_bar(box, 19.5, 299.5, 0.4, parts=(box,), doubt="")
    line = Line(row_0=12, row_1=32, col_0=20, col_1=300, letter_px=14.0, regularity=3)
    length = lengths_in("10um")[0]
    printed = Printed(
        line=line, reading=Reading(text="10um", probabilities=(0.9,) * 4, places=places), lengths=(length,), inside=bar
    )
    plane = np.zeros((60, 400), np.uint8)
    ink = Ink(plane=plane, mask=plane > 0, low=0.0, high=255.0, row_0=0, col_0=0, name="black ink")
    assert (_standing(ink, Label(ink=ink, printed=printed, length=length), bar, 640) > 0) is is_label
