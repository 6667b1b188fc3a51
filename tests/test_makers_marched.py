"""The marched maker's geometry and physics against definitions, formulas and handbook values; the source stands beside each."""

import numpy as np
import pytest
from makers.marched import make
from makers.marched.camera import counted
from makers.marched.closure import Bodies, close, states
from makers.marched.frame import Frame, lays_deg
from makers.marched.grooves import Style, carve, groove_depth
from makers.marched.lighting import emission, occlusion
from makers.marched.materials import scuffing
from makers.marched.noise import Textures, smooth_min

STYLE = Style(depth=3, width=12, wall_deg=30, gap=30, scatter=0.2, waver=0.2, ends=-3, taper=0.5, rim=0)


def main_direction_deg(map_: np.ndarray) -> float:
    """Along which a map changes least, 0–180°, from its structure tensor (Bigün and Granlund 1987, from memory)."""
    dy, dx = np.gradient(map_.astype(float))
    return float(np.rad2deg(0.5 * np.arctan2(2 * (dx * dy).sum(), (dx * dx - dy * dy).sum())) + 90) % 180


@pytest.mark.parametrize("hone_angle", [20, 45, 90, 145])
def test_hone_angle_is_bisected_across_the_stroke(hone_angle):
    """semwear.terms: bisected by the circumference, and tan(angle/2) = axial over peripheral speed."""
    for lay in np.deg2rad(lays_deg(stroke_deg=72, hone_angle_deg=hone_angle)):
        axial = abs(np.cos(lay - np.deg2rad(72)))
        peripheral = abs(np.sin(lay - np.deg2rad(72)))
        assert axial / peripheral == pytest.approx(np.tan(np.deg2rad(hone_angle / 2)))


@pytest.mark.parametrize("direction", [25, 100, 160])
def test_grooves_run_along_their_lay(direction):
    """semwear.terms: a lay is the direction of a family of grooves."""
    rng = np.random.default_rng(direction)
    carved = carve(rng, Frame.of((260, 260), 0.8, 0), Textures.drawn(rng), [(direction, 1.0)], STYLE)
    assert abs((main_direction_deg(carved.depth) - direction + 90) % 180 - 90) < 4


def test_a_groove_has_the_wall_and_floor_that_were_asked_for():
    """Geometry: depth = distance from the rim × tan(wall), until the floor; smoothing takes no more than a quarter radius."""
    edge = np.linspace(-2, 20, 2201)
    depth = groove_depth(edge, np.full_like(edge, 3.0), 20)
    assert (depth[edge <= 0] == 0).all()
    assert np.gradient(depth, edge)[(edge > 1) & (edge < 5)] == pytest.approx(np.tan(np.deg2rad(20)), rel=1e-3)
    assert depth[-1] == pytest.approx(3.0)
    a, b = np.linspace(-1, 1, 101), np.zeros(101)
    lost = np.minimum(a, b) - smooth_min(a, b, 0.4)
    assert lost.max() == pytest.approx(0.1) and lost.min() >= 0


def test_states_follow_the_half_micrometre_limit_before_and_after_closure():
    """semwear.terms: open at 0.5 µm or more below the plateau; smeared if moved metal has closed it to within 0.5 µm."""
    before = np.array([0.0, 0.49, 0.5, 4.0, 4.0, 4.0])
    after = np.array([0.0, 0.10, 0.5, 0.5, 0.4, 0.0])
    assert states(before, after).tolist() == [0, 0, 1, 1, 2, 2]
    # A groove that wear of the plateau alone made shallow is plateau: before and after count from the worn plateau.
    worn_shallow = np.maximum(np.array([3.0, 1.2]) - 1.0, 0)
    assert states(worn_shallow, worn_shallow).tolist() == [1, 0]


def test_moved_metal_fills_ground_to_its_top_and_digs_nowhere():
    """semwear.terms: a closed groove's footprint lies within 0.5 µm of the plateau; metal is added, none is taken."""
    depth = np.array([0.1, 2.0, 2.0, 8.0])
    after = close(depth, Bodies(np.array([-9.0, 9.0, -9.0, -9.0]), np.full(4, 0.3)), lip_um=1.0)
    assert after == pytest.approx([0.1, 2.0, 0.3, 0.3])


def test_secondary_yield_grows_as_the_secant_of_tilt():
    """tests/SOURCES.md, from formula: walls of 6–27° give 0.5–12 % of contrast; sec 60° = 2."""
    assert emission(np.tan(np.deg2rad([0, 6, 27, 60])), 1.0) == pytest.approx([1, 1.0055, 1.122, 2], abs=1e-3)


def test_escape_is_starved_more_in_deep_grooves_and_not_on_level_ground():
    """Common practice, no source: deep narrow grooves look dark in secondary electrons."""
    height = np.zeros((120, 120), np.float32)
    assert occlusion(height, 0.5).max() == 0
    height[:, 20:30], height[:, 80:90] = -1, -4
    starved = occlusion(height, 0.5)
    assert starved[60, 85] > starved[60, 25] + 0.1 > starved[60, 55] + 0.1


def test_noise_of_counting_is_the_square_root_of_the_electrons():
    """N = i·t/e, tests/SOURCES.md: 100 pA for 10 µs are 6,242 electrons; Poisson's standard deviation is their root."""
    electrons = 100e-12 * 10e-6 / 1.602176634e-19
    counts = counted(np.random.default_rng(3), np.ones((300, 300), np.float32), electrons)
    assert counts.mean() == pytest.approx(6242, rel=1e-3)
    assert counts.std() == pytest.approx(np.sqrt(6242), rel=0.02)


@pytest.mark.parametrize("stroke", [3, 90, 140])
def test_scuffing_lies_in_streaks_along_the_stroke(stroke):
    """semwear.terms: scuffed is torn or ploughed by adhesion, in streaks along the stroke."""
    rng = np.random.default_rng(stroke)
    cover = scuffing(rng, Frame.of((300, 300), 0.8, stroke), Textures.drawn(rng), 0.3).cover
    assert abs((main_direction_deg(cover) - stroke + 90) % 180 - 90) < 15
    assert 0.1 < cover.mean() < 0.55


def test_metal_moves_only_where_the_ring_ran_and_unrun_fields_keep_their_valleys():
    """semwear.terms: out-of-track is the same section, never touched."""
    made = [make(np.random.default_rng(seed), pixel_size_um=0.7, shape=(200, 210)) for seed in range(24)]
    unrun = [field for field in made if field.kind == "unworn"]
    assert unrun and all(set(np.unique(field.codes)) <= {0, 1, 255} for field in unrun)
    assert np.mean([(field.codes == 1).mean() > 0.02 for field in unrun]) > 0.6
    assert not any(np.isin(field.codes[~field.worn], (2, 3)).any() for field in made)
