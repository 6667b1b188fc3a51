"""Figures over fields are those of scikit-learn over all of their pixels, whatever the fields are called."""

import numpy as np
import pytest
from evaluation import KnownField, evaluate
from sklearn.metrics import jaccard_score


def known(name: str, seed: int, group: str) -> KnownField:
    codes = np.random.default_rng(seed).integers(0, 4, (40, 50)).astype(np.uint8)
    prepared = SimplePrepared(pixel_size_um=1.0)
    return KnownField(
        name=name, group=group, prepared=prepared, codes=codes, worn=np.full(codes.shape, 255, np.uint8), stroke_deg=None,
        source=group,
    )  # fmt: skip


class SimplePrepared:
    """What the figures need of a prepared field."""

    def __init__(self, *, pixel_size_um: float) -> None:
        self.pixel_size_um = pixel_size_um


def test_fields_of_one_name_from_two_folders_all_count():
    fields = [known("A_in_1.png", 1, "one"), known("A_in_1.png", 2, "other")]
    answers = iter([np.random.default_rng(7).integers(0, 4, (40, 50)).astype(np.uint8), fields[1].codes])
    given = []

    def predict(prepared, stroke_deg):
        given.append(next(answers))
        return {"codes": given[-1]}

    found = evaluate(fields, predict)
    truth, codes = (np.concatenate([each.ravel() for each in parts]) for parts in ([f.codes for f in fields], given))
    expected = jaccard_score(truth, codes, average=None)
    summary = found.summary()
    assert [summary[f"iou_{state}"] for state in ("valley", "smeared", "scuffed")] == pytest.approx(expected[1:], abs=1e-4)
    by_group = found.by(lambda row: row["group"])
    assert by_group["other"]["iou_valley"] == 1.0
    alone = jaccard_score(fields[0].codes.ravel(), given[0].ravel(), average=None)
    assert by_group["one"]["iou_smeared"] == pytest.approx(alone[2], abs=1e-4)
