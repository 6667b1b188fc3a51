"""Claims about the maker of foreign micrographs in training.makers.away."""

import csv
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from makers.away.bars import LAYOUTS, add_bar
from makers.away.field import draw_specimen, make_field
from makers.away.ground import Frame
from makers.away.session import PLAN, RETENTION, TRUTH, fractions, write_session


@pytest.fixture(scope="module")
def session(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("away")
    write_session(folder, 8, 5, cols=(240, 300))
    return folder


def rows_of(path: Path) -> list[dict]:
    with path.open(encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


def read(path: Path) -> np.ndarray:
    return tifffile.imread(path) if path.suffix == ".tif" else cv2.imread(str(path), cv2.IMREAD_UNCHANGED)


def test_same_seed_gives_the_same_bytes(session, tmp_path):
    write_session(tmp_path, 4, 5, cols=(240, 300))
    for row in rows_of(tmp_path / "truth.csv"):
        assert (tmp_path / row["file"]).read_bytes() == (session / row["file"]).read_bytes()


def test_tables_have_the_stated_columns(session):
    for name, columns in (("truth", TRUTH), ("plan", PLAN), ("retention", RETENTION)):
        assert list(rows_of(session / f"{name}.csv")[0]) == columns


def test_masks_lie_on_the_pictures_grid_and_agree_with_the_table(session):
    for row in rows_of(session / "truth.csv"):
        codes = cv2.imread(str(session / "masks" / f"{Path(row['file']).stem}.png"), cv2.IMREAD_UNCHANGED)
        assert codes.dtype == np.uint8 and codes.shape == read(session / row["file"]).shape
        assert set(np.unique(codes)) <= {0, 1, 2, 3, 255}
        stated = [float(row[f"{state}_fraction"]) for state in ("plateau", "valley", "smeared", "scuffed")]
        assert np.allclose(stated, fractions(codes), atol=1e-5) and abs(sum(stated) - 1) < 1e-5


def test_out_of_track_has_neither_smear_nor_scuffing(session):
    rows = [r for r in rows_of(session / "truth.csv") if r["zone"] == "out-of-track"]
    assert rows and all(float(r["smeared_fraction"]) == float(r["scuffed_fraction"]) == 0 for r in rows)


def test_pixel_size_stands_in_the_plan_only_without_a_bar(session):
    for plan, truth in zip(rows_of(session / "plan.csv"), rows_of(session / "truth.csv"), strict=True):
        assert bool(plan["pixel_size_um"]) == (truth["layout"] == "none")


def test_retention_is_a_ratio_of_means(session):
    truth = rows_of(session / "truth.csv")
    for row in rows_of(session / "retention.csv"):
        means = [
            np.mean(
                [float(t["valley_fraction"]) for t in truth if t["specimen"] == row["specimen"] and t["zone"] == zone]
            )
            for zone in ("out-of-track", "in-track")
        ]
        assert float(row["retention"]) == pytest.approx(means[1] / means[0], rel=1e-3)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_bar_is_as_long_as_its_label_says(layout):
    barred = add_bar(
        np.random.default_rng(3),
        np.full((300, 1000), 120, np.uint8),
        0.731,
        layout,
        {"kv": 10, "detector": "SE", "tilt": 0, "name": "K11"},
    )
    figure = float(barred.label.rstrip("mu\u00b5 "))
    um = figure * 1000 if barred.label.endswith("mm") else figure
    assert barred.bar_px * 0.731 == pytest.approx(um, rel=0.005)
    if LAYOUTS[layout][0] != "above":
        changed = barred.grey[:300] != 120
        assert not (changed & ~barred.taken[:300]).any()


def test_hone_angle_is_bisected_across_the_stroke():
    rng = np.random.default_rng(1)
    specimen = draw_specimen(rng) | {"one_lay": False}
    field = make_field(rng, specimen, Frame(200, 260, 1.0), worn=False)
    apart = [(lay - field.stroke_deg - 90 + 90) % 180 - 90 for lay in field.lays_deg]
    assert apart[0] == pytest.approx(-apart[1]) and apart[0] - apart[1] == pytest.approx(field.hone_deg)


def test_open_valleys_can_be_seen_in_most_pictures():
    seen = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        specimen = draw_specimen(rng)
        field = make_field(rng, specimen, Frame(240, 300, float(rng.uniform(0.3, 1.5))), worn=False)
        soft = cv2.GaussianBlur(field.grey, (0, 0), 1.2)
        rough = np.abs(soft - cv2.GaussianBlur(soft, (0, 0), 6))
        inside, outside = field.codes == 1, field.codes == 0
        apart = abs(soft[inside].mean() - soft[outside].mean()) / soft[outside].std()
        seen.append(apart > 0.5 or rough[inside].mean() > 1.3 * rough[outside].mean())
    assert np.mean(seen) >= 0.75


def test_worn_fields_show_smear_and_some_scuffing():
    smear, scuffing = [], []
    for seed in range(14):
        rng = np.random.default_rng(seed)
        _, _, smeared, scuffed = fractions(make_field(rng, draw_specimen(rng), Frame(200, 240, 0.8), worn=True).codes)
        smear.append(smeared)
        scuffing.append(scuffed)
    assert np.mean(smear) > 0.02 and max(scuffing) > 0
