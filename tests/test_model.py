"""A model folder loads only when card and weights belong together; each refusal says what to do."""

import json

import numpy as np
import pytest
import torch
from samples import prepared_array

from semwear.errors import ModelError
from semwear.metrics import fractions
from semwear.model import FORMAT, checksum, load_model, read_card
from semwear.network import FieldNetwork, save_weights
from semwear.score import score_field
from semwear.simulate import simulate_field

WIDTHS = (8, 16, 16, 32, 32)


@pytest.fixture
def folder(tmp_path):
    torch.manual_seed(1)
    save_weights(FieldNetwork(WIDTHS), tmp_path / "weights.safetensors")
    card = {
        "name": "tiny",
        "format": FORMAT,
        "widths": WIDTHS,
        "working_pixel_sizes_um": [0.5, 1.0],
        "state_temperature": 1.0,
        "valley_offsets": {"unworn": 0.0, "worn": 0.0},
        "hidden_limit": 0.9,
        "worn_temperature": 1.0,
        "distance": {},
        "interval": {},
        "weights_sha256": checksum(tmp_path / "weights.safetensors"),
    }
    (tmp_path / "card.json").write_text(json.dumps(card), encoding="utf-8")
    load_model.cache_clear()
    return tmp_path


def test_a_whole_model_folder_loads(folder):
    model = load_model(folder)
    assert model.name == "tiny"
    assert model.sha256 == checksum(folder / "weights.safetensors")


def test_changed_weights_are_refused(folder):
    save_weights(FieldNetwork(WIDTHS), folder / "weights.safetensors")
    with pytest.raises(ModelError, match="differs from the card's; restore the model folder"):
        load_model(folder)


def test_missing_weights_or_card_are_refused(folder):
    (folder / "weights.safetensors").unlink()
    with pytest.raises(ModelError, match="the weights are missing"):
        load_model(folder)
    (folder / "card.json").unlink()
    with pytest.raises(ModelError, match="no readable model card, as there is no such file"):
        load_model(folder)


@pytest.mark.parametrize("content", ['{"name": "ti', "[1]", "7"])
def test_a_damaged_card_is_refused_in_plain_words(folder, content):
    (folder / "card.json").write_text(content, encoding="utf-8")
    with pytest.raises(ModelError, match="its JSON is damaged; restore the model folder"):
        read_card(folder)


@pytest.mark.parametrize(("key", "value", "words"), [("format", 99, "card format 99"), ("interval", None, "lacks interval")])
def test_cards_of_another_kind_are_refused(folder, key, value, words):
    card = json.loads((folder / "card.json").read_text(encoding="utf-8"))
    if value is None:
        del card[key]
    else:
        card[key] = value
    (folder / "card.json").write_text(json.dumps(card), encoding="utf-8")
    with pytest.raises(ModelError, match=words):
        read_card(folder)


def test_checksum_is_sha256_of_the_bytes(tmp_path):
    """Expected value: FIPS 180-4 example, SHA-256 of 'abc'."""
    (tmp_path / "abc").write_bytes(b"abc")
    assert checksum(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_shipped_model_gives_the_same_fractions_in_either_precision(monkeypatch):
    """Expected: single precision's, to less than counting 2500 points leaves open: √(0.15 · 0.85 / 2500) = 0.007 (binomial)."""
    prepared = prepared_array(simulate_field(12, shape=(384, 512), pixel_size_um=0.5, worn=True).image, 0.5)
    found = {}
    for reduced in (False, True):
        monkeypatch.setattr("semwear.network.reduced_precision_pays", lambda reduced=reduced: reduced)
        load_model.cache_clear()
        model = load_model()
        found[model.precision] = np.array(fractions(score_field(prepared, model).codes))
    load_model.cache_clear()
    assert set(found) == {"float32", "bfloat16"}
    np.testing.assert_allclose(found["bfloat16"], found["float32"], atol=0.004)
