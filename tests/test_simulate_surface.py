"""Made surfaces against closed-form geometry and the ranges of the trade."""

import numpy as np
import pytest
from skimage.measure import label, regionprops

from semwear.profile.bearing_curve import rk_family
from semwear.simulate import HELD_OUT_FAMILY, simulate_field
from semwear.simulate.closures import GrooveClosures, closed_share, draw_closure_style
from semwear.simulate.finishes import FINISHES, SECTIONS, Groove, draw_grooves, draw_hone_angle_deg, section_depth
from semwear.simulate.frame import Frame
from semwear.simulate.surface import cut_grooves, empty_surface
from semwear.simulate.wear import track_map


def plain_groove(**changes):
    """Return a straight, even V groove of 20 µm by 4 µm."""
    values = {
        "lay": 0, "across_um": 0.0, "start_um": -1e4, "stop_um": 1e4, "width_um": 20.0, "depth_um": 4.0, "section": "v",
        "section_number": 0.5, "bend_um": 0.0, "sway": 0.0, "torn": 0.0, "rim_um": 0.0, "gaps": (),
    }  # fmt: skip
    return Groove(**(values | changes))


def cut(grooves, *, shape=(200, 320), pixel_size_um=0.5, lay_deg=(30.0, 150.0), removed_um=0.0):
    frame = Frame(shape, pixel_size_um)
    zeros = np.zeros(shape, np.float32)
    surface = empty_surface(
        frame, stroke_deg=90.0, lay_deg=lay_deg, worn=zeros + (removed_um > 0), contact=zeros.copy(),
        removed_um=zeros + np.float32(removed_um),
    )  # fmt: skip
    cut_grooves(np.random.default_rng(0), surface, grooves, None)
    return surface


@pytest.mark.parametrize(
    ("section", "number", "mean_depth"),
    [("v", 0.5, 1 / 2), ("u", 0.5, np.pi / 4), ("trapezoid", 0.0, 1 - 0.15 / 2), ("skewed", 0.9, 1 / 2)],
)
def test_sections_have_their_closed_form_area(section, number, mean_depth):
    # Triangle 1/2, half ellipse pi/4, trapezoid with walls over 15 % of each half 1 - 0.15/2, any triangle 1/2.
    across = np.linspace(-1, 1, 20001, dtype=np.float32)
    assert section_depth(section, number, across).mean() == pytest.approx(mean_depth, abs=1e-3)


@pytest.mark.parametrize("section", SECTIONS)
def test_sections_end_at_their_rims(section):
    across = np.array([-1.5, -1.0, 1.0, 1.5], np.float32)
    assert section_depth(section, 0.3, across) == pytest.approx(0, abs=1e-6)
    inside = section_depth(section, 0.3, np.linspace(-1, 1, 999, dtype=np.float32))
    assert 0.85 < inside.max() <= 1.001


def test_a_v_groove_is_open_where_its_walls_pass_half_a_micrometre():
    # A V of 20 µm by 4 µm is at least 0.5 µm deep over 20 (1 - 0.5/4) = 17.5 µm; the field is 160 µm long along x.
    surface = cut([plain_groove()], lay_deg=(0.0, 150.0))
    width = (surface.depth_um >= 0.5).sum() * 0.5**2 / 160
    assert width == pytest.approx(17.5, abs=0.5)
    assert surface.depth_um.max() == pytest.approx(4.0, rel=0.03)


def test_running_in_narrows_a_v_groove_by_the_amount_removed():
    # 1.5 µm off the top leaves a V of 2.5 µm depth, open over 20 (4 - 1.5 - 0.5)/4 = 10 µm.
    surface = cut([plain_groove()], lay_deg=(0.0, 150.0), removed_um=1.5)
    assert (surface.depth_um >= 0.5).sum() * 0.5**2 / 160 == pytest.approx(10.0, abs=0.5)


@pytest.mark.parametrize("direction", [20.0, 75.0, 130.0])
def test_a_groove_runs_along_its_lay(direction):
    # scikit-image's orientation is measured from the rows' axis, anticlockwise on the screen: 0 is along a column.
    surface = cut([plain_groove()], lay_deg=(direction, 0.0), shape=(260, 260))
    region = regionprops(label(surface.depth_um >= 0.5))[0]
    found = (np.degrees(region.orientation) + 90) % 180
    assert abs((found - direction + 90) % 180 - 90) < 3


def test_a_gap_is_no_valley_and_the_deeper_groove_wins_at_a_crossing():
    surface = cut([plain_groove(gaps=((0.0, 30.0),))], lay_deg=(0.0, 90.0))
    assert surface.depth_um[100, 160] == 0 and surface.depth_um[100, 10] > 2
    crossing = cut([plain_groove(), plain_groove(lay=1, depth_um=7.0)], lay_deg=(0.0, 90.0))
    assert crossing.depth_um[95:106, 150:171].max() == pytest.approx(7.0, rel=0.03)


def test_the_front_of_a_lip_follows_the_stroke():
    # Geometry: with the stroke at 45° to the groove (skew 1) a front that stands at 0 on one rim stands at the full
    # width, 20 µm, on the other and at 10 µm in the middle.
    closures = GrooveClosures(-50.0, 0.1, 1001)
    closures.growth[0, 500:] = 3.0
    closures.softness[:] = 0.01
    along = np.array([-1, 1, 9, 11, 19, 21], np.float32)
    across = np.array([-1, -1, 0, 0, 1, 1], np.float32)
    share, _, _ = closed_share(closures, along, across, 10.0, 1.0, np.zeros(6, np.float32))
    assert share.tolist() == [0, 1, 0, 1, 0, 1]


def test_without_growth_nothing_is_closed():
    closures = GrooveClosures(-50.0, 0.1, 1001)
    across = np.linspace(-1, 1, 101, dtype=np.float32)
    share, _, trace = closed_share(closures, 0 * across, across, 10.0, 1.0, 0 * across)
    assert not share.any() and not trace.any()


def test_more_severe_wear_closes_more():
    means = []
    for severity in (0.1, 0.5, 0.9):
        styles = [draw_closure_style(np.random.default_rng(seed), severity) for seed in range(300)]
        means.append(np.mean([style.closed_share + style.regional for style in styles]))
    assert means[0] < means[1] < means[2]


def test_the_edge_of_a_track_runs_along_the_stroke():
    frame = Frame((120, 200), 1.0)
    for seed in range(5):
        worn = track_map(np.random.default_rng(seed), frame, 90.0, "edge") > 0.5
        assert 0.1 < worn.mean() < 0.9
        # along a column (the stroke) the state hardly changes, along a row it does
        assert np.abs(np.diff(worn.mean(axis=0))).max() > np.abs(np.diff(worn.mean(axis=1))).max()


def test_grooves_are_drawn_inside_the_figures_of_the_trade():
    # Depth 1-10 µm and width 5-50 µm (figures from memory); below lie the narrow ones and the shallow tail.
    for name, finish in FINISHES.items():
        rng = np.random.default_rng(5)
        for pixel_size_um in (0.1, 0.5, 2.0):
            grooves = draw_grooves(
                rng, finish, half_size_um=400 * pixel_size_um, pixel_size_um=pixel_size_um, field_um=500 * pixel_size_um
            )
            assert bool(grooves) == (name != "unhoned")
            assert all(2 <= groove.width_um <= 50 and 0.1 <= groove.depth_um <= 10 for groove in grooves)
        low, high = (f([low if f is min else high for low, high in finish.hone_angle_deg]) for f in (min, max))
        assert all(low <= draw_hone_angle_deg(rng, finish) <= high for _ in range(20))


def test_plateaued_surfaces_keep_to_the_published_specification():
    # US patent 7,059,290: Rpk <= 0.64, Rk 0.05-1.8, Rvk 0.15-3.3 µm; valley share 15-30 % (from memory).
    families = [
        rk_family(
            simulate_field(
                seed, family="plateaued", worn=False, shape=(200, 350), pixel_size_um=2.0, tilt_deg=0
            ).height_um
        )
        for seed in range(16)
    ]
    inside = [f.rpk_um <= 0.64 and 0.05 <= f.rk_um <= 1.8 and 0.15 <= f.rvk_um <= 3.3 for f in families]
    assert np.mean(inside) >= 0.75
    assert 15 <= np.median([100 - f.mr2_percent for f in families]) <= 30


def test_one_stage_surfaces_have_the_taller_core():
    # What a plateau is for: a smaller Rk at like valleys (common practice, no source).
    def median_core(name):
        shape = {"worn": False, "shape": (200, 300), "pixel_size_um": 2.0}
        return np.median([rk_family(simulate_field(s, family=name, **shape).height_um).rk_um for s in range(11)])

    assert median_core("single-stage") > 1.3 * median_core("plateaued")
    assert HELD_OUT_FAMILY in FINISHES
