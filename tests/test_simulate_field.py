"""Whole simulated fields: truth against heights, reproducibility, what is held out, what is refused."""

import numpy as np
import pytest

from semwear.simulate import (
    FAMILIES,
    HELD_OUT_FAMILY,
    HELD_OUT_RENDERER,
    RENDERERS,
    TRAINING_RENDERERS,
    simulate_field,
)
from semwear.terms import VALLEY_DEPTH_UM, MaskCode

SMALL = {"shape": (110, 150)}


@pytest.fixture(scope="module")
def fields():
    return [simulate_field(seed, **SMALL) for seed in range(60)]


def test_the_same_seed_gives_the_same_field_and_another_another(fields):
    again, other = simulate_field(3, **SMALL), simulate_field(4, **SMALL)
    for name in ("image", "codes", "worn", "height_um"):
        assert np.array_equal(getattr(again, name), getattr(fields[3], name))
    assert not np.array_equal(again.image, other.image)
    by_generator = simulate_field(np.random.default_rng(3), **SMALL)
    assert np.array_equal(by_generator.image, again.image)


def test_open_valleys_lie_half_a_micrometre_below_the_plateau_and_smears_do_not(fields):
    # The contract's limit, seen on the heights. Floors and closures have a roughness of their own, hence shares.
    below_open, below_smeared, below_plateau = [], [], []
    for field in fields:
        below = field.plateau_um - field.height_um
        below_open.append(below[field.codes == MaskCode.OPEN_VALLEY])
        below_smeared.append(below[field.codes == MaskCode.SMEARED])
        below_plateau.append(below[field.codes == MaskCode.PLATEAU])
    below_open, below_smeared, below_plateau = map(np.concatenate, (below_open, below_smeared, below_plateau))
    assert min(below_open.size, below_smeared.size) > 5000
    assert np.mean(below_open >= VALLEY_DEPTH_UM - 0.1) > 0.97
    # the rest of these two are pull-outs and scratches along the stroke, which are no valleys however deep
    assert np.mean(np.abs(below_smeared) <= VALLEY_DEPTH_UM + 0.1) > 0.95
    assert np.mean(np.abs(below_plateau) <= VALLEY_DEPTH_UM + 0.1) > 0.95


def test_fractions_are_those_of_the_codes(fields):
    for field in fields:
        assert set(np.unique(field.codes)) <= {int(code) for code in MaskCode}
        assessed = field.codes[field.codes != MaskCode.NOT_ASSESSED]
        if assessed.size:
            assert field.facts["valley_fraction"] == pytest.approx(np.mean(assessed == MaskCode.OPEN_VALLEY))
            names = ("valley_fraction", "smeared_fraction", "scuffed_fraction", "plateau_fraction")
            assert sum(field.facts[name] for name in names) == pytest.approx(1)


def test_the_ring_runs_where_it_is_said_to():
    for seed in range(6):
        assert simulate_field(seed, worn=True, **SMALL).worn.all()
        unworn = simulate_field(seed, worn=False, **SMALL)
        assert not unworn.worn.any()
        assert not (unworn.codes == MaskCode.SCUFFED).any()
        edge = simulate_field(seed, worn="edge", **SMALL)
        assert 0.05 < edge.worn.mean() < 0.95
        assert not ((edge.codes == MaskCode.SCUFFED) & ~edge.worn).any()


def test_all_states_and_tracks_occur_and_some_fields_have_no_valley(fields):
    present = np.mean([[np.mean(f.codes == c) > 0.005 for c in (1, 2, 3)] for f in fields], axis=0)
    assert (present > [0.4, 0.2, 0.05]).all()
    assert {f.track for f in fields} == {"in-track", "out-of-track", "edge"}
    assert any(f.facts["valley_fraction"] < 0.002 for f in fields)


def test_held_out_family_and_renderer_come_only_when_asked_for(fields):
    assert {f.family for f in fields} <= set(FAMILIES) and HELD_OUT_FAMILY not in FAMILIES
    assert {f.renderer for f in fields} == set(TRAINING_RENDERERS) and HELD_OUT_RENDERER not in TRAINING_RENDERERS
    field = simulate_field(1, family=HELD_OUT_FAMILY, renderer=HELD_OUT_RENDERER, **SMALL)
    assert (field.family, field.renderer) == (HELD_OUT_FAMILY, HELD_OUT_RENDERER)


def test_the_renderer_changes_the_picture_and_not_the_surface():
    made = [simulate_field(11, renderer=name, pixel_size_um=0.6, **SMALL) for name in RENDERERS]
    assert len({field.image.tobytes() for field in made}) == len(made)
    assert all(np.array_equal(field.height_um, made[0].height_um) for field in made)


def test_what_is_given_is_kept():
    field = simulate_field(
        2, pixel_size_um=0.37, severity=0.8, worn=True, stroke_deg=120.0, hone_angle_deg=50.0, kv=12, tilt_deg=0,
        family="plateaued", bits=16, **SMALL,
    )  # fmt: skip
    assert (field.pixel_size_um, field.severity, field.stroke_deg, field.kv) == (0.37, 0.8, 120.0, 12.0)
    assert field.image.dtype == np.uint16 and field.image.max() > 255
    # the lays stand 25° on either side of the direction across the stroke (each within a few degrees, tool wander)
    across = 120.0 + 90
    turns = sorted((lay - across + 90) % 180 - 90 for lay in (field.lay_1_deg, field.lay_2_deg))
    assert turns == pytest.approx([-25, 25], abs=4)


def test_no_grooves_mean_no_lays_and_no_valley():
    field = simulate_field(5, family="unhoned", **SMALL)
    assert np.isnan([field.lay_1_deg, field.lay_2_deg, field.hone_angle_deg]).all()
    assert not np.isin(field.codes, (MaskCode.OPEN_VALLEY, MaskCode.SMEARED)).any()


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"family": "mirror"}, "family is 'mirror'"),
        ({"renderer": "paint"}, "renderer is 'paint'"),
        ({"worn": "sideways"}, "worn is 'sideways'"),
        ({"pixel_size_um": 0.0}, "positive size"),
        ({"shape": (8, 200)}, "16 pixels a side"),
    ],
)
def test_wrong_requests_are_refused_with_the_choices(wrong, says):
    with pytest.raises(ValueError, match=says):
        simulate_field(0, **({"shape": (64, 64)} | wrong))


@pytest.mark.slow
def test_a_full_size_field_of_every_family_and_renderer_is_made():
    for number, family in enumerate([*FAMILIES, HELD_OUT_FAMILY]):
        for renderer in RENDERERS:
            field = simulate_field(number, family=family, renderer=renderer)
            assert field.image.shape == (960, 1280) and np.ptp(field.image) > 0
