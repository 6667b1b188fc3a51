"""The session maker writes valid, reproducible label folders whose truth agrees with what was built and printed."""

import csv
import hashlib
from collections import Counter
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from semwear.labels import read_labels
from tests.session_maker.canvas import Canvas
from tests.session_maker.caps import lay_caps
from tests.session_maker.closures import closed_by_flow
from tests.session_maker.detector import electrons
from tests.session_maker.flakes import add_flakes
from tests.session_maker.folder import COLOURS, PLAN, write_folder
from tests.session_maker.grooves import draw_lay
from tests.session_maker.imprint import imprint
from tests.session_maker.instrument import draw_instrument, field_instrument
from tests.session_maker.pits import COVERED, add_debris, add_pits
from tests.session_maker.recording import record
from tests.session_maker.relief import Relief
from tests.session_maker.running_in import LIMIT_UM, run_in, worn_off
from tests.session_maker.scratches import add_scratches
from tests.session_maker.scuffing import draw_streaks, scuff
from tests.session_maker.session import Sitting, draw_session
from tests.session_maker.sheet import Sheet
from tests.session_maker.specimen import Specimen, draw_specimen
from tests.session_maker.stains import add_stains
from tests.session_maker.surface import MARGIN_PX, make_surface
from tests.session_maker.wear import KINDS, Wear, draw_wear, field_wear

SCALE = 0.3
SHAPE = (300, 400)
SEED, SPECIMENS = 30, 4
"""With all three endings, a strip above, a strip below and print on the picture, smeared and scuffed specimens."""
GREY = 128


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("session")
    write_folder(out, SPECIMENS, SEED, SCALE, with_pixel_size=True)
    return out


@pytest.fixture(scope="module")
def sittings() -> list[Sitting]:
    return list(draw_session(9, 240))


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def digests(path: Path) -> dict[str, str]:
    return {
        p.relative_to(path).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(path.rglob("*"))
        if p.is_file()
    }


def a_specimen(pixel_size_um: float = 0.6) -> Specimen:
    drawn = draw_specimen(np.random.default_rng(4), "scuffed", 0)
    hone = replace(drawn.hone, width_um=7.0, grooves=8.0)
    return replace(drawn, shape=SHAPE, pixel_size_um=pixel_size_um, hone=hone)


def level(code: int = 0) -> Relief:
    """Return a level surface of bare iron in one state."""
    ones = np.ones(SHAPE, np.float32)
    return Relief(heights=0 * ones, brightness=ones, codes=np.full(SHAPE, code, np.uint8))


def slopes(a: np.ndarray, sigma: float) -> tuple[np.ndarray, np.ndarray]:
    smooth = cv2.GaussianBlur(a.astype(np.float32), (0, 0), sigma)
    return cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)


def courses_deg(a: np.ndarray) -> np.ndarray:
    """Return the directions of the strongest edges of ``a``, degrees anticlockwise from the rows."""
    gx, gy = slopes(a, 2)
    strength = np.hypot(gx, gy)
    strong = strength > np.percentile(strength, 85)
    return np.rad2deg(np.arctan2(-gy[strong], gx[strong])) + 90


def off(course: np.ndarray, direction_deg: float) -> np.ndarray:
    return (course - direction_deg + 90) % 180 - 90


def across_over_along(a: np.ndarray, direction_deg: float) -> float:
    """Return how much more ``a`` changes across a direction than along it."""
    gx, gy = slopes(a, 1.5)
    x, y = np.cos(np.deg2rad(direction_deg)), -np.sin(np.deg2rad(direction_deg))
    return float(np.mean((gx * y - gy * x) ** 2) / np.mean((gx * x + gy * y) ** 2))


def test_every_byte_follows_from_the_seed(folder: Path, tmp_path: Path) -> None:
    write_folder(tmp_path / "again", SPECIMENS, SEED, SCALE, with_pixel_size=True)
    write_folder(tmp_path / "other", 1, SEED + 1, SCALE)
    assert digests(tmp_path / "again") == digests(folder)
    assert not set(digests(tmp_path / "other").values()) & set(digests(folder).values())


def test_folder_is_read_as_labels_and_its_tables_agree_with_the_masks(folder: Path) -> None:
    truth = {row["file"]: row for row in table(folder / "truth.csv")}
    fields = read_labels(folder)
    assert len(fields) == 6 * SPECIMENS and {field.micrograph.file for field in fields} == set(truth)
    shares: dict[tuple[str, str], list[float]] = {}
    for field in fields:
        row, codes = truth[field.micrograph.file], field.codes
        assert field.calibration.pixel_size_um == pytest.approx(float(row["pixel_size_um"]))
        assert field.worn == (row["zone"] == "in-track") and field.specimen == row["specimen"]
        assert set(np.unique(codes).tolist()) <= set(COLOURS)
        for code, state in ((1, "valley"), (2, "smeared"), (3, "scuffed")):
            assert float(row[f"{state}_fraction"]) == pytest.approx((codes[codes != 255] == code).mean(), abs=1e-7)
        shares.setdefault((field.specimen, row["zone"]), []).append((codes[codes != 255] == 1).mean())
    assert all(len(zone) == 3 for zone in shares.values())
    # shares of fields are averaged first: a ratio of means, never a mean of ratios
    retention = table(folder / "retention.csv")
    assert len(retention) == SPECIMENS
    for row in retention:
        inside, outside = (np.mean(shares[row["specimen"], zone]) for zone in ("in-track", "out-of-track"))
        assert float(row["valley_in_track"]) == pytest.approx(inside, abs=1e-7)
        assert float(row["valley_out_of_track"]) == pytest.approx(outside, abs=1e-7)
        assert float(row["retention"]) == pytest.approx(inside / outside, abs=1e-6)


def test_the_plan_leaves_the_scale_to_the_printed_bars_unless_asked(folder: Path, tmp_path: Path) -> None:
    write_folder(tmp_path, 1, SEED, SCALE)
    bare, told = table(tmp_path / "plan.csv"), table(folder / "plan.csv")
    assert tuple(bare[0]) == PLAN and [row["file"] for row in bare] == [row["file"] for row in told[:6]]
    assert all(row["pixel_size_um"] == "" for row in bare)
    pixels = {row["file"]: row["pixel_size_um"] for row in table(folder / "truth.csv")}
    assert {row["file"]: row["pixel_size_um"] for row in told} == pixels
    # two specimens in three state their stroke
    assert [row["stroke_deg"] != "" for row in told[::6]] == [True, True, False, True]


def test_masks_can_be_looked_at(folder: Path) -> None:
    assert len(set(COLOURS.values())) == len(COLOURS) == 5
    for path in (folder / "masks").iterdir():
        with Image.open(path) as mask:
            assert mask.mode == "P"
            codes, seen = np.array(mask), np.array(mask.convert("RGB"))
        assert all((seen[codes == code] == colour).all() for code, colour in COLOURS.items())


def test_specimens_keep_to_the_ranges_of_the_trade(sittings: list[Sitting]) -> None:
    # tests/SOURCES.md, Surface: hone angles of some 30-60° are usual, 140-150° for helical slide honing [M], here from 120°.
    # Pixel sizes, the pictures' sizes and how often finishes come are the maker's own.
    drawn = [sitting.specimen for sitting in sittings]
    angles = np.array([s.hone_angle_deg for s in drawn])
    helical = np.array([s.finish == "helical" for s in drawn])
    assert 0.15 < helical.mean() < 0.35
    assert angles[helical].min() > 120 and angles[helical].max() < 150
    assert angles[~helical].min() > 30 and angles[~helical].max() < 60
    pixels = np.array([s.pixel_size_um for s in drawn])
    assert 0.15 <= pixels.min() < 0.17 and 1.3 < pixels.max() <= 1.5
    assert 0.4 < np.mean(pixels < np.sqrt(0.15 * 1.5)) < 0.6  # log-uniform
    assert {s.shape for s in drawn} == {(768, 1024), (960, 1280)}
    # tests/SOURCES.md, Surface: grooves are 5 to 50 µm wide and hold 15-30 % of the area [M]. Finer ones at fine pixels are own;
    # grooves of one lay are narrower at the limit of 0.5 µm than at their rims, and the two lays cross.
    widths, grooves = (np.array([getattr(s.hone, name) for s in drawn]) for name in ("width_um", "grooves"))
    assert widths.min() > 2.5 and widths.max() < 25 and np.all((grooves >= 8) & (grooves <= 60))
    laid = widths * grooves / np.array([s.field_um for s in drawn])
    assert 0.15 < np.median(laid) < 0.30
    turned = np.array([off(np.array(s.stroke_deg), s.stated_stroke_deg) for s in drawn])
    assert 0.5 < turned.std() < 0.9 and abs(turned.mean()) < 0.2
    assert all(min(abs(off(np.array(s.stated_stroke_deg), to)) for to in (0, 90)) <= 4 for s in drawn)


def test_a_session_has_all_kinds_and_layouts_in_turn_and_tells_files_apart(sittings: list[Sitting]) -> None:
    for start in range(0, 240, 12):
        assert sorted(sitting.bar.layout for sitting in sittings[start : start + 12]) == list(range(12))
    for start in range(0, 240, len(KINDS)):
        group = Counter(sitting.specimen.kind for sitting in sittings[start : start + len(KINDS)])
        assert group == Counter(KINDS)
    stems = [stem.lower() for sitting in sittings for stem in sitting.stems]
    assert len(set(stems)) == 6 * 240
    assert {sitting.ending for sitting in sittings} == {"png", "tif", "jpg"}
    for sitting in sittings:
        assert sorted(sitting.serials) == list(range(min(sitting.serials), min(sitting.serials) + 6))
    # the order of numbers doesn't give the zone away
    assert 0.4 < np.mean([sitting.serials[0] < sitting.serials[5] for sitting in sittings]) < 0.6


@pytest.mark.parametrize("direction_deg", [20, 130])
def test_grooves_lie_along_their_lay_with_depths_of_the_trade(direction_deg: float) -> None:
    lay = draw_lay(np.random.default_rng(3), SHAPE, direction_deg, a_specimen(), 1.0)
    course = off(courses_deg(lay.depth), direction_deg)
    assert np.mean(np.abs(course) < 10) > 0.8  # 0.11 where directions were even
    assert abs(np.median(course)) < 2
    # tests/SOURCES.md, Surface: grooves are 1-10 µm deep [M]; the share is of one lay of two.
    valley = lay.depth > LIMIT_UM
    assert 1 < np.percentile(lay.depth[valley], 90) < 10
    # tests/SOURCES.md, Secondary-electron picture: walls slope by 6 to 27° [D].
    walls_deg = np.rad2deg(np.arctan(np.hypot(*np.gradient(lay.depth, a_specimen().pixel_size_um))))
    assert 6 < np.median(walls_deg[valley]) < 27
    assert 0.03 < valley.mean() < 0.25


def test_the_circumference_bisects_the_lays_and_bare_honing_closes_and_tears_nothing() -> None:
    specimen = replace(a_specimen(), hone_angle_deg=50.0)
    surface = make_surface(np.random.default_rng(7), specimen, Wear(), 60.0, SHAPE[0], False)
    assert surface.codes.shape == (SHAPE[0] + 2 * MARGIN_PX, SHAPE[1] + 2 * MARGIN_PX)
    assert set(np.unique(surface.codes).tolist()) == {0, 1}
    course = courses_deg(surface.codes == 1)
    first, second = (off(course, 60 + 90 + turn) for turn in (25, -25))  # the circumference lies across the stroke
    first, second = first[np.abs(first) < 12], second[np.abs(second) < 12]
    assert first.size + second.size > 0.65 * course.size  # 0.27 where directions were even
    assert min(first.size, second.size) > 0.15 * course.size
    assert abs(np.median(first)) < 2.5 and abs(np.median(second)) < 2.5
    # what is valley lies low: its ground is at least 0.5 µm below the plateau
    assert np.median(surface.heights[surface.codes == 1]) < -LIMIT_UM < np.median(surface.heights[surface.codes == 0])


def test_running_in_cuts_the_plateau_to_the_share_of_valleys_asked() -> None:
    specimen = a_specimen()
    depth = draw_lay(np.random.default_rng(3), SHAPE, 20, specimen, 1.0).depth
    worn_um = worn_off(depth, 0.7)
    assert (depth - worn_um > LIMIT_UM).mean() == pytest.approx(0.7 * (depth > LIMIT_UM).mean(), rel=0.02)
    assert worn_off(depth, 1.0) == pytest.approx(0, abs=1e-3) and worn_um > 0.2
    stroke = Canvas(SHAPE, 70)
    run = run_in(np.random.default_rng(4), -depth, worn_um, stroke, specimen.flow)
    assert run.max() < -worn_um + 0.04 and (-depth).max() == 0
    deep = depth > worn_um + 1
    assert deep.any() and (run[deep] == -depth[deep]).all()
    assert across_over_along(np.where(depth == 0, run, run.max()), 70) > 5


def test_closures_take_the_share_asked_of_the_footprint_deep_grooves_first() -> None:
    specimen = a_specimen()
    depth = draw_lay(np.random.default_rng(3), SHAPE, 20, specimen, 1.6).depth
    footprint = depth > LIMIT_UM
    for share in (0.2, 0.6):
        closed = closed_by_flow(np.random.default_rng(5), footprint, depth, 90, share, specimen.flow)
        assert not (closed & ~footprint).any()
        assert closed.sum() / footprint.sum() == pytest.approx(share, abs=0.1)
    # tests/SOURCES.md, Surface: folds interrupt the deep grooves most [P]. Two grooves alike but for their depth:
    depth = np.zeros(SHAPE, np.float32)
    depth[:, 60:80], depth[:, 160:180], depth[:, 260:280], depth[:, 340:360] = 2, 6, 2, 6
    closed = closed_by_flow(np.random.default_rng(5), depth > LIMIT_UM, depth, 0, 0.5, specimen.flow)
    assert closed[depth == 6].mean() > closed[depth == 2].mean() + 0.1
    assert not closed_by_flow(np.random.default_rng(5), footprint, footprint * 1.0, 90, 0.005, specimen.flow).any()


@pytest.mark.parametrize("direction_deg", [0, 90])
def test_metal_is_drawn_out_along_the_direction_it_moved_in(direction_deg: float) -> None:
    rows, cols = np.mgrid[: SHAPE[0], : SHAPE[1]]
    footprint = (rows + cols) % 120 < 70  # as wide along rows as along columns
    depth = footprint * np.float32(3)
    closed = closed_by_flow(np.random.default_rng(6), footprint, depth, direction_deg, 0.5, a_specimen().flow)
    edge = np.where(footprint, closed, 0)
    inside = cv2.erode(footprint.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    gx, gy = slopes(edge, 1)
    along, across = (gx, gy) if direction_deg == 0 else (gy, gx)
    assert np.mean(across[inside] ** 2) > 1.5 * np.mean(along[inside] ** 2)


def test_a_closure_comes_to_within_the_limit_of_the_worn_plateau() -> None:
    worn_um, rng = 0.4, np.random.default_rng(8)
    footprint, closed = np.zeros(SHAPE, bool), np.zeros(SHAPE, bool)
    footprint[:, 150:250], closed[100:200, 150:250] = True, True
    depth = np.where(footprint, 4 - worn_um, 0).astype(np.float32)
    own = a_specimen().flow
    below = []
    for flow in (own, replace(own, dimple_um=0.8)):  # as drawn, and as low as a cap can lie
        relief = level()
        relief.heights[:] = np.where(footprint, -4, -worn_um)
        before = relief.heights.copy()
        lay_caps(rng, relief, closed, footprint, depth, worn_um, Canvas(SHAPE, 90), flow)
        below.append(-worn_um - relief.heights[110:190, 160:240])
        assert (relief.heights[:80] == before[:80]).all() and (relief.heights[220:] == before[220:]).all()
    # semwear/terms.py: smeared is within 0.5 µm of the plateau, here the worn one; 0.42 µm is the maker's own.
    assert np.median(below[0]) > 0.05 and np.percentile(below[0], 99) < LIMIT_UM
    assert np.median(below[1]) == pytest.approx(0.42, abs=0.06)


def test_closures_and_scuffing_come_only_where_the_ring_ran(folder: Path) -> None:
    kinds = {sitting.name: sitting.specimen.kind for sitting in draw_session(SEED, SPECIMENS, SCALE)}
    assert {"smeared", "scuffed"} < set(kinds.values())
    for row in table(folder / "truth.csv"):
        kind, in_track = kinds[row["specimen"]], row["zone"] == "in-track"
        valley, smeared, scuffed = (float(row[f"{state}_fraction"]) for state in ("valley", "smeared", "scuffed"))
        assert (scuffed > 0.01) == (scuffed > 0) == (in_track and kind == "scuffed")
        closed = smeared / (smeared + valley)
        if in_track and kind == "smeared":
            assert closed > 0.15
        if not in_track:  # only what honing itself has folded
            assert closed < 0.08
    rng = np.random.default_rng(1)
    unrun = [field_wear(rng, draw_wear(rng, "scuffed"), False) for _ in range(300)]
    assert all(wear.scuffed == 0 and wear.polished_to == 1 and wear.smeared < 0.08 for wear in unrun)
    assert np.mean([wear.smeared for wear in unrun]) < 0.015
    run = [field_wear(rng, draw_wear(rng, kind), True) for kind in KINDS for _ in range(20)]
    assert all((wear.scuffed > 0) == (kind == "scuffed") for wear, kind in zip(run, np.repeat(KINDS, 20), strict=True))


def test_a_scuffed_field_is_torn_in_streaks_along_the_stroke() -> None:
    stroke = Canvas(SHAPE, 70)
    _, streaks = draw_streaks(np.random.default_rng(5), stroke, 0.25)
    assert streaks.mean() == pytest.approx(0.25, abs=0.03)
    assert across_over_along(streaks, 70) > 4
    relief = level(1)
    scuff(np.random.default_rng(5), relief, 0.25, 0.0, stroke, 0.6, a_specimen().flow)
    torn = relief.codes == 3
    assert (torn == streaks).all() and (relief.codes[~torn] == 1).all()
    far = ~cv2.dilate(torn.astype(np.uint8), np.ones((15, 15), np.uint8)).astype(bool)
    assert relief.heights[torn].std() > 0.1 and (relief.heights[far] == 0).all()


def test_a_look_alike_counts_as_what_it_lies_in() -> None:
    iron = replace(a_specimen().iron, flakes=30.0, pits=30, scratches=20.0)
    stroke, none = Canvas(SHAPE, 70), np.zeros(SHAPE, bool)
    depth = np.zeros(SHAPE, np.float32)
    for code in (0, 1):
        flaky, pitted, stained = level(code), level(code), level(code)
        add_flakes(np.random.default_rng(1), flaky, none, 0.6, iron, None)
        add_pits(np.random.default_rng(1), pitted, 0.6, iron)
        add_stains(np.random.default_rng(1), stained, stroke, 0.3, False)
        for relief in (flaky, pitted, stained):
            assert (relief.codes == code).all() and (relief.brightness < 0.85).mean() > 0.005
        assert pitted.heights.min() < -LIMIT_UM  # as deep as a valley, and none
    scratched = level()
    add_scratches(np.random.default_rng(1), scratched, depth, stroke, 0.6, iron, True)
    assert (scratched.codes == 0).all() and (scratched.heights < -0.1).mean() > 0.01
    assert across_over_along(scratched.heights, 70) > 10
    valley = level(1)  # a groove's ground isn't reached by them
    add_scratches(np.random.default_rng(1), valley, depth + 1, stroke, 0.6, iron, True)
    assert (valley.heights == 0).all()


def test_debris_hides_what_lies_under_it_and_counts_as_plateau() -> None:
    iron = replace(a_specimen().iron, debris=40.0, debris_brightness=0.3)
    for code in (1, 2, 3):
        relief = level(code)
        add_debris(np.random.default_rng(2), relief, 0.6, iron)
        hidden = relief.codes == 0
        assert 0.005 < hidden.mean() < 0.3 and (relief.codes[~hidden] == code).all()
        assert (relief.brightness[hidden] > 1 + 0.3 * COVERED - 1e-3).all()
        assert relief.heights[hidden].min() > 0.2 > abs(relief.heights[~hidden].mean())


def test_level_is_even_deep_grooves_starve_and_walls_that_face_the_detector_shine() -> None:
    # tests/SOURCES.md, Secondary-electron picture: real contrast comes from the detector's side and starved escape too.
    rng = np.random.default_rng(6)
    flat, iron = np.zeros(SHAPE, np.float32), np.ones(SHAPE, np.float32)
    for _ in range(10):
        own = replace(draw_instrument(rng), shading=np.zeros(3))
        seen = electrons(flat, iron, 0.6, own)
        assert seen.std() < 1e-4 and seen.mean() == pytest.approx(1, abs=1e-3)
        trench = flat.copy()
        trench[144:156] = -5
        assert electrons(trench, iron, 0.6, own)[150, 200] < 0.8
        x, y = np.cos(np.deg2rad(own.azimuth_deg)), -np.sin(np.deg2rad(own.azimuth_deg))
        rows, cols = np.mgrid[: SHAPE[0], : SHAPE[1]]
        ramp = ((cols * x + rows * y) * 0.6 * 0.3).astype(np.float32)
        towards, away = (electrons(sign * ramp, iron, 0.6, own)[150, 200] for sign in (-1, 1))
        assert towards > away * 1.005  # the first falls towards the detector, so that it faces it
    graphite = iron.copy()
    graphite[:, 200:] = 0.5
    seen = electrons(flat, graphite, 0.6, own)
    assert seen[150, 300] < 0.75 * seen[150, 100]


def test_a_specimen_keeps_its_setting_and_noise_is_of_counted_electrons() -> None:
    rng = np.random.default_rng(2)
    own = draw_instrument(rng)
    fields = [field_instrument(rng, own) for _ in range(40)]
    assert len({field.level for field in fields}) == 40
    assert np.std([np.log(field.level) for field in fields]) == pytest.approx(0.05, rel=0.4)  # the maker's own
    assert {field.exponent for field in fields} == {own.exponent}
    # tests/SOURCES.md, Secondary-electron picture: noise of N electrons is 1/sqrt(N) [D], so that its share of a signal halves
    # with four times the electrons.
    plain = replace(own, jitter_px=0.0, line=0.0, gamma=1.0, level=120.0, gain=120.0)
    ones = np.ones(SHAPE, np.float32)
    for many in (100, 400):
        picture = record(np.random.default_rng(3), ones, replace(plain, electrons=many)).astype(float)
        assert picture.mean() == pytest.approx(120, abs=0.5)
        assert picture.std() == pytest.approx(120 / np.sqrt(many), rel=0.03)


# --- the printed data bars


def printed(sitting: Sitting) -> Sheet:
    rows, cols = sitting.specimen.shape
    blank = np.full((rows - sitting.bar.strip_px, cols), GREY, np.uint8)
    return imprint(blank, sitting.bar, (rows, cols), sitting.specimen.pixel_size_um, sitting.serials[0])


def runs(line: np.ndarray, least: int = 1) -> list[tuple[int, int]]:
    """Return first and last place of each run of True that is at least so long."""
    step = np.diff(np.concatenate([[0], line.astype(int), [0]]))
    found = zip(np.flatnonzero(step == 1), np.flatnonzero(step == -1) - 1, strict=True)
    return [(int(a), int(b)) for a, b in found if b - a + 1 >= least]


def solid(ink: np.ndarray) -> float:
    """Return the length of the longest solid bar."""
    return max(b - a + 1 for row in ink for a, b in runs(row))


def ticked(ink: np.ndarray) -> float:
    """Return the distance between the centres of two ticks that stand on the ends of a line, the longest one there is."""
    found = [0.0]
    for y in range(20, len(ink)):
        for a, b in runs(ink[y], 60):
            above = runs(ink[y - 3, a : b + 1])
            # ticks stand above the line and end within 20 px, which the sides of a box don't
            if len(above) == 2 and above[0][0] == 0 and above[1][1] == b - a and not ink[y - 20, a]:
                found.append(np.mean(above[1]) - np.mean(above[0]))
    return max(found)


def marks(ink: np.ndarray, width: int) -> float:
    """Return the distance from the first to the last one of eleven marks of a width."""
    rows = [found for found in map(runs, ink) if [b - a + 1 for a, b in found].count(width) == len(found) == 11]
    assert rows and all(row == rows[0] for row in rows)
    return float(rows[0][-1][0] - rows[0][0][0])


def chequered(ink: np.ndarray) -> float:
    """Return the length from the first to the last one of three white fields of five."""
    rows = [found for found in (runs(row, 20) for row in ink) if len(found) == 3]
    assert len(rows) >= 5 and all(row == rows[0] for row in rows)
    return float(rows[0][-1][1] - rows[0][0][0] + 1)


def between_ticks(ink: np.ndarray, middle: int, tick_px: int) -> float:
    """Return the distance between the outer ticks of a bar that its label may interrupt; ticks are centred on ``middle``."""
    low, high = middle - tick_px, middle + tick_px
    tick = ink[low : high + 1].all(0) & ~ink[low - 1] & ~ink[high + 1]
    first, *rest = runs(tick)
    bar = runs(ink[middle])[0]
    uninterrupted = [run for run in rest if run[1] == bar[1]]
    last = uninterrupted[0] if uninterrupted else rest[-1]
    return float(np.mean(last) - np.mean(first))


def bar_in_pixels(sheet: Sheet) -> float:
    """Return the scale bar's length as it is found in the printed pixels of a blank picture."""
    picture, bar = sheet.picture, sheet.bar
    if bar.layout in (0, 4):
        return ticked(picture == 0)
    if bar.layout == 6:
        return ticked(picture[: bar.strip_px] == (0 if bar.flipped else 255))
    if bar.layout == 9:
        return between_ticks(picture == (0 if bar.flipped else 255), sheet.middle, bar.tick_px)
    white = picture == 255
    if bar.layout == 5:
        return chequered(white)
    if bar.layout in (7, 8):
        return solid(white)
    if bar.layout in (3, 10):
        return marks(white, 2 if bar.layout == 3 else 3)
    return ticked(white)


@pytest.mark.parametrize("layout", range(12))
def test_bar_over_label_gives_the_pixel_size_and_print_is_masked(layout: int, sittings: list[Sitting]) -> None:
    chosen = [sitting for sitting in sittings if sitting.bar.layout == layout][:8]
    for sitting in chosen:
        sheet, bar, pixel_size_um = printed(sitting), sitting.bar, sitting.specimen.pixel_size_um
        assert bar.label in sheet.texts
        stated_um = float(bar.label.removesuffix("m").rstrip(" uµ"))
        # drawn to the nearest pixel
        assert bar_in_pixels(sheet) == pytest.approx(stated_um / pixel_size_um, abs=0.5 + 1e-6)
        blank = np.zeros(sheet.picture.shape, bool)
        blank[: bar.strip_px] = bar.at_top
        blank[blank.shape[0] - bar.strip_px :] = not bar.at_top
        assert (sheet.covered[blank]).all()  # a strip is masked as a whole, print on the picture with what it stands on
        assert (sheet.picture[~sheet.covered] == GREY).all()
        covered = (sheet.covered & ~blank).mean()
        assert (0.003 < covered < 0.08) if not bar.strip_px else covered < 0.01


def test_masks_hold_255_under_print_and_nowhere_else(folder: Path) -> None:
    for sitting in draw_session(SEED, SPECIMENS, SCALE):
        for stem, serial in zip(sitting.stems, sitting.serials, strict=True):
            rows, cols = sitting.specimen.shape
            blank = np.full((rows - sitting.bar.strip_px, cols), GREY, np.uint8)
            sheet = imprint(blank, sitting.bar, (rows, cols), sitting.specimen.pixel_size_um, serial)
            with Image.open(folder / "masks" / f"{stem}.png") as mask:
                assert ((np.array(mask) == 255) == sheet.covered).all()
