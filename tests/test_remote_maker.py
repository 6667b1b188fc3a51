"""The maker of grooves as objects: same seed same bytes, masks by the contract, ranges of the trade, bars to the pixel.

Figures are those of the laboratory's list of trade facts; [P] published, [D] follows from a formula, [M] from memory, as there.
"""

import csv
import hashlib
from dataclasses import replace

import cv2
import numpy as np
import pytest
import tifffile

from tests.remote_maker import label_folder
from tests.remote_maker.bar_layouts import LAYOUTS
from tests.remote_maker.beam import counted
from tests.remote_maker.cutting import cut
from tests.remote_maker.data_bar import print_bar
from tests.remote_maker.electrons import mean_signal
from tests.remote_maker.field import make_field
from tests.remote_maker.grooves import draw_grooves
from tests.remote_maker.label_folder import make_folder
from tests.remote_maker.randomness import generator
from tests.remote_maker.scuffing import scuff
from tests.remote_maker.specimen import draw_specimen
from tests.remote_maker.surface import Surface

UNIT_UM = {"nm": 1e-3, "um": 1.0, "µm": 1.0, "mm": 1e3}


def _axis_deg(mask: np.ndarray) -> float:
    """Direction of a long patch by the moments of its pixels, degrees anticlockwise on the screen."""
    rows, cols = np.nonzero(mask)
    values, vectors = np.linalg.eigh(np.cov(np.stack([-rows, cols]).astype(float)))
    up, right = vectors[:, np.argmax(values)]
    return float(np.degrees(np.arctan2(up, right)) % 180)


def _apart(first: float, second: float) -> float:
    return abs((first - second + 90) % 180 - 90)


def _small(seed: int, **wear):
    """A specimen on a small picture, worn as stated."""
    specimen = draw_specimen(generator(seed), "T")
    return replace(specimen, shape=(260, 380), pixel_um=0.7, wear=replace(specimen.wear, **wear))


def _write(folder, seed, fields=8):
    """A label folder of small pictures: everything as usual but their size."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            label_folder, "draw_specimen", lambda rng, name: replace(draw_specimen(rng, name), shape=(240, 640))
        )
        make_folder(folder, fields, seed)
    return folder


def _rows(path):
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _read(path):
    return tifffile.imread(path) if path.suffix == ".tif" else cv2.imread(str(path), cv2.IMREAD_UNCHANGED)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return _write(tmp_path_factory.mktemp("remote"), 4)


def _digests(folder):
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others(folder, tmp_path):
    first, again = _digests(folder), _digests(_write(tmp_path / "again", 4))
    other = _digests(_write(tmp_path / "other", 5, 1))
    assert first == again
    assert not set(first.values()) & set(other.values())


def test_masks_hold_the_contract_s_codes_and_truth_s_fractions_agree_with_them(folder):
    plan = {row["file"]: row for row in _rows(folder / "plan.csv")}
    truth = _rows(folder / "truth.csv")
    assert len(truth) == len(plan) == 8
    for row in truth:
        codes = _read(folder / "masks" / f"{row['file'].rsplit('.', 1)[0]}.png")
        assert codes.shape == _read(folder / row["file"]).shape and codes.dtype == np.uint8
        assert set(np.unique(codes)) <= {0, 1, 2, 3, 255}
        names = ("plateau", "valley", "smeared", "scuffed")
        for code, name in enumerate(names):
            assert float(row[f"{name}_fraction"]) == pytest.approx(
                (codes == code).sum() / (codes != 255).sum(), abs=1e-6
            )
        worn = plan[row["file"]]["zone"] == "in-track"
        assert row["worn"] == str(int(worn))
        assert worn or not np.isin(codes, (2, 3)).any()


def test_retention_is_the_ratio_of_mean_valley_fractions(folder):
    truth = _rows(folder / "truth.csv")
    for row in _rows(folder / "retention.csv"):
        mine = [one for one in truth if one["specimen"] == row["specimen"]]
        mean = {zone: np.mean([float(one["valley_fraction"]) for one in mine if one["zone"] == zone])
                for zone in ("in-track", "out-of-track")}  # fmt: skip
        assert float(row["retention"]) == pytest.approx(mean["in-track"] / mean["out-of-track"], rel=1e-4)


def test_a_file_s_bar_is_its_label_over_the_pixel_size(folder):
    for row in _rows(folder / "truth.csv"):
        if row["bar_label"]:
            number, unit = row["bar_label"].split()
            length_um = float(number) * UNIT_UM[unit]
            assert int(row["bar_px"]) == round(length_um / float(row["pixel_size_um"]))
            assert f"{length_um:.0e}"[0] in "125"


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_every_layout_s_bar_ends_where_it_is_said_to_and_is_not_assessed(layout):
    specimen = _small(1)
    plain = np.full((300, 1000), 0.45, np.float32)
    printed = print_bar(plain, np.zeros(plain.shape, np.uint8), specimen, layout, generator(7))
    (top, bottom), (left, right) = printed.rows, printed.columns
    inked = np.abs(printed.grey[top:bottom] - layout.ink) < 0.02
    columns = np.flatnonzero(inked[:, left - 3 : right + 3].any(axis=0)) + left - 3
    assert (columns[0], columns[-1] + 1) == (left, right)
    tick = inked[0 if layout.bar == "ticks" else 1, left : left + 9]  # a row that holds the ticks alone
    assert printed.pen_px == (0 if layout.bar == "filled" else np.argmin(tick))
    assert inked[:, left:right].any(axis=0).all()
    assert (printed.codes[top:bottom, left:right][inked[:, left:right]] == 255).all()
    assert printed.grey.min() >= 0 and printed.grey.max() <= 1


def test_lays_and_hone_angles_are_those_of_the_trade():
    """Included angles 30-60°, 140-150° for helical slide honing [M], bisected by the direction across the stroke."""
    helical = 0
    for seed in range(80):
        specimen = draw_specimen(generator(seed), "T")
        angle = specimen.hone_angle_deg
        assert 30 <= angle <= 60 or 140 <= angle <= 150
        helical += angle > 100
        assert 0.15 <= specimen.pixel_um <= 1.5 and 0 <= specimen.setting.tilt_deg <= 30
        for lay in specimen.lays_deg:
            assert _apart(lay, specimen.stroke_deg + 90) == pytest.approx(angle / 2, abs=1e-6)
    assert 3 < helical < 40


def test_grooves_have_widths_depths_walls_and_distances_of_the_trade():
    """Depth 1-10 µm, width 5-50 µm [M]; walls slope 6-27° [D]; lines are as far apart as stated, on average."""
    for seed in range(6):
        specimen = replace(draw_specimen(generator(seed), "T"), length_um=1e6)
        grooves = draw_grooves(generator(seed, 1), specimen, 0.0)
        for groove in grooves:
            assert 5 <= groove.width_um <= 50 and 1 <= groove.nominal_depth_um <= 10
            wall = np.degrees(np.arctan(2 * groove.nominal_depth_um / groove.width_um))
            assert 6 <= wall <= 27 or groove.nominal_depth_um == 1
            assert groove.width_um / specimen.pixel_um >= 3
        lines = np.sort([groove.offset_px for groove in grooves if groove.lay == 0]) * specimen.pixel_um
        mean, count = np.diff(lines).mean(), len(lines) - 1
        # The mean of n gamma gaps of shape 5 scatters by 1/sqrt(5 n): four of these, and pieces of one line share a gap.
        assert mean == pytest.approx(specimen.gaps_um[0], rel=4 / np.sqrt(5 * count) + 0.02)


@pytest.mark.parametrize("deg", [20.0, 75.0, 130.0])
def test_a_groove_lies_along_its_direction_and_is_as_deep_as_said(deg):
    specimen = replace(_small(3), lays_deg=(deg,), gaps_um=(40.0,), length_um=1e6)
    groove = draw_grooves(generator(2), specimen, 0.0)[0]
    groove = replace(groove, deg=deg, offset_px=0.0, start_px=-1e6, end_px=1e6)
    surface = Surface(shape=specimen.shape, pixel_um=specimen.pixel_um)
    cut(surface, [groove], specimen.setting, np.zeros(specimen.shape, np.float32), 1.0, 1.0, generator(1))
    assert _apart(_axis_deg(surface.depth > 0.3), deg) < 2.5
    assert surface.depth.max() == pytest.approx(float(groove.depth_um.max()), rel=0.6)
    half = Surface(shape=specimen.shape, pixel_um=specimen.pixel_um)
    groove = replace(groove, start_px=10.0)
    cut(half, [groove], specimen.setting, np.zeros(specimen.shape, np.float32), 1.0, 1.0, generator(1))
    rows, cols = np.nonzero(half.depth > 0.3)
    ahead = np.degrees(np.arctan2(half.shape[0] / 2 - rows.mean(), cols.mean() - half.shape[1] / 2)) % 360
    assert ahead == pytest.approx(deg, abs=5)


def test_smear_lies_only_where_a_groove_had_been_and_shows():
    specimen = _small(11, closed_share=0.7, truncation_um=0.15, scuffed_share=0.0, trace=1.0, film=0.0, closure_um=25.0)
    field = make_field(specimen, True, generator(3))
    smeared = field.codes == 2
    assert smeared.mean() > 0.01
    assert (field.surface.before[smeared] >= 0.5).all() and (field.surface.sag[smeared] < 0.5).all()
    assert not (make_field(specimen, False, generator(3)).codes == 2).any()
    signal = mean_signal(field.surface, specimen.setting)
    assert signal[smeared].std() > 1.2 * signal[(field.codes == 0) & (field.surface.tone > 0.8)].std()


def test_marks_along_the_stroke_belong_to_the_plateau():
    specimen = replace(
        _small(5, marks_per_mm2=4000.0, mark_um=0.1, scuffed_share=0.0), gaps_um=(1e6,), lays_deg=(30.0,)
    )
    field = make_field(specimen, True, generator(30))
    assert set(np.unique(field.codes)) <= {0, 255}
    assert (field.codes == 0).mean() > 0.9


@pytest.mark.parametrize("stroke", [10.0, 90.0, 140.0])
def test_scuffing_lies_along_the_stroke_and_takes_the_share_asked_for(stroke):
    specimen = replace(_small(8, scuffed_share=0.12, scuff_strength=0.8), stroke_deg=stroke, shape=(500, 500))
    surface = Surface(shape=specimen.shape, pixel_um=specimen.pixel_um)
    scuff(surface, specimen, generator(4))
    mask = (surface.scuff > 0).astype(np.uint8)
    assert 0.1 < mask.mean() <= 0.3
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    inner = [one for one in range(1, count) if stats[one, cv2.CC_STAT_AREA] > 250
             and stats[one, 0] > 0 and stats[one, 1] > 0 and stats[one, 0] + stats[one, 2] < 500
             and stats[one, 1] + stats[one, 3] < 500]  # fmt: skip
    largest = inner or [1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))]
    assert np.median([_apart(_axis_deg(labels == one), stroke) for one in largest]) < 12


def test_noise_is_that_of_the_stated_dose():
    """Shot noise of N electrons has the variance N [P, as the list of trade facts states N = i t / e]."""
    setting = replace(_small(2).setting, dose=120.0, jitter_px=0.0)
    counts = counted(np.full((400, 500), 0.8, np.float32), setting, generator(6))
    assert counts.mean() == pytest.approx(0.8, rel=0.005)
    assert counts.var() == pytest.approx(0.8 / 120, rel=0.03)
