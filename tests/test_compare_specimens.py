"""Like with like, and the figures of a specimen: expected values are hand-made rows and plain means of them."""

import math

import pytest

from semwear.compare.specimens import SHARED_PART, fields_alike, planned_rows, shared_uncertainty, specimen_figures
from semwear.measure import empty_row
from semwear.plan import read_plan


def row(file, zone, valley, **own):
    known = {
        "sha256": file, "status": "measured", "pixel_size_um": 0.5, "field_width_um": 500.0, "specimen": "A", "zone": zone,
        "stage": "after", "valley_fraction": valley, "smeared_fraction": 0.0, "scuffed_fraction": 0.0, "kv": 5.0,
        "detector": "SE", "tilt_deg": 0.0,
    }  # fmt: skip
    return empty_row(file, **(known | own))


def test_retention_uses_the_fields_of_the_specimen_alone():
    rows = [
        row("a1", "in-track", 0.05), row("a2", "in-track", 0.07), row("a3", "out-of-track", 0.10),
        row("a4", "out-of-track", 0.14), row("b1", "out-of-track", 0.9, specimen="B"),
    ]  # fmt: skip
    found = specimen_figures(rows)
    assert [own.specimen for own in found] == ["A", "B"]
    assert found[0].retention.value == pytest.approx(0.06 / 0.12)
    assert math.isnan(found[1].retention.value) and "no usable field in the track" in found[1].retention.reason


def test_what_all_fields_share_is_a_part_of_their_own_uncertainties_and_widens_the_interval():
    """Closed form: half-widths of 1.96·0.02 on means of 0.1 and 0.2 are relative uncertainties of 0.2 and 0.1."""
    half = 0.02 * 1.959964

    def rows(known: bool):
        for zone, values in (("in-track", (0.09, 0.11)), ("out-of-track", (0.18, 0.22))):
            for value in values:
                ends = {"valley_fraction_low": value - half, "valley_fraction_high": value + half} if known else {}
                yield row(f"{zone}{value}", zone, value, **ends)

    own = list(rows(True))
    assert shared_uncertainty(own[:2], own[2:]) == pytest.approx(SHARED_PART * math.hypot(0.2, 0.1), rel=1e-4)
    assert shared_uncertainty(list(rows(False))[:2], []) == 0.0
    wide, narrow = specimen_figures(own)[0].retention, specimen_figures(rows(False))[0].retention
    assert wide.value == narrow.value
    added = math.log(wide.high / wide.value) ** 2 - math.log(narrow.high / narrow.value) ** 2
    assert math.sqrt(added) == pytest.approx(1.959964 * SHARED_PART * math.hypot(0.2, 0.1), rel=1e-4)


def test_a_field_before_the_test_is_a_reference_wherever_it_lies():
    rows = [row("a1", "in-track", 0.05), row("a2", "in-track", 0.1, stage="before"), row("a3", "", 0.1, stage="before")]
    found = specimen_figures(rows)[0]
    assert found.reference_files == ("a2", "a3") and found.run_files == ("a1",)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"field_width_um": 700.0}, "700 against 500 µm wide"),
        ({"kv": 15.0}, "15 against 5 kV"),
        ({"detector": "BSE"}, "detector BSE against SE"),
        ({"tilt_deg": 12.0}, "12 against 0 ° tilt"),
    ],
)
def test_unlike_fields_are_left_out_and_named_unless_the_user_insists(change, words):
    rows = [
        row("a1", "in-track", 0.05), row("a2", "in-track", 0.07), row("a3", "out-of-track", 0.10),
        row("a4", "out-of-track", 0.14), row("a5", "out-of-track", 0.5, **change),
    ]  # fmt: skip
    found = specimen_figures(rows)[0]
    assert found.retention.value == pytest.approx(0.5) and found.reference_files == ("a3", "a4")
    assert len(found.left_out) == 1 and found.left_out[0][0] == "a5" and words in found.left_out[0][1]
    insisted = specimen_figures(rows, mix_settings=True)[0]
    assert insisted.retention.reference_fields == 3 and any("as asked for" in each for each in insisted.cautions)


def test_widths_within_a_quarter_and_unknown_settings_may_be_compared():
    one = row("a", "in-track", 0.1)
    assert fields_alike(one, row("b", "in-track", 0.1, field_width_um=620.0))
    assert not fields_alike(one, row("b", "in-track", 0.1, field_width_um=640.0))
    assert fields_alike(one, row("b", "in-track", 0.1, kv=math.nan, detector="", tilt_deg=math.nan))


def test_no_like_field_in_the_other_zone_leaves_no_retention():
    rows = [
        row("a1", "in-track", 0.05),
        row("a2", "in-track", 0.06),
        row("a3", "out-of-track", 0.1, field_width_um=2000.0),
    ]
    found = specimen_figures(rows)[0]
    assert math.isnan(found.retention.value) and found.run_files == ("a1", "a2")
    assert "no field of the other zone has a like field width" in found.left_out[0][1]


def test_refused_unlike_and_unfit_fields_are_named_with_the_reason():
    rows = [
        row("a1", "in-track", 0.05), row("a2", "in-track", 0.07), row("a3", "out-of-track", 0.1), row("a4", "out-of-track", 0.1),
        row("a5", "in-track", math.nan, status="refused", reason="no scale"),
        row("a6", "out-of-track", 0.1, flags="out of focus"),
        row("a7", "in-track", 0.1, flags="unlike the training fields"),
        row("a8", "", 0.1),
    ]  # fmt: skip
    left = dict(specimen_figures(rows)[0].left_out)
    assert "refused: no scale" in left["a5"] and "out of focus" in left["a6"]
    assert "training" in left["a7"] and "neither" in left["a8"]


def test_a_reference_without_valleys_has_no_ratio():
    rows = [
        row("a1", "in-track", 0.01),
        row("a2", "in-track", 0.01),
        row("a3", "out-of-track", 0),
        row("a4", "out-of-track", 0),
    ]
    found = specimen_figures(rows)[0]
    assert math.isnan(found.retention.value) and "undefined" in found.retention.reason


def test_the_same_picture_twice_counts_once():
    """Copies are no further fields (the field is the unit of replication, ASTM E562): figures as without them."""
    rows = [row(f"i{k}", "in-track", value) for k, value in enumerate((0.04, 0.06))]
    rows += [row(f"o{k}", "out-of-track", value) for k, value in enumerate((0.10, 0.13))]
    copied = [row(f"{each['file']} copy", each["zone"], each["valley_fraction"], sha256=each["sha256"]) for each in rows]
    alone, beside = specimen_figures(rows)[0], specimen_figures(rows + copied)[0]
    assert beside.retention == alone.retention and math.isfinite(alone.retention.low)
    assert all("the same picture" in reason for _, reason in beside.left_out) and len(beside.left_out) == 4


def test_the_plan_says_which_of_two_copies_stands(tmp_path):
    """Copies of a field that the plan names are named by the picture's id too; a flag of another plan doesn't hold."""
    (tmp_path / "fields.csv").write_text("file,specimen,zone\na.png,S1,in-track\nb.png,S1,in-track\nb.tif,S1,in-track\n")
    rows = [row(file, "", 0.1) for file in ("a - copy.png", "a.png", "b.png", "b.tif")]
    rows[1] |= {"sha256": rows[0]["sha256"], "flags": "same picture twice"}
    rows[2] |= {"picture_id": "b"}
    rows[3] |= {"picture_id": "b"}
    joined, strangers = planned_rows(rows, read_plan(tmp_path / "fields.csv"))
    assert strangers == ["a - copy.png"]
    assert {each["file"]: each["flags"] for each in joined} == {"a.png": "", "b.png": "", "b.tif": "same picture twice"}
    assert specimen_figures(joined)[0].left_out == (("b.tif", "the same picture as another field"),)


def test_the_zone_that_scatters_more_is_the_one_to_add_to():
    rows = [row(f"i{k}", "in-track", value) for k, value in enumerate((0.02, 0.06, 0.10))]
    rows += [row(f"o{k}", "out-of-track", value) for k, value in enumerate((0.119, 0.12, 0.121))]
    assert specimen_figures(rows)[0].zone_to_add == "in-track"


def test_the_plan_counts_over_the_rows_and_strangers_are_named(tmp_path):
    (tmp_path / "fields.csv").write_text(
        "file,specimen,zone,stage,spot,kv\nx/a1.tif,S1,in-track,after,p1,10\nx/a2.tif,S1,,before,p1,\n",
        encoding="utf-8",
    )
    rows = [row("x/a1.tif", "", 0.1), row("x/a2.tif", "in-track", 0.1), row("x/other.tif", "in-track", 0.1)]
    joined, strangers = planned_rows(rows, read_plan(tmp_path / "fields.csv"))
    assert strangers == ["x/other.tif"]
    assert [(each["specimen"], each["zone"], each["stage"], each["spot"], each["kv"]) for each in joined] == [
        ("S1", "in-track", "after", "p1", 10.0),
        ("S1", "", "before", "p1", 5.0),
    ]


def test_more_valleys_in_the_track_than_there_were_is_a_caution():
    rows = [
        row("a1", "in-track", 0.2),
        row("a2", "in-track", 0.21),
        row("a3", "out-of-track", 0.1),
        row("a4", "out-of-track", 0.1),
    ]
    assert any("zones may be swapped" in each for each in specimen_figures(rows)[0].cautions)


def test_a_run_track_whose_grooves_all_look_open_is_to_be_confirmed_by_a_height_map():
    """Made fields whose grooves are closed from end to end by metal as rough as their floors are read as open (measured)."""

    def cautions(worn, smeared, valley=0.2):
        track = [row(f"a{number}", "in-track", valley, worn_fraction=worn, smeared_fraction=smeared) for number in (1, 2)]
        return specimen_figures([*track, row("a3", "out-of-track", 0.2), row("a4", "out-of-track", 0.21)])[0].cautions

    assert any("height map" in each for each in cautions(1.0, 0.001))
    assert not any("height map" in each for each in [*cautions(1.0, 0.02), *cautions(0.1, 0.001), *cautions(1.0, 0.001, 0.1)])


def test_zones_that_scatter_very_unlike_are_a_caution():
    rows = [row(f"i{k}", "in-track", valley) for k, valley in enumerate((0.005, 0.02, 0.05))]
    rows += [row(f"o{k}", "out-of-track", valley) for k, valley in enumerate((0.19, 0.2, 0.21))]
    assert any("scatter by" in each for each in specimen_figures(rows)[0].cautions)


def test_very_unequal_numbers_of_fields_are_a_caution():
    rows = [row(f"i{k}", "in-track", 0.05 + k / 100) for k in range(2)]
    rows += [row(f"o{k}", "out-of-track", 0.1 + k / 100) for k in range(6)]
    assert any("2 fields in one zone against 6" in each for each in specimen_figures(rows)[0].cautions)
    assert specimen_figures(rows[:5])[0].cautions == ()
