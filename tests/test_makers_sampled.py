"""Claims of the sampled maker: its point processes have the intensities, marks and directions that were drawn."""

import cv2
import numpy as np
import pytest
from makers import sampled
from makers.sampled import closures, lines, surface


def grounds(first: int, number: int, shape=(260, 300)):
    for seed in range(first, first + number):
        rng = np.random.default_rng(seed)
        yield surface.draw_ground(rng, float(np.exp(rng.uniform(np.log(0.2), np.log(2)))), shape)


@pytest.mark.parametrize("process", ["poisson", "clustered", "regular"])
def test_lines_per_length_agree_with_the_drawn_intensity(process):
    """The mean count of a stationary point process is intensity × length (Chiu et al., from memory)."""
    rng = np.random.default_rng(1)
    counts = [len(lines.draw_centres(rng, process, 0.03, 900)) for _ in range(400)]
    assert np.mean(counts) == pytest.approx(27, rel=0.06)


def test_the_three_processes_differ_in_their_spread():
    """Index of dispersion: 1 for Poisson, above it when clustered, below it when regular (Chiu et al., from memory)."""
    rng = np.random.default_rng(2)
    dispersion = {}
    for process in ("poisson", "clustered", "regular"):
        counts = [len(lines.draw_centres(rng, process, 0.03, 900)) for _ in range(400)]
        dispersion[process] = np.var(counts) / np.mean(counts)
    assert dispersion["regular"] < 0.5 < 0.8 < dispersion["poisson"] < 1.25 < 2 < dispersion["clustered"]


def test_widths_reach_a_factor_of_thirty_in_some_fields_and_hardly_vary_in_others():
    rng = np.random.default_rng(3)
    spreads = np.array([lines.draw_population(rng, 0.5, 560, 0.2).width_spread for _ in range(300)])
    assert (np.exp(4 * spreads) > 20).mean() > 0.15 and (np.exp(4 * spreads) < 2).mean() > 0.15


def test_depths_and_widths_are_those_of_hone_grooves():
    """Depth 1–10 µm and width 5–50 µm are usual (from memory): the middle of the draws lies there, tails beyond."""
    rng = np.random.default_rng(4)
    drawn = [line for _ in range(60) for line in lines.draw_lines(rng, lines.draw_population(rng, 0.9, 560, 0.3), 700)]
    assert 1 < np.median([line.depth for line in drawn]) < 10
    assert 3 < np.median([line.width for line in drawn]) * 0.9 < 50


def test_hone_angles_are_within_what_is_made_and_bisected_by_the_direction_across_the_stroke():
    """30–60° usual, 140–150° for helical slide honing (from memory)."""
    rng = np.random.default_rng(5)
    angles = np.array([surface.draw_hone_angle(rng) for _ in range(500)])
    assert angles.min() >= 20 and angles.max() <= 150
    assert ((angles >= 30) & (angles <= 60)).mean() > 0.45 and (angles > 139).mean() > 0.08
    for ground in grounds(50, 10, (200, 200)):
        if len(ground.lays) == 2:
            assert abs(np.mean(ground.lays) - ground.stroke - np.pi / 2) < 0.04


def test_closed_length_follows_the_drawn_share():
    """A Boolean model of segments covers 1 − exp(−rate × mean length) (Chiu et al., from memory)."""
    rng = np.random.default_rng(6)
    closing = closures.draw_closing(rng, 700, 0.2)
    closing = type(closing)(**vars(closing) | {"share": 0.4, "length": 6.0, "length_spread": 0.3, "bands": None})
    shares, lengths = [], []
    for _ in range(200):
        covered = np.zeros(700, bool)
        for middle, long in closures.draw_segments(rng, closing, 6.0, 700, 0.4):
            covered[max(0, round(middle - long / 2)) : max(0, round(middle + long / 2))] = True
            lengths.append(long / 6)
        shares.append(covered.mean())
    assert np.mean(shares) == pytest.approx(0.4, abs=0.06)
    assert np.median(lengths) == pytest.approx(6, rel=0.1)
    assert min(lengths) >= 1 and max(lengths) <= 100


def test_metal_covers_grooves_only_and_shares_of_area_are_wide():
    """Smear lies within a groove's footprint, so an unclosed ground has none; shares range as the population is told to."""
    made = list(grounds(100, 45, (200, 220)))
    valley = np.array([(g.codes == 1).mean() for g in made])
    smeared = np.array([(g.codes == 2).mean() for g in made if g.worn.any()])
    scuffed = np.array([(g.codes == 3).mean() for g in made if g.worn.any()])
    assert valley.min() < 0.03 and 0.3 < valley.max() < 0.6
    assert smeared.min() < 0.002 and 0.1 < smeared.max() < 0.27
    assert 0.1 < (scuffed > 0).mean() < 0.6 and 0.08 < scuffed.max() < 0.31
    for g in made:
        assert (g.floor[g.codes == 1] >= surface.VALLEY_DEPTH_UM).all()
        assert (g.floor[g.codes == 2] < surface.VALLEY_DEPTH_UM).all()
        assert (g.original[g.codes == 2] >= surface.VALLEY_DEPTH_UM).all()
        assert (g.original[g.codes == 0] < surface.VALLEY_DEPTH_UM).all()


def test_scuffing_runs_along_the_stroke():
    rng = np.random.default_rng(8)
    for _ in range(6):
        mask = surface.draw_scuffs(rng, 500, 0.6)
        along = (mask[:, 20:] == mask[:, :-20])[mask[:, 20:] > 0].mean()
        across = (mask[20:] == mask[:-20])[mask[20:] > 0].mean()
        assert along > across


def test_closures_leave_a_trace_on_average():
    """Grey or its texture differs between smeared ground and the plateau beside it in most pictures (common practice)."""
    told = []
    for seed in range(36):
        made = sampled.make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(210, 230))
        smear = made.codes == 2
        beside = (made.codes == 0) & (cv2.dilate(smear.astype(np.uint8), np.ones((15, 15), np.uint8)) > 0)
        if min(smear.sum(), beside.sum()) > 200:
            grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1)
            apart = abs(grey[smear].mean() - grey[beside].mean()) / np.hypot(grey[smear].std(), grey[beside].std())
            told.append(apart > 0.2 or not 0.8 < grey[smear].std() / grey[beside].std() < 1.25)
    assert len(told) >= 8 and np.mean(told) > 0.7
