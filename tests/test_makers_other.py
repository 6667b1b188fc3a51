"""The other maker's files: same seed, same files; the truth it states is the truth in them."""

import csv

import cv2
import numpy as np
import pytest
import tifffile
from makers.other.folder import PLAN_COLUMNS, TRUTH_COLUMNS, write_set
from makers.other.layouts import LAYOUTS, show_scale
from makers.other.lettering import SCALES, scale_cover
from makers.other.specimen import Specimen, draw_specimen
from PIL import Image


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("other")
    write_set(out, fields=6, seed=107)
    return out


def _table(path):
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _pixels(path):
    return tifffile.imread(path) if path.suffix == ".tif" else np.asarray(Image.open(path))


def test_the_same_seed_writes_the_same_files(folder, tmp_path):
    write_set(tmp_path, fields=2, seed=107)
    written = [path for path in sorted(tmp_path.rglob("*")) if path.is_file() and path.suffix != ".csv"]
    assert len(written) == 4
    for path in written:
        assert path.read_bytes() == (folder / path.relative_to(tmp_path)).read_bytes()
    assert _table(tmp_path / "truth.csv") == _table(folder / "truth.csv")[:2]


def test_another_seed_writes_other_fields(folder, tmp_path):
    write_set(tmp_path, fields=1, seed=179)
    assert _table(tmp_path / "truth.csv")[0]["valley_fraction"] != _table(folder / "truth.csv")[0]["valley_fraction"]


def test_the_truth_is_what_the_mask_holds(folder):
    rows = _table(folder / "truth.csv")
    assert tuple(rows[0]) == TRUTH_COLUMNS and tuple(_table(folder / "plan.csv")[0]) == PLAN_COLUMNS
    names = ("plateau_fraction", "valley_fraction", "smeared_fraction", "scuffed_fraction")
    for row in rows:
        mask = np.asarray(Image.open(folder / "masks" / (row["file"].rsplit(".", 1)[0] + ".png")))
        assert mask.shape == _pixels(folder / row["file"]).shape[:2]
        assert set(np.unique(mask)) <= {0, 1, 2, 3, 255}
        assessed = mask[mask != 255]
        for code, name in enumerate(names):
            assert float(row[name]) == pytest.approx(np.mean(assessed == code), abs=1e-6)
        assert sum(float(row[name]) for name in names) == pytest.approx(1, abs=3e-6)
        if row["worn"] == "0":
            assert float(row["smeared_fraction"]) == float(row["scuffed_fraction"]) == 0
            assert row["zone"] == "out-of-track"


def test_the_lays_enclose_the_hone_angle_about_the_direction_across_the_stroke(folder):
    for row in _table(folder / "truth.csv"):
        lays, stroke, angle = (
            (float(row["lay_1_deg"]), float(row["lay_2_deg"])),
            float(row["stroke_deg"]),
            float(row["hone_angle_deg"]),
        )
        for lay in lays:
            from_across = abs((lay - stroke - 90 + 90) % 180 - 90)
            assert from_across == pytest.approx(angle / 2, abs=0.01)
        assert lays[0] != lays[1]


def test_retention_is_a_ratio_of_means(folder):
    rows = [row for row in _table(folder / "truth.csv") if row["specimen"].endswith("-01")]
    means = {
        zone: np.mean([float(row["valley_fraction"]) for row in rows if row["zone"] == zone])
        for zone in ("in-track", "out-of-track")
    }
    stated = float(_table(folder / "retention.csv")[0]["retention"])
    assert stated == pytest.approx(means["in-track"] / means["out-of-track"], rel=1e-4)


def test_a_bar_is_as_long_as_its_label_says_in_every_layout():
    assert len(LAYOUTS) >= 20 and len({layout.name for layout in LAYOUTS}) == len(LAYOUTS)
    in_um = {"nm": 0.001, "um": 1.0, "µm": 1.0, "μm": 1.0, "mm": 1000.0}
    for number, layout in enumerate(LAYOUTS):
        rng = np.random.default_rng(number)
        specimen = draw_specimen("S", rng)
        specimen = Specimen(**{**specimen.__dict__, "shape": (480, 640), "pixel_size_um": float(rng.uniform(0.2, 1.5))})
        shown = show_scale(np.full((480, 640), 0.5, np.float32), specimen, layout, rng)
        said = float(shown.label[:-2]) * in_um[shown.label[-2:]]
        assert said == pytest.approx(shown.bar_um)
        assert abs(shown.bar_px - said / specimen.pixel_size_um) <= 0.5
        assert shown.last_col_px - shown.first_col_px == shown.bar_px
        assert shown.first_col_px >= -0.5 and shown.last_col_px < shown.picture.shape[1]
        middle = round((shown.first_col_px + shown.last_col_px) / 2)
        assert shown.marks[round(shown.row_px) - 6 : round(shown.row_px) + 7, middle - 20 : middle + 20].any(), (
            layout.name
        )


def test_drawn_marks_lie_where_the_edge_convention_says():
    for style in SCALES:
        cover, first, row = scale_cover(style, 120, 16)
        inked = np.flatnonzero(cover.any(axis=0))
        if style in ("filled", "line", "hollow", "segmented", "arrows"):
            assert (inked[0], inked[-1] + 1 - inked[0]) == (first + 0.5, 120), style
        else:
            assert (inked[0] + inked[-1]) / 2 == first + 60, style
            stroke = np.flatnonzero(np.diff(np.r_[0, cover[row] > 0, 0].astype(int)))
            assert inked[0] <= first <= inked[0] + (stroke[1] - stroke[0]), style
        assert cover.shape[0] > row


def test_a_plain_white_bar_read_off_the_pixels_has_the_stated_length():
    layout = next(one for one in LAYOUTS if one.name == "white on picture")
    specimen = draw_specimen("S", np.random.default_rng(3))
    shown = show_scale(np.full(specimen.shape, 0.4, np.float32), specimen, layout, np.random.default_rng(4))
    white = np.flatnonzero(shown.picture[round(shown.row_px)] > 0.99)
    runs = np.split(white, np.flatnonzero(np.diff(white) > 1) + 1)
    longest = max(runs, key=len)
    assert (longest.size, longest[0]) == (shown.bar_px, shown.first_col_px + 0.5)


def test_every_file_opens_with_a_picture_in_it(folder):
    for row in _table(folder / "truth.csv"):
        pixels = _pixels(folder / row["file"])
        assert pixels.dtype in (np.uint8, np.uint16) and pixels.ndim in (2, 3)
        grey = cv2.imread(str(folder / row["file"]), cv2.IMREAD_GRAYSCALE)
        assert grey.shape == pixels.shape[:2] and grey.std() > 5
