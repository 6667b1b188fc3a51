"""The decisions' offsets take off a bias that was put on; expected values are that bias, by construction."""

import numpy as np
import pandas as pd
import pytest
from decisions import decision_offsets, state_temperature, unworn_valley_offset
from scipy.special import log_softmax

SIZES_UM = [0.25, 0.354, 0.5, 0.707, 1.0, 1.414, 2.0]


def outputs(bias, *, temperature=1.0, fields=40, seed=2):
    """Fields whose true state is the likeliest one, before ``bias(octaves)`` was taken from the valley's logarithm."""
    rng = np.random.default_rng(seed)
    made = []
    for number in range(fields):
        working_um = SIZES_UM[number % len(SIZES_UM)]
        scores = rng.normal(0, 2, (4, 3000))
        truth = scores.argmax(0)
        scores[1] -= bias(np.log2(working_um / 0.707))
        made.append(
            {"logits": log_softmax(scores * temperature, 0).astype(np.float32), "truth": truth, "working_um": working_um}
        )
    return made


@pytest.mark.parametrize(("middle", "per_octave"), [(0.4, 0.3), (-0.3, -0.2), (0.2, 0.0)])
def test_a_bias_that_changes_with_the_pixel_size_is_taken_off_at_every_one(middle, per_octave):
    offsets = decision_offsets(outputs(lambda octaves: middle + per_octave * octaves), 1.0, SIZES_UM)
    for size_um in SIZES_UM:
        found = np.array(offsets[f"{size_um:g}"])
        assert found[1] - found[0] == pytest.approx(middle + per_octave * np.log2(size_um / 0.707), abs=0.06)
        assert found[[2, 3]] == pytest.approx(0, abs=0.04)


def test_without_a_bias_nothing_is_added():
    offsets = decision_offsets(outputs(lambda octaves: 0.0), 1.0, SIZES_UM)
    assert np.abs(list(offsets.values())).max() < 0.03


def test_fields_of_one_pixel_size_give_one_offset_for_all():
    fields = [output | {"working_um": 0.707} for output in outputs(lambda octaves: 0.3)]
    offsets = decision_offsets(fields, 1.0, SIZES_UM)
    assert len({tuple(row) for row in offsets.values()}) == 1


@pytest.mark.parametrize("temperature", [0.6, 1.0, 2.0])
def test_the_temperature_is_that_of_the_draw(temperature):
    """States drawn with the probabilities of the logits over a temperature have that one as their likeliest."""
    rng = np.random.default_rng(1)
    logits = rng.normal(0, 3, (4, 60_000))
    gumbel = rng.gumbel(size=logits.shape)
    truth = (logits / temperature + gumbel).argmax(0)
    assert state_temperature([{"logits": logits, "truth": truth}]) == pytest.approx(temperature, rel=0.03)


def test_unworn_fields_get_the_offset_that_the_middle_source_needs():
    """Valley fractions that an offset moves by 0.05 a unit: sources that lack 0.01, 0.02 and −0.03 need 0.2, 0.4 and −0.6."""

    def table(offset):
        rows = [(f"source {number}", 0.2 - lack + 0.05 * offset + wobble, 0.2 + wobble)
                for number, lack in enumerate((0.01, 0.02, -0.03)) for wobble in (-0.05, 0.05)]  # fmt: skip
        return pd.DataFrame([*rows, ("no grooves", 0.05 * offset, 0.0)], columns=["source", "valley_found", "valley_true"])

    assert unworn_valley_offset(table(0.0), table(0.4), 0.4) == pytest.approx(0.2)
    none = table(0.0)[table(0.0)["source"] == "no grooves"]
    assert unworn_valley_offset(none, none, 0.4) == 0
