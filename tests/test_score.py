"""The network over a field: scale levels, tiles without seams, regions in place, decisions, distance, intervals."""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest
import torch

from semwear.network import FieldNetwork, inference
from semwear.score import (
    decide_states,
    doubted_shares,
    field_offsets,
    interval_margins,
    normalise,
    run_tiled,
    score_regions,
    too_much_valley,
    training_distance,
    valley_half_seen,
    without_hidden,
    working_pixel_size,
)
from semwear.terms import REGION_SIZE_UM

SIZES_UM = (0.25, 0.354, 0.5, 0.707, 1.0, 1.414, 2.0)


@pytest.mark.parametrize("pixel_size_um", [0.22, 0.3, 0.42, 0.5, 0.59, 0.84, 1.19, 1.7, 2.3])
def test_no_field_is_enlarged_or_reduced_by_more_than_a_fifth_within_the_range(pixel_size_um):
    ratio = working_pixel_size(pixel_size_um, SIZES_UM) / pixel_size_um
    assert 1 / 1.2 < ratio < 1.2


def test_normalisation_is_by_median_and_robust_spread_of_what_is_assessed():
    """Closed form: 1.4826 × median absolute deviation of Gaussian values is their standard deviation."""
    rng = np.random.default_rng(1)
    image = rng.normal(7, 3, (200, 300)).astype(np.float32)
    assessed = np.ones(image.shape, bool)
    assessed[:, :50] = False
    image[:, :50] = 1000
    scaled = normalise(image, assessed)
    assert np.median(scaled[assessed]) == pytest.approx(0, abs=0.02)
    assert scaled[assessed].std() == pytest.approx(1, abs=0.03)
    assert not scaled[~assessed].any()
    assert not normalise(np.full((5, 6), 3.0, np.float32), np.ones((5, 6), bool)).any()


def test_tiles_leave_no_seam(monkeypatch):
    """Expected: the same network in one piece; with a receptive field smaller than the overlap both are equal."""
    import semwear.score

    monkeypatch.setattr(semwear.score, "TILE_PX", 512)
    torch.manual_seed(4)
    run = inference(FieldNetwork((8, 8, 8, 8, 8)).eval())
    image = np.random.default_rng(2).normal(size=(448, 1200)).astype(np.float32)
    whole, worn, _, embedding, hidden = run(image)
    tiled, worn_tiled, _, embedding_tiled, hidden_tiled = run_tiled(run, image)
    np.testing.assert_allclose(hidden_tiled, hidden, atol=0.02)
    np.testing.assert_allclose(tiled, whole, atol=0.02)
    assert np.abs(tiled - whole).mean() < 1e-3
    np.testing.assert_allclose(tiled.sum(0), 1, atol=1e-5)
    assert worn_tiled.shape == (448 // 16, 1200 // 16)
    np.testing.assert_allclose(worn_tiled, worn[:28, :75], atol=0.1)
    np.testing.assert_allclose(embedding_tiled, embedding, atol=0.1 * np.abs(embedding).max())


def test_valley_is_favoured_as_far_as_a_field_is_unworn():
    card = {"valley_offsets": {"unworn": 0.4, "worn": -0.2}}
    for worn, expected in ((0.0, 0.4), (1.0, -0.2), (0.5, 0.1)):
        assert field_offsets(card, [{"worn_probability": worn}] * 3) == pytest.approx((0, expected, 0, 0))
    assert field_offsets(card, ()) == (0, 0, 0, 0)


def test_the_most_probable_state_wins_and_offsets_tip_the_balance():
    probabilities = np.zeros((4, 8, 12), np.float32)
    probabilities[0], probabilities[2] = 0.6, 0.4
    probabilities[:, :, 6:] = np.array([0.2, 0.7, 0.1, 0])[:, None, None]
    assessed = np.ones((8, 12), bool)
    assessed[0] = False
    codes = decide_states(probabilities, assessed)
    assert (codes[0] == 255).all() and (codes[1:, :5] == 0).all() and (codes[1:, 7:] == 1).all()
    # 0.4 · exp(0.5) = 0.66 beats 0.6, 0.1 · exp(0.5) does not beat 0.7.
    tipped = decide_states(probabilities, assessed, (0, 0, 0.5, 0))
    assert (tipped[1:, :5] == 2).all() and (tipped[1:, 7:] == 1).all()


@dataclass
class Field:
    assessed: np.ndarray


def test_hidden_pixels_leave_the_assessed_area_on_both_grids():
    prepared = Field(assessed=np.ones((40, 60), bool))
    prepared.assessed[:4] = False
    hidden = np.zeros((20, 30), np.float32)
    hidden[10:15, 5:9] = 0.9
    assessed = np.ones((20, 30), bool)
    seen, working = without_hidden(prepared, assessed, hidden, 0.8)
    assert not working[10:15, 5:9].any() and working.sum() == 600 - 20
    assert not seen.assessed[20:30, 10:18].any() and not seen.assessed[:4].any() and seen.assessed.sum() == 36 * 60 - 80
    untouched, same = without_hidden(prepared, assessed, hidden, 0.95)
    assert untouched is prepared and same is assessed


def test_regions_are_centred_squares_whose_probability_is_that_of_their_own_place():
    prepared = SimpleNamespace(assessed=np.ones((300, 460), bool), picture=np.ones((300, 460), bool), pixel_size_um=0.5)
    worn_logits = np.full((20, 30), -4.0, np.float32)
    worn_logits[:, 15:] = 4.0
    regions = score_regions(worn_logits, prepared, 0.5, 1.0)
    side = REGION_SIZE_UM / 0.5
    assert len(regions) == (300 // int(side)) * (460 // int(side))
    assert {region["size_px"] for region in regions} == {side}
    assert np.mean([region["row_px"] for region in regions]) == pytest.approx(150)
    assert np.mean([region["col_px"] for region in regions]) == pytest.approx(230)
    left = [region for region in regions if region["col_px"] < 150]
    right = [region for region in regions if region["col_px"] > 310]
    assert all(region["worn_probability"] < 0.05 for region in left)
    assert all(region["worn_probability"] > 0.95 for region in right)
    prepared.assessed[:, :230] = False
    assert all(region["col_px"] > 150 for region in score_regions(worn_logits, prepared, 0.5, 1.0))


def test_regions_lie_as_in_the_picture_cut_out_of_its_data_bar():
    """Expected: the regions of the picture alone, moved by what lies above it and beside it."""
    rng = np.random.default_rng(5)
    worn_logits = rng.normal(size=(19, 30)).astype(np.float32)
    whole = SimpleNamespace(assessed=np.zeros((304, 480), bool), picture=np.zeros((304, 480), bool), pixel_size_um=0.5)
    whole.picture[16:272, 32:480] = True
    whole.assessed |= whole.picture
    alone = SimpleNamespace(assessed=whole.assessed[16:272, 32:], picture=whole.picture[16:272, 32:], pixel_size_um=0.5)
    found = score_regions(worn_logits, whole, 0.5, 1.0)
    expected = score_regions(worn_logits[1:17, 2:], alone, 0.5, 1.0)
    assert len(found) == len(expected) == 2 * 3
    for region, other in zip(found, expected, strict=True):
        assert (region["row_px"], region["col_px"]) == (other["row_px"] + 16, other["col_px"] + 32)
        assert region["assessed_fraction"] == 1
        # Beyond the picture the logits of the bar bear on its outermost pixels alone.
        assert region["worn_probability"] == pytest.approx(other["worn_probability"], abs=0.02)


@pytest.mark.parametrize(("shape", "places"), [((100, 460), 3), ((100, 90), 1), ((460, 60), 3)])
def test_no_region_is_said_to_be_larger_than_the_picture(shape, places):
    """Expected: 230 µm hold three regions of 64 µm in a row; the shorter side of the picture is all that a square has."""
    prepared = SimpleNamespace(assessed=np.ones(shape, bool), picture=np.ones(shape, bool), pixel_size_um=0.5)
    regions = score_regions(np.zeros((29, 29), np.float32), prepared, 0.5, 1.0)
    assert len(regions) == places
    assert {(region["size_px"], region["size_um"]) for region in regions} == {(min(shape), min(shape) * 0.5)}


def test_distance_is_one_at_either_limit_and_grows_beyond():
    """Closed form: with unit whitening the root mean square of the centred embedding is the distance."""
    limits = {"mean": [0, 0], "whitening": np.eye(2), "mahalanobis_limit": 2.0, "kind_limit": -3.0, "kind_scale": 2.0}
    assert training_distance(np.array([2.0, 2.0]), 50.0, limits) == pytest.approx(1)
    assert training_distance(np.array([4.0, 4.0]), 50.0, limits) == pytest.approx(2)
    assert training_distance(np.zeros(2), -3.0, limits) == pytest.approx(1)
    assert training_distance(np.zeros(2), -9.0, limits) > 5


def test_doubted_shares_are_the_sums_of_doubt_inside_and_outside_of_what_was_found():
    """Expected numbers: pixel by pixel in a naive loop over the pixels that are counted."""
    rng = np.random.default_rng(3)
    logits = rng.normal(size=(4, 21, 34)) * 2
    probabilities = (np.exp(logits) / np.exp(logits).sum(0)).astype(np.float32)
    assessed = rng.random((21, 34)) > 0.2
    for offsets in ((0.0, 0.0, 0.0, 0.0), (0.0, 0.3, 1.0, -0.4)):
        expected, count = np.zeros((3, 2)), 0
        for row in range(0, 21, 2):
            for col in range(0, 34, 2):
                if not assessed[row, col]:
                    continue
                count += 1
                own = probabilities[:, row, col]
                chosen = int(np.argmax(own * np.exp(offsets)))
                for state in (1, 2, 3):
                    expected[state - 1] += (1 - own[state], 0) if state == chosen else (0, own[state])
        np.testing.assert_allclose(doubted_shares(probabilities, assessed, offsets), expected / count, rtol=1e-5)
    assert np.isnan(doubted_shares(probabilities, np.zeros((21, 34), bool))).all()


def test_with_a_factor_of_one_the_interval_just_holds_what_the_probabilities_add_up_to():
    """Closed form: found − doubted inside + half seen outside is the mean probability of the state."""
    rng = np.random.default_rng(4)
    logits = rng.normal(size=(4, 40, 60))
    probabilities = (np.exp(logits) / np.exp(logits).sum(0)).astype(np.float32).repeat(2, 1).repeat(2, 2)
    assessed = np.ones((80, 120), bool)
    margins = interval_margins(doubted_shares(probabilities, assessed), dict.fromkeys(("valley", "smeared", "scuffed"), 1))
    found = np.bincount(probabilities.argmax(0).ravel(), minlength=4) / assessed.size
    for state, (below, above) in enumerate(margins, 1):
        mean = float(probabilities[state].mean())
        assert found[state] - below + above == pytest.approx(mean, abs=1e-6)
        assert found[state] - below <= mean <= found[state] + above


@pytest.mark.parametrize(
    ("found", "half_seen", "flagged"), [(0.10, 0.04, False), (0.10, 0.06, True), (0.01, 0.015, False), (0.0, 0.03, True)]
)
def test_a_field_is_flagged_when_much_valley_is_half_seen_beside_what_is_counted(found, half_seen, flagged):
    assert valley_half_seen(found, half_seen) is flagged


@pytest.mark.parametrize(("valley", "smeared", "flagged"), [(0.30, 0.0, False), (0.30, 0.12, False), (0.5, 0.0, True), (0.3, 0.2, True)])
def test_a_field_with_more_grooves_than_hone_surfaces_hold_is_flagged(valley, smeared, flagged):
    """Valleys take 15 to 30 % of a honed surface at the lower core limit (100 − Mr2, ISO 21920-2; values from memory)."""
    assert too_much_valley(np.array([1 - valley - smeared, valley, smeared, 0.0])) is flagged
    assert not too_much_valley(np.full(4, np.nan))
