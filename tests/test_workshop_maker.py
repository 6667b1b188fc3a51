"""The workshop maker: simulated micrographs that only serve to report accuracy."""

import csv
import math
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile

from tests.workshop_maker.camera import shot_noise
from tests.workshop_maker.data_bar import draw_data_bar, pen_px
from tests.workshop_maker.electrons import electron_range_um
from tests.workshop_maker.field import make_field
from tests.workshop_maker.honing import stone_pass
from tests.workshop_maker.layouts import LAYOUTS, length_text
from tests.workshop_maker.recipe import draw_specimen
from tests.workshop_maker.write import save_picture, write_folder

SEED = 94
SPECIMENS = [draw_specimen(99, number) for number in range(300)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("workshop")
    write_folder(out, 4, SEED)
    return out


@pytest.fixture(scope="module")
def fields() -> list:
    specimen = draw_specimen(SEED, 0)
    return [make_field(SEED, specimen, number, number == 1) for number in (0, 1)]


def table(folder: Path, name: str) -> list[dict]:
    with (folder / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def mask_of(folder: Path, row: dict) -> np.ndarray:
    return cv2.imread(str(folder / "masks" / f"{Path(row['file']).stem}.png"), cv2.IMREAD_UNCHANGED)


def line_difference(first: float, second: float) -> float:
    return abs((first - second + 90) % 180 - 90)


def test_same_seed_same_bytes(folder, tmp_path):
    write_folder(tmp_path, 2, SEED)
    for row in table(tmp_path, "truth.csv"):
        for name in (row["file"], f"masks/{Path(row['file']).stem}.png"):
            assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()
    assert draw_specimen(SEED, 0) != draw_specimen(SEED + 1, 0)


def test_masks_lie_on_the_pictures_and_hold_the_contracts_codes(folder):
    found = set()
    for row in table(folder, "truth.csv"):
        mask = mask_of(folder, row)
        picture = cv2.imread(str(folder / row["file"]), cv2.IMREAD_UNCHANGED)
        assert mask.dtype == np.uint8 and mask.shape == picture.shape
        assert 1000 <= mask.shape[1] <= 1600
        found |= set(np.unique(mask).tolist())
    assert found == {0, 1, 2, 3, 255}


def test_fractions_agree_with_the_masks(folder):
    for row in table(folder, "truth.csv"):
        counts = np.bincount(mask_of(folder, row).ravel(), minlength=256)[:4]
        stated = [float(row[f"{state}_fraction"]) for state in ("plateau", "valley", "smeared", "scuffed")]
        assert np.allclose(stated, counts / counts.sum(), atol=2e-6)
        assert (row["zone"] == "in-track") == (row["worn"] == "1")
        if row["worn"] == "0":
            assert stated[2:] == [0.0, 0.0]


def test_retention_is_a_ratio_of_means(folder):
    truth, (row,) = table(folder, "truth.csv"), table(folder, "retention.csv")
    means = {
        worn: np.mean([float(field["valley_fraction"]) for field in truth if field["worn"] == worn]) for worn in "01"
    }
    assert float(row["retention"]) == pytest.approx(means["1"] / means["0"], abs=2e-5)
    assert 0 < float(row["retention"]) < 1


def test_hone_angles_are_the_trades():
    """Included angles of 30 to 60 degrees, 140 to 150 for helical slide honing [M, trade figures]."""
    for specimen in SPECIMENS:
        finish = specimen.finish
        low, high = (140, 150) if finish.kind == "helical slide" else (30, 60)
        assert low <= finish.hone_angle_deg <= high
        assert math.tan(math.radians(finish.hone_angle_deg / 2)) == pytest.approx(
            finish.stroke_m_s / finish.spindle_m_s
        )
    assert 2 <= 100 * np.mean([specimen.finish.single_lay for specimen in SPECIMENS]) <= 20


def test_grooves_are_the_trades():
    """Depth 1 to 10 um, width 5 to 50 um, valley share 15 to 30 % [M]; walls of 6 to 27 degrees [D] (trade figures)."""
    rng = np.random.default_rng(3)
    for specimen in SPECIMENS:
        for groove in stone_pass(rng, specimen.finish, 0.0):
            assert 5 <= groove.width_um <= 50 and 1 <= groove.depth_um <= 10
            assert 6 <= math.degrees(math.atan(2 * groove.depth_um / groove.width_um)) <= 27
            assert groove.width_um / specimen.pixel_size_um >= 3
    assert 0.15 <= np.mean([specimen.finish.valley_share for specimen in SPECIMENS]) <= 0.30


def test_pixel_sizes_spread_evenly_over_their_logarithm():
    sizes = np.log([specimen.pixel_size_um for specimen in SPECIMENS])
    assert math.log(0.15) <= sizes.min() and sizes.max() <= math.log(1.5)
    assert np.allclose(
        np.quantile(sizes, [0.25, 0.5, 0.75]), np.log(0.15) + np.log(10) * np.array([0.25, 0.5, 0.75]), atol=0.3
    )


def test_lays_run_where_the_truth_says(folder):
    """Edges of the open valleys lie along the two lays, which the direction across the stroke bisects."""
    row = table(folder, "truth.csv")[0]
    valley = cv2.GaussianBlur((mask_of(folder, row) == 1).astype(np.float32), (0, 0), 4)[:-80]
    right, down = cv2.Scharr(valley, cv2.CV_32F, 1, 0), cv2.Scharr(valley, cv2.CV_32F, 0, 1)
    direction = (np.degrees(np.arctan2(-down, right)) + 90) % 180
    strength = np.hypot(right, down)
    strength[:9], strength[-9:], strength[:, :9], strength[:, -9:] = 0, 0, 0, 0
    near = lambda lay: np.abs((direction - lay + 90) % 180 - 90) < 6  # noqa: E731
    lays = float(row["lay_1_deg"]), float(row["lay_2_deg"])
    shares = [float(strength[near(lay)].sum() / strength.sum()) for lay in lays]
    assert sum(shares) > 0.75 and min(shares) > 0.15
    for lay in lays:
        part = near(lay)
        mean = np.average((direction[part] - lay + 90) % 180 - 90, weights=strength[part])
        assert abs(mean) < 0.7
    across = float(row["stroke_deg"]) + 90
    assert line_difference(lays[0], across) == pytest.approx(line_difference(lays[1], across), abs=2.5)
    assert line_difference(*lays) == pytest.approx(float(row["hone_angle_deg"]), abs=0.01)


def test_open_valley_is_half_a_micrometre_deep(fields):
    """The project's own limit: a hone groove's ground at least 0.5 um below the local plateau."""
    surface = fields[0].surface
    assert np.mean((surface.codes == 1) == (surface.honed_um >= 0.5)) > 0.998
    worn = fields[1].surface
    assert worn.honed_um[worn.codes == 1].min() >= 0.4
    assert (worn.codes == 1).sum() < (worn.honed_um >= 0.5).sum()


def test_smear_lies_only_where_a_groove_had_been(fields):
    before, after = (field.surface for field in fields)
    assert not np.isin(before.codes, [2, 3]).any()
    smeared = after.codes == 2
    assert smeared.mean() > 0.01
    assert after.honed_um[smeared].min() >= 0.5


def test_scuffing_runs_along_the_stroke(folder):
    row = table(folder, "truth.csv")[1]
    scuffed = (mask_of(folder, row) == 3).astype(np.uint8)
    count, marks, facts, _ = cv2.connectedComponentsWithStats(scuffed)
    checked = 0
    for mark in range(1, count):
        if facts[mark, cv2.CC_STAT_AREA] < 800:
            continue
        y, x = np.nonzero(marks == mark)
        values, vectors = np.linalg.eigh(np.cov(x, -y))
        if values[1] > 9 * values[0]:
            along = math.degrees(math.atan2(vectors[1, 1], vectors[0, 1]))
            assert line_difference(along, float(row["stroke_deg"])) < 12
            checked += 1
    assert checked >= 3


def test_states_differ_in_the_picture(fields):
    """Every state leaves a trace: valleys by their grey, closures and scuffing by grey or texture."""
    grey, codes = fields[1].grey, fields[1].codes
    inner = {
        code: cv2.erode((codes == code).astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool) for code in range(4)
    }
    fine = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 4))
    level = {code: (grey[part].mean(), fine[part].mean()) for code, part in inner.items()}
    spread = grey[inner[0]].std()
    assert abs(level[1][0] - level[0][0]) > 0.5 * spread
    assert level[3][1] > 1.15 * level[0][1]
    assert abs(level[2][0] - level[0][0]) > 0.1 * spread or level[2][1] > 1.05 * level[0][1]


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_bar_ends_where_the_truth_says(layout):
    specimen = SPECIMENS[4]
    grey, codes = np.full((500, 1200), 120, np.float32), np.zeros((500, 1200), np.uint8)
    marked = draw_data_bar(grey, codes, specimen, layout)
    row, first, last = marked.bar
    ink, outside = marked.grey[row, first : last + 1], marked.grey[row, [first - 1, last + 1]]
    # Ticks mark the ends of a length by their middles (common practice, no source).
    assert ink.size == specimen.bar_px + pen_px(layout)
    assert specimen.bar_px * specimen.pixel_size_um == pytest.approx(specimen.label_um)
    assert np.ptp(ink) < 1 and np.abs(outside - ink[0]).min() > 80
    assert (marked.codes[marked.grey != 120] == 255).all()
    figure = float(f"{specimen.label_um / 10 ** math.floor(math.log10(specimen.label_um) + 1e-9):.4g}")
    assert figure in (1, 2, 5)
    assert length_text(200.0, layout).split()[0] in ("200", "0.2")


def test_layouts_are_many_and_letters_of_every_size():
    assert len({layout.name for layout in LAYOUTS}) >= 8
    assert {layout.unit for layout in LAYOUTS} == {"nm", "um", "µm", "mm"}
    assert min(layout.letters_px for layout in LAYOUTS) == 12 and max(layout.letters_px for layout in LAYOUTS) == 36
    assert length_text(10.0, next(layout for layout in LAYOUTS if layout.unit == "nm")) == "10000 nm"
    for layout in LAYOUTS:
        assert "sim" in layout.words.lower()


@pytest.mark.parametrize("source", ["description", "ome", "bar"])
def test_metadata_state_the_pixel_size_only_without_a_bar(tmp_path, source):
    specimen = next(specimen for specimen in SPECIMENS if specimen.scale_from == source)
    save_picture(tmp_path / "a.tif", np.full((40, 50), 99.5, np.float32), specimen, "tif16")
    with tifffile.TiffFile(tmp_path / "a.tif") as file:
        text = file.pages[0].description
        assert file.pages[0].asarray().dtype == np.uint16
    assert "simulated" in text
    assert (f"{specimen.pixel_size_um:.8g}" in text) == (source != "bar")


@pytest.mark.parametrize("dose", [200, 3000])
def test_noise_is_of_the_stated_level(dose):
    """Shot noise: N electrons a pixel scatter by 1 / sqrt(N) [D, trade figures]."""
    counted = shot_noise(np.random.default_rng(1), np.ones((300, 300), np.float32), dose)
    assert counted.mean() == pytest.approx(1, abs=0.003)
    assert counted.std() == pytest.approx(1 / math.sqrt(dose), rel=0.03)


def test_hardly_anything_clips(fields):
    for field in fields:
        grey = np.round(field.grey[field.codes != 255])
        assert np.mean((grey <= 0) | (grey >= 255)) <= 0.01


def test_electron_range_in_iron():
    """Kanaya-Okayama range in iron at 5, 10, 15, 20 kV: 0.16, 0.50, 0.99, 1.60 um [D, trade figures]."""
    assert [round(electron_range_um(kv), 2) for kv in (5, 10, 15, 20)] == pytest.approx(
        [0.16, 0.50, 0.99, 1.60], abs=0.011
    )
