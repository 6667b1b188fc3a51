"""Facts that contradict a bar are read again before they are believed: the readings are stand-ins, the numbers plain."""

import math

import pytest

from semwear.data_bar import read as reading
from semwear.data_bar.labels import facts_in


@pytest.mark.parametrize(
    ("first", "again", "magnification"),
    [
        ("25x", ["256x", "256x", "256x"], 256.0),
        ("25x", ["256x", "250x", "25x"], 25.0),
        ("25x", ["256x", "256x", "25x"], math.nan),
        ("25x", ["", "", ""], 25.0),
    ],
)
def test_a_magnification_is_believed_as_most_readings_have_it(monkeypatch, first, again, magnification):
    texts = iter(again)
    monkeypatch.setattr(reading, "rows_read_again", lambda words, **way: [next(texts)])
    layer = reading._Layer(ink=None, words=reading.Words(bars=(), printed=(), rows=(first,), columns=(), ink=None))
    facts = reading._facts_read_again([layer], facts_in([first], []))
    assert facts.magnification == pytest.approx(magnification, nan_ok=True)
    assert math.isnan(facts.field_width_um)
