"""The mixed maker's geometry and physics against definitions, formulas and the facts of the trade."""

import numpy as np
import pytest
from makers.mixed.beam import RANGE_UM, obstruction
from makers.mixed.closing import CAP, Jitter, closings
from makers.mixed.cut import LIMIT_UM, Tool, cut, groove
from makers.mixed.finish import finish
from makers.mixed.scene import Scene
from makers.mixed.scuff import streaks
from makers.mixed.states import states

from semwear.terms import VALLEY_DEPTH_UM

SHAPE = (240, 280)
CAPS = np.array([1.0, 0, 0, 0])


def scene(seed: int, pixel_um: float = 0.5, shape: tuple[int, int] = SHAPE) -> Scene:
    return Scene(np.random.default_rng(seed), pixel_um, shape)


def one_groove(seed: int, angle: float, ran: float = 0.0, wear: float = 0.0) -> np.ndarray:
    """Depth in µm (rows, cols) of one groove 10 µm wide and 3 µm deep, never closed."""
    maps = [np.zeros(SHAPE, np.float32) for _ in range(5)]
    jitter = Jitter(*(np.full(SHAPE, value, np.float32) for value in (0, 0, ran)))
    steep = abs(angle) > 45
    turned = [map_.T for map_ in maps] if steep else maps
    groove(scene(seed), Tool(angle, 10, 3, wear, 0.0, CAPS, 0.0), turned, jitter.turned() if steep else jitter)
    return maps[0]


def test_the_line_across_the_stroke_bisects_the_lays_and_the_angles_are_the_trades():
    """Bisected by the circumference (semwear.terms); 30–60°, more for helical slide honing; width 5–50 µm, depth 1–10 µm,
    valley share up to 30 % (tests/SOURCES.md, from memory there): within a tenth or 5° of them."""
    for seed in range(40):
        field = scene(seed)
        hone = finish(field)
        assert np.mean(hone.lays) == pytest.approx(field.stroke - 90) and abs(np.mean(hone.lays)) <= 4
        angle = hone.lays[0] - hone.lays[1]
        assert 120 <= angle <= 155 if hone.name == "helical" else 25 <= angle <= 65
        assert 4.5 <= hone.width <= 50 and 1 <= hone.depth <= 10 and hone.share <= 0.33


@pytest.mark.parametrize("angle", [-51.0, -20.0, 39.0, 70.0])
def test_a_groove_lies_at_its_angle_and_is_as_wide_as_it_should_be(angle):
    """Its principal direction is its angle, clockwise from the rows; area = width · length, and the skewed curve 1 − |x|^p with
    p of 1.6 or more is deeper than a tenth on at least 0.93 of the width (0.9^(1/1.6))."""
    shares = []
    for seed in range(25):
        deep = one_groove(seed, angle) > 0.3
        rows, cols = np.nonzero(deep)
        if deep.sum() < 2000:
            continue
        points = np.stack([cols, rows])
        along = np.linalg.eigh(np.cov(points))[1][:, 1]
        length = np.ptp(along @ points) * 0.5
        if length < 90:
            continue
        assert np.degrees(np.arctan(along[1] / along[0])) == pytest.approx(angle, abs=3)
        shares.append(deep.sum() * 0.25 / length / 10)
    assert len(shares) >= 5
    assert 0.83 < np.median(shares) < 1  # cut off obliquely at the picture's edges, it covers up to a tenth less


def test_the_run_takes_its_depth_off_a_groove_where_it_ran_only():
    """Retained depth = honed depth − wear (definition of wear depth)."""
    for seed in range(8):
        honed = one_groove(seed, 20.0)
        assert np.array_equal(one_groove(seed, 20.0, ran=0.0, wear=0.4), honed)
        worn = one_groove(seed, 20.0, ran=1.0, wear=0.4)
        assert np.abs(worn - np.maximum(honed - 0.4, 0)).max() < 1e-5 and honed.max() > 2


def test_states_follow_the_depths_and_metal_moves_in_the_track_only():
    """Code 1 from 0.5 µm deep, code 2 a footprint closed to within 0.5 µm, moved metal where the ring ran (semwear.terms)."""
    assert LIMIT_UM == VALLEY_DEPTH_UM
    closed = []
    for seed in range(30):
        field = scene(seed, 0.9, (120, 140))
        ran = np.zeros(field.shape, bool)
        ran[:, 70:] = seed % 2
        cuts = cut(field, finish(field), ran, bool(ran.any()))
        codes = states(cuts).codes
        assert ((codes == 1) == (cuts.after >= 0.5)).all()
        assert ((codes == 2) == ((cuts.before >= 0.5) & (cuts.after < 0.5))).all()
        assert not (codes[~ran] == 2).any() and not cuts.cover[~ran].any()
        closed.append((codes[:, 70:] == 2).mean())
    assert max(closed[1::2]) > 0.05 and max(closed[::2]) == 0


def test_closures_take_about_the_share_of_a_groove_that_the_severity_names():
    """Severity is the share of the length by definition; whole caps overlap and are drawn at random, so within a quarter."""
    for severity in (0.2, 0.6):
        shares = []
        for seed in range(60):
            plan = closings(scene(seed), severity, CAPS, np.full(2000, 9.0))
            assert {closing.kind for closing in plan} <= {CAP}
            shares.append(sum(closing.stop - closing.start for closing in plan) / 2000)
        assert np.mean(shares) == pytest.approx(severity, rel=0.25)


def test_scuff_lies_in_streaks_along_the_stroke_in_the_track():
    """Torn or ploughed in streaks along the stroke (semwear.terms): fewer borders met along the stroke than across it."""
    along = across = 0
    for seed in range(10):
        field = scene(seed, 1.0)
        ran = np.zeros(SHAPE, bool)
        ran[:, 100:] = True
        mask = streaks(field, ran, 0.25)
        assert not mask[:, :100].any() and mask.any()
        along += (mask[1:] != mask[:-1]).sum()
        across += (mask[:, 101:] != mask[:, 100:-1]).sum()
    assert along < 0.6 * across


def test_deep_ground_is_hemmed_in_and_a_detector_at_the_side_sees_one_wall():
    """Starved escape from deep grooves; contrast from the detector's side (tests/SOURCES.md). Turning the detector by 180° swaps
    the walls, and level ground is never hemmed in (symmetry)."""
    x = np.arange(SHAPE[1]) - 140.0
    trough = np.broadcast_to(-3 * np.clip(1 - (np.abs(x) / 20) ** 2, 0, 1), SHAPE).astype(np.float32).copy()
    field = scene(3)
    assert not obstruction(field, 0 * trough, 0.3, 0.3).any()
    plain = obstruction(field, trough, 0.0, 0.0)
    assert plain[:, 140].mean() > 0.1 and plain[:, 20].max() < 0.01
    one, other = (obstruction(field, trough, side, 0.3) for side in (0.0, np.pi))
    assert abs(one[:, 130].mean() - one[:, 150].mean()) > 0.05
    assert one[:, 130].mean() == pytest.approx(other[:, 150].mean(), abs=0.01)


def test_grain_is_normed_and_blur_and_range_follow_their_formulas():
    """A blurred point has the second moment asked for, on the reduced grid too (variances add); grain has mean 0, spread 1 and is
    longer along its angle; range = 0.0276·A·E^1.67/(Z^0.89·ρ) µm (Kanaya and Okayama 1972), iron at 5 and 20 kV."""
    offset = np.arange(401) - 200.0
    for pixels in (2.0, 15.0):
        point = np.zeros((401, 401), np.float32)
        point[198:203, 198:203] = 1 / 25
        spread = scene(0).blur(point, pixels)
        assert spread.sum() == pytest.approx(1, rel=0.03)
        assert np.sqrt((spread.sum(0) * offset**2).sum()) == pytest.approx(np.hypot(pixels, np.sqrt(2)), rel=0.12)
    grain = scene(1).grain(90, 30, 4)
    assert (grain.mean(), grain.std()) == pytest.approx((0, 1), abs=1e-3)
    assert np.abs(np.diff(grain, axis=0)).mean() < 0.4 * np.abs(np.diff(grain, axis=1)).mean()
    low, high = (0.0276 * 55.85 * kilovolt**1.67 / (26**0.89 * 7.87) for kilovolt in (5, 20))
    assert low < RANGE_UM[0] < RANGE_UM[1] < high
