"""A run of training goes on under its own name only as what it was begun as: with its labels, split, base, seed and settings."""

import argparse
from pathlib import Path

import numpy as np
import pytest
import train
from PIL import Image

from semwear.errors import ModelError
from semwear.labels import read_labels

SETTINGS = """
[network]
widths = [8, 8, 8, 8, 8]
working_pixel_sizes_um = [0.5]
[simulation]
crop_px = 64
[training]
steps = 4
batch = 2
learning_rate = 1e-3
muon = false
weight_decay = 0.01
warmup_steps = 1
average_decay = 0.9
dice_weight = 1.0
worn_weight = 0.4
kind_weight = 0.2
hidden_weight = 0.5
invert_share = 0.0
filter_share = 0.0
report_steps = 1
checkpoint_seconds = 60
[quick]
samples = 2
"""


def write_labels(folder: Path, names="ab", *, plateau_rows: int = 30, zone: str = "in-track") -> Path:
    (folder / "masks").mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(8)
    codes = np.zeros((96, 128), np.uint8)
    codes[plateau_rows:60] = 1
    for name in names:
        Image.fromarray(rng.integers(60, 190, codes.shape).astype(np.uint8)).save(folder / f"{name}.png")
        Image.fromarray(codes).save(folder / "masks" / f"{name}.png")
    rows = [f"{name}.png,S-{name},{zone},0.5" for name in names]
    (folder / "plan.csv").write_text("\n".join(["file,specimen,zone,pixel_size_um", *rows, ""]), encoding="utf-8")
    return folder


@pytest.fixture
def start(tmp_path, monkeypatch):
    """Return a function that starts training under one name for a single step, in a folder of its own."""
    monkeypatch.setattr(train, "HERE", tmp_path)
    (tmp_path / "settings.toml").write_text(SETTINGS, encoding="utf-8")

    def started(labels: Path, *more: str) -> None:
        words = ["train.py", "--labels", str(labels), "--out", str(tmp_path / "models" / "mine"), "--device", "cpu"]
        monkeypatch.setattr("sys.argv", [*words, "--seconds", "0", *more])
        train.main()

    return started


def test_a_used_name_takes_neither_other_labels_nor_another_seed_and_the_same_ones_go_on(start, tmp_path, capsys):
    labels = write_labels(tmp_path / "labels")
    start(labels)
    start(labels, "--steps", "9", "--minutes", "5")  # longer is no other run
    assert "resuming at step 1" in capsys.readouterr().out
    with pytest.raises(ModelError, match=r"\(.*seed\)"):
        start(labels, "--seed", "2")
    write_labels(tmp_path / "labels", plateau_rows=40)
    with pytest.raises(ModelError, match=r"\(labels\); delete the folder .*mine or choose another --out"):
        start(labels)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"seed": 2}, {"seed"}),
        ({"quick": True}, {"quick"}),
        ({"shards": Path("there")}, {"shards", "settings of simulation"}),
        ({"replay_shards": Path("there")}, {"replay shards"}),
        ({"minutes": 3.0, "seconds": 1.0, "steps": 7, "out": Path("elsewhere")}, set()),
    ],
)
def test_what_a_run_is_made_from_follows_its_options_but_not_its_length(changes, named):
    settings = train.tomllib.loads(SETTINGS)
    given = {"seed": 1, "quick": False, "shards": None, "replay_shards": None}
    one, other = (
        train.made_from(argparse.Namespace(**options), settings, settings["training"] | {"steps": steps}, [], None)
        for options, steps in ((given, 4), (given | changes, 400))
    )
    assert {name for name in {**one, **other} if one.get(name) != other.get(name)} == named


def test_the_card_tells_earlier_trainings_apart_from_the_last_and_what_was_never_trained_on():
    """Expected: the numbers of the cards themselves; names of folders as they are given."""
    first = {"name": "one", "training": {"seed": 1, "steps": 400, "batch": 96, "earlier": {}, "settings": {"long": 1}}}
    second = {"name": "two", "training": {"seed": 2, "steps": 30, "batch": 8, "earlier": train.earlier_training(first)}}
    told = train.earlier_training(second)
    assert (told["model"], told["steps"], told["batch"]) == ("two", 30, 8)
    assert told["earlier"] == {"model": "one", "seed": 1, "steps": 400, "batch": 96, "earlier": {}}
    given = argparse.Namespace(calibration_labels=[Path("there/sheet")], validation_labels=[Path("here/mine")])
    settings = {"calibration": {"makers": ["kinematic"]}}
    apart = train.kept_apart(given, settings, [argparse.Namespace(specimen="S1")], with_makers=True)
    assert apart["makers"] == ["kinematic"] and apart["labels"] == ["mine", "sheet"] and apart["specimens"] == ["S1"]
    assert train.kept_apart(given, settings, [], with_makers=False)["makers"] == []


def test_what_a_run_is_made_from_follows_settings_base_and_what_the_labels_say(tmp_path):
    settings = train.tomllib.loads(SETTINGS)
    given = argparse.Namespace(seed=1, quick=False, shards=None, replay_shards=None)

    def made(labels, base=None, **plan):
        return train.made_from(given, settings, settings["training"] | plan, labels, base)

    fields = read_labels(write_labels(tmp_path / "one"))
    first = made(fields)
    assert first == made(read_labels(write_labels(tmp_path / "copied")))
    assert first != made(fields, learning_rate=2e-3)
    assert first != made(fields, {"weights_sha256": "ab"})
    for other in (
        fields[:1],  # another split
        read_labels(write_labels(tmp_path / "masks", plateau_rows=31)),
        read_labels(write_labels(tmp_path / "zone", zone="out-of-track")),
    ):
        assert first["labels"] != made(other)["labels"]
