"""Labels that lost a figure or a decimal point: each would make a wrong scale, so that each is refused.

What was read is made up, with the ink that was printed: the expected answers follow from the drawing.
"""

from dataclasses import replace
from pathlib import Path

import matplotlib
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from semwear.data_bar import label_check
from semwear.data_bar.ink import Ink
from semwear.data_bar.label_point import Label, has_point, leaves_room, point_is_printed
from semwear.data_bar.label_start import lost_start
from semwear.data_bar.labels import lengths_in
from semwear.data_bar.lines import Line
from semwear.data_bar.other_layers import reads_otherwise
from semwear.data_bar.text import Reading
from semwear.data_bar.words import Printed

FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"


def reading(text: str, places) -> Reading:
    return Reading(text=text, probabilities=(0.99,) * len(text), places=tuple(places))


def printed(text: str, *, read: str | None = None, size: int = 20, face: str = "DejaVuSans.ttf", skip: int = 0) -> Label:
    """Print a label on a panel as it would be read; read: what was read of it, from the character skip on.

    The line begins with the ink of the first character that was read, and places are the middles of characters.
    """
    font = ImageFont.truetype(str(FONTS / face), size)
    image = Image.new("L", (40 + int(font.getlength(text)), 3 * size), 0)
    ImageDraw.Draw(image).text((20, 2 * size), text, fill=255, font=font, anchor="ls")
    plane = np.asarray(image).copy()
    edges = [20 + font.getlength(text[:place]) for place in range(len(text) + 1)]
    middles = [(left + right) / 2 for left, right in zip(edges[:-1], edges[1:], strict=True)]
    inked = plane > 110
    inked[:, : int(edges[skip])] = False
    rows, cols = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    digits = np.flatnonzero(inked[:, : int(edges[skip + 1])].any(axis=1))
    line = Line(
        row_0=int(rows[0]), row_1=int(rows[-1]) + 1, col_0=int(cols[0]), col_1=int(cols[-1]) + 1,
        letter_px=float(np.ptp(digits) + 1), regularity=2,
    )  # fmt: skip
    ink = Ink(plane=plane, mask=plane > 110, low=30.0, high=255.0, row_0=0, col_0=0, name="panel", cut_out=True)
    read = text[skip:] if read is None else read
    kept = [text.index(character, skip) if text.count(character) == 1 else None for character in read]
    if None in kept:
        kept, at = [], skip
        for character in read:
            at = text.index(character, at)
            kept.append(at)
            at += 1
    width = line.col_1 - line.col_0
    one = reading(read, [(middles[place] - line.col_0) / width for place in kept])
    lengths = lengths_in(read)
    return Label(ink=ink, printed=Printed(line=line, reading=one, lengths=lengths), length=lengths[0])


@pytest.mark.parametrize(
    ("text", "lost"),
    [("0 . 4mm", "a decimal point"), ("0 2 mm", "a decimal point"), (". 5 µm", "a decimal point"), ("SE  20 µm", "")],
)
def test_a_nought_or_a_point_read_before_a_label_belongs_to_it(text, lost):
    (length,) = lengths_in(text)
    whole = printed("20 µm")
    places = np.linspace(0, 1, len(text))
    assert lost_start(whole.ink, whole.printed.line, reading(text, places), length) == lost


@pytest.mark.parametrize(("text", "skip", "lost"), [("25 µm", 1, "a figure"), ("25 µm", 0, ""), ("A  5 µm", 3, "")])
def test_ink_as_high_as_a_figure_right_before_a_line_is_one(text, skip, lost):
    label = printed(text, skip=skip)
    assert lost_start(label.ink, label.printed.line, label.printed.reading, label.length) == lost


@pytest.mark.parametrize(("read", "lost"), [("5.00 um", "a figure"), ("25.00 um", "")])
def test_more_figures_than_were_read_show_that_one_was_lost(read, lost):
    """The line holds all of 25.00 um; what was read of it lacks the first figure."""
    label = printed("25.00 um", read=read)
    assert lost_start(label.ink, label.printed.line, label.printed.reading, label.length) == lost


def test_the_dots_of_a_figure_are_no_figures_of_their_own():
    """10 drawn of dots of 4 px that are a pixel apart, five to a column of figures and seven to a row."""
    dots = {"1": "00100 01100 00100 00100 00100 00100 01110", "0": "01110 10001 10011 10101 11001 10001 01110"}
    plane = np.zeros((60, 120), np.uint8)
    for place, figure in enumerate("10"):
        for row, marks in enumerate(dots[figure].split()):
            for col in (col for col, mark in enumerate(marks) if mark == "1"):
                top, left = 10 + 5 * row, 20 + 30 * place + 5 * col
                plane[top : top + 4, left : left + 4] = 255
    inked = np.flatnonzero(plane.any(axis=0))
    line = Line(row_0=10, row_1=44, col_0=int(inked[0]), col_1=int(inked[-1]) + 1, letter_px=34.0, regularity=2)
    ink = Ink(plane=plane, mask=plane > 110, low=30.0, high=255.0, row_0=0, col_0=0, name="panel", cut_out=True)
    width = line.col_1 - line.col_0
    places = [(col - line.col_0) / width for col in (32, 62, 74, 74, 74)]
    assert lost_start(ink, line, reading("10 um", places), lengths_in("10 um")[0]) == ""
    assert lost_start(ink, line, reading("0 um", places[1:]), lengths_in("1 um")[0]) == "a figure"


@pytest.mark.parametrize("face", ["DejaVuSerif-Italic.ttf", "STIXGeneralItalic.ttf", "STIXGeneralBol.ttf", "cmr10.ttf"])
@pytest.mark.parametrize("text", ["20 µm", "30 µm", "50 µm", "200 µm", "500 µm"])
def test_slanted_and_narrow_figures_hold_no_decimal_point(face, text):
    """A slanted figure's foot lies beside its top, and small figures touch."""
    assert not [size for size in range(11, 22) if has_point(printed(text, face=face, size=size))]


def test_a_speck_below_the_figures_is_no_comma():
    label = printed("20 µm", size=16)
    row, col = label.printed.line.row_1, (label.printed.line.col_0 + 10)
    label.ink.plane[row + 3, col] = 255
    longer = replace(label, printed=replace(label.printed, line=replace(label.printed.line, row_1=row + 4)))
    assert not leaves_room(longer)
    # Beyond a blank below the feet, three rows of it: picture between the outlines of a label and of its bar.
    foot = label.printed.line.row_0 + int(label.printed.line.letter_px)
    label.ink.plane[foot + 1 : foot + 4, col : col + 3] = 255
    assert not leaves_room(longer)
    label.ink.plane[foot - 2 : row + 4, col] = 255
    assert leaves_room(longer)


@pytest.mark.parametrize("face", ["DejaVuSans.ttf", "DejaVuSansMono.ttf", "DejaVuSerif.ttf", "STIXGeneral.ttf"])
@pytest.mark.parametrize("size", [12, 20, 40])
@pytest.mark.parametrize("text", ["100 um", "50 um", "250 um", "2000 um"])
def test_figures_without_a_point_leave_no_room_for_one(face, size, text):
    assert not leaves_room(printed(text, face=face, size=size))


@pytest.mark.parametrize("face", ["DejaVuSans.ttf", "DejaVuSansMono.ttf", "DejaVuSerif.ttf"])
@pytest.mark.parametrize(("text", "read"), [("20.0 um", "200 um"), ("20,0 um", "200 um"), ("2.5 um", "25 um")])
def test_a_point_that_was_not_read_leaves_room(face, text, read):
    label = printed(text, read=read, face=face)
    point = text.index(",") if "," in text else text.index(".")
    font = ImageFont.truetype(str(FONTS / face), 20)
    left, right = (20 + int(font.getlength(text[:place])) for place in (point, point + 1))
    assert has_point(label)
    label.ink.plane[:, left + 1 : right - 1] = 0  # Not even its ink is left.
    assert leaves_room(label)


def test_a_speck_smaller_than_a_point_is_none():
    label = printed("100 um", size=60)
    line = label.printed.line
    blank = np.flatnonzero(~(label.ink.plane[:, line.col_0 : line.col_1] > 0).any(axis=0))
    foot, col = line.row_0 + int(line.letter_px) - 3, line.col_0 + int(blank[0])
    label.ink.plane[foot, col + 1] = 255
    assert not has_point(label)
    label.ink.plane[foot - 4 : foot + 2, col : col + 5] = 0
    label.ink.plane[foot - 4 : foot + 1, col + 1 : col + 6] = 255
    assert has_point(label)


def moved(label: Label, rows: int, name: str) -> Label:
    """Return a label in another layer, which begins some rows lower in the picture."""
    ink = Ink(plane=label.ink.plane, mask=label.ink.mask, low=30.0, high=255.0, row_0=rows, col_0=0, name=name)
    return Label(ink=ink, printed=label.printed, length=label.length)


@pytest.mark.parametrize(
    ("other", "rows", "more"),
    [("10.0 µm", 0, "10.0 µm"), ("10.0 µm", 90, ""), ("100.0 µm", 0, ""), ("2100 µm", 0, "2100 µm"), ("1100 µm", 0, ""), ("100 nm", 0, "")],
)
def test_a_point_or_a_figure_that_another_layer_shows_is_heeded(other, rows, more):
    """A 1 before the label may be a tick; print 90 rows lower is other print."""
    assert reads_otherwise(printed("100 µm"), [moved(printed(other), rows, "black ink")]) == more


@pytest.mark.parametrize(("other", "said"), [("200.0 µm", "200.0 µm"), ("300.0 µm", ""), ("00.0 µm", "")])
def test_a_leading_1_that_another_layer_lacks_may_be_an_outline(other, said):
    assert reads_otherwise(printed("1200.0 µm"), [moved(printed(other), 0, "outlined white ink")]) == said


@pytest.mark.parametrize(
    ("read", "text", "longer"),
    [("10 um", "500 um", "500 µm"), ("2 um", "0.2 um", "0.2 µm"), ("10 um", "0 um", ""), ("10 um", "1100 um", ""), ("10 um", "|10 um", "")],
)
def test_a_label_that_is_longer_when_read_from_before_is_doubted(read, text, longer):
    label = printed(read)
    ink = Ink(**{**label.ink.__dict__, "raw": label.ink.plane, "name": "white ink"})
    label = Label(ink=ink, printed=label.printed, length=label.length)
    before = reading(text, np.linspace(0.3, 0.9, len(text)))
    assert label_check._longer(label, label.printed.line, before) == longer


def test_two_words_that_were_read_as_one_are_no_longer_label():
    """The 2 stands more than two letters before the 50."""
    label = printed("50 um")
    ink = Ink(**{**label.ink.__dict__, "raw": label.ink.plane, "name": "white ink"})
    label = Label(ink=ink, printed=label.printed, length=label.length)
    places = (0.05, 0.5, 0.6, 0.7, 0.8, 0.9)
    assert label_check._longer(label, label.printed.line, reading("250 um", places)) == ""


@pytest.mark.parametrize("name", ["outlined white ink", "white ink"])
@pytest.mark.parametrize(("text", "point"), [("200 um", False), ("20.0 um", True)])
def test_a_bright_spot_of_the_picture_between_close_figures_is_no_point(text, point, name):
    """Ink over the picture, which has a mark of a point's size at the foot; outlined ink is cut out, without its point."""
    label = printed(text, read="200 um", size=40)
    line = label.printed.line
    dots = np.flatnonzero(label.ink.plane[line.row_0 : line.row_0 + 20, line.col_0 : line.col_1].max(axis=0) < 40)
    blank = dots[dots > line.letter_px][0 if not point else 8]
    foot, col = line.row_0 + int(line.letter_px), line.col_0 + int(blank)
    raw = label.ink.plane.copy()
    raw[foot - 4 : foot, col : col + 4] = 130  # Paler than a figure, as bright as a point may be.
    outlined = name.startswith("outlined")
    plane = label.ink.plane.copy() if outlined else raw
    ink = Ink(**{**label.ink.__dict__, "plane": plane, "raw": raw if outlined else None, "name": name, "cut_out": outlined})
    assert has_point(Label(ink=ink, printed=label.printed, length=label.length)) is point


@pytest.mark.parametrize(("text", "others"), [("1200 um", 0), ("2200 um", 1), ("1500 um", 1)])
def test_the_last_tick_of_a_row_right_before_a_label_may_be_read_as_a_1(text, others):
    """Two readings with four figures, the first of them where the tick stands, beside one without; the label is 200 µm."""
    wanted = printed("200 um").length
    readings = [reading(text, np.linspace(0.05, 0.95, len(text))) for _ in range(2)] + [printed("200 um").printed.reading]
    votes, against = label_check._counted(readings, wanted, 300.0, after_tick=True)
    assert votes == 1 and len(against) == 2 * others
    assert len(label_check._counted(readings, wanted, 300.0, after_tick=False)[1]) == 2


@pytest.mark.parametrize(("alone", "around", "votes"), [(0.99, 0.99, 2), (0.8, 0.99, 1), (0.99, 0.8, 1)])
def test_a_label_that_is_clear_alone_and_with_the_picture_around_counts_twice(alone, around, votes):
    label = printed("20 um")
    once = replace(label.printed.reading, probabilities=(alone,) * 5)
    label = replace(label, printed=replace(label.printed, reading=once))
    again = replace(reading("20 um", np.linspace(0.1, 0.9, 5)), probabilities=(around,) * 5)
    assert label_check._votes_of_both(label, again) == votes


@pytest.mark.parametrize(("point", "seen"), [(190, True), (95, False)])
def test_a_point_paler_than_its_figures_is_printed_and_a_bright_grain_is_none(point, seen):
    """Figures of 217 on a picture of 60; a point of 2 px that reaches 190, or a grain of the picture of 95."""
    label = printed("20.0 um", size=20)
    plane = np.where(label.ink.plane > 128, 217, 60).astype(np.uint8)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans.ttf"), 20)
    left, right = (20 + int(font.getlength("20.0 um"[:place])) for place in (2, 3))
    plane[:, left + 1 : right - 1] = 60
    foot = label.printed.line.row_0 + int(label.printed.line.letter_px) - 2
    plane[foot : foot + 2, (left + right) // 2 - 1 : (left + right) // 2 + 1] = point
    ink = Ink(plane=plane, mask=plane > 200, low=60.0, high=217.0, row_0=0, col_0=0, name="pale ink", cut_out=False)
    assert point_is_printed(replace(label, ink=ink)) is seen


@pytest.mark.parametrize(("text", "lost"), [("25.0 µm", True), ("250 µm", False)])
@pytest.mark.parametrize("size", [26, 30, 34])
def test_a_point_on_ground_as_bright_as_ink_is_seen_by_its_one_level(text, lost, size):
    """White figures over a groove's bright rim of grey 235, with specks above the point: no threshold parts the two."""
    label = printed(text, read="250 µm", size=size)
    mask = label.ink.plane == 255
    plane = np.where(mask, 255, 235).astype(np.uint8)
    ink = replace(label.ink, plane=plane, mask=mask, low=90.0, high=255.0, name="level white ink", cut_out=False)
    assert has_point(replace(label, ink=ink)) is lost


@pytest.mark.parametrize(("text", "pitch_px", "longer"), [("0.1 mm", 11.3, "0.1 mm"), ("0.1 mm", 15.0, ""), ("51 mm", 11.3, "")])
def test_letters_of_one_width_set_wide_apart_keep_their_point(text, pitch_px, longer):
    """Low letters 9.5 px high and 11.3 px apart, of which a layer held "1 mm" only; two figures as far apart may be two words."""
    own = Line(row_0=521, row_1=532, col_0=213, col_1=270, letter_px=9.5, regularity=2)
    width = own.col_1 - own.col_0 + label_check.LETTERS_BEFORE * own.letter_px
    label = Label(ink=None, printed=None, length=lengths_in("1 mm")[0])
    seen = reading(text, 0.1 + np.arange(len(text)) * pitch_px / width)
    assert label_check._longer(label, own, seen) == longer
