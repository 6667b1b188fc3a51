"""The shipped study says about itself what its masks show, and its invented figures follow the stated formulas."""

import csv
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from semwear.errors import ResultsError
from semwear.plan import read_plan
from semwear.simulate.study import STUDY, UNRUN_VALLEY, simulate_study

STUDY_FOLDER = Path(__file__).parent.parent / "sample_images" / "study"


@pytest.fixture(scope="module")
def truth() -> list[dict]:
    with (STUDY_FOLDER / "truth.csv").open(encoding="utf-8", newline="") as stream:
        return [
            {name: float(text) if name.endswith("_fraction") else text for name, text in row.items()}
            for row in csv.DictReader(stream)
        ]


def mean(truth, specimen: str, name: str, *, run: bool) -> float:
    rows = [row for row in truth if row["specimen"] == specimen and (row["zone"] == "in-track") == run]
    return float(np.mean([row[name] for row in rows]))


def test_every_picture_is_planned_and_has_its_mask_and_truth(truth):
    plan = read_plan(STUDY_FOLDER / "plan.xlsx")
    pictures = sorted(path.name for path in (STUDY_FOLDER / "pictures").iterdir())
    assert pictures == sorted(planned.file for planned in plan.fields) == sorted(row["file"] for row in truth)
    assert plan.cautions == () and plan.factors == ("finish", "oil", "ring")
    assert len({tuple(own.levels.values()) for own in plan.specimens}) == 8  # a full 2 × 2 × 2
    for planned in plan.specimens:
        zones = [own.zone for own in plan.fields if own.specimen == planned.specimen and own.stage == "after"]
        assert sorted(zones) == ["in-track"] * 3 + ["out-of-track"] * 3


def test_the_truth_is_what_the_masks_hold(truth):
    for row in truth:
        codes = np.asarray(Image.open((STUDY_FOLDER / "masks" / row["file"]).with_suffix(".png")))
        with Image.open(STUDY_FOLDER / "pictures" / row["file"]) as picture:
            assert picture.size == codes.shape[::-1]
        assessed = (codes != 255).sum()
        assert row["valley_fraction"] == pytest.approx((codes == 1).sum() / assessed, abs=1e-5)
        assert row["smeared_fraction"] == pytest.approx((codes == 2).sum() / assessed, abs=1e-5)


def test_iron_and_friction_follow_the_stated_formulas_within_their_scatter(truth):
    for own in read_plan(STUDY_FOLDER / "plan.xlsx").specimens:
        lost = -(
            mean(truth, own.specimen, "valley_fraction", run=True)
            - mean(truth, own.specimen, "valley_fraction", run=False)
        )
        smeared = mean(truth, own.specimen, "smeared_fraction", run=True) - mean(
            truth, own.specimen, "smeared_fraction", run=False
        )
        assert own.values["iron_ppm"] == pytest.approx(24 + 400 * max(0.0, lost - max(0.0, smeared)), rel=0.12, abs=0.5)
        assert own.values["friction"] == pytest.approx(0.105 + 0.3 * lost, abs=0.008)


def test_one_specimen_is_smeared_with_low_iron_and_oil_and_ring_interact(truth):
    plan = read_plan(STUDY_FOLDER / "plan.xlsx")
    iron = {own.specimen: own.values["iron_ppm"] for own in plan.specimens}
    assert iron["V7"] < np.median(list(iron.values()))
    lost = mean(truth, "V7", "valley_fraction", run=False) - mean(truth, "V7", "valley_fraction", run=True)
    gained = mean(truth, "V7", "smeared_fraction", run=True) - mean(truth, "V7", "smeared_fraction", run=False)
    assert lost > 0.08 and gained > 0.6 * lost
    # Plateaued finish: either better level alone lowers iron, both together don't.
    cell = {tuple(own.levels.values()): own.values["iron_ppm"] for own in plan.specimens}
    base, rich, coated, both = (
        cell[("plateaued", *levels)]
        for levels in (("base", "bare"), ("rich", "bare"), ("base", "coated"), ("rich", "coated"))
    )
    assert rich < base and coated < base and both > base


def test_the_study_says_that_it_is_simulated_and_is_small():
    text = (STUDY_FOLDER / "README.md").read_text(encoding="utf-8")
    assert "simulated" in text and "invented" in text
    size = sum(path.stat().st_size for path in STUDY_FOLDER.rglob("*") if path.is_file())
    assert size < 6e6


def test_a_study_is_not_written_over_anything(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(ResultsError, match="isn't an empty folder"):
        simulate_study(tmp_path)
    assert {own.finish for own in STUDY} == set(UNRUN_VALLEY)
