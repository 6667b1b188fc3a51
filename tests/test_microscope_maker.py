"""The microscope maker writes valid, reproducible label folders whose truth agrees with what was built and drawn."""

import csv
import hashlib
from pathlib import Path

import cv2
import numpy as np
import pytest

from semwear.labels import read_labels
from tests.microscope_maker.electrons import Beam, draw_beam, emitted, range_um
from tests.microscope_maker.field import LIMIT_UM, make, make_field
from tests.microscope_maker.figures import Figures
from tests.microscope_maker.folder import write_folder
from tests.microscope_maker.frame import Frame
from tests.microscope_maker.grooves import lay_grooves
from tests.microscope_maker.recording import record
from tests.microscope_maker.scuffing import scuff
from tests.microscope_maker.specimen import draw_specimen

SCALE = 0.3
SHAPE = (300, 400)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("microscope")
    write_folder(out, 12, 5, SCALE)
    return out


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def digests(path: Path) -> dict[str, str]:
    return {
        p.relative_to(path).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(path.rglob("*"))
        if p.is_file()
    }


def a_frame(seed: int, own: Figures | None = None, px: float = 0.6) -> Frame:
    return Frame(np.random.default_rng(seed), own or Figures((seed,)), px, SHAPE)


def slopes(a: np.ndarray, sigma: float) -> tuple[np.ndarray, np.ndarray]:
    smooth = cv2.GaussianBlur(a.astype(np.float32), (0, 0), sigma)
    return cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)


def test_every_byte_follows_from_the_seed(folder: Path, tmp_path: Path) -> None:
    write_folder(tmp_path / "again", 12, 5, SCALE)
    write_folder(tmp_path / "other", 2, 6, SCALE)
    assert digests(tmp_path / "again") == digests(folder)
    assert not set(digests(tmp_path / "other").values()) & set(digests(folder).values())


def test_folder_is_read_as_labels_and_its_tables_agree_with_the_masks(folder: Path) -> None:
    truth = {row["file"]: row for row in table(folder / "truth.csv")}
    fields = read_labels(folder)
    assert len(fields) == 12 and {field.micrograph.file for field in fields} == set(truth)
    shares: dict[tuple[str, str], list[float]] = {}
    for field in fields:
        row, codes = truth[field.micrograph.file], field.codes
        assert field.calibration.pixel_size_um == pytest.approx(float(row["pixel_size_um"]))
        assert field.worn == (row["zone"] == "in-track") and set(np.unique(codes).tolist()) <= {0, 1, 2, 3, 255}
        for code, state in enumerate(("plateau", "valley", "smeared", "scuffed")):
            assert float(row[f"{state}_fraction"]) == pytest.approx((codes[codes != 255] == code).mean(), abs=1e-6)
        if not field.worn:
            assert not np.isin(codes, (2, 3)).any()
        shares.setdefault((field.specimen, row["zone"]), []).append((codes[codes != 255] == 1).mean())
    # shares of fields are averaged first: a ratio of means, never a mean of ratios
    for row in table(folder / "retention.csv"):
        inside, outside = (np.mean(shares[row["specimen"], zone]) for zone in ("in-track", "out-of-track"))
        assert float(row["retention"]) == pytest.approx(inside / outside, abs=1e-4)


def test_specimens_keep_to_the_ranges_of_the_trade() -> None:
    # tests/SOURCES.md, Surface: hone angles of some 30-60° are usual, 140-150° for helical slide honing [M]; each lay strays by
    # 1.5° here. Pixel sizes and the pictures' sizes are the maker's own.
    drawn = [draw_specimen(9, n) for n in range(300)]
    angles = np.array([s.hone_angle_deg for s in drawn])
    slide = np.array([s.finish == "slide" for s in drawn])
    assert 0.14 < slide.mean() < 0.32
    assert np.all((angles[slide] > 131) & (angles[slide] < 159))
    assert np.all((angles[~slide] > 21) & (angles[~slide] < 71))
    pixels = np.array([s.pixel_size_um for s in drawn])
    assert 0.2 <= pixels.min() < 0.22 and 1.35 < pixels.max() <= 1.5
    assert 0.4 < np.mean(pixels < np.sqrt(0.2 * 1.5)) < 0.6  # log-uniform
    assert all(600 <= s.shape[0] <= 960 and 800 <= s.shape[1] <= 1280 for s in drawn)


def test_grooves_lie_along_the_lays_with_depths_of_the_trade() -> None:
    specimen = max((draw_specimen(9, n) for n in range(40)), key=lambda s: abs(s.stroke_deg - 90))
    assert abs(specimen.stroke_deg - 90) > 5
    none = np.zeros(SHAPE, np.float32)
    before = lay_grooves(a_frame(3, specimen.own), specimen.finish, none, none, False).before
    gx, gy = slopes(before, 3)
    strong = np.hypot(gx, gy) > np.percentile(np.hypot(gx, gy), 85)
    course = np.rad2deg(np.arctan2(-gy[strong], gx[strong])) + 90
    off = [(course - lay + 90) % 180 - 90 for lay in specimen.lays_deg]
    near = [lay_off[np.abs(lay_off) < 12] for lay_off in off]
    assert sum(len(lay_off) for lay_off in near) > 0.65 * course.size  # 0.27 where directions were even
    assert all(abs(np.median(lay_off)) < 2 for lay_off in near)
    # tests/SOURCES.md, Surface: grooves are 1-10 µm deep [M].
    assert 1 < np.percentile(before[before >= LIMIT_UM], 90) < 10


def test_closures_come_within_the_limit_and_only_where_the_ring_ran() -> None:
    weight = np.ones(SHAPE, np.float32)
    weight[:, :200] = 0
    grooves = lay_grooves(a_frame(4), "plateau", 0.2 * weight, weight, True)
    footprint = grooves.before >= LIMIT_UM
    closed = footprint & (grooves.after < LIMIT_UM)
    assert (closed & (weight > 0)).sum() > 0.05 * (footprint & (weight > 0)).sum()
    assert not (closed & (weight == 0)).any()
    assert (grooves.after <= grooves.before + 1e-5).all()
    assert grooves.after[weight == 0] == pytest.approx(grooves.before[weight == 0])


def test_scuffing_runs_along_the_stroke_and_stays_in_the_track() -> None:
    f, level, weight = a_frame(5), np.zeros(SHAPE, np.float32), np.ones(SHAPE, np.float32)
    torn = scuff(f, level, level, weight)[1] > 0.5
    gx, gy = slopes(torn, 1.5)
    along = np.mean((gx * f.stroke[0] + gy * f.stroke[1]) ** 2)
    across = np.mean((gx * f.stroke[1] - gy * f.stroke[0]) ** 2)
    assert torn.mean() > 0.02 and across > 5 * along
    weight[:, :200] = 0
    assert not (scuff(a_frame(5), level, level, weight)[1] > 0.5)[:, :200].any()


def test_range_of_electrons_in_iron() -> None:
    # tests/SOURCES.md, Secondary-electron picture: Kanaya and Okayama, iron of 7.87 g/cm³ at 5/10/15/20 kV [P, D]; the
    # maker's sections are grey iron of 7.2 g/cm³ (Bench test).
    assert [range_um(kv) * 7.2 / 7.87 for kv in (5, 10, 15, 20)] == pytest.approx([0.16, 0.5, 0.99, 1.6], abs=0.011)


def test_level_is_even_deep_grooves_starve_and_walls_that_face_the_detector_shine() -> None:
    # tests/SOURCES.md, Secondary-electron picture: real contrast comes from the detector's side and starved escape too.
    f, beam = a_frame(6), Beam(kv=10.0, range_um=range_um(10), back=False)
    level = np.zeros(SHAPE, np.float32)
    seen = emitted(f, beam, level)
    assert seen.std() < 1e-4
    trench = level.copy()
    trench[140:160] = -5
    assert emitted(f, beam, trench)[150, 200] < 0.8 * seen[150, 200]
    angle = f.own["azimuth"].uniform(0, 2 * np.pi)
    rise = (f.x * np.cos(angle) + f.y * np.sin(angle)).astype(np.float32) * 0.3
    towards, away = emitted(f, beam, -rise), emitted(f, beam, rise)  # the first falls towards the detector, so it faces it
    assert towards[150, 200] > 1.1 * away[150, 200]


def test_a_specimen_keeps_its_finish_and_setting_and_noise_is_of_counted_electrons() -> None:
    own, beam = Figures((4, 1)), draw_beam(Figures((4, 1)))
    assert all(draw_beam(own) == beam for _ in range(3)) and len({draw_beam(Figures((4, n))) for n in range(30)}) > 4
    one, other = (
        make_field(np.random.default_rng(n), own, pixel_size_um=0.6, shape=SHAPE, worn=False) for n in (1, 2)
    )
    assert one.kind == other.kind and (one.codes != other.codes).mean() > 0.05 and not one.worn.any()
    alone = [make(np.random.default_rng(8), pixel_size_um=0.6, shape=SHAPE).image for _ in range(2)]
    assert (alone[0] == alone[1]).all()
    # tests/SOURCES.md, Secondary-electron picture: noise of N electrons is 1/sqrt(N) [D], so that twice
    # the electrons have twice the variance.
    f = a_frame(9)
    y = np.ones(SHAPE, np.float32)
    y[:, 200:] = 2.0
    half = record(f, Beam(kv=3.0, range_um=range_um(3), back=False), y).astype(float)
    dark, bright = half[:, 40:160], half[:, 240:360]
    rows = [(part - part.mean(1, keepdims=True)).var() for part in (dark, bright)]
    assert rows[1] / rows[0] == pytest.approx(2, rel=0.25)
