"""Valley retention against values worked by hand, a resampling of the ratio, and the rules on which pairs compare."""

import numpy as np
import pytest

from semwear.copies import mark_copies
from semwear.measure import empty_row
from semwear.retention import Estimate, alike, field_retention, ratio, reference_estimate
from semwear.scatter import pooled, relative_scatter


def field(file, valley, *, specimen="A1", zone="in-track", half=float("nan"), **further):
    known = {
        "status": "measured",
        "specimen": specimen,
        "zone": zone,
        "stage": "after",
        "valley_fraction": valley,
        "valley_fraction_low": valley - half,
        "valley_fraction_high": valley + half,
        "field_width_um": 600.0,
        "groove_continuity": 0.9,
    }
    return empty_row(file, **known | further)


def references(*fractions, **further):
    return [field(f"out_{i}.tif", value, zone="out-of-track", **further) for i, value in enumerate(fractions)]


def test_reference_basis_is_the_field_over_the_mean_of_its_specimens_reference_fields():
    rows = field_retention([field("in.tif", 0.09), *references(0.16, 0.20), field("x.tif", 0.5, specimen="B")])
    assert rows[0]["valley_retention"] == pytest.approx(0.5)
    assert rows[0]["retention_basis"] == "reference" and rows[0]["flags"] == ""
    # Another specimen has no reference of its own: continuity, as an upper bound.
    assert rows[3]["valley_retention"] == 0.9 and rows[3]["retention_basis"] == "continuity"
    assert rows[3]["flags"] == "no reference" and np.isnan(rows[3]["valley_retention_low"])


def test_a_copy_of_a_reference_is_no_second_reference():
    """The field is the unit of replication (ASTM E562): two files with the same bytes are one field."""
    first, second = references(0.16, 0.20, half=0.01)
    rows = [field("in.tif", 0.09, half=0.01), first | {"sha256": "ab"}, second | {"sha256": "cd"}]
    copies = [rows[1] | {"file": f"copy_{number}.tif"} for number in range(8)]
    alone, beside = field_retention(mark_copies(rows)), field_retention(mark_copies(rows + copies))
    assert beside[0] == alone[0] and "same picture twice" not in alone[1]["flags"]
    assert all(row["flags"] == "same picture twice" for row in beside[3:])


def test_reference_fields_have_no_retention_of_themselves():
    rows = field_retention([*references(0.2), field("before.tif", 0.2, stage="before")])
    assert all(np.isnan(row["valley_retention"]) and row["retention_basis"] == "" for row in rows)


def test_fields_before_the_test_are_references_in_the_track_too():
    rows = field_retention([field("after.tif", 0.1), field("before.tif", 0.2, stage="before")])
    assert rows[0]["valley_retention"] == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("change", "same"),
    [
        ({"field_width_um": 600 * 1.24}, True),
        ({"field_width_um": 600 * 1.26}, False),
        ({"field_width_um": 600 / 1.26}, False),
        ({"kv": 10.1}, True),
        ({"kv": 15.0}, False),
        ({"kv": float("nan")}, True),
        ({"detector": "se"}, True),
        ({"detector": "BSE"}, False),
        ({"detector": ""}, True),
    ],
)
def test_width_within_a_quarter_and_the_same_beam_where_known_make_fields_alike(change, same):
    row = field("in.tif", 0.1, kv=10.0, detector="SE")
    other = row | {"zone": "out-of-track"} | change
    assert alike(row, other) is same
    filled = field_retention([row, other])[0]
    assert (filled["retention_basis"] == "reference") is same
    assert ("reference unlike field" in filled["flags"]) is not same


def test_unlike_references_are_used_and_flagged_when_the_user_insists():
    rows = [field("in.tif", 0.1, kv=10.0), *references(0.2, kv=15.0)]
    left_out, insisted = field_retention(rows)[0], field_retention(rows, mix_settings=True)[0]
    assert left_out["retention_basis"] == "continuity" and left_out["valley_retention"] == 0.9
    assert insisted["retention_basis"] == "reference" and insisted["valley_retention"] == pytest.approx(0.5)
    assert left_out["flags"] == insisted["flags"] == "reference unlike field"


def test_reference_without_valleys_gives_no_ratio_and_no_infinity():
    row = field_retention([field("in.tif", 0.1), *references(0.0, 0.0)])[0]
    assert np.isnan([row["valley_retention"], row["valley_retention_low"], row["valley_retention_high"]]).all()
    assert row["flags"] == "reference without valleys"


def test_fields_without_a_lay_or_unlike_the_training_get_no_retention():
    for flag in ("no lay found", "unlike the training fields"):
        row = field_retention([field("in.tif", 0.1, flags=flag), *references(0.2)])[0]
        assert np.isnan(row["valley_retention"]) and row["retention_basis"] == ""


def test_references_that_say_nothing_are_left_out_and_that_is_said():
    for flag in ("out of focus", "no lay found", "too much valley", "valley half seen"):
        row = field_retention([field("in.tif", 0.1), *references(0.2), *references(0.9, flags=flag)])[0]
        assert row["valley_retention"] == pytest.approx(0.5) and row["flags"] == "reference left out"


def test_a_specimen_whose_references_all_lack_a_lay_had_no_valleys_to_keep():
    row = field_retention([field("in.tif", 0.1), *references(0.0, 0.01, flags="no lay found")])[0]
    assert np.isnan(row["valley_retention"]) and row["retention_basis"] == ""
    assert row["flags"] == "reference left out;reference without valleys"


def test_clearly_more_valley_than_the_reference_is_flagged():
    rows = field_retention([field("a.tif", 0.25), field("b.tif", 0.27), *references(0.2)])
    assert [row["flags"] for row in rows] == ["", "more valley than reference", ""]


def test_refused_rows_pass_through_and_are_no_reference():
    refused = empty_row("bad.tif", status="refused", specimen="A1", zone="out-of-track")
    rows = field_retention([field("in.tif", 0.1), refused])
    assert rows[0]["flags"] == "no reference" and rows[1]["retention_basis"] == ""


def test_interval_is_that_of_error_propagation_worked_by_hand():
    # f = 0.10 ± 0.0196 (u = 0.010), references r = 0.20 ± 0.0196 (u = 0.010) alike, of which 0.55 is left in a ratio: R = 0.5,
    # u_R = 0.55 · √(0.010² + 0.5²·0.010²) / 0.20 = 0.030746, and 1.95996 · u_R = 0.06026.
    row = field_retention([field("in.tif", 0.10, half=0.0196), *references(0.20, 0.20, half=0.0196)])[0]
    assert row["valley_retention_low"] == pytest.approx(0.5 - 0.06026, abs=1e-4)
    assert row["valley_retention_high"] == pytest.approx(0.5 + 0.06026, abs=1e-4)


def test_one_reference_alone_gives_no_interval():
    """The s²/n of JCGM 100:2008, 4.2.3, may not be dropped because n = 1 hides it; other specimens' references tell it."""
    rows = [field("in.tif", 0.10), *references(0.20)]
    row = field_retention(rows)[0]
    assert row["valley_retention"] == pytest.approx(0.5) and np.isnan(row["valley_retention_low"])
    for name in "BC":
        rows += references(0.19, 0.21, specimen=name)
    assert np.isfinite(field_retention(rows)[0]["valley_retention_low"])


def test_scatter_between_references_counts_with_students_t():
    # r from 0.18 and 0.22: mean 0.20, s = 0.028284, u_r = 0.02 with 1 degree of freedom; f exact.
    # u_R = 0.5 · 0.02 / 0.20 = 0.05; t(0.975, 1) = 12.706 (table of Student's t) gives ± 0.6353, cut at 0.
    row = field_retention([field("in.tif", 0.10, half=0.0), *references(0.18, 0.22, half=0.0)])[0]
    assert row["valley_retention_high"] == pytest.approx(0.5 + 0.6353, abs=1e-3)
    assert row["valley_retention_low"] == 0.0


def test_the_scatter_of_other_specimens_counts_for_few_references():
    # Own: relative variance 0.02 with 1 degree of freedom; four others: 0.005 each, times e^(-1/2), 2.8 degrees in all:
    # (1 · 0.02 + 2.8 · 0.0030327) / 3.8 = 0.0074978, u_r = 0.20 · √(0.0074978 / 2) = 0.012246, u_R = 0.5 · 0.012246 / 0.20 = 0.030614,
    # and t(0.975, 3.8) = 2.835 (between 3.182 and 2.776 for 3 and 4, table of Student's t).
    rows = [field("in.tif", 0.10, half=0.0), *references(0.18, 0.22, half=0.0)]
    for name in "BCDE":
        rows += references(0.19, 0.21, half=0.0, specimen=name)
    row = field_retention(rows)[0]
    assert row["valley_retention_high"] == pytest.approx(0.5 + 2.835 * 0.030614, abs=2e-3)
    # With other specimens a single reference has a known scatter, too.
    row = field_retention([rows[0] | {"specimen": "F"}, *references(0.20, half=0.0, specimen="F"), *rows[1:]])[0]
    assert row["valley_retention_high"] - 0.5 > 0.04


def test_one_reference_without_an_interval_leaves_the_interval_empty():
    row = field_retention([field("in.tif", 0.10), *references(0.2)])[0]
    assert row["valley_retention"] == pytest.approx(0.5) and np.isnan(row["valley_retention_low"])


def test_a_field_without_valleys_keeps_an_interval_that_is_not_empty():
    row = field_retention([field("in.tif", 0.0), *references(0.18, 0.20, 0.22)])[0]
    assert row["valley_retention"] == 0.0 and row["valley_retention_low"] == 0.0
    assert row["valley_retention_high"] > 0.1


def test_coverage_of_the_ratio_is_near_95_percent_by_simulation():
    generator = np.random.default_rng(5)
    hits, rounds = 0, 1500
    for _ in range(rounds):
        seen = generator.normal(0.10, 0.010)
        estimate = reference_estimate(references(*generator.normal(0.20, 0.03, 6)))
        _, low, high = ratio(Estimate(value=seen, u=0.010, freedom=float("inf")), estimate)
        hits += low <= 0.5 <= high
    assert 0.92 <= hits / rounds <= 0.985


@pytest.mark.parametrize("fields", [2, 3, 6])
def test_coverage_is_near_95_percent_where_specimens_scatter_unlike_each_other(fields):
    """Eight specimens whose relative variances differ by a factor of e, one standard deviation; f exact, r a mean of few fields."""
    generator = np.random.default_rng(fields)
    hits, rounds = 0, 1200
    for _ in range(rounds):
        spreads = 0.1 * np.exp(generator.normal(0.0, 0.5, 8))
        seen = [0.2 * (1 + spread * generator.standard_normal(fields)) for spread in spreads]
        estimate = reference_estimate(references(*seen[0]), pooled(relative_scatter(other) for other in seen[1:]))
        _, low, high = ratio(Estimate(value=0.1, u=0.0, freedom=float("inf")), estimate)
        hits += low <= 0.5 <= high
    assert 0.92 <= hits / rounds <= 0.985
