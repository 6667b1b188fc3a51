"""Claims of the maker `kneaded`: metal is moved, not drawn."""

from dataclasses import replace

import numpy as np
import pytest
from makers import kneaded
from makers.kneaded.beam import electron_range_um
from makers.kneaded.flow import start, sweep
from makers.kneaded.frame import Frame
from makers.kneaded.hone import FINISH_LIMIT_UM, lay
from makers.kneaded.scuff import scuffed
from makers.kneaded.specimen import Hone, Run, draw_hone, draw_run
from makers.kneaded.truth import SMEARED, VALLEY, codes_of
from makers.kneaded.wear import Base, abraded
from makers.kneaded.wear import kneaded as knead

SHAPE = (240, 200)


def a_run(**changes) -> Run:
    rng = np.random.default_rng(1)
    run = draw_run(rng, draw_hone(rng, pixel_size_um=0.5, shape=SHAPE), pixel_size_um=0.5)
    even = {
        "bite_um": 0.15,
        "passes": 3,
        "loss": 0.2,
        "sheet_um": 0.15,
        "reach_px": 30.0,
        "fill_rate": 0.2,
        "bridging": 0.5,
    }
    return replace(run, **({"truncation_um": 0.2, "marks_um": 0.0, "reciprocating": True} | even | changes))


def crossed(deep_um: float = 1.5, period: int = 60, wide: int = 12) -> np.ndarray:
    """Groove depth of trenches straight across the stroke."""
    u = np.arange(SHAPE[0])[:, None] % period
    return np.broadcast_to(np.where((u >= 30) & (u < 30 + wide), deep_um, 0.0), SHAPE).astype(np.float32)


def worn_down(run: Run, depth: np.ndarray, seed: int = 0) -> tuple[Base, object, np.ndarray]:
    rng, load = np.random.default_rng(seed), np.ones(SHAPE[1], np.float32)
    flat = np.zeros(SHAPE, np.float32)
    base = abraded(rng, run, depth=depth, relief=flat, waves=flat, load=load)
    ground = knead(rng, run, base, load)
    return base, ground, codes_of(base, ground, np.zeros(SHAPE, bool), load)


@pytest.mark.parametrize("bridging", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("forward", [True, False])
def test_metal_is_conserved_up_to_what_is_lost(bridging, forward):
    """Solid = height − void (geometry); the ledger is summed anew from the maps."""
    rng = np.random.default_rng(3)
    before = (0.2 * rng.standard_normal(SHAPE) - crossed()).astype(np.float32)
    ground = start(before)
    contact, ductile = np.full(SHAPE, -0.05, np.float32), rng.random(SHAPE).astype(np.float32)
    wedge = rng.random(SHAPE[1]).astype(np.float32)
    sweep(ground, a_run(bridging=bridging), contact=contact, ductile=ductile, wedge=wedge, forward=forward)
    solid = float((ground.height - ground.void - before).sum(dtype=float))
    moved = float(np.abs(ground.height - before).sum(dtype=float))
    assert ground.carried_in - ground.carried_out - ground.lost == pytest.approx(solid, abs=1e-4 * moved)
    shorn = float(np.maximum(before + 0.05, 0).sum(dtype=float))
    assert 0.2 * shorn == pytest.approx(ground.lost, rel=0.02)
    assert (ground.void.sum() > 0) == (bridging > 0)


def test_smear_grows_with_load_and_passes():
    shares = [
        np.mean(
            [(worn_down(a_run(bite_um=bite, passes=passes), crossed(), seed)[2] == SMEARED).mean() for seed in range(3)]
        )
        for bite, passes in ((0.01, 2), (0.06, 2), (0.2, 2), (0.2, 5))
    ]
    assert all(np.diff(shares) > 0)


@pytest.mark.parametrize("forward", [True, False])
def test_lips_grow_from_the_edge_that_metal_comes_over(forward):
    """One pass that feeds too little metal to cross: it rests in the half of the hollow that it reaches first."""
    ground = start(-crossed(wide=24))
    contact = np.full(SHAPE, -0.03, np.float32)
    ductile = np.full(SHAPE, 0.9, np.float32)
    sweep(ground, a_run(), contact=contact, ductile=ductile, wedge=np.zeros(SHAPE[1], np.float32), forward=forward)
    within = (np.arange(SHAPE[0]) % 60) - 30
    first, second = (
        ground.rested[(within >= 0) & (within < 12)].sum(),
        ground.rested[(within >= 12) & (within < 24)].sum(),
    )
    assert (first > 2 * second) if forward else (second > 2 * first)


def test_no_metal_moves_where_nothing_stands_above_the_slider():
    ground = start(-crossed())
    contact = np.zeros(SHAPE, np.float32)
    sweep(ground, a_run(), contact=contact, ductile=contact + 1, wedge=contact[0], forward=True)
    assert np.array_equal(ground.height, -crossed())


def test_smear_lies_only_where_a_groove_deeper_than_the_limit_had_been():
    """0.5 µm: semwear.terms."""
    base, ground, codes = worn_down(a_run(), crossed())
    assert (codes == SMEARED).sum() > 200 and (codes == VALLEY).sum() > 200
    assert (base.depth[codes == SMEARED] > 0.5).mean() > 0.95
    moved = (ground.rested > 0.1) | (ground.void > 0)
    assert moved[codes == SMEARED].mean() > 0.95


def test_a_groove_that_truncation_made_shallow_is_plateau():
    codes = worn_down(a_run(truncation_um=0.9, bite_um=0.1), crossed(deep_um=0.6))[2]
    assert not np.isin(codes, (VALLEY, SMEARED)).any()


def test_scuffing_runs_along_the_stroke():
    rng = np.random.default_rng(5)
    height = np.zeros((300, 300), np.float32)
    area = scuffed(rng, a_run(scuff=1.0, scuff_strength=1.5), height, height + 0, np.ones(300, np.float32), 0.5)[0]
    assert area.mean() > 0.02
    along, across = (np.diff(area.astype(int), axis=axis) != 0 for axis in (0, 1))
    assert across.sum() > 2 * along.sum()
    assert np.abs(height[area]).mean() > 10 * np.abs(height[~area]).mean()


def test_hone_angles_are_those_of_the_trade():
    """Included 30–60°, or 140–150° for helical slide honing: from memory, after the project's trade facts."""
    drawn = [draw_hone(np.random.default_rng(seed), pixel_size_um=0.6, shape=(500, 500)) for seed in range(200)]
    angles = np.array([hone.angle_deg for hone in drawn])
    usual, helical = (angles >= 30) & (angles <= 60), (angles >= 140) & (angles <= 150)
    assert (usual | helical).all() and 0.7 < usual.mean() < 0.9
    depths = np.array([hone.depth_um for hone in drawn])
    assert np.quantile(depths, 0.05) > 0.5 and depths.max() <= 10  # groove depth 1–10 µm, from memory


@pytest.mark.parametrize("angle_deg", [-72.0, -20.0, 20.0])
def test_a_lay_runs_at_its_angle_from_the_direction_across_the_stroke(angle_deg):
    """By the structure tensor of the depth map (Bigün and Granlund 1987, from memory)."""
    rng = np.random.default_rng(2)
    hone: Hone = replace(
        draw_hone(rng, pixel_size_um=0.6, shape=SHAPE), finish_um=0.0, share=0.3, width_px=9.0, ragged=0.02
    )
    depth, ridge = lay(rng, hone, (300, 260), angle_deg)
    gradient_u, gradient_v = np.gradient(depth.astype(float))
    double = np.arctan2(2 * (gradient_u * gradient_v).sum(), (gradient_u**2 - gradient_v**2).sum())
    normal_deg = np.degrees(double / 2)  # of the gradient, from u towards v
    assert abs((-normal_deg - angle_deg + 90) % 180 - 90) < 4
    assert depth.max() <= 17 and ridge.min() >= -FINISH_LIMIT_UM


def test_a_tilted_stage_foreshortens_by_its_cosine():
    """3.4 % at 15° (trade facts, from the formula)."""
    flat, tilted = (Frame(stroke_deg=90.0, tilt_deg=tilt, screen=(300, 300)).matrix() for tilt in (0.0, 15.0))
    assert np.hypot(*flat[:, 1]) / np.hypot(*tilted[:, 1]) == pytest.approx(1 - 0.034, abs=5e-4)


def test_electron_range_in_iron():
    """Kanaya and Okayama 1972: 0.16, 0.50, 0.99, 1.60 µm at 5, 10, 15, 20 kV (trade facts)."""
    assert [round(electron_range_um(kilovolts), 2) for kilovolts in (5, 10, 15, 20)] == [0.16, 0.50, 0.99, 1.60]


def test_closures_leave_a_trace_on_average():
    """Smeared pixels differ from plateau near them in mean grey or in spread, in most fields that have any."""
    told = []
    for seed in range(14):
        made = kneaded.make(np.random.default_rng(seed), pixel_size_um=0.5, shape=(260, 260))
        smear, plateau = made.codes == SMEARED, made.codes == 0
        if smear.sum() < 400:
            continue
        grey = made.image.astype(float)
        apart = abs(grey[smear].mean() - grey[plateau].mean()) / grey[plateau].std()
        told.append(apart > 0.15 or grey[smear].std() > 1.15 * grey[plateau].std())
    assert len(told) >= 3 and np.mean(told) >= 0.6
