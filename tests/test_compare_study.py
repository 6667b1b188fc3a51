"""A whole study through ``compare``: hand-made results folders, so that every expected figure is known beforehand."""

import base64
import csv
import io
import itertools
import math
import re
import time

import numpy as np
import openpyxl
import pytest
import tifffile
from PIL import Image

from semwear import results
from semwear.cli import main
from semwear.compare.pictures import FieldSource, drawn_states, legend, square_field
from semwear.compare.report import JoinedSection, build_comparison, write_comparison
from semwear.compare.study import compare_study
from semwear.compare.tables import all_tables
from semwear.compare.verdict import CANT_TELL, KEPT, MOVED
from semwear.errors import PlanError, ReadError, ResultsError
from semwear.measure import empty_row
from semwear.overlay import STYLES
from semwear.plan import read_plan
from semwear.terms import MaskCode

RUN = {"semwear": "0.1.0", "started": "2030-01-01", "ended": "2030-01-01", "settings": {}, "model": {}, "packages": {}}


def write_study(
    folder, specimens, *, fields=3, titles=("finish", "oil"), responses=("friction", "iron_ppm"), files=None, seed=1
):
    """Write a results folder and a plan (pair of .csv) and return their paths.

    specimens: (name, levels, reference valley fraction, retention, smeared fraction in the track, values of responses).
    """
    rng = np.random.default_rng(seed)
    rows, planned = [], []
    for name, _, reference, retention, smeared, _ in specimens:
        for zone in ("in-track", "out-of-track"):
            run = zone == "in-track"
            for number in range(fields):
                file = f"{name}_{zone}_{number}.png"
                step = 1 + 0.04 * (number - (fields - 1) / 2) + rng.normal(0, 0.005)
                rows.append(
                    empty_row(
                        file,
                        sha256=file,
                        status="measured",
                        pixel_size_um=0.8,
                        pixel_size_source="scale bar",
                        field_width_um=300.0,
                        specimen="",
                        zone="",
                        stage="",
                        worn_fraction=0.9 if run else 0.05,
                        valley_fraction=reference * (retention if run else 1) * step,
                        kv=5.0,
                        detector="SE",
                        tilt_deg=0.0,
                        smeared_fraction=(smeared if run else 0.003) * step,
                        scuffed_fraction=0.0,
                        groove_continuity=0.8,
                    )  # fmt: skip
                )
                planned.append((file, name, zone, "after"))
    out = folder / "results"
    out.mkdir(parents=True)
    results.write_tables(out, rows, [])
    results.write_run(out, RUN | {"files": files or {}})
    plan = folder / "plan"
    plan.mkdir()
    with (plan / "fields.csv").open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([("file", "specimen", "zone", "stage"), *planned])
    with (plan / "specimens.csv").open("w", newline="", encoding="utf-8") as stream:
        table = [(name, *levels, *values) for name, levels, *_, values in specimens]
        csv.writer(stream).writerows([("specimen", *titles, *responses), *table])
    return out, plan


def factorial(noise=0.01, seed=3):
    """Two oils and two finishes, two specimens each; either better level helps iron and friction alone, both don't."""
    rng = np.random.default_rng(seed)
    cases = {
        ("p", "lean"): (60, 0.15),
        ("p", "rich"): (38, 0.12),
        ("s", "lean"): (40, 0.125),
        ("s", "rich"): (62, 0.152),
    }
    specimens = []
    for number, (levels, twin) in enumerate(itertools.product(cases, "ab")):
        iron, friction = (value * (1 + rng.normal(0, noise)) for value in cases[levels])
        specimens.append((f"L{number}{twin}", levels, 0.15, 0.95, 0.004, (round(friction, 4), round(iron, 1))))
    return specimens


def test_a_study_gives_retention_reading_and_the_interaction(tmp_path):
    specimens = factorial()
    name, levels, reference, *_ = specimens[0]
    specimens[0] = (name, levels, reference, 0.3, 0.09, (0.16, 30))  # smeared with low iron
    found = compare_study(*_paths(write_study(tmp_path, specimens)))
    by_name = {read.specimen: read for read in found.verdicts}
    assert by_name[name].reading == MOVED
    assert found.figures[0].retention.value == pytest.approx(0.3, rel=0.02)
    assert {read.reading for read in found.verdicts} >= {KEPT, MOVED}
    friction = next(each for each in found.interactions if each.response == "friction")
    assert friction.pattern == "together no better"


def _paths(pair):
    out, plan = pair
    return out, read_plan(plan)


@pytest.fixture(scope="module")
def compared(tmp_path_factory):
    """Return the comparison of the factorial study, made once."""
    return compare_study(*_paths(write_study(tmp_path_factory.mktemp("study"), factorial())))


def test_the_report_stands_alone_and_names_every_part(compared):
    heights = JoinedSection(title="Height maps", sentences=("One & two.",), heads=("specimen",), rows=(("L0a",),))
    html = build_comparison(compared, joined=(heights,))
    assert "Height maps" in html and "One &amp; two." in html
    assert (
        not re.search(r"(src|href)=\"(?!data:|#)", html)
        and "<script" not in html
        and not re.search(r"url\((?!#)", html)
    )
    for words in [
        "What the study says", "Matrix", "Pictures side by side", "Reading of each specimen", "Across the matrix",
        "What goes with what", "What to measure next", "Method and limits", "Cautions", "Where it comes from",
        "together they don", "L0a", "@media print",
    ]:  # fmt: skip
        assert words in html, words
    assert html.count("<svg") >= 4


def test_a_study_measured_without_the_network_is_read_with_reserve(tmp_path, compared):
    assert "Read with reserve" in build_comparison(compared)
    out, plan = write_study(tmp_path, factorial())
    results.write_run(out, RUN | {"model": {"name": "any"}, "files": {}})
    assert not any("geometry alone" in each for each in compare_study(out, read_plan(plan)).cautions)


def test_names_that_look_like_markup_or_formulas_stay_text(tmp_path):
    specimens = [
        ("<b>x</b>", ("=1+1", "a"), 0.15, 0.9, 0.004, (0.1, 50)),
        ("$y$", ("q", "b"), 0.15, 0.9, 0.004, (0.2, 60)),
    ]
    out, plan = write_study(tmp_path, [(f"S{k}", *own[1:]) for k, own in enumerate(specimens)])
    for name in ("fields.csv", "specimens.csv"):
        text = (plan / name).read_text(encoding="utf-8")
        text = re.sub(r"(?m)(^|,)S0,", r"\1<b>x</b>,", text)
        (plan / name).write_text(re.sub(r"(?m)(^|,)S1,", r"\1$y$,", text), encoding="utf-8")
    found = compare_study(out, read_plan(plan))
    html = build_comparison(found)
    assert "<b>x</b>" not in html and "&lt;b&gt;x&lt;/b&gt;" in html
    written = write_comparison(found, tmp_path / "report.html")
    book = openpyxl.load_workbook(written[1])
    cells = [cell for row in book["specimens"].iter_rows() for cell in row if cell.value == "=1+1"]
    assert cells and all(cell.data_type == "s" or cell.value == "=1+1" for cell in cells)
    assert not any(cell.data_type == "f" for cell in cells)


def test_tables_are_written_as_csv_and_workbook_with_the_same_rows(tmp_path, compared):
    found = compared
    written = write_comparison(found, tmp_path / "report")
    assert written[0] == tmp_path / "report" / "report.html"
    book = openpyxl.load_workbook(tmp_path / "report" / "comparison.xlsx")
    with (tmp_path / "report" / "tables" / "specimens.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == 8 == book["specimens"].max_row - 1
    assert float(rows[0]["valley_retention"]) == pytest.approx(found.figures[0].retention.value, rel=1e-5)
    assert {"effects", "correlations", "fields_used", "next"} <= set(book.sheetnames)


def test_the_workbook_says_what_every_column_of_the_specimens_means(compared):
    """Expected: the titles of the specimens table itself, in their order."""
    tables = all_tables(compared)
    assert [row["column"] for row in tables["columns"]] == list(tables["specimens"][0])
    assert all(row["meaning"] for row in tables["columns"])


def test_a_results_folder_is_never_overwritten_by_the_report(tmp_path, compared):
    out, _ = write_study(tmp_path, factorial())
    with pytest.raises(ResultsError, match="results folder"):
        write_comparison(compared, out)


@pytest.mark.parametrize(
    ("specimens", "kind"),
    [
        ([("S1", (), 0.15, 0.9, 0.004, ())], "one specimen, no factor, no response"),
        ([("S1", (), 0.15, 0.9, 0.004, ()), ("S2", (), 0.15, 0.5, 0.004, ())], "no factor, no response"),
        ([("S1", (), 0.0, 0.9, 0.004, ()), ("S2", (), 0.0, 0.5, 0.004, ())], "no valleys in the reference"),
    ],
)
def test_small_and_empty_studies_give_a_report_with_reasons(tmp_path, specimens, kind):
    out, plan = write_study(tmp_path, specimens, titles=(), responses=())
    found = compare_study(out, read_plan(plan))
    html = build_comparison(found)
    assert found.models == () and "inf" not in re.sub(r"info|infer", "", html.split("<body>")[1])
    assert all(read.why for read in found.verdicts)
    if kind == "no valleys in the reference":
        assert all(math.isnan(own.retention.value) for own in found.figures)
        assert "no valley retention can be given" in html


def test_one_field_a_zone_says_that_fields_are_missing(tmp_path):
    out, plan = write_study(tmp_path, [("S1", (), 0.15, 0.9, 0.004, ())], titles=(), responses=(), fields=1)
    found = compare_study(out, read_plan(plan))
    assert found.verdicts[0].reading == CANT_TELL
    assert "two fields or more" in found.field_needs[0].sentence


def test_the_number_of_fields_still_needed_is_said(tmp_path):
    out, plan = write_study(tmp_path, [("S1", (), 0.15, 0.9, 0.004, ())], titles=(), responses=(), fields=2)
    found = compare_study(out, read_plan(plan), wanted=0.01)
    need = found.field_needs[0]
    assert need.needed > 2 and f"about {need.needed} fields in each zone" in need.sentence


def test_a_plan_without_any_of_the_fields_is_refused_with_an_example(tmp_path):
    out, plan = write_study(tmp_path, factorial())
    text = (plan / "fields.csv").read_text(encoding="utf-8").replace(".png", ".tif")
    (plan / "fields.csv").write_text(text, encoding="utf-8")
    with pytest.raises(PlanError, match="none of the 48 fields"):
        compare_study(out, read_plan(plan))


def test_specimens_without_pictures_count_with_their_iron_and_friction(tmp_path):
    """Twelve specimens, of which eight have fields: the figures of the plan are known of all twelve."""
    specimens = factorial(noise=0.0)
    out, plan = write_study(tmp_path, specimens)
    with (plan / "specimens.csv").open("a", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([(f"X{number}", "p", "lean", 0.15, 60.0) for number in range(4)])
    found = compare_study(out, read_plan(str(plan)))
    models = {model.response: model for model in found.models}
    assert (models["iron_ppm"].specimens, models["friction"].specimens) == (12, 12)
    assert len(found.figures) == 8 and "iron" in build_comparison(found)


def test_a_specimen_with_too_few_fields_is_never_told_to_measure_as_many_as_it_has(tmp_path):
    specimens = [(f"S{number}", (), 0.15, 0.9, 0.0, (0.1, 40.0)) for number in range(3)]
    out, plan = write_study(tmp_path, specimens, fields=3, titles=())
    found = compare_study(out, read_plan(str(plan)), wanted=0.03)
    assert found.field_needs
    assert all(need.needed > min(need.run_fields, need.reference_fields) for need in found.field_needs)


def test_the_report_of_a_results_folder_is_no_name_for_a_comparison(tmp_path):
    out, plan = write_study(tmp_path, factorial())
    with pytest.raises(ResultsError, match="report of a results folder"):
        write_comparison(compare_study(out, read_plan(str(plan))), out / "report.html")


def square_picture(pixel_um: float, shape_um=(240.0, 320.0), side_um=80.0):
    """Return a grey picture and a mask with one square of known size in the middle, the square being open valley."""
    rows, cols = (round(size / pixel_um) for size in shape_um)
    grey = np.full((rows, cols), 160, np.uint8) + np.random.default_rng(0).integers(0, 20, (rows, cols)).astype(
        np.uint8
    )
    codes = np.zeros((rows, cols), np.uint8)
    half = side_um / 2 / pixel_um
    cut = np.s_[round(rows / 2 - half) : round(rows / 2 + half), round(cols / 2 - half) : round(cols / 2 + half)]
    grey[cut], codes[cut] = 40, MaskCode.OPEN_VALLEY
    return grey, codes


def test_a_picture_pair_is_drawn_at_one_physical_scale(tmp_path):
    # The same 80 µm square seen with 0.5 and with 0.9 µm a pixel, and fields of unequal width.
    files = {}
    pictures = {"S1_in-track_1.png": (0.5, (240.0, 320.0)), "S1_out-of-track_1.png": (0.9, (300.0, 400.0))}
    for file, (pixel_um, shape_um) in pictures.items():
        grey, codes = square_picture(pixel_um, shape_um)
        Image.fromarray(grey).save(tmp_path / file)
        Image.fromarray(codes).save(tmp_path / f"mask_{file}")
        files[file] = {"picture": "gone/elsewhere.png", "mask": f"../mask_{file}"}
    out, plan = write_study(tmp_path, [("S1", (), 0.15, 0.9, 0.004, ())], titles=(), responses=(), files=files)
    rows = results.read_fields(out)
    for row in rows:
        row["pixel_size_um"] = pictures.get(row["file"], (0.8, 0))[0]
    results.write_tables(out, rows, [])
    found = compare_study(out, read_plan(plan), pictures=tmp_path)
    html = build_comparison(found)
    drawn = [
        np.asarray(Image.open(io.BytesIO(base64.b64decode(each))).convert("L")).astype(int)
        for each in re.findall(r'<img src="data:image/webp;base64,([^"]+)"', html)
    ]
    assert len(drawn) == 2 and drawn[0].shape == drawn[1].shape
    widths = [np.sum(picture[picture.shape[0] // 2] < 100) for picture in drawn]
    assert widths[0] == pytest.approx(widths[1], abs=3)
    # The common width is 320 µm, drawn over the whole width of the picture: the square takes a quarter of it.
    assert widths[0] / drawn[0].shape[1] == pytest.approx(80 / 320, abs=0.01)
    bar = float(re.search(r'class="bar" style="width: ([\d.]+)%', html)[1])
    assert "50 µm, both pictures" in html and bar == pytest.approx(100 * 50 / 320, abs=0.3)


def test_states_in_a_picture_pair_are_told_apart_by_line_and_ruling_without_their_colours():
    """Expected: dash over dash and gap of each style, 1 where it has no gap; rulings inside where it has some."""
    shares, ruled = {}, {}
    for code in (*STYLES, MaskCode.NOT_ASSESSED):
        states = np.zeros((300, 400), np.uint8)
        states[50:250, 50:350] = code
        drawn = drawn_states(states)
        edge = np.zeros(states.shape, bool)
        edge[50:250, 50:350] = True
        edge[51:249, 51:349] = False
        shares[code] = (drawn[edge][:, 3] == 255).mean()
        ruled[code] = len(np.unique(drawn[60:240, 60:340].reshape(-1, 4)[:, 3])) - 1
        assert not drawn[:40].any() and not drawn[:, :40].any()
    for code, style in STYLES.items():
        assert shares[code] == pytest.approx(style.dash / (style.dash + style.gap), abs=0.03)
        assert bool(ruled[code]) == bool(style.rulings)
    assert ruled[MaskCode.NOT_ASSESSED] and shares[MaskCode.NOT_ASSESSED] < 0.2


def test_the_legend_of_picture_pairs_names_what_is_not_assessed_and_has_a_key_of_its_own_for_each_state():
    names, keys = zip(*legend(), strict=True)
    assert names == ("open valley", "smeared", "scuffed", "not assessed")
    assert len(set(keys)) == 4


def test_pixels_that_the_metadata_call_oblong_are_made_square(tmp_path):
    """200 rows of 0.30 µm and 100 columns of 0.25 µm: 60 × 25 µm, 240 × 100 square pixels."""
    grey = np.random.default_rng(1).integers(60, 200, (200, 100)).astype(np.uint8)
    tifffile.imwrite(tmp_path / "a.tif", grey, description="PixelSizeX=0.25 um\nPixelSizeY=0.30 um", metadata=None)
    Image.fromarray(np.full(grey.shape, MaskCode.PLATEAU, np.uint8)).save(tmp_path / "mask.png")
    source = FieldSource(file="a.tif", picture=tmp_path / "a.tif", mask=tmp_path / "mask.png", pixel_size_um=0.25)
    levels, codes = square_field(source)
    assert levels.shape == codes.shape == (240, 100)


def test_a_folder_of_pictures_that_is_not_there_is_refused(tmp_path):
    out, plan = write_study(tmp_path, [("S1", (), 0.15, 0.9, 0.004, ())], titles=(), responses=())
    with pytest.raises(
        ReadError, match="nowhere: there is no such folder of pictures; name the one that holds them now"
    ):
        compare_study(out, read_plan(plan), pictures=tmp_path / "nowhere")


def test_same_spots_are_followed_from_masks_and_pictures(tmp_path):
    rng = np.random.default_rng(5)
    before = np.zeros((260, 340), np.uint8)
    for row in np.cumsum(rng.integers(16, 34, 9)):
        start, length = int(rng.integers(5, 120)), int(rng.integers(90, 200))
        before[row : row + 7, start : start + length] = MaskCode.OPEN_VALLEY
    after = before.copy()
    after[130:] = np.where(after[130:] == MaskCode.OPEN_VALLEY, MaskCode.SMEARED, after[130:])
    files = {}
    for file, codes in (("S1_in-track_0.png", after), ("S1_out-of-track_0.png", before)):
        grey = np.where(codes == MaskCode.OPEN_VALLEY, 60, 170).astype(np.uint8)
        grey += rng.integers(0, 20, grey.shape).astype(np.uint8)
        Image.fromarray(grey).save(tmp_path / file)
        Image.fromarray(codes).save(tmp_path / f"mask_{file}")
        files[file] = {"picture": str(tmp_path / file), "mask": f"../mask_{file}"}
    out, plan = write_study(tmp_path, [("S1", (), 0.15, 0.9, 0.004, ())], titles=(), responses=(), files=files)
    (plan / "fields.csv").write_text(
        "file,specimen,zone,stage,spot\nS1_in-track_0.png,S1,in-track,after,P1\nS1_out-of-track_0.png,S1,,before,P1\n"
        "S1_in-track_1.png,S1,in-track,after,P2\nS1_out-of-track_1.png,S1,,before,P2\n",
        encoding="utf-8",
    )
    found = compare_study(out, read_plan(plan))
    first, second = found.spots
    exact = (after == MaskCode.OPEN_VALLEY).sum() / (before == MaskCode.OPEN_VALLEY).sum()
    assert first.retention == pytest.approx(exact, abs=0.02)
    assert "has no mask" in second.reason and math.isnan(second.retention)
    assert "Same places before and after" in build_comparison(found)


def test_the_command_writes_the_report_and_says_the_findings(tmp_path, capsys):
    out, plan = write_study(tmp_path, factorial())
    with pytest.raises(SystemExit) as left:
        main(["compare", str(out), "--plan", str(plan), "--out", str(tmp_path / "report")])
    assert left.value.code == 0
    assert "valley retention is known for 8" in capsys.readouterr().out
    assert (tmp_path / "report" / "report.html").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--out", "report"], "state either --plan PLAN or --pattern"),
        (["--out", "report", "--plan", "absent.xlsx"], "there is no such plan"),
        (["--out", "report", "--pattern", "{specimen}_{zone}_{n}", "--limit", "iron=2"], "there is no limit"),
        (["--out", "report", "--pattern", "{specimen}_{zone}_{n}", "--wanted", "0"], "half-width"),
    ],
)
def test_bad_options_end_with_one_line(tmp_path, capsys, monkeypatch, arguments, words):
    out, _ = write_study(tmp_path, factorial())
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as left:
        main(["compare", str(out), *arguments])
    assert left.value.code == 2
    assert words in capsys.readouterr().err


def test_a_pattern_serves_instead_of_a_plan(tmp_path, capsys):
    out, _ = write_study(tmp_path, factorial())
    with pytest.raises(SystemExit) as left:
        main(["compare", str(out), "--pattern", "{specimen}_{zone}_{n}", "--out", str(tmp_path / "report")])
    assert left.value.code == 0 and "8 specimens, 48 of 48 fields used" in capsys.readouterr().out


@pytest.mark.slow
def test_two_thousand_specimens_are_compared_in_a_minute(tmp_path):
    specimens = [
        (f"S{k}", ("p", "s")[k % 2 : k % 2 + 1] + (("lean", "rich")[k // 2 % 2],), 0.15, 0.6 + 0.1 * (k % 4), 0.004, (0.1 + k % 7 / 100, 40 + k % 31))
        for k in range(2000)
    ]  # fmt: skip
    out, plan = write_study(tmp_path, specimens, fields=2)
    started = time.process_time()
    html = build_comparison(compare_study(out, read_plan(plan)))
    assert time.process_time() - started < 60
    assert "1800 more specimens stand in the table" in html
