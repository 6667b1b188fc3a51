"""A thin frame around bar and label is no bar with a label inside (common practice, no source: the bar is the solid line)."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from drawn_bars import assert_read, picture, read, written

from semwear.data_bar.bar_ends import plain_bar
from semwear.data_bar.ink import Ink
from semwear.data_bar.label_point import Label
from semwear.data_bar.labels import lengths_in
from semwear.data_bar.nested import lies_around_another, with_inside_doubted
from semwear.data_bar.pairing import Pair
from semwear.data_bar.words import _holds_a_bar


def ground_of_a_frame(*, with_bar: bool) -> np.ndarray:
    """Return what a label, and maybe a bar below it, leave free of the ground of a frame, (60, 220) bool."""
    holes = np.zeros((60, 220), np.uint8)
    cv2.putText(holes, "50 um", (60, 25), cv2.FONT_HERSHEY_SIMPLEX, 0.7, 1, 2)
    if with_bar:
        holes[45:49, 10:210] = 1
    return holes.astype(bool)


@pytest.mark.parametrize("with_bar", [True, False])
def test_the_ground_of_a_frame_that_holds_a_bar_is_told_from_a_bar_that_holds_a_label(with_bar):
    assert _holds_a_bar(ground_of_a_frame(with_bar=with_bar)) is with_bar


def test_the_outline_of_a_bar_of_another_tone_is_not_the_bar():
    """A black bar of 122 px with a white outline of 2 px: the white box of 126 px around it is 3 % too long."""
    pixels = np.full((200, 300), 90, np.uint8)
    pixels[98:112, 48:174], pixels[100:110, 50:172] = 255, 0

    def layer(plane: np.ndarray, name: str) -> Ink:
        return Ink(plane=plane, mask=plane > 200, low=30.0, high=235.0, row_0=0, col_0=0, name=name, cut_out=True, raw=plane)

    white, black = layer(pixels, "outlined white ink"), layer(255 - pixels, "outlined black ink")
    label = Label(ink=white, printed=None, length=lengths_in("50 µm")[0])
    outer = plain_bar((98, 112, 48, 174), 47.5, 173.5, 0.4, parts=(), doubt="")
    inner = plain_bar((100, 110, 50, 172), 49.5, 171.5, 0.4, parts=(), doubt="")
    pair = Pair(ink=white, label=label, bar=outer, standing=0.9)
    assert lies_around_another(pair, black, [inner])
    assert not lies_around_another(pair, black, [replace(inner, doubt="it may be the inside of a hollow bar")])
    assert not lies_around_another(replace(pair, ink=black, bar=inner), white, [outer])
    assert not lies_around_another(pair, white, [inner])


def test_a_hollow_bar_is_no_outline_of_the_picture_that_shows_in_it():
    """A white frame of 144 px on a dark strip with noise, whose inside has the strip's grey."""
    pixels = picture(60, spread=3)
    pixels[:400] = picture(120, spread=40)[:400]
    strip = pixels[430:446, 400:544].copy()
    pixels[430:446, 400:544] = 255
    pixels[432:444, 402:542] = strip[2:-2, 2:-2]
    pixels = written(pixels, "10 µm", 426, 556, size=20)
    assert_read(read(pixels), 10.0, 144.0, within_px=0.5)


@pytest.mark.parametrize(
    ("around", "tone", "doubted"),
    [
        ((27, 34, 376, 638), "black", True),  # the shadow of a hollow bar below and to the right of it
        ((27, 34, 376, 635), "black", False),  # a softer layer of the same bar
        ((27, 34, 376, 638), "white", False),  # an outline
        ((20, 60, 350, 660), "black", False),  # a box around bar and label
    ],
)
def test_a_bar_within_its_own_shadow_is_the_inside_of_a_hollow_one(around, tone, doubted):
    """A shadow falls to one side of what casts it (common practice of image programs, no source): ink of its tone inside is ground."""

    def pair(box: tuple[int, int, int, int], name: str, doubt: str) -> Pair:
        empty = np.zeros((100, 700), np.uint8)
        ink = Ink(plane=empty, mask=empty > 0, low=30.0, high=235.0, row_0=0, col_0=0, name=name)
        bar = plain_bar(box, box[2] - 0.5, box[3] - 0.5, 0.4, parts=(), doubt=doubt)
        return Pair(ink=ink, label=Label(ink=ink, printed=None, length=lengths_in("50 µm")[0]), bar=bar, standing=0.5)

    inner = pair((28, 30, 377, 634), "outlined black ink", "")
    shadow = pair(around, f"{tone} ink", "it outlines another mark")
    assert bool(with_inside_doubted([inner, shadow])[0].bar.doubt) is doubted


def hollow(fact: str) -> np.ndarray:
    """A grey strip with a hollow rectangle of 200 columns around a label, and a fact beside it."""
    pixels = picture()
    pixels[420:] = 100
    pixels[434:466, 380:580] = 255
    pixels[436:464, 382:578] = 100
    pixels = written(pixels, "20 µm", 439, 452, size=18)
    return written(pixels, fact, 439, 30, size=18)


def test_a_hollow_bar_around_its_label_counts_where_a_printed_size_proves_it():
    assert_read(read(hollow("Pixel 100.0 nm   15 kV")), 20, 200)
    assert "box of its label" in read(hollow("SE   15 kV")).reason
    assert np.isnan(read(hollow("Pixel 120.0 nm   15 kV")).bar_um)


def test_a_box_goes_on_beyond_letters_as_high_as_most_of_it():
    """A label that fills a corner of a low box parts the flat ground: what lies beyond is closed by the same tone."""
    pixels = picture()
    pixels[380:412, 40:210] = 20
    pixels[386:392, 50:202:15] = 235
    pixels[386:392, 51:203:15] = 235
    pixels = written(pixels, "20 µm", 394, 160, size=13, ink=235)
    bar = read(pixels)
    assert_read(bar, 20, 150)
    assert bar.marks[382:410, 44:206].all()


def test_a_saturated_band_across_the_picture_is_no_strip_and_a_blank_strip_at_its_edge_is():
    """Charging saturates whole lines of a scan, with picture above and below (common practice, no source): it is for the
    quality flags to tell. A strip of one tone at an edge holds no picture."""
    banded = picture()
    banded[200:250] = 255
    assert not read(banded).marks.any()
    edged = picture()
    edged[430:] = 255
    bar = read(edged)
    assert bar.marks[430:].all() and not bar.marks[:425].any()
    assert bar.picture[0] == slice(0, 430)
