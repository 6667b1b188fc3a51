"""Temperature and offsets take off what was put on; expected values are that, by construction."""

import numpy as np
import pandas as pd
import pytest
from decisions import state_temperature, valley_offset


@pytest.mark.parametrize("temperature", [0.6, 1.0, 2.0])
def test_the_temperature_is_that_of_the_draw(temperature):
    """States drawn with the probabilities of the logits over a temperature have that one as their likeliest."""
    rng = np.random.default_rng(1)
    logits = rng.normal(0, 3, (4, 60_000))
    gumbel = rng.gumbel(size=logits.shape)
    truth = (logits / temperature + gumbel).argmax(0)
    assert state_temperature([{"logits": logits, "truth": truth}]) == pytest.approx(temperature, rel=0.03)


@pytest.mark.parametrize("tried", [0.4, -0.4])
def test_valley_gets_the_offset_that_the_middle_source_needs(tried):
    """Valley fractions that an offset moves by 0.05 a unit: sources that lack 0.01, 0.02 and −0.03 need 0.2, 0.4 and −0.6."""

    def table(offset):
        rows = [(f"source {number}", 0.2 - lack + 0.05 * offset + wobble, 0.2 + wobble)
                for number, lack in enumerate((0.01, 0.02, -0.03)) for wobble in (-0.05, 0.05)]  # fmt: skip
        return pd.DataFrame([*rows, ("no grooves", 0.05 * offset, 0.0)], columns=["source", "valley_found", "valley_true"])

    assert valley_offset(table(0.0), table(tried), tried) == pytest.approx(0.2)
    none = table(0.0)[table(0.0)["source"] == "no grooves"]
    assert valley_offset(none, none, tried) == 0
