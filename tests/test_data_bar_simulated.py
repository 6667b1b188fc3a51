"""Scale reading over every simulated family of layouts, in pictures whose truth was drawn with them."""

import importlib.util
from collections import Counter
from pathlib import Path

import pytest

from semwear.simulate.data_bars import LAYOUTS

SPEC = importlib.util.spec_from_file_location("bench_scale", Path(__file__).parent / "benchmarks" / "bench_scale.py")
bench_scale = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(bench_scale)


@pytest.mark.slow
def test_simulated_layouts_are_read_right_or_refused():
    """Truth is the drawing; right means within 1.5 px or 1 % of the bar's length and the very label."""
    fields = bench_scale.backgrounds()
    counts, table = Counter(), []
    for number, name in enumerate(LAYOUTS):
        cases = [bench_scale.run(name, 50000 + 100 * number + index, fields) for index in range(4)]
        here = Counter(case.verdict for case in cases)
        counts += here
        table.append(f"{name:36s} right {here['right']} wrong {here['wrong']} refused {here['refused']}")
    print("\n".join(table))
    total = sum(counts.values())
    assert counts["wrong"] == 0
    assert counts["right"] >= 0.9 * total
