"""The reserve maker: reproducible, true to its own heights, within the trade's figures, and drawn to the pixel.

Marks beside figures: [D] follows from a formula, [M] from memory, as the collection of trade figures gives them.
"""

import csv
import re
from dataclasses import replace

import cv2
import numpy as np
import pytest
import tifffile
from PIL import Image

from tests.reserve_maker import folder as folder_module
from tests.reserve_maker.camera import shot_noise
from tests.reserve_maker.data_bar import Scale, choose_scale, draw_bar, facts_text, text_picture
from tests.reserve_maker.electrons import iron_range_um, open_sky
from tests.reserve_maker.finish import draw_specimen
from tests.reserve_maker.frames import StrokeFrame, parallax
from tests.reserve_maker.honing import honed_surface, plough_pass
from tests.reserve_maker.layouts import LAYOUTS, UNMARKED
from tests.reserve_maker.running import _sweep, run_in
from tests.reserve_maker.scuffing import scuff
from tests.reserve_maker.states import classify, plateau_level

SMALL = (240, 420)


def specimens(count: int, first: int = 0) -> list:
    return [draw_specimen(f"S{n}", np.random.default_rng([77, n])) for n in range(first, first + count)]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Two folders of the same seed, with smaller pictures than the command makes."""
    patch = pytest.MonkeyPatch()
    patch.setattr(folder_module, "draw_specimen", lambda name, rng: replace(draw_specimen(name, rng), picture=SMALL))
    folders = [tmp_path_factory.mktemp("made") for _ in range(2)]
    for out in folders:
        folder_module.make_folder(out, fields=6, seed=5)
    patch.undo()
    return folders


@pytest.fixture(scope="module")
def plateaued():
    """A plateaued surface in the stroke frame with its specimen."""
    specimen = next(
        s for s in specimens(40) if s.finish.name == "plateau" and s.finish.hone_angle_deg and s.wear.moved > 0.5
    )
    frame = StrokeFrame(picture=SMALL, stroke_deg=specimen.stroke_deg, margin_px=8)
    rng = np.random.default_rng(3)
    height, _ = honed_surface(frame, specimen.lays_deg, specimen.finish, specimen.pixel_size_um, rng)
    return specimen, height


def read(path) -> list[dict]:
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def direction_deg(picture: np.ndarray) -> float:
    """Return the direction along which a picture changes least, degrees anticlockwise from its rows (structure tensor)."""
    down, right = np.gradient(cv2.GaussianBlur(picture.astype(np.float64), (0, 0), 1.5))
    across = 0.5 * np.arctan2(2 * np.mean(-down * right), np.mean(right**2 - down**2))
    return float(np.rad2deg(across) + 90) % 180


def turn(first: float, second: float) -> float:
    return abs((first - second + 90) % 180 - 90)


def test_same_seed_same_bytes(made):
    names = sorted(path.relative_to(made[0]) for path in made[0].rglob("*") if path.is_file())
    assert len(names) == 6 + 6 + 3
    for name in names:
        assert (made[0] / name).read_bytes() == (made[1] / name).read_bytes(), name


def test_masks_hold_the_codes_on_the_pictures_grid_and_agree_with_the_truth(made):
    for row in read(made[0] / "truth.csv"):
        codes = np.asarray(Image.open(made[0] / "masks" / f"{row['file'].rsplit('.', 1)[0]}.png"))
        picture = np.asarray(
            tifffile.imread(made[0] / row["file"]) if row["file"].endswith("tif") else Image.open(made[0] / row["file"])
        )
        assert codes.shape == picture.shape and codes.dtype == np.uint8
        assert set(np.unique(codes).tolist()) <= {0, 1, 2, 3, 255}
        assessed = codes[codes != 255]
        for code, name in enumerate(("plateau", "valley", "smeared", "scuffed")):
            assert float(row[f"{name}_fraction"]) == pytest.approx(np.mean(assessed == code), abs=1e-6)
        if row["worn"] == "0":
            assert row["zone"] == "out-of-track" and not np.isin(codes, (2, 3)).any()
        if row["layout"] not in UNMARKED:
            assert int(row["bar_px"]) == pytest.approx(
                micrometres(row["bar_label"]) / float(row["pixel_size_um"]), abs=0.01
            )


def test_retention_is_a_ratio_of_means(made):
    truth = read(made[0] / "truth.csv")
    rows = read(made[0] / "retention.csv")
    assert len(rows) == 2
    for row in rows:
        means = {}
        for zone in ("in-track", "out-of-track"):
            mine = [r for r in truth if r["specimen"] == row["specimen"] and r["zone"] == zone]
            means[zone] = sum(float(r["valley_fraction"]) for r in mine) / len(mine)
        assert float(row["retention"]) == pytest.approx(means["in-track"] / means["out-of-track"], rel=1e-4)


def test_draws_lie_within_the_trades_figures():
    drawn = specimens(400)
    pixels = np.array([s.pixel_size_um for s in drawn])
    assert pixels.min() >= 0.15 and pixels.max() <= 1.5
    assert abs(np.median(np.log(pixels)) - np.log(0.15 * 1.5) / 2) < 0.15  # log-uniform
    angles = [s.finish.hone_angle_deg for s in drawn if s.finish.hone_angle_deg]
    assert all(30 <= angle <= 60 or 140 <= angle <= 150 for angle in angles)  # [M] included hone angles
    assert 0.01 < 1 - len(angles) / len(drawn) < 0.15
    shares = [s.finish.valley_share for s in drawn if s.finish.name == "plateau"]
    assert min(shares) >= 0.15 and max(shares) <= 0.30  # [M] valley share 15-30 %
    for s in drawn:
        if s.finish.hone_angle_deg:
            one, two = s.lays_deg
            assert turn(one, two) == pytest.approx(
                min(s.finish.hone_angle_deg, 180 - s.finish.hone_angle_deg), abs=1e-6
            )
            # the direction across the stroke bisects the included angle: both lays are equally far from it
            assert turn(one, s.stroke_deg + 90) == pytest.approx(s.finish.hone_angle_deg / 2, abs=1e-6)
            assert turn(two, s.stroke_deg + 90) == pytest.approx(s.finish.hone_angle_deg / 2, abs=1e-6)


def test_grooves_have_the_trades_depth_and_width_and_the_stone_stops_at_its_bearing_area():
    depths, widths = [], []
    for specimen in [s for s in specimens(40) if s.finish.name in ("plateau", "fine")][:10]:
        frame, pixel = StrokeFrame(picture=(600, 800), stroke_deg=90, margin_px=0), specimen.pixel_size_um
        height, _ = honed_surface(frame, specimen.lays_deg, specimen.finish, pixel, np.random.default_rng(8))
        depth = np.median(height[height > np.median(height)]) - height
        assert np.mean(depth >= 0.5) == pytest.approx(specimen.finish.valley_share, abs=0.06)
        inside = (depth >= 0.5).astype(np.uint8)
        distance = cv2.distanceTransform(inside, cv2.DIST_L2, 5)
        ridge = (distance == cv2.dilate(distance, np.ones((5, 5)))) & (distance > 2.5 / pixel)  # those of 5 µm and more
        depths.append(np.quantile(depth[ridge], (0.5, 0.9)))
        widths.append(np.median(2 * distance[ridge] * pixel))
    depths = np.array(depths)
    assert 1 <= np.median(depths[:, 0]) <= 10, depths  # [M] groove depth 1-10 µm
    assert np.all((depths[:, 1] >= 1) & (depths[:, 1] <= 10)), (
        depths
    )  # a finish's deepest grooves all lie in that range
    assert all(5 <= width <= 50 for width in widths), widths  # [M] groove width 5-50 µm
    # walls slope 6-27° [D]: depth over half width
    slopes = np.rad2deg(np.arctan(depths[:, 0] / (np.array(widths) / 2)))
    assert np.all((slopes > 4) & (slopes < 35)), slopes


@pytest.mark.parametrize(("stroke_deg", "lay_deg"), [(90, 20), (0, 115), (30, 150)])
def test_a_lay_runs_where_it_is_said_to(stroke_deg, lay_deg):
    specimen = specimens(1)[0]
    frame = StrokeFrame(picture=SMALL, stroke_deg=stroke_deg, margin_px=4)
    finish = replace(specimen.finish, broken_share=0.0, spacing_um=20)
    ceiling, _, _ = plough_pass(frame, lay_deg, finish, 0.5, 1.0, np.random.default_rng(2))
    assert turn(direction_deg(frame.to_picture(np.minimum(ceiling, 0))), lay_deg) < 1.0


def test_smear_lies_only_where_a_groove_had_been(plateaued):
    specimen, height = plateaued
    pixel = specimen.pixel_size_um
    depth = np.median(height[height > np.median(height)]) - height
    smeared = []
    for moved in (0.0, 0.3, 1.0):
        run = run_in(height, replace(specimen.wear, moved=moved, depth_um=0.3), pixel, np.random.default_rng(4))
        codes = classify(run.height_um, height, run.covered, np.zeros(height.shape, bool), pixel)
        smeared.append(np.mean(codes == 2))
        if moved:
            assert np.mean(depth[codes == 2] > 0.35) > 0.98
            assert np.all(run.covered[codes == 2])
            assert np.mean(run.height_um[codes == 2] > run.bare_um[codes == 2]) > 0.97
    assert smeared[0] == 0 < smeared[1] < smeared[2]


def test_a_groove_worn_shallow_without_moved_metal_is_plateau():
    before = np.zeros((80, 120), np.float32)
    before[:, 50:62] = -0.8
    worn = np.maximum(before, -0.3)
    nothing = np.zeros(before.shape, bool)
    assert set(np.unique(classify(before, before, nothing, nothing, 0.5))) == {0, 1}
    assert set(np.unique(classify(worn, before, nothing, nothing, 0.5))) == {0}
    assert np.all(classify(worn, before, ~nothing, nothing, 0.5)[:, 52:60] == 2)


def test_a_sheet_uses_up_the_metal_that_was_carried():
    pixel, thick, wear = 0.5, 0.4, specimens(1)[0].wear
    shape = (200, 3)  # transposed: rows along the stroke
    surface, bearing = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    surface[120:180] = -3
    excess = np.zeros(shape, np.float32)
    excess[40:120] = np.array([0.0, 0.05, 0.1])
    covered, ends = np.zeros(shape, bool), np.zeros(shape, np.float32)
    filled = np.full(shape, thick, np.float32), np.full(shape, 0.1, np.float32)
    wear = replace(wear, carry_um=1e6)
    _sweep(range(200), surface, bearing, excess, *filled, covered, ends, wear, pixel)
    section = 80 * pixel * np.array([0.0, 0.05, 0.1])  # µm² displaced in each row along the stroke
    assert covered.sum(0) * pixel * thick == pytest.approx(section, abs=pixel * thick + 0.02)
    assert covered[120, 2] and not covered[179].any() and not covered[:120].any()


def test_scuffing_runs_along_the_stroke(plateaued):
    specimen, height = plateaued
    wear = replace(specimen.wear, scuffed_share=0.15, scuff_strength=0.7, scuff_width_um=20 * specimen.pixel_size_um)
    level = plateau_level(height, specimen.pixel_size_um)
    seized = scuff(height, level, wear, specimen.pixel_size_um, np.random.default_rng(6))
    assert 0.03 < np.mean(seized.footprint) < 0.35
    across = np.abs(np.diff(seized.footprint.astype(int), axis=0)).sum()
    along = np.abs(np.diff(seized.footprint.astype(int), axis=1)).sum()
    # columns run along the stroke, so borders are crossed going from row to row; equally often if it had no direction
    assert across > 2 * along
    untouched = scuff(height, level, replace(wear, scuffed_share=0.0), specimen.pixel_size_um, np.random.default_rng(6))
    assert not untouched.footprint.any() and np.array_equal(untouched.height_um, height)


def test_noise_is_that_of_the_count():
    rng = np.random.default_rng(1)
    for level, electrons in ((1.0, 400), (0.5, 400), (1.0, 6242)):  # [D] 100 pA for 10 µs are 6,242 electrons
        seen = shot_noise(np.full((400, 500), level, np.float32), electrons, rng)
        assert np.std(seen) == pytest.approx(np.sqrt(level / electrons), rel=0.01)
        assert np.mean(seen) == pytest.approx(level, rel=0.002)


def test_range_of_electrons_in_iron():
    for kv, micrometre in ((5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)):  # [D] Kanaya and Okayama 1972
        assert iron_range_um(kv) == pytest.approx(micrometre, abs=0.006)


def test_sky_is_whole_on_a_plane_starved_in_a_groove_and_wider_towards_the_detector():
    plane = np.zeros((120, 160), np.float32)
    assert open_sky(plane, 0.5, 90, 0.8) == pytest.approx(np.ones(plane.shape), abs=1e-5)
    groove = plane.copy()
    groove[:, 70:90] = -4
    sky = open_sky(groove, 0.5, 90, 0.0)
    assert sky[60, 80] < 0.8 < sky[60, 20]
    ridge = np.tile(-0.1 * np.abs(np.arange(160, dtype=np.float32) - 80), (120, 1))
    for detector_deg, bright, dim in ((0, 120, 40), (180, 40, 120)):
        sky = open_sky(ridge, 0.5, detector_deg, 0.8)
        assert sky[60, bright] > sky[60, dim] + 0.05
    up = open_sky(np.ascontiguousarray(ridge.T), 0.5, 90, 0.8)  # 90° is upwards, where rows are small
    assert up[40, 60] > up[120, 60] + 0.05


def test_tilt_shifts_what_stands_high_upwards():
    height = np.zeros((60, 60), np.float32)
    height += 2 * np.exp(-((np.arange(60, dtype=np.float32)[:, None] - 30) ** 2) / 200)
    col, row = parallax(height, 0.25, 30.0)
    seen = cv2.remap(height, col, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    shift = 2.0 * np.tan(np.deg2rad(30)) / 0.25
    assert 30 - np.argmax(seen[:, 30]) == pytest.approx(shift, abs=1)  # the beam comes from below in the picture
    assert parallax(height, 0.25, 0.0) is None


def micrometres(label: str) -> float:
    number, unit = re.fullmatch(r"([\d.]+) ?(nm|µm|um|mm)", label).groups()
    return float(number) * {"nm": 1e-3, "µm": 1, "um": 1, "mm": 1000}[unit]


def test_labels_are_round_and_bars_as_long_as_they_say():
    rng = np.random.default_rng(0)
    units = set()
    for specimen in specimens(300):
        scale, exact = choose_scale(specimen.pixel_size_um, specimen.picture[1], rng)
        length = micrometres(scale.label)
        units.add(re.sub(r"[\d. ]", "", scale.label))
        assert f"{length:e}"[0] in "125" and float(f"{length:e}"[1:8]) == 0
        assert scale.length_px * exact == pytest.approx(length, rel=1e-9)
        assert abs(exact / specimen.pixel_size_um - 1) < 0.5 / scale.length_px + 1e-9
    assert units == {"nm", "µm", "um", "mm"}


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
@pytest.mark.parametrize(("length", "size"), [(187, 12), (311, 36)])
def test_bar_ends_where_the_truth_says(layout, length, size):
    grey = np.full((400, 1200), 0.45, np.float32)
    scale = Scale(label="50 µm", length_um=50, length_px=length)
    barred = draw_bar(grey, scale, layout, facts_text(layout, 10, "SE", 0, "S1_in_1"), size)
    pen = 0 if layout.mark in ("filled", "hollow", "halves") else max(2, size // 8)
    assert barred.end_col - barred.first_col == length + pen
    rows = slice(*barred.mark_rows)
    ink = 0.97 if layout.tone == "dark" else 0.03
    marked = np.abs(barred.grey[rows] - ink) < 0.01
    reach = slice(barred.first_col - 4, barred.end_col + 4)
    inked = np.flatnonzero(marked[:, reach].any(0)) + reach.start
    if pen:  # the tips of the ticks: middles of the first and last are the length apart
        tips = np.flatnonzero(marked[-1 if layout.mark == "ruler" else 0, reach]) + reach.start
        assert tips[-pen:].mean() - tips[:pen].mean() == length
    assert (inked[0], inked[-1]) == (barred.first_col, barred.end_col - 1)
    assert barred.hidden[rows, barred.first_col : barred.end_col][marked[:, barred.first_col : barred.end_col]].all()
    shown = barred.grey[barred.offset : barred.offset + 400][~barred.hidden[barred.offset : barred.offset + 400]]
    assert np.all(shown == np.float32(0.45))  # what isn't hidden is the untouched picture


@pytest.mark.parametrize("face", ["sans", "bold", "mono", "serif", "plain", "plotter"])
def test_letters_have_the_size_asked_for_and_the_micro_sign_is_drawn(face):
    for size in (12, 24, 36):
        assert 0.55 * size <= text_picture("H", face, size).shape[0] <= size
    micro, u, box = (text_picture(text, face, 36) for text in ("µ", "u", "\uffff"))
    if micro.shape == box.shape:  # a face without the sign would draw its empty box
        assert not np.array_equal(micro, box)
    assert micro.shape[0] > u.shape[0] or np.array_equal(micro, u)


def test_layouts_differ():
    assert len({(layout.place, layout.tone, layout.mark, layout.label, layout.face) for layout in LAYOUTS}) >= 8
    assert {layout.place for layout in LAYOUTS} == {"below", "above", "box", "burnt"}


@pytest.mark.parametrize("wording", ["ome", "phrase", "phrase nm"])
def test_a_picture_without_bar_states_its_pixel_size(tmp_path, wording):
    from tests.reserve_maker.files import describe, write_picture

    grey = np.linspace(0, 1, 64 * 80, dtype=np.float32).reshape(64, 80)
    write_picture(tmp_path / "a.tif", grey, 16, describe(grey.shape, 0.3125, 16, wording))
    with tifffile.TiffFile(tmp_path / "a.tif") as file:
        text = file.pages[0].description
        assert file.pages[0].asarray().max() == 65535
    number = re.search(r'PhysicalSizeX="([\d.]+)"|pixel size =? ?([\d.]+)', text)
    stated = float(number.group(1) or number.group(2))
    assert stated == pytest.approx(312.5 if wording == "phrase nm" else 0.3125) and "simulated" in text
