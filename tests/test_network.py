"""The network: size, any picture size, folding of the normalisation, weights without code, refusals."""

import numpy as np
import onnxruntime
import pytest
import torch
from scipy import ndimage

from semwear.errors import ModelError
from semwear.network import (
    SURROUNDINGS_CELLS,
    TURNS,
    FieldNetwork,
    _fold_normalisation,
    _surroundings,
    inference,
    load_network,
    parameter_count,
    reduced_precision_pays,
    save_weights,
)
from semwear.onnx_graph import OUTPUTS, onnx_graph
from semwear.pipeline import LOOKS


@pytest.fixture(scope="module")
def network():
    torch.manual_seed(3)
    network = FieldNetwork((8, 16, 16, 32, 32))
    with torch.no_grad():  # statistics unlike the initial ones, so that folding is put to the test
        for module in network.modules():
            if isinstance(module, torch.nn.BatchNorm2d):
                module.running_mean.uniform_(-0.2, 0.2)
                module.running_var.uniform_(0.5, 2)
                module.weight.uniform_(0.5, 1.5)
    return network.eval()


def test_the_default_network_has_under_three_million_parameters():
    assert 500_000 < parameter_count(FieldNetwork()) < 3_000_000


@pytest.mark.parametrize("shape", [(64, 96), (50, 75), (20, 30), (33, 129)])
def test_probabilities_have_the_pictures_shape_and_add_up_to_one(network, shape):
    image = np.random.default_rng(1).normal(size=shape).astype(np.float32)
    probabilities, worn, kind, embedding, hidden = inference(network)(image)
    assert probabilities.shape == (4, *shape) and hidden.shape == shape
    assert hidden.min() >= 0 and hidden.max() <= 1
    np.testing.assert_allclose(probabilities.sum(0), 1, atol=1e-5)
    assert worn.shape == tuple(-(-side // 32) * 2 for side in shape)
    assert np.isfinite(kind) and np.isfinite(embedding).all()


def test_folded_inference_equals_the_plain_network(network):
    """Expected values: the unfolded network in double precision."""
    image = np.random.default_rng(2).normal(size=(64, 96)).astype(np.float32)
    probabilities, worn, kind, embedding, hidden = inference(network)(image)
    with torch.inference_mode():
        double = FieldNetwork(network.widths).double()
        double.load_state_dict(network.state_dict())
        states, worn_, kind_, embedding_, hidden_ = double.eval()(torch.from_numpy(image)[None, None].double())
    np.testing.assert_allclose(probabilities, torch.softmax(states[0], 0).numpy(), atol=2e-5)
    np.testing.assert_allclose(worn, worn_[0, 0].numpy(), atol=1e-3)
    np.testing.assert_allclose(hidden, torch.sigmoid(hidden_[0, 0]).numpy(), atol=2e-5)
    np.testing.assert_allclose(embedding, embedding_[0].numpy(), atol=1e-3)
    assert kind == pytest.approx(float(kind_[0]), abs=1e-3)


def test_what_lies_around_a_cell_is_a_plain_mean_over_it():
    """Expected: scipy.ndimage's box filter of the cells over that of ones, which counts cells inside only."""
    cells = np.random.default_rng(5).normal(size=(20, 33))
    found = _surroundings(torch.from_numpy(cells)[None, None])[0, 0].numpy()
    inside = ndimage.uniform_filter(np.ones_like(cells), SURROUNDINGS_CELLS, mode="constant")
    expected = ndimage.uniform_filter(cells, SURROUNDINGS_CELLS, mode="constant") / inside
    np.testing.assert_allclose(found, expected, atol=1e-12)


def test_temperature_softens_without_changing_the_order(network):
    image = np.random.default_rng(2).normal(size=(64, 64)).astype(np.float32)
    sharp = inference(network)(image)[0]
    soft = inference(network, temperature=3.0)(image)[0]
    np.testing.assert_array_equal(sharp.argmax(0), soft.argmax(0))
    expected = sharp ** (1 / 3) / (sharp ** (1 / 3)).sum(0)  # softmax(z / T) is softmax(z) to the power 1/T, normalised
    np.testing.assert_allclose(soft, expected, atol=1e-4)


def test_weights_survive_the_round_trip_and_misfits_are_refused(network, tmp_path):
    path = tmp_path / "weights.safetensors"
    save_weights(network, path)
    image = np.random.default_rng(4).normal(size=(32, 64)).astype(np.float32)
    np.testing.assert_array_equal(
        inference(network)(image)[0], inference(load_network(path, network.widths))(image)[0]
    )
    with pytest.raises(ModelError, match="can't be loaded"):
        load_network(path, (8, 16, 16, 32, 64))
    path.write_bytes(b"not weights")
    with pytest.raises(ModelError, match="restore the model folder"):
        load_network(path, network.widths)


def test_reduced_precision_gives_the_same_picture_of_the_states(network):
    """Expected: the same network in single precision. bfloat16 keeps 8 bits, so that a product is right to 2⁻⁹ (its definition);
    logits of this network stay below 4, and some thirty layers add their roundings as a random walk would."""
    image = np.random.default_rng(6).normal(size=(96, 128)).astype(np.float32)
    exact, reduced = inference(network)(image), inference(network, reduced=True)(image)
    assert np.abs(exact[0] - reduced[0]).max() < 4 * 2**-9 * 30**0.5
    assert np.abs(exact[0] - reduced[0]).max() > 0
    assert reduced[3].dtype == np.float32 and reduced[2] == pytest.approx(exact[2], abs=0.05)
    np.testing.assert_allclose(reduced[3], exact[3], atol=0.05 * np.abs(exact[3]).max())


def test_settings_allow_the_looks_that_the_network_knows():
    """Settings are read without torch, so that the numbers stand in both places."""
    assert tuple(TURNS) == LOOKS


@pytest.mark.parametrize("looks", [2, 4])
def test_more_looks_are_the_mean_over_turned_pictures(network, looks):
    """Expected: pictures turned by NumPy, looked at once each and turned back. Four looks are a group, so that their mean turns with
    the picture (Reynolds operator, from memory)."""
    image = np.random.default_rng(7).normal(size=(64, 96)).astype(np.float32)
    once, several = inference(network), inference(network, looks=looks)
    turns = [(1, 1), (-1, -1), (-1, 1), (1, -1)][:looks]
    for place in (0, 1, 4):
        back = [once(np.ascontiguousarray(image[::down, ::across]))[place][..., ::down, ::across] for down, across in turns]
        np.testing.assert_allclose(several(image)[place], np.mean(back, axis=0), atol=2e-5)
        if looks == 4:
            turned = several(np.ascontiguousarray(image[::-1]))[place][..., ::-1, :]
            np.testing.assert_allclose(turned, several(image)[place], atol=2e-5)
    assert several(image)[2] == once(image)[2]
    np.testing.assert_array_equal(several(image)[3], once(image)[3])


def test_more_looks_keep_a_picture_of_any_size_in_place(network):
    """Expected: the picture with its own mirror image up to whole cells beside it, cut back."""
    image = np.random.default_rng(8).normal(size=(75, 101)).astype(np.float32)
    found, whole = (inference(network, looks=4)(each) for each in (image, np.pad(image, ((0, 21), (0, 27)), mode="symmetric")))
    np.testing.assert_allclose(found[0], whole[0][:, :75, :101], atol=2e-5)
    np.testing.assert_allclose(found[1], whole[1], atol=2e-5)


@pytest.mark.parametrize(("found", "pays"), [({"avx512_bf16": True}, True), ({"amx_bf16": True, "avx2": True}, True), ({"avx2": True}, False)])
def test_reduced_precision_is_for_processors_that_have_it_built_in(monkeypatch, found, pays):
    monkeypatch.setattr(torch.cpu, "get_capabilities", lambda: found, raising=False)
    assert reduced_precision_pays() is pays
    monkeypatch.delattr(torch.cpu, "get_capabilities")  # as in torch 2.9, which pyproject.toml admits
    assert reduced_precision_pays() is False


@pytest.mark.parametrize("shape", [(32, 64), (96, 160), (480, 640)])
def test_the_graph_gives_what_the_network_gives(network, shape):
    """The forward pass of torch, unfolded, is the reference; 1e-4 of the logits' range is rounding over some forty layers."""
    picture = torch.randn(1, 1, *shape)
    session = onnxruntime.InferenceSession(onnx_graph(_fold_normalisation(network), SURROUNDINGS_CELLS))
    with torch.inference_mode():
        expected = network.eval()(picture)
    for name, found, wanted in zip(OUTPUTS, session.run(None, {"image": picture.numpy()}), expected, strict=True):
        assert found.shape == tuple(wanted.shape), name
        np.testing.assert_allclose(found, wanted.numpy(), atol=1e-4 * float(wanted.abs().max()), err_msg=name)
