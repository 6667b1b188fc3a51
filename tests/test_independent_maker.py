"""The independent maker: its truth is checked by counting, by geometry and by scikit-image's structure tensor."""

import ast
import csv
import dataclasses
import hashlib
import re
import time
from pathlib import Path

import numpy as np
import pytest
import tifffile
from independent_maker import data_bars, event, folder, scene
from PIL import Image
from skimage.feature import structure_tensor
from skimage.filters import gaussian


def _finish(style: str, **changes) -> scene.Finish:
    finish = scene.draw_finish("SIM-T", style, np.random.default_rng(3))
    angle = changes.pop("hone_angle_deg", 50.0)
    plain = {
        "stroke_deg": 90.0, "balance": 0.5, "valley_target": 0.22, "flakes_per_mm2": 0.0, "pits_per_mm2": 0.0, "detector": "SE",
        "peripheral_speed_m_per_min": 30.0, "axial_speed_m_per_min": 30.0 * np.tan(np.radians(angle / 2)), "groove_width_um": 10.0,
    }  # fmt: skip
    return dataclasses.replace(finish, **(plain | changes))


def _field(style: str, *, zone="out-of-track", shape=(300, 400), **changes) -> scene.FieldFacts:
    facts = {
        "pixel_size_um": 0.9, "closed_share": 0.0, "wear_um": 0.0, "scuffed_target": 0.0, "stroke_scratches": 0, "stains": 0,
        "debris": 0, "without_valleys": False,
    }  # fmt: skip
    own = {key: changes.pop(key) for key in list(changes) if key in facts}
    return scene.FieldFacts(finish=_finish(style, **changes), zone=zone, shape=shape, **(facts | own))


def _make(field: scene.FieldFacts, seed: int = 0) -> scene.Picture:
    return folder.make_picture(field, np.random.default_rng(seed))


def _edge_directions(valley: np.ndarray) -> np.ndarray:
    """Share of mask edge per degree of direction (180,), from scikit-image's structure tensor."""
    # A binary staircase biases differences of neighbours towards the axes, hence the smoothing first.
    rr, rc, cc = structure_tensor(gaussian(valley.astype(float), 2.0), sigma=2.5, order="rc")
    strength = np.hypot(rr - cc, 2 * rc)
    # The normal lies at atan2(2 rc, cc - rr)/2 from the columns towards growing rows; rows grow downwards.
    normal = -np.degrees(np.arctan2(2 * rc, cc - rr)) / 2
    counts, _ = np.histogram((normal + 90) % 180, bins=180, range=(0, 180), weights=strength**2)
    return np.convolve(np.tile(counts, 3), np.hanning(7), mode="same")[180:360]


def _two_peaks_deg(counts: np.ndarray) -> tuple[float, float]:
    """The two strongest directions at least 12° apart, each the weighted mean within 5° of its peak."""
    found, left = [], counts.copy()
    for _ in range(2):
        turn = (np.arange(180) - int(np.argmax(left)) + 90) % 180 - 90
        near = np.abs(turn) <= 5
        found.append(float(np.argmax(left) + 0.5 + np.average(turn[near], weights=counts[near])) % 180)
        left[np.abs(turn) <= 12] = 0
    return found[0], found[1]


def _apart_deg(one: float, other: float) -> float:
    return abs((one - other + 90) % 180 - 90)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    out = tmp_path_factory.mktemp("independent")
    folder.write_set(out, fields=12, seed=41, size=(360, 270))
    with (out / "truth.csv").open(encoding="utf-8") as file:
        return out, list(csv.DictReader(file))


def test_the_maker_imports_nothing_of_the_package():
    for path in Path(folder.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                assert node.level > 0 or not (node.module or "").startswith("semwear"), path.name
            if isinstance(node, ast.Import):
                assert not any(name.name.startswith("semwear") for name in node.names), path.name


def test_fractions_of_the_truth_equal_the_counts_of_its_masks(written):
    out, rows = written
    assert [row["style"] for row in rows] == ["event"] * 4 + ["section"] * 4 + ["hybrid"] * 4
    for row in rows:
        mask = np.asarray(Image.open(out / "masks" / f"{Path(row['file']).stem}.png"))
        assert set(np.unique(mask)) <= {0, 1, 2, 3, 255}
        assessed = np.count_nonzero(mask != 255)
        for code, state in enumerate(("plateau", "valley", "smeared", "scuffed")):
            assert float(row[f"{state}_fraction"]) == pytest.approx(np.count_nonzero(mask == code) / assessed, abs=1e-6)


def test_pictures_and_masks_share_one_grid_and_scale_comes_as_bar_or_metadata(written):
    out, rows = written
    kinds = set()
    for row in rows:
        path = out / row["file"]
        picture = tifffile.imread(path) if path.suffix == ".tif" else np.asarray(Image.open(path))
        mask = np.asarray(Image.open(out / "masks" / f"{path.stem}.png"))
        assert picture.dtype == np.uint8 and picture.shape == mask.shape and picture.shape[1] == 360
        kinds.add(row["layout"] == "metadata")
        if row["layout"] == "metadata":
            assert picture.shape == (270, 360) and row["bar_label"] == ""
        else:
            # A bar of whole pixels differs from its round length by half a pixel at most.
            assert float(row["bar_px"]) * float(row["pixel_size_um"]) == pytest.approx(float(row["bar_um"]), abs=0.51 * float(row["pixel_size_um"]))
            assert mask[int(float(row["bar_row_px"])), int(float(row["bar_first_col_px"]))] == 255
    assert kinds == {True, False}


def test_only_the_track_is_worn(written):
    _, rows = written
    for row in rows:
        assert (row["zone"] == "in-track") == (row["worn"] == "1")
        if row["worn"] == "0":
            assert float(row["smeared_fraction"]) == 0 and float(row["scuffed_fraction"]) == 0


def test_the_plan_gives_the_stroke_and_leaves_the_pixel_size_to_the_picture(written):
    out, rows = written
    with (out / "plan.csv").open(encoding="utf-8") as file:
        plan = list(csv.DictReader(file))
    assert [line["file"] for line in plan] == [row["file"] for row in rows]
    for line, row in zip(plan, rows, strict=True):
        assert line["pixel_size_um"] == "" and float(line["stroke_deg"]) == pytest.approx(float(row["stroke_deg"]), abs=0.006)


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others(tmp_path):
    def digests(name, seed):
        folder.write_set(tmp_path / name, fields=1, seed=seed, size=(256, 256), style="event")
        files = sorted(path for path in (tmp_path / name).rglob("*") if path.is_file())
        return [hashlib.sha256(path.read_bytes()).hexdigest() for path in files]

    assert digests("a", 7) == digests("b", 7) != digests("c", 8)


@pytest.mark.parametrize("style", scene.STYLES)
@pytest.mark.parametrize(("stroke_deg", "hone_angle_deg"), [(90.0, 50.0), (20.0, 38.0)])
def test_valley_edges_run_along_the_lays(style, stroke_deg, hone_angle_deg):
    field = _field(style, stroke_deg=stroke_deg, hone_angle_deg=hone_angle_deg, pixel_size_um=1.3, shape=(420, 540))
    counts = _edge_directions(_make(field, 2).codes == 1)
    lays = sorted(field.finish.lays_deg)
    for found, true in zip(sorted(_two_peaks_deg(counts)), lays, strict=True):
        assert _apart_deg(found, true) < 2.5, (found, true)


def test_the_estimate_of_directions_is_right_for_bands_drawn_by_hand():
    row, col = np.mgrid[:400, :500].astype(float)
    drawn = np.zeros((400, 500), bool)
    for direction in (24.0, 131.0):
        across = col * np.sin(np.radians(direction)) + row * np.cos(np.radians(direction))
        drawn |= np.abs((across + 2000) % 90 - 45) < 6
    for found, true in zip(sorted(_two_peaks_deg(_edge_directions(drawn))), (24.0, 131.0), strict=True):
        assert _apart_deg(found, true) < 1.0


def test_tangent_of_half_the_hone_angle_is_axial_over_peripheral_speed():
    # Kinematics of honing: tan(angle/2) = axial speed / peripheral speed; 45 m/min and 20 m/min by hand: 47.92°.
    finish = _finish("event", peripheral_speed_m_per_min=45.0, axial_speed_m_per_min=20.0)
    assert finish.hone_angle_deg == pytest.approx(47.925, abs=0.001)
    field = dataclasses.replace(_field("event", pixel_size_um=1.6, shape=(500, 640)), finish=finish)
    counts = sum(_edge_directions(_make(field, seed).codes == 1) for seed in (5, 6))
    one, other = _two_peaks_deg(counts)
    measured = _apart_deg(one, other)
    assert np.tan(np.radians(measured / 2)) == pytest.approx(20 / 45, abs=0.03)
    # The direction across the stroke (90°), that is along a row, bisects the lays: each lies half the angle off it.
    assert [_apart_deg(lay, 0.0) for lay in (one, other)] == pytest.approx([23.96, 23.96], abs=2)


def test_unrun_valley_share_scatters_about_its_target():
    for style in scene.STYLES:
        field = _field(style, pixel_size_um=1.7, shape=(270, 360), valley_target=0.2)
        share = np.mean([np.mean(_make(field, seed).codes == 1) for seed in range(3)])
        assert 0.1 < share < 0.32, (style, share)


def test_wear_and_closing_take_valleys_and_leave_smeared_footprints():
    for style in scene.STYLES:
        unrun = _make(_field(style, valley_target=0.25), 4).codes
        run = _make(_field(style, valley_target=0.25, zone="in-track", closed_share=0.6, wear_um=0.3), 4).codes
        shut = _make(_field(style, valley_target=0.25, zone="in-track", closed_share=1.0, wear_um=0.1), 4).codes
        assert np.mean(run == 1) < 0.8 * np.mean(unrun == 1)
        assert np.mean(run == 2) > 0.02 and not np.any(unrun == 2)
        assert np.mean(shut == 2) > 4 * np.mean(shut == 1)


def test_valley_and_smear_are_told_apart_by_half_a_micrometre():
    before = np.array([[0.49, 0.50, 2.0, 2.0, 2.0, 2.0]])
    after = np.array([[0.49, 0.50, 0.50, 0.49, 0.10, 0.10]])
    moved = np.array([[False, False, True, True, True, False]])
    none = np.zeros_like(moved)
    # The last pixel was worn shallow without moved metal, so it is plateau.
    assert scene.codes_from_depths(before, after, moved, none, none).tolist() == [[0, 1, 1, 2, 2, 0]]


def test_lips_use_no_more_metal_than_is_carried():
    depth = np.zeros((12, 1), np.float32)
    depth[4:9] = 3.0
    endless = np.full_like(depth, 99.0)
    # A lip 0.6 µm thick over 2 µm rows costs 1.2 µm² a row: 3.7 µm² close three rows of five.
    closed, used, available = event.sweep_metal(depth, np.zeros_like(depth), endless, range(12), 2.0, 3.7)
    assert np.flatnonzero(closed[:, 0]).tolist() == [4, 5, 6]
    assert used == pytest.approx(3.6) and available == pytest.approx(3.7)
    # 0.3 µm rubbed off four rows of 2 µm is 2.4 µm² and closes two; swept upwards the same rows feed nothing.
    removed = np.zeros_like(depth)
    removed[:4] = 0.3001
    assert np.flatnonzero(event.sweep_metal(depth, removed, endless, range(12), 2.0, 0.0)[0]).tolist() == [4, 5]
    assert not event.sweep_metal(depth, removed, endless, range(11, -1, -1), 2.0, 0.0)[0].any()
    made = _make(_field("event", zone="in-track", closed_share=0.7, wear_um=0.3), 1)
    assert 0 < made.facts["metal_used_um3"] <= made.facts["metal_available_um3"]


@pytest.mark.parametrize("layout", data_bars.LAYOUTS, ids=lambda layout: layout.name)
def test_the_drawn_bar_has_the_length_that_the_truth_says(layout, monkeypatch):
    monkeypatch.setattr(data_bars, "LAYOUTS", (layout,))
    blank = np.full((400, 800), 128, np.uint8)
    field = _field("event", pixel_size_um=0.37, shape=blank.shape)
    shown = data_bars.show_scale(blank, np.zeros_like(blank), field, np.random.default_rng(9))
    row, first, last = (int(value) for value in shown.ends_px)
    ground = 128 if layout.ground < 0 else layout.ground
    inked = np.flatnonzero(shown.pixels[row] != ground) if layout.bar != "dots" else np.flatnonzero(shown.pixels[row] == 255)
    if layout.place == "inset":
        inked = inked[shown.codes[row, inked] == 255]
    inked = inked[(inked >= first - 2) & (inked <= last + 2)]
    ticked = layout.bar in ("ticked", "dots")
    assert inked[0] == first and inked[-1] == last
    assert inked[-1] - inked[0] + (0 if ticked else 1) == shown.bar_px
    number = float(re.match(r"[\d.]+", shown.bar_label).group())
    assert number == pytest.approx(shown.bar_um) and shown.bar_px * 0.37 == pytest.approx(number, abs=0.19)
    added = shown.pixels.shape[0] - 400
    assert (added > 0) == (layout.place in ("below", "above"))
    # Everything drawn is masked.
    kept = shown.pixels[shown.codes != 255]
    assert (kept == 128).all()


def test_hard_cases_are_not_open_valleys():
    for style in scene.STYLES:
        field = _field(style, zone="in-track", without_valleys=True, stroke_scratches=4, stains=2, debris=2, flakes_per_mm2=300.0, pits_per_mm2=200.0)
        codes = _make(field, 6).codes
        assert not np.any(codes == 1) and not np.any(codes == 2)
        assert np.any(codes == 255)


def test_scuffed_streaks_cover_about_what_was_asked():
    for style in scene.STYLES:
        codes = _make(_field(style, zone="in-track", scuffed_target=0.25, wear_um=0.2, closed_share=0.2), 3).codes
        assert np.mean(codes == 3) == pytest.approx(0.25, abs=0.06)


@pytest.mark.slow
@pytest.mark.parametrize("style", scene.STYLES)
def test_a_full_field_takes_seconds(style, tmp_path):
    start = time.process_time()
    folder.write_set(tmp_path, fields=2, seed=1, size=(1280, 960), style=style)
    assert (time.process_time() - start) / 2 < 6
