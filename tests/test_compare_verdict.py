"""Readings: each needs several pieces of evidence, and contradictions are shown instead of read away.

The cases are the trade's own (common practice, no source): low iron with closed valleys misleads; what was never there
can't be retained; iron may come from elsewhere.
"""

import math

import pytest

from semwear.compare.evidence import gather, standing
from semwear.compare.limits import Limits, limits_from
from semwear.compare.specimens import specimen_figures
from semwear.compare.verdict import (
    CANT_TELL,
    KEPT,
    MOVED,
    NO_VALLEYS,
    OTHER_SOURCE,
    READINGS,
    REMOVED,
    SCUFFED,
    verdict,
)
from semwear.errors import PlanError
from semwear.measure import empty_row
from semwear.plan import Plan, PlannedSpecimen, Response

RESPONSES = (Response(name="friction", unit="1", better="lower"), Response(name="iron_ppm", unit="ppm", better="lower"))


def rows_of(*, reference=0.15, retention=1.0, smeared=0.004, scuffed=0.0, worn=0.9, fields=4, scatter=0.03):
    rows = []
    for zone in ("in-track", "out-of-track"):
        run = zone == "in-track"
        for number in range(fields):
            step = 1 + scatter * (number - (fields - 1) / 2)
            file = f"{zone}{number}"
            rows.append(
                empty_row(
                    file,
                    sha256=file,
                    status="measured",
                    specimen="A",
                    zone=zone,
                    stage="after",
                    field_width_um=500.0,
                    valley_fraction=reference * (retention if run else 1) * step,
                    smeared_fraction=smeared * step if run else 0.003,
                    scuffed_fraction=scuffed * step if run else 0.0,
                    worn_fraction=worn if run else 0.05,
                )  # fmt: skip
            )
    return rows


def read(*, iron=math.nan, friction=math.nan, limits=None, **surface):
    """Return the verdict on one specimen of a study whose reference has 60 ppm iron and friction 0.13."""
    own = PlannedSpecimen(specimen="A", values={"iron_ppm": iron, "friction": friction})
    reference = PlannedSpecimen(specimen="R", values={"iron_ppm": 60.0, "friction": 0.13}, is_reference=True)
    plan = Plan(path="plan", fields=(), specimens=(own, reference), responses=RESPONSES)
    figures = specimen_figures(rows_of(**surface))[0]
    limits = limits or Limits()
    return verdict(figures, gather(figures, plan, limits))


@pytest.mark.parametrize(
    ("surface", "iron", "reading"),
    [
        ({"retention": 0.97}, 58, KEPT),
        ({"retention": 0.35, "smeared": 0.085}, 35, MOVED),
        ({"retention": 0.35}, 120, REMOVED),
        ({"retention": 0.95}, 130, OTHER_SOURCE),
        ({"retention": 0.5, "scuffed": 0.09}, 55, SCUFFED),
        ({"reference": 0.008, "retention": 0.9}, 60, NO_VALLEYS),
    ],
)
def test_each_reading_comes_from_its_evidence_and_from_more_than_one_piece(surface, iron, reading):
    found = read(iron=iron, **surface)
    assert found.reading == reading, found.why
    assert len({piece.source for piece in found.supporting}) >= 2
    assert found.meaning == READINGS[reading]


def test_low_iron_alone_never_says_that_metal_was_kept():
    kept, moved = read(iron=30, retention=0.97), read(iron=30, retention=0.3, smeared=0.09)
    assert kept.reading == KEPT and moved.reading == MOVED
    assert "misleads" in moved.why


@pytest.mark.parametrize(
    ("surface", "iron", "words"),
    [
        ({"retention": 0.35, "smeared": 0.09}, 130, "contradicts itself"),
        ({"retention": 0.35}, 40, "neither smear nor iron"),
        ({"retention": 0.97}, math.nan, "whether metal was lost isn't known"),
        ({"retention": 0.3, "smeared": 0.09}, math.nan, "no iron is stated"),
        ({"retention": 0.7, "scatter": 0.4, "fields": 3}, 60, "too wide"),
        ({"retention": 0.7, "scatter": 0.01, "fields": 8}, 60, "between the limits"),
        ({"retention": 0.9, "fields": 1}, 60, "one field in a zone"),
    ],
)
def test_missing_uncertain_or_conflicting_evidence_gives_no_reading_but_the_reason(surface, iron, words):
    found = read(iron=iron, **surface)
    assert found.reading == CANT_TELL
    assert words in found.why


def test_disagreeing_friction_and_unworn_regions_are_shown_against_the_reading():
    found = read(iron=58, friction=0.2, retention=0.97, worn=0.06)
    assert found.reading == KEPT
    assert {piece.source for piece in found.contradicting} == {"friction", "worn"}


def test_too_few_valleys_at_the_start_do_not_count_when_the_track_has_many():
    found = read(iron=60, reference=0.01, retention=6.0)
    assert found.reading == CANT_TELL and "contradicts itself" in found.why


def test_limits_are_the_users_to_set():
    assert read(iron=58, retention=0.75, limits=limits_from(["kept=0.7", "lost=0.4"])).reading == KEPT
    assert read(iron=58, retention=0.97, limits=limits_from(["iron_low=20", "iron_high=50"])).reading == OTHER_SOURCE


@pytest.mark.parametrize("text", ["iron=3", "kept", "kept=0,7", "kept=-1", "kept=nan", "lost=0.9"])
def test_bad_limits_are_refused_with_what_to_do(text):
    with pytest.raises(PlanError, match="--limit"):
        limits_from([text])


def test_the_studys_own_reference_is_the_median_of_the_marked_specimens_or_of_all():
    def plan(values, marked=()):
        specimens = tuple(
            PlannedSpecimen(specimen=str(k), values={"iron_ppm": value}, is_reference=k in marked)
            for k, value in enumerate(values)
        )
        return Plan(path="", fields=(), specimens=specimens, responses=RESPONSES)

    open_ends = {"low": math.nan, "high": math.nan, "band": 0.2}
    everyone = standing(plan([40, 50, 60, 200]), "iron_ppm", **open_ends)
    assert (everyone.value, everyone.low, everyone.high) == pytest.approx((55, 44, 66))
    assert standing(plan([40, 50, 60, 200], marked=(0,)), "iron_ppm", **open_ends).value == 40
    assert math.isnan(standing(plan([40, 50]), "iron_ppm", **open_ends).low)  # two can't judge each other
    stated = standing(plan([40, 50]), "iron_ppm", low=45, high=90, band=0.2)
    assert (stated.low, stated.high, stated.origin) == (45, 90, "stated limits")


def test_one_field_without_valleys_settles_nothing():
    surface = {"retention": 0.0, "scatter": 0.0}
    rows = rows_of(**surface)
    figures = specimen_figures([row for row in rows if row["zone"] != "in-track" or row["file"] == "in-track0"])[0]
    plan = Plan(path="plan", fields=(), specimens=(PlannedSpecimen(specimen="A", values={"iron_ppm": 90.0}),), responses=RESPONSES)
    limits = Limits(iron_low=40.0, iron_high=80.0)
    assert verdict(figures, gather(figures, plan, limits)).reading == CANT_TELL
    assert read(iron=90, **surface).reading == REMOVED


def test_far_more_valleys_than_the_reference_are_no_proof_that_valleys_were_kept():
    """Wear makes no valleys (common practice, no source): with zones swapped the very pictures would say that valleys were lost."""
    found = read(retention=2.5, reference=0.08, iron=58)
    assert found.reading == CANT_TELL and "swapped" in found.why
    assert read(retention=1.1, iron=58).reading == KEPT


def test_marked_references_without_a_value_are_named_as_what_is_missing():
    own = PlannedSpecimen(specimen="A", values={"iron_ppm": 50.0, "friction": 0.1})
    reference = PlannedSpecimen(specimen="R", values={"friction": 0.13}, is_reference=True)
    plan = Plan(path="plan", fields=(), specimens=(own, reference), responses=RESPONSES)
    figures = specimen_figures(rows_of())[0]
    assert "marked as reference have no iron" in gather(figures, plan, Limits())["iron"].sentence
