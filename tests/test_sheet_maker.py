"""The sheet maker writes valid, reproducible label folders whose truth agrees with what was built and drawn."""

import csv
import hashlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.sheet_maker.camera import count
from tests.sheet_maker.data_bar import LAYOUTS, Scale, add_data_bar, draw_scale
from tests.sheet_maker.emission import electron_range_um
from tests.sheet_maker.folder import write_folder
from tests.sheet_maker.grooves import hone
from tests.sheet_maker.noise import unit_vector
from tests.sheet_maker.scuffing import scuff
from tests.sheet_maker.setting import Specimen, draw_specimen
from tests.sheet_maker.sky import collected
from tests.sheet_maker.surface import VALLEY_DEPTH_UM, Surface, make_surface

SCALE = 0.3


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("sheets")
    write_folder(out, 8, 5, SCALE)
    return out


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def one_specimen(**changed: object) -> Specimen:
    """A plateau-honed specimen with two lays at 50° about a vertical stroke, 0.6 µm a pixel."""
    specimen = draw_specimen(np.random.default_rng(1), "T", SCALE)
    given = {
        "pixel_size_um": 0.6, "shape": (300, 400), "stroke_deg": 90.0, "hone_angle_deg": 50.0, "lays_deg": (25.0, 155.0),
        "lay_shares": (0.5, 0.5), "width_um": 14.0, "slope_deg": 16.0, "covered": 0.35, "closed": 0.7, "scuffed": 0.0,
        "cut_um": 0.2,
    }  # fmt: skip
    return replace(specimen, **(given | changed))


@pytest.fixture(scope="module")
def worn_surface() -> Surface:
    return make_surface(np.random.default_rng(2), one_specimen(), True)


def test_same_seed_same_bytes_and_another_seed_others(folder: Path, tmp_path: Path) -> None:
    def sums(path: Path) -> dict[str, str]:
        files = sorted(p for p in path.rglob("*") if p.is_file())
        return {p.relative_to(path).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}

    write_folder(tmp_path / "again", 4, 5, SCALE)
    write_folder(tmp_path / "other", 1, 6, SCALE)
    again, first = sums(tmp_path / "again"), sums(folder)
    pictures = [name for name in again if not name.endswith(".csv")]
    assert len(pictures) == 8 and all(first[name] == again[name] for name in pictures)
    assert not set(sums(tmp_path / "other").values()) & set(first.values())


def test_masks_hold_the_contract_s_codes_on_the_picture_s_grid_and_agree_with_the_truth(folder: Path) -> None:
    truth = rows_of(folder / "truth.csv")
    assert [row["file"] for row in truth] == [row["file"] for row in rows_of(folder / "plan.csv")]
    for row in truth:
        picture = cv2.imread(str(folder / row["file"]), cv2.IMREAD_UNCHANGED)
        codes = cv2.imread(str(folder / "masks" / (Path(row["file"]).stem + ".png")), cv2.IMREAD_UNCHANGED)
        assert codes.dtype == np.uint8 and codes.shape == picture.shape[:2]
        assert set(np.unique(codes).tolist()) <= {0, 1, 2, 3, 255}
        assessed = codes[codes != 255]
        for code, state in enumerate(("plateau", "valley", "smeared", "scuffed")):
            assert float(row[f"{state}_fraction"]) == pytest.approx((assessed == code).mean(), abs=2e-6)
        if row["zone"] == "out-of-track":
            assert float(row["smeared_fraction"]) == 0 and float(row["scuffed_fraction"]) == 0 and row["worn"] == "0"
    assert any(float(row["smeared_fraction"]) > 0 for row in truth)


def test_retention_is_the_ratio_of_the_means(folder: Path) -> None:
    truth = rows_of(folder / "truth.csv")
    for row in rows_of(folder / "retention.csv"):
        mean = {
            zone: np.mean(
                [float(t["valley_fraction"]) for t in truth if t["specimen"] == row["specimen"] and t["zone"] == zone]
            )
            for zone in ("in-track", "out-of-track")
        }
        assert float(row["retention"]) == pytest.approx(mean["in-track"] / mean["out-of-track"], abs=1e-4)


def test_specimens_keep_to_the_ranges_of_the_trade() -> None:
    # tests/SOURCES.md, Surface: hone angles of some 30-60° are usual, 140-150° for helical slide honing; groove depth
    # 1-10 µm, width 5-50 µm [M]. Pixel sizes 0.15-1.5 µm are this maker's own.
    drawn = [draw_specimen(np.random.default_rng([9, n]), "T") for n in range(300)]
    angles = np.array([s.hone_angle_deg for s in drawn])
    assert (((angles >= 30) & (angles <= 60)) | ((angles >= 140) & (angles <= 150))).all()
    assert 0.05 < (angles > 100).mean() < 0.25
    pixels = np.array([s.pixel_size_um for s in drawn])
    assert 0.15 <= pixels.min() < 0.2 and 1.2 < pixels.max() <= 1.5
    assert 0.4 < np.mean(pixels < np.sqrt(0.15 * 1.5)) < 0.6  # log-uniform
    widths = np.array([s.width_um for s in drawn])
    assert widths.min() >= 5 and widths.max() <= 50 and (widths / pixels).min() > 5
    assert 0.03 < np.mean([len(s.lays_deg) == 1 for s in drawn]) < 0.2
    assert 0.25 < np.mean([s.scuffed > 0 for s in drawn]) < 0.55
    for s in drawn:
        bisector = (s.lays_deg[0] - s.hone_angle_deg / 2) % 180
        assert min(abs(bisector - (s.stroke_deg + 90) % 180), 180 - abs(bisector - (s.stroke_deg + 90) % 180)) < 1e-6


def test_grooves_lie_along_the_lays_with_the_stated_widths_depths_and_share() -> None:
    specimen = one_specimen()
    depth, fine, _, grooves = hone(np.random.default_rng(3), specimen)
    rise = np.rad2deg(
        [np.arctan2(-(g.centre[-1] - g.centre[0])[1], (g.centre[-1] - g.centre[0])[0]) % np.pi for g in grooves]
    )
    off = np.array([angle - specimen.lays_deg[g.lay] for angle, g in zip(rise, grooves, strict=True)])
    assert len(grooves) >= 8 and np.abs(off).max() < 2.5 and {g.lay for g in grooves} == {0, 1}
    widths = np.array([g.width_um * specimen.pixel_size_um for g in grooves])
    assert widths.min() >= 5 and widths.max() <= 50  # tests/SOURCES.md, Surface: width 5-50 µm [M]
    assert 1 < np.percentile(depth, 99) < 10  # tests/SOURCES.md, Surface: depth 1-10 µm [M]
    assert 0.15 < (depth > 0.05).mean() < 0.5  # 0.35 of the area was asked for
    assert 0 < fine.max() < VALLEY_DEPTH_UM  # the second tool's scratches stay plateau


def test_smear_lies_only_where_a_groove_had_been_and_closes_it(worn_surface: Surface) -> None:
    smeared, valley = worn_surface.codes == 2, worn_surface.codes == 1
    assert smeared.mean() > 0.05
    around = cv2.dilate(worn_surface.honed_um, np.ones((3, 3)))
    assert (around[smeared] >= VALLEY_DEPTH_UM).all()
    assert (around[valley] >= VALLEY_DEPTH_UM).all()
    assert np.median(worn_surface.height_um[smeared]) > -VALLEY_DEPTH_UM
    assert np.median(worn_surface.height_um[valley]) < -VALLEY_DEPTH_UM


def test_unworn_surface_has_neither_smear_nor_scuffing() -> None:
    specimen = one_specimen(scuffed=0.2)
    assert set(np.unique(make_surface(np.random.default_rng(2), specimen, False).codes)) == {0, 1}
    assert (make_surface(np.random.default_rng(2), specimen, True).codes == 3).mean() > 0.03


@pytest.mark.parametrize("stroke_deg", [0.0, 90.0, 35.0])
def test_scuffing_runs_along_the_stroke(stroke_deg: float) -> None:
    specimen = one_specimen(scuffed=0.15, stroke_deg=stroke_deg)
    where = scuff(np.random.default_rng(4), specimen, np.zeros(specimen.shape, np.float32)).where.astype(float)
    dy, dx = np.gradient(cv2.GaussianBlur(where, (0, 0), 1.5))
    x, y = unit_vector(stroke_deg)
    along, across = np.mean((dx * x + dy * y) ** 2), np.mean((-dx * y + dy * x) ** 2)
    assert 0.02 < where.mean() <= 0.33 and across > 5 * along


def test_bars_are_as_long_as_their_labels_say(folder: Path) -> None:
    for row in rows_of(folder / "truth.csv"):
        if row["bar_px"]:
            number, unit = row["bar_label"].rstrip("nmuµ "), row["bar_label"].lstrip("0123456789. ")
            um = float(number) * {"nm": 1e-3, "um": 1, "µm": 1, "mm": 1e3}[unit]
            assert um / int(row["bar_px"]) == pytest.approx(float(row["pixel_size_um"]), rel=1e-6)
            codes = cv2.imread(str(folder / "masks" / (Path(row["file"]).stem + ".png")), cv2.IMREAD_UNCHANGED)
            left, line = int(row["bar_left_px"]), int(row["bar_row_px"])
            assert (codes[line, left : left + int(row["bar_px"])] == 255).all()


@pytest.mark.parametrize("layout", [layout for layout in LAYOUTS if layout.place != "none"], ids=lambda one: one.name)
def test_every_layout_draws_its_bar_to_the_pixel(layout: object) -> None:
    scale = Scale(layout=layout, label="20 µm", bar_px=137, pixel_size_um=20 / 137, letters=21)
    picture, codes, bar = add_data_bar(np.full((400, 1100), 90.0), np.zeros((400, 1100), np.uint8), scale, "SIMULATED")
    left, row, width = bar
    line = np.abs(picture[row - 4 : row + 5] - layout.ink).min(axis=0) < 1
    first, last = left + np.flatnonzero(line[left - 3 : left + width + 3])[[0, -1]] - 3
    pen = 2 if layout.bar in ("ticks", "bracket") else 0  # ticks mark by their middles (common practice, no source)
    assert (first, last - first + 1) == (left - pen // 2, 137 + pen)
    assert (codes[row, left : left + width] == 255).all() and codes.shape == picture.shape
    if layout.place != "strip":
        assert (codes == 255).mean() < 0.25


def test_scale_labels_are_round_and_layouts_vary() -> None:
    scales = [draw_scale(np.random.default_rng(n), one_specimen(shape=(800, 1200))) for n in range(150)]
    assert {scale.layout.name for scale in scales} == {layout.name for layout in LAYOUTS}
    figures = {scale.label.rstrip("nmuµ ").strip("0.") for scale in scales if scale.label}
    assert figures <= {"1", "2", "5"} and len(figures) == 3


def test_noise_is_of_the_stated_level() -> None:
    # tests/SOURCES.md, Secondary-electron picture: shot noise of N electrons is 1/sqrt(N) [D].
    flat = np.ones((300, 300), np.float32)
    noisy = count(np.random.default_rng(5), flat, 400, 0.0)
    assert noisy.std() == pytest.approx(1 / 20, rel=0.02)
    assert count(np.random.default_rng(5), flat, 400, 0.12).std() == pytest.approx(0.13, rel=0.02)


def test_range_of_electrons_in_iron() -> None:
    # tests/SOURCES.md, Secondary-electron picture: Kanaya and Okayama, iron at 5/10/15/20 kV [P, D].
    assert [round(electron_range_um(kv), 2) for kv in (5, 10, 15, 20)] == pytest.approx(
        [0.16, 0.5, 0.99, 1.6], abs=0.011
    )


def test_light_is_even_on_the_level_dim_in_grooves_and_brighter_towards_the_detector() -> None:
    level = np.zeros((60, 60), np.float32)
    assert collected(level, 30, 0.7) == pytest.approx(1, abs=1e-5)
    trench = level.copy()
    trench[:, 25:35] = -8
    assert collected(trench, 90, 0.0)[30, 30] < 0.7
    ramp = np.tile(np.arange(60, dtype=np.float32) * -0.3, (60, 1))  # falls to the right, so it faces right
    assert collected(ramp, 0, 0.8)[30, 30] > collected(ramp, 180, 0.8)[30, 30] + 0.1
