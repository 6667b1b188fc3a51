"""The maker from measured-surface statistics: what it writes agrees with itself and with the trade's figures.

Figures from memory [M], by formula [D] or published [P] are marked as the list of trade facts marks them.
"""

import csv
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from bearing_maker.camera import shot_noise
from bearing_maker.data_bar import LAYOUTS, UNITS, add_bar
from bearing_maker.field import directions, field_surface
from bearing_maker.folder import make_folder
from bearing_maker.ground import honed_ground
from bearing_maker.picture_file import size_note, write_picture
from bearing_maker.ratio import ratio_curve
from bearing_maker.signal import draw_tables, electron_range_um, emitted
from bearing_maker.specimen import draw_specimen

FINISHES = ("rough", "plateau", "fine")


def _specimens(count: int, seed: int) -> list:
    return [draw_specimen("T", np.random.default_rng([seed, number])) for number in range(count)]


def _small(specimen, **wear):
    setting = replace(specimen.setting, width_px=420, height_px=320, tilt_deg=0.0)
    return replace(specimen, setting=setting, wear=replace(specimen.wear, **wear))


def _rows(path: Path) -> list[dict]:
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def _direction(image: np.ndarray) -> float:
    """Direction along which an image changes least, degrees anticlockwise from the rows, by the structure tensor."""
    smooth = cv2.GaussianBlur(image.astype(np.float32), (0, 0), 1.5)
    y, x = np.gradient(smooth)
    across = 0.5 * np.arctan2(2 * -(x * y).mean(), (x * x).mean() - (y * y).mean())
    return float((np.rad2deg(across) + 90) % 180)


def _turned(first: float, second: float) -> float:
    return abs((first - second + 90) % 180 - 90)


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("bearing")
    make_folder(out, 6, 3, width_px=560)
    return out


@pytest.fixture(scope="module")
def run_surfaces() -> list:
    made = []
    for number, specimen in enumerate(_specimens(3, 21)):
        small = _small(specimen, smear=0.7, scuff=0.15)
        made.append((small, field_surface(small, True, np.random.default_rng(number))))
    return made


def test_same_seed_gives_the_same_bytes_and_another_seed_others(folder, tmp_path):
    make_folder(tmp_path / "again", 2, 3, width_px=560)
    make_folder(tmp_path / "other", 1, 4, width_px=560)
    for row in _rows(tmp_path / "again" / "plan.csv"):
        assert (tmp_path / "again" / row["file"]).read_bytes() == (folder / row["file"]).read_bytes()
        mask = Path("masks") / f"{Path(row['file']).stem}.png"
        assert (tmp_path / "again" / mask).read_bytes() == (folder / mask).read_bytes()
    first = cv2.imread(str(folder / "masks" / "B001_out_1.png"), cv2.IMREAD_UNCHANGED)
    other = cv2.imread(str(tmp_path / "other" / "masks" / "B001_out_1.png"), cv2.IMREAD_UNCHANGED)
    assert first.shape != other.shape or np.any(first != other)


def test_masks_hold_the_codes_and_truth_counts_them(folder):
    truth, plan = _rows(folder / "truth.csv"), _rows(folder / "plan.csv")
    assert [row["file"] for row in truth] == [row["file"] for row in plan]
    assert len(truth) == 6
    for row in truth:
        mask = cv2.imread(str(folder / "masks" / f"{Path(row['file']).stem}.png"), cv2.IMREAD_UNCHANGED)
        picture = cv2.imread(str(folder / row["file"]), cv2.IMREAD_UNCHANGED)
        assert mask.dtype == np.uint8
        assert mask.shape == picture.shape[:2]
        assert set(np.unique(mask)) <= {0, 1, 2, 3, 255}
        assessed = mask[mask != 255]
        for code, state in enumerate(("plateau", "valley", "smeared", "scuffed")):
            assert float(row[f"{state}_fraction"]) == pytest.approx((assessed == code).mean(), abs=1e-6)
        if row["zone"] == "out-of-track":
            assert row["worn"] == "0"
            assert not np.isin(mask, (2, 3)).any()
            assert (mask == 1).mean() > 0.02


def test_retention_is_the_ratio_of_the_zones_means(folder):
    truth = _rows(folder / "truth.csv")
    for row in _rows(folder / "retention.csv"):
        own = [field for field in truth if field["specimen"] == row["specimen"]]
        means = {
            zone: np.mean([float(field["valley_fraction"]) for field in own if field["zone"] == zone])
            for zone in ("in-track", "out-of-track")
        }
        assert float(row["retention"]) == pytest.approx(means["in-track"] / means["out-of-track"], abs=2e-5)
        assert float(row["retention"]) < 1.2


def test_drawn_specimens_lie_in_the_trades_ranges():
    specimens = _specimens(300, 5)
    for specimen in specimens:
        finish, setting = specimen.finish, specimen.setting
        if len(finish.lays_deg) == 2:
            hone = directions(replace(specimen, setting=replace(setting, tilt_deg=0.0)))[2]
            assert 30 <= round(hone, 6) <= 60 or 140 <= round(hone, 6) <= 150  # [M]
        assert 5 <= finish.width_um <= 50  # [M]
        assert finish.width_um / setting.pixel_um >= 5
        assert 0.15 <= finish.valley_share <= 0.30  # [M]
        assert 0.05 <= finish.rk_um <= 1.8  # [P: US patent 7,059,290]
        assert 0.15 <= finish.rvk_um <= 3.3  # [P: the same]
        assert 0.14 < setting.pixel_um < 1.6
        assert setting.bar_um / setting.pixel_um == pytest.approx(setting.bar_px, abs=1e-6)
        assert f"{setting.bar_um:.0e}"[0] in "125"
    assert {specimen.finish.kind for specimen in specimens} == set(FINISHES)
    assert 5 < sum(len(specimen.finish.lays_deg) == 1 for specimen in specimens) < 90


@pytest.mark.parametrize("kind", FINISHES)
def test_ground_has_the_material_ratio_curve_asked_for(kind):
    finishes = [specimen.finish for specimen in _specimens(40, 8) if specimen.finish.kind == kind][:3]
    for number, finish in enumerate(finishes):
        pixel = finish.width_um / 9
        got = ratio_curve(honed_ground((420, 420), pixel, finish, np.random.default_rng(number)).height_um)
        assert got.rk == pytest.approx(finish.rk_um, rel=0.3)
        assert got.rvk == pytest.approx(finish.rvk_um, rel=0.35)
        assert 1 - got.mr2 / 100 == pytest.approx(finish.valley_share, abs=0.06)
        assert 0 < got.rpk <= 0.64  # [P: US patent 7,059,290]


def test_grooves_lie_along_their_lay_and_are_as_wide_as_asked():
    for number, specimen in enumerate(_specimens(4, 9)):
        finish, pixel = specimen.finish, specimen.finish.width_um / 10
        ground = honed_ground((420, 420), pixel, finish, np.random.default_rng(number))
        for lay, depth in zip(finish.lays_deg, ground.depths_um, strict=True):
            groove = depth > 0.3
            assert _turned(_direction(groove), lay) < 3
            angle = np.deg2rad(lay)
            edges = np.abs(np.diff(groove.astype(int), axis=0)).sum() * pixel * abs(np.cos(angle))
            edges += np.abs(np.diff(groove.astype(int), axis=1)).sum() * pixel * abs(np.sin(angle))
            mean_width = 2 * groove.sum() * pixel**2 / edges
            assert 5 * 0.6 < mean_width < 50  # [M]: 5-50 µm; short grooves' tips are narrower
            assert 0.35 < mean_width / finish.width_um < 1.6


def test_smear_only_where_a_groove_was_and_scuffing_along_the_stroke(run_surfaces):
    for specimen, surface in run_surfaces:
        smeared, scuffed = surface.codes == 2, surface.codes == 3
        assert smeared.mean() > 0.01
        assert np.all(surface.was_groove[smeared] == 1)
        assert np.all(surface.was_groove[surface.codes == 1] == 1)
        assert 0.05 < scuffed.mean() < 0.3
        assert _turned(_direction(scuffed), specimen.setting.stroke_deg) < 12


def test_closures_leave_a_trace_and_valleys_stand_out(run_surfaces):
    for specimen, surface in run_surfaces:
        tables = draw_tables(specimen.setting, specimen.table_seed)
        signal = emitted(surface, specimen.setting, tables, np.random.default_rng(0))
        plain = signal[(surface.codes == 0) & (surface.graphite < 0.1)]
        for code, least in ((1, 0.25), (2, 0.2), (3, 0.3)):
            own = signal[surface.codes == code]
            trace = abs(own.mean() - plain.mean()) / plain.std() + abs(np.log(own.std() / plain.std()))
            assert trace > least, code


def test_unrun_ground_has_neither_smear_nor_scuffing():
    surface = field_surface(_small(_specimens(1, 2)[0], smear=0.9, scuff=0.25), False, np.random.default_rng(1))
    assert set(np.unique(surface.codes)) == {0, 1}
    assert surface.scuff.max() == surface.deposit.max() == 0


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_bar_ends_stand_where_truth_says(layout):
    grey = np.full((400, 900), 0.5, np.float32)
    bar = add_bar(grey, layout, 50.0, 201, "10 kV  side", np.random.default_rng(0))
    line = bar.grey[bar.row]
    ink = line > 0.85 if layout.dark else line < 0.1
    assert bar.x1 - bar.x0 == 201
    # Ticks mark the ends of a length by their middles (common practice, no source).
    pen = max(2, layout.letters_px // 9) if layout.style in ("ticks", "bracket") else 0
    first, last = round(bar.x0 - pen / 2), round(bar.x1 + pen / 2)
    assert ink[first] and ink[last - 1]
    assert not ink[first - 3 : first].any()
    assert not ink[last : last + 3].any()
    assert bar.hidden[bar.row, first] and bar.hidden[bar.row, last - 1]
    figure, unit = bar.label.split()
    assert float(figure) / UNITS[unit] == pytest.approx(50.0)
    shown = bar.grey[~bar.hidden]
    assert np.all(shown == 0.5)


@pytest.mark.parametrize("electrons", [60.0, 900.0])
def test_noise_is_that_of_counted_electrons(electrons):
    signal = np.full((300, 300), 0.6, np.float32)
    noisy = shot_noise(signal, electrons, np.random.default_rng(0))
    assert noisy.mean() == pytest.approx(0.6, rel=0.01)
    assert noisy.var() == pytest.approx(0.6 / electrons, rel=0.04)


def test_electron_range_in_iron():
    for kv, range_um in ((5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)):  # [D: Kanaya, Okayama 1972]
        assert electron_range_um(kv) == pytest.approx(range_um, abs=0.006)


@pytest.mark.parametrize(
    ("way", "text"), [(0, "pixel size 0.25 um"), (1, "pixel size 250 nm"), (2, "0.25"), (3, "250")]
)
def test_pixel_size_stands_in_the_metadata(tmp_path, way, text):
    grey = np.full((8, 9), 0.5)
    write_picture(tmp_path / "a.tif", grey, 16, 90, size_note(0.25, grey.shape, 16, way))
    with tifffile.TiffFile(tmp_path / "a.tif") as file:
        assert text in file.pages[0].description
        assert file.pages[0].dtype == np.uint16
        assert file.is_ome == (way > 1)
