"""Data bars: what is drawn is where the truth says, and says what the truth says.

Every position is measured again from the pixels, by half-level crossings and centroids written here; labels are parsed
by a pattern written here. The edge conventions are this project's own (solid marks: outer edges; ticks: centres).
"""

import math
import re

import numpy as np
import pytest

from semwear.simulate.data_bars import CONTRADICTIONS, LAYOUTS, NOTHING_PRINTED, print_data_bar
from semwear.simulate.data_bars.bar_marks import OUTER_EDGES, SHAPES, draw_bar
from semwear.simulate.data_bars.block import beside, blank, lay_over, outlined, pad, softened, stack
from semwear.simulate.data_bars.lettering import FACES, printed_height_px, render_text

CLEAN = {"jpeg_share": 0.0, "annotation_share": 0.0}
GREY = np.full((480, 640), 117, np.uint8)
MICROMETRES = {"nm": 1e-3, "um": 1.0, "\u00b5m": 1.0, "\u03bcm": 1.0, "mm": 1e3}


def label_um(label: str) -> float:
    number, unit = re.fullmatch(r"([\d.]+) ?(nm|um|\u00b5m|\u03bcm|mm)", label).groups()
    return float(number) * MICROMETRES[unit]


def columns_of_end_tick(alpha: np.ndarray, guess: float, pen: int, rows) -> float:
    """Centroid of the ink in ``rows`` within a pen and a half of the guess, in pixel-edge coordinates."""
    low, high = max(0, math.floor(guess - 1.5 * pen)), math.ceil(guess + 1.5 * pen)
    profile = alpha[rows, low:high].sum(axis=0)
    return float((profile * (np.arange(low, high)[: profile.size] + 0.5)).sum() / profile.sum())


@pytest.mark.parametrize("shape", [name for name, ends in SHAPES.items() if ends == OUTER_EDGES])
@pytest.mark.parametrize("length", [64.0, 101.0, 83.4])
def test_solid_mark_is_as_long_as_its_covered_columns(shape, length):
    block = draw_bar(shape, length, (1, 1, 1), np.random.default_rng(3), thick_px=4, tick_px=9, ticks=5)
    assert block.alpha.max(axis=0).sum() == pytest.approx(length, abs=1e-4)
    (_, start), (_, stop) = block.ends_px
    assert (start, stop) == (0.0, length)


@pytest.mark.parametrize("shape", [name for name, ends in SHAPES.items() if ends != OUTER_EDGES])
@pytest.mark.parametrize(("length", "pen"), [(64.0, 1), (101.0, 2), (90.0, 3), (83.4, 2)])
def test_ticks_stand_with_their_centres_at_the_ends(shape, length, pen):
    block = draw_bar(shape, length, (1, 1, 1), np.random.default_rng(3), thick_px=pen, tick_px=15, ticks=11)
    # Rows that hold end ticks but never the line between them: the tips of the arms.
    rows = {"bracket up": [0, 1], "bracket down": [-1, -2]}.get(shape, [0, -1])
    (_, start), (_, stop) = block.ends_px
    assert stop - start == pytest.approx(length, abs=1e-9)
    assert columns_of_end_tick(block.alpha, start, pen, rows) == pytest.approx(start, abs=1e-4)
    assert columns_of_end_tick(block.alpha, stop, pen, rows) == pytest.approx(stop, abs=1e-4)


def test_eleven_ticks_alone_are_eleven_separate_columns_without_a_line():
    block = draw_bar("ticks alone", 200.0, (1, 1, 1), np.random.default_rng(0), thick_px=2, tick_px=15, ticks=11)
    inked = block.alpha.max(axis=0) > 0
    starts = np.flatnonzero(np.diff(np.concatenate([[0], inked.astype(int)])) == 1)
    assert starts.tolist() == list(range(0, 201, 20))


def test_putting_blocks_together_moves_the_ends_with_the_ink():
    bar = draw_bar("filled", 50.0, (1, 1, 1), np.random.default_rng(0), thick_px=4, tick_px=9)
    other = blank(7, 80)
    for block in (pad(bar, 3, 5, 2, 9), stack([other, bar], 4, "centre"), beside([other, bar], 6),
                  lay_over(blank(30, 90), bar, 11, 17), outlined(bar, (0, 0, 0), 2), softened(bar, 0.5)):
        white = block.alpha * block.colour.mean(axis=2)
        (row, start), (_, stop) = block.ends_px
        rows, cols = np.nonzero(white > 0.5)
        assert (cols.min(), cols.max() + 1) == (start, stop)
        assert (rows.min() + rows.max() + 1) / 2 == row


def half_level(profile: np.ndarray, guess: float, inside: int) -> float:
    """Place where ``profile`` crosses half of the way from ink to ground near ``guess``, pixel-edge coordinates."""
    middle = round(guess)
    ink, ground = profile[middle + 4 * inside], profile[middle - 4 * inside - (inside > 0)]
    share = np.clip((profile[middle - 4 : middle + 4] - ground) / (ink - ground), 0, 1)
    covered = share.sum()
    return middle + 4 - covered if inside > 0 else middle - 4 + covered


def test_ends_of_printed_bars_are_where_the_pixels_have_them():
    strips = [name for name, layout in LAYOUTS.items() if layout.ground is not None and not layout.outline]
    measured = 0
    for index in range(72):
        printed = print_data_bar(GREY, 0.31 + 0.01 * index, index, layout=strips[index % len(strips)], **CLEAN)
        image = printed.image.astype(float)
        image = image if image.ndim == 2 else image.mean(axis=2)
        (row, start), (last_row, stop) = printed.ends_px
        assert row == last_row
        assert stop - start == pytest.approx(printed.bar_px, abs=1e-6)
        if printed.shape in ("filled", "line"):
            profile = image[math.floor(row)]
            found = half_level(profile, start, 1), half_level(profile, stop, -1)
        elif printed.shape == "end ticks":
            window = np.s_[math.floor(row - 3) : math.floor(row - 3) + 2]
            found = tuple(columns_of_end_tick(np.abs(image - image[math.floor(row) - 3, round(end) + 5]), end, 3, window)
                          for end in (start, stop))
        else:
            continue
        measured += 1
        assert found == pytest.approx((start, stop), abs=0.16), (printed.layout, printed.shape)
    assert measured >= 30


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_layout_prints_a_label_that_gives_the_pixel_size(name):
    for seed in range(3):
        shape, dtype = [((480, 640), np.uint8), ((700, 1000), np.uint8), ((400, 560), np.uint16)][seed]
        pixel_size_um = [0.11, 0.6, 1.9][seed]
        picture = np.random.default_rng(seed).integers(60, 160, shape).astype(dtype) * (1 if dtype == np.uint8 else 257)
        printed = print_data_bar(picture, pixel_size_um, 100 + seed, layout=name, **CLEAN)
        assert label_um(printed.bar_label) == pytest.approx(printed.bar_um, rel=1e-9)
        assert abs(printed.bar_um / pixel_size_um - printed.bar_px) <= 0.5
        assert 30 <= printed.bar_px <= 0.46 * shape[1]
        assert float(f"{printed.bar_um:.0e}"[0]) in (1, 2, 3, 4, 5)
        assert 6 <= printed.digit_px <= 42
        assert printed.bar_label in printed.texts
        # Every pixel that was changed is marked, every other is the picture's own.
        own = np.zeros(printed.marks.shape, bool)
        row, col = printed.origin_px
        own[row : row + shape[0], col : col + shape[1]] = True
        assert (own | printed.marks).all()
        back = printed.place(picture, 0)
        grey = printed.image if printed.image.ndim == 2 else printed.image[..., 1]
        assert (grey[~printed.marks] == back[~printed.marks]).all()
        assert printed.image.dtype == dtype
        (end_row, start), (_, stop) = printed.ends_px
        assert printed.marks[int(end_row), [int(start), int(stop - 0.01)]].all()
        assert printed.picture[0].stop <= printed.image.shape[0]


def test_strips_leave_the_picture_outside_and_unmarked():
    for index, name in enumerate(name for name, layout in LAYOUTS.items() if layout.place in ("below", "above", "side")):
        for covers in (False, True):
            printed = print_data_bar(GREY, 0.5, index, layout=name, covers=covers, **CLEAN)
            assert not printed.marks[printed.picture].any()
            assert printed.marks.sum() == printed.marks.size - printed.marks[printed.picture].size
            assert printed.image.shape[:2] == (480, 640) if covers else printed.marks.size > GREY.size
            assert covers or printed.marks[printed.picture].size == GREY.size


def test_codes_on_the_printed_grid_have_255_under_every_mark():
    codes = np.random.default_rng(0).integers(0, 4, GREY.shape).astype(np.uint8)
    printed = print_data_bar(GREY, 0.5, 5, layout="dark strip above", covers=False, **CLEAN)
    placed = printed.place(codes, 255)
    assert placed.shape == printed.image.shape[:2]
    assert ((placed == 255) == printed.marks).all()
    assert (placed[printed.picture] == codes).all()


def test_magnification_of_a_layout_times_field_width_is_its_display_width():
    seen = {}
    for seed in range(60):
        printed = print_data_bar(GREY, 0.2 + 0.02 * seed, seed, layout="dark strip, facts then bar", **CLEAN)
        if not math.isnan(printed.magnification):
            seen[seed] = printed.magnification * 640 * (0.2 + 0.02 * seed) / 1000
    assert len(seen) > 20
    assert np.ptp(list(seen.values())) / np.mean(list(seen.values())) < 0.011  # three printed figures: 1 % at 100


def test_printed_pixel_size_and_field_width_agree_with_the_picture():
    widths, sizes = [], []
    for seed in range(150):
        printed = print_data_bar(GREY, 0.37, seed, **CLEAN)
        widths += [printed.printed_field_width_um] * (not math.isnan(printed.printed_field_width_um))
        sizes += [printed.printed_pixel_size_um] * (not math.isnan(printed.printed_pixel_size_um))
    assert len(widths) > 8 and len(sizes) > 8
    assert widths == pytest.approx([0.37 * 640] * len(widths), rel=2e-3)
    assert sizes == pytest.approx([0.37] * len(sizes), rel=2e-3)


@pytest.mark.parametrize("kind", CONTRADICTIONS)
def test_a_contradiction_is_printed_wrong_and_flagged(kind):
    layout = "tall dark strip"
    for seed in range(4):
        printed = print_data_bar(GREY, 0.5, seed, layout=layout, contradiction=kind, **CLEAN)
        stated = {"magnification": printed.magnification * 320 / 1000 / LAYOUTS[layout].display_width_mm,
                  "field width": printed.printed_field_width_um / 320, "pixel size": printed.printed_pixel_size_um / 0.5,
                  "bar label": label_um(printed.bar_label) / (0.5 * printed.bar_px)}
        assert abs(math.log(stated.pop(kind))) > math.log(1.2)
        others = [value for value in stated.values() if not math.isnan(value)]
        assert others == pytest.approx([1.0] * len(others), abs=0.02)
        assert printed.contradiction == kind


def test_without_bar_no_length_is_told():
    for seed in range(20):
        printed = print_data_bar(GREY, 0.5, seed, with_bar=False, **CLEAN)
        assert (printed.ends_px, printed.bar_label, math.isnan(printed.bar_um)) == (None, "", True)
        assert not any(re.search(r"nm|um|\u00b5m|\u03bcm|\dx|x\d|X", text.split("WD")[0]) for text in printed.texts)


def test_the_same_seed_prints_the_same_and_another_seed_something_else():
    first, again, other = (print_data_bar(GREY, 0.5, seed) for seed in (11, 11, 12))
    assert (first.image == again.image).all() and first.texts == again.texts and first.ends_px == again.ends_px
    assert other.texts != first.texts


def test_layouts_labels_and_shapes_vary():
    assert len(LAYOUTS) >= 24
    printed = [print_data_bar(GREY, 0.21, seed, **CLEAN) for seed in range(120)]
    assert len({one.layout for one in printed}) >= 24
    assert len({one.shape for one in printed}) >= 10
    assert len({one.face for one in printed}) >= 12
    assert {re.sub(r"[\d. ]", "", one.bar_label) for one in printed} >= {"um", "\u00b5m", "\u03bcm"}
    assert any(one.image.ndim == 3 for one in printed)


def test_jpeg_changes_pixels_but_not_the_truth():
    plain = print_data_bar(GREY, 0.5, 4, layout="light box", jpeg_share=0.0, annotation_share=0.0)
    lossy = print_data_bar(GREY, 0.5, 4, layout="light box", jpeg_share=1.0, annotation_share=0.0)
    assert lossy.jpeg_quality >= 65 and lossy.ends_px == plain.ends_px
    assert (lossy.image != plain.image).any()


@pytest.mark.parametrize("face", FACES)
def test_digits_are_as_high_as_asked_in_every_face(face):
    height = printed_height_px(face, 20)
    coverage = render_text("0", face, height)
    assert abs(int((coverage.max(axis=1) > 0.4).sum()) - height) <= 1


def test_a_picture_with_nothing_printed_is_the_picture():
    printed = print_data_bar(GREY, 0.5, 0, layout=NOTHING_PRINTED)
    assert (printed.image == GREY).all() and not printed.marks.any() and printed.texts == ()


@pytest.mark.parametrize(("change", "said"), [
    ({"layout": "no such strip"}, "unknown layout"),
    ({"contradiction": "weather"}, "must be one of"),
    ({"image": GREY[:100]}, "at least 200 x 240"),
    ({"image": GREY.astype(float)}, "8- or 16-bit"),
    ({"layout": "light box", "contradiction": "magnification"}, "no room"),
])
def test_what_cannot_be_printed_is_refused(change, said):
    arguments = {"image": GREY, "pixel_size_um": 0.5, "rng": 1, **change}
    with pytest.raises(ValueError, match=said):
        print_data_bar(**arguments)
