"""Height maps joined to a study: mass balance of iron, valley shares two ways, and sentences where they disagree."""

import math

import pytest
from test_compare_study import write_study
from test_profile_command import drawn_map, run, write

from semwear.compare.heights import HeightJoin, height_section, iron_bound_ppm, join_heights
from semwear.compare.study import compare_study
from semwear.errors import PlanError, ResultsError
from semwear.plan import read_plan
from semwear.profile.height_table import HEIGHT_COLUMNS

SPECIMENS = [
    ("A1", ("plain", "base"), 0.20, 0.5, 0.01, (0.12, 60.0)),
    ("A2", ("plain", "rich"), 0.20, 0.9, 0.01, (0.11, 6.0)),
    ("A3", ("fine", "base"), 0.20, 0.8, 0.01, (0.12, 2.0)),
]


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    results, plan = write_study(tmp_path_factory.mktemp("study"), SPECIMENS)
    return compare_study(results, read_plan(str(plan)))


def height_row(specimen, zone, share, *, u=0.01, volume=math.nan, volume_u=0.0, stage="") -> dict:
    blank = {column.name: "" if column.kind is str else math.nan for column in HEIGHT_COLUMNS}
    return blank | {
        "file": f"{specimen}_{zone}.x3p", "status": "measured", "specimen": specimen, "zone": zone, "stage": stage,
        "area_mm2": 1.0, "below_plateau_fraction": share, "below_plateau_u": u, "valley_share": share,
        "worn_volume_mm3": volume, "worn_volume_u_mm3": volume_u,
    }  # fmt: skip


def test_iron_budget_of_a_worn_track_is_the_known_one():
    # 10 × 2 mm worn 0.5 µm deep is 0.010 mm³; grey iron of 7.2 g/cm³ and 93 % Fe in 10 g of oil: 6.7 ppm. It follows from
    # mass alone: 0.010e-3 cm³ · 7.2 g/cm³ · 0.93 = 66.96 µg in 10 g.
    volume_mm3 = 10 * 2 * 0.5e-3
    assert volume_mm3 == pytest.approx(0.010)
    assert iron_bound_ppm(volume_mm3, 10.0) == pytest.approx(66.96e-6 / 10 * 1e6, rel=1e-12)
    assert round(iron_bound_ppm(volume_mm3, 10.0), 1) == 6.7
    assert iron_bound_ppm(volume_mm3, 10.0, density_g_per_cm3=14.4) == pytest.approx(13.392)


@pytest.mark.parametrize(
    ("specimen", "volume", "flag"),
    [
        ("A1", 0.010, "more iron than the track lost"),  # 60 ppm against 6.7
        ("A2", 0.010, None),  # 6 ppm against 6.7
        ("A3", 0.030, "less iron than the track lost"),  # 2 ppm against 20
        ("A1", 0.100, None),  # 60 ppm against 67
    ],
)
def test_iron_against_worn_volume(study, specimen, volume, flag):
    rows = [height_row(specimen, "in-track", 0.2 * {"A1": 0.5, "A2": 0.9, "A3": 0.8}[specimen], volume=volume, volume_u=0.0005)]
    (join,) = join_heights(study.figures, study.plan, rows, oil_mass_g=10.0)
    assert join.flags == ((flag,) if flag else ())
    assert join.iron_bound_ppm == pytest.approx(iron_bound_ppm(volume, 10.0))
    assert len(join.sentences) == len(join.flags)


def test_an_uncertain_volume_accuses_nobody(study):
    rows = [height_row("A1", "in-track", 0.1, volume=0.010, volume_u=0.06)]
    assert join_heights(study.figures, study.plan, rows, oil_mass_g=10.0)[0].flags == ()


def test_without_the_mass_of_oil_iron_is_not_bounded(study):
    rows = [height_row("A1", "in-track", 0.1, volume=0.010)]
    (join,) = join_heights(study.figures, study.plan, rows)
    assert math.isnan(join.iron_bound_ppm) and not join.flags


def test_valley_shares_that_differ_are_flagged_and_those_that_agree_are_not(study):
    rows = [height_row("A1", "in-track", 0.11), height_row("A1", "out-of-track", 0.32), height_row("A2", "out-of-track", 0.21)]
    joins = {(join.specimen, join.zone): join for join in join_heights(study.figures, study.plan, rows)}
    assert joins["A1", "in-track"].flags == () == joins["A2", "out-of-track"].flags
    apart = joins["A1", "out-of-track"]
    assert apart.flags == ("valley shares disagree",)
    assert apart.sentences[0].startswith("A1, out-of-track: the micrographs show 20.") and "32.0 %" in apart.sentences[0]


@pytest.mark.parametrize(
    ("by_micrograph", "by_height", "flags", "expected"),
    [
        (0.20, 0.21, (), "agree"),
        (0.18, 0.06, (), "uncertain"),  # three times as much, and no flag: the fields scatter too much
        (0.35, 0.22, ("valley shares disagree",), "disagree"),
    ],
)
def test_shares_that_lie_apart_within_doubt_are_not_called_agreeing(by_micrograph, by_height, flags, expected):
    join = HeightJoin(
        specimen="A1", zone="in-track", maps=1, by_micrograph=by_micrograph, by_micrograph_u=0.07, by_height=by_height,
        by_height_u=0.01, bearing_share=0.2, flags=flags,
    )  # fmt: skip
    assert join.agreement == expected


def test_a_map_before_the_test_counts_as_reference_and_maps_are_averaged_by_area(study):
    rows = [height_row("A1", "", 0.1, stage="before"), height_row("A1", "out-of-track", 0.2) | {"area_mm2": 3.0}]
    (join,) = join_heights(study.figures, study.plan, rows)
    assert join.zone == "out-of-track" and join.maps == 2
    assert join.by_height == pytest.approx(0.175)
    assert join.by_height_u == pytest.approx(math.hypot(0.25 * 0.01, 0.75 * 0.01))


def test_report_and_terminal_show_the_section(tmp_path, capsys):
    results, plan = write_study(tmp_path, SPECIMENS)
    maps = tmp_path / "maps"
    maps.mkdir()
    for name in ("A1", "A2"):
        write(maps / f"{name}.x3p", drawn_map(1.0))
    run(capsys, "profile", maps, "--pattern", "{specimen}", "--track-columns", "60:139", "--track-length-mm", 10,
        "--out", tmp_path / "heights", "--quiet")  # fmt: skip
    status, out, _ = run(capsys, "compare", results, "--plan", plan, "--out", tmp_path / "report",
                         "--heights", tmp_path / "heights", "--oil-mass-g", 10)  # fmt: skip
    assert status == 0
    # 160 µm² over 10 mm is 0.0016 mm³: 1.07 ppm at most, far from A1's 60 ppm.
    assert "A1: 60 ppm of iron is more than the 1.1" in out
    text = (tmp_path / "report" / "report.html").read_text(encoding="utf-8")
    assert "Cross-check by height maps" in text and "more iron than the track lost" in text


def test_folders_without_heights_and_maps_of_strangers_are_refused(study, tmp_path):
    with pytest.raises(ResultsError, match="semwear profile wrote"):
        height_section(study.figures, study.plan, tmp_path)
    from semwear.results import table_bytes

    (tmp_path / "heights.csv").write_bytes(table_bytes([height_row("Z9", "in-track", 0.1)], HEIGHT_COLUMNS))
    with pytest.raises(PlanError, match="none of its 1 maps"):
        height_section(study.figures, study.plan, tmp_path)
    with pytest.raises(PlanError, match="in grams"):
        height_section(study.figures, study.plan, tmp_path, oil_mass_g=0.0)


def test_oil_mass_without_heights_is_refused(tmp_path, capsys):
    results, plan = write_study(tmp_path, SPECIMENS)
    status, _, err = run(capsys, "compare", results, "--plan", plan, "--out", tmp_path / "report", "--oil-mass-g", 10)
    assert status == 2 and "--heights" in err
