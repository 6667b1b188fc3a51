"""The statistical maker's random processes, grooves, wear and slopes against definitions, formulas and closed forms."""

import cv2
import numpy as np
import pytest
from makers.statistical import hone, wear
from makers.statistical.hone import Ground
from makers.statistical.picture import seen, slopes
from makers.statistical.processes import fractal, on_bearing_curve, streaks, turned

from semwear.profile.bearing_curve import rk_family
from semwear.terms import VALLEY_DEPTH_UM

SHAPE = (240, 260)
NOTHING = np.zeros(SHAPE, np.float32)


def direction_deg(field: np.ndarray) -> float:
    """Direction along which a field changes least (degrees from x towards y, downwards), by the structure tensor."""
    gy, gx = np.gradient(cv2.GaussianBlur(field, (0, 0), 1.5))
    return float(np.degrees(0.5 * np.arctan2(2 * (gx * gy).mean(), (gx**2 - gy**2).mean())) + 90) % 180


def off_deg(one: float, other: float) -> float:
    """Angle between two directions without sense."""
    return abs((one - other + 90) % 180 - 90)


@pytest.mark.parametrize("hurst", [0.1, 0.5, 0.9])
def test_self_affine_texture_has_the_stated_spectrum(hurst):
    """Power ~ (q² + q0²)^-(1+H) (the maker's docstring): slope −2(1+H) over q far above 1/roll-off, none far below it."""
    size = 512  # a length that the transform takes as it is, so that nothing was cut off
    q = np.hypot(*np.meshgrid(np.fft.fftfreq(size), np.fft.fftfreq(size)))
    for roll_off, low, high, slope in ((60.0, 0.15, 0.45, -2 * (1 + hurst)), (15.0, 0.004, 0.015, 0.0)):
        power = sum(np.abs(np.fft.fft2(fractal(np.random.default_rng(seed), (size, size), hurst, roll_off))) ** 2 for seed in range(2))
        edges = np.geomspace(low, high, 9)
        mean = [power[(q >= a) & (q < b)].mean() for a, b in zip(edges[:-1], edges[1:], strict=True)]
        found = np.polyfit(np.log(np.sqrt(edges[1:] * edges[:-1])), np.log(mean), 1)[0]
        assert found == pytest.approx(slope, abs=0.12 if slope else 0.3)


def test_the_bearing_curve_has_the_stated_core_and_shares_and_so_the_family_by_iso_21920():
    """Shares of area above and below the core by counting. Rk = core / (Mr2 − Mr1), the core's line drawn on to 0 and 100 %
    (ISO 21920-2); Rpk and Rvk by the package's evaluation of the same curve drawn straight from point to point."""
    peak, core, valley, mr1, mr2 = 0.1, 0.3, 0.2, 0.12, 0.8
    gaussian = np.random.default_rng(0).standard_normal((500, 500), dtype=np.float32)
    height = on_bearing_curve(gaussian, peak, core, valley, mr1, mr2)
    assert np.mean(height > core / 2) == pytest.approx(mr1, abs=0.004)
    assert np.mean(height < -core / 2) == pytest.approx(1 - mr2, abs=0.004)
    order = np.argsort(gaussian, axis=None)
    assert (np.diff(height.ravel()[order]) >= 0).all()  # the rank picks the place on the curve
    share = [0, mr1 / 3, mr1, mr2, 1 - (1 - mr2) / 3, 1]
    level = [core / 2 + 2 * peak, core / 2 + 0.8 * peak, core / 2, -core / 2, -core / 2 - 0.8 * valley, -core / 2 - 2 * valley]
    straight = rk_family(np.interp(np.linspace(0, 1, 20001), share, level))
    family = rk_family(height[::2, ::2])
    assert family.rk_um == pytest.approx(core / (mr2 - mr1), rel=0.02)
    for name in ("rpk_um", "rvk_um", "mr1_percent", "mr2_percent"):
        assert getattr(family, name) == pytest.approx(getattr(straight, name), rel=0.04)
    assert family.rvk_um / family.rpk_um > 1.5  # deeper valleys than peaks were asked for


def test_a_groove_has_the_section_that_was_asked_for():
    """Depth · (1 − |s|^flat)^power over the half width: a vee at 1 and 1, whose walls slope by depth / half width."""
    depth_um, half_px = 2.0, 20.0
    for flat, power in ((1.0, 1.0), (4.0, 0.7)):
        canvas = [np.zeros((101, 60), np.float32) for _ in range(3)]
        level = np.full(60, 50.0, np.float32), np.full(60, half_px, np.float32), np.full(60, depth_um, np.float32)
        hone.cut(np.random.default_rng(0), *level, 5.0, (flat, power, 0.0, 0.0), (*canvas, np.zeros((1, 60), np.float32)))
        s = np.clip(np.abs(np.arange(101) - 50) / half_px, 0, 1)
        assert canvas[0] == pytest.approx(np.tile(depth_um * (1 - s**flat) ** power, (60, 1)).T, abs=1e-4)
        if flat == 1:
            assert np.abs(np.diff(canvas[0][:, 5]))[32:48] == pytest.approx(depth_um / half_px, rel=1e-3)
    # the deepest line moves off the middle, the rims stay
    canvas = [np.zeros((101, 60), np.float32) for _ in range(3)]
    hone.cut(np.random.default_rng(0), *level, 5.0, (2.0, 1.0, 0.5, 0.0), (*canvas, np.zeros((1, 60), np.float32)))
    cut = np.flatnonzero(canvas[0][:, 5] > 0)
    assert canvas[0][:, 5].argmax() != 50 and (cut.min(), cut.max()) == (31, 69)


def test_the_lays_are_bisected_by_the_direction_across_the_stroke_and_grooves_run_along_them():
    """Hone angle bisected by the circumference (semwear.terms). Each lay errs by 0.02 rad (the maker's own figure), their mean by
    0.8°: five of those for one field, three standard errors for all. Direction of the grooves by the structure tensor."""
    off = []
    for seed in range(60):
        ground = hone.ground(np.random.default_rng(seed), (60, 64), 1.0)
        middle, across = np.degrees(np.mean(ground.lays)), np.degrees(ground.stroke) + 90
        off.append((middle - across + 90) % 180 - 90)
        assert 16 < abs(np.degrees(np.diff(ground.lays)[0])) < 154
    assert np.abs(off).max() < 5 * 0.81 and abs(np.mean(off)) < 3 * 0.81 / np.sqrt(60)
    for seed, lay in enumerate((0.2, 1.1, 2.4)):
        rng = np.random.default_rng(seed)
        habit = hone.habits(rng) | {"ends": 0.0, "waviness": 0.005, "ragged": 0.02}
        depth = turned(hone.band(rng, SHAPE, 0.5, habit, 1.0)[0], SHAPE, lay)
        assert 0.3 < depth.max() <= 10
        assert off_deg(direction_deg(depth), np.degrees(lay)) < 3


def flat_ground(depth: np.ndarray, stroke: float = 0.0) -> Ground:
    """Ground with these depths (um), no texture and metal that closes anywhere alike."""
    return Ground(depth=depth, rim=NOTHING, fine=NOTHING, closing=NOTHING, usual_depth=3.0, stroke=stroke, lays=(0.5, -0.5))


def test_states_follow_from_what_wear_takes_and_moved_metal_fills_and_so_do_heights():
    """Open from 0.5 µm below the plateau, smeared where a footprint that deep was closed, else plateau; both 2 and 3 in the track
    only (semwear.terms). Truncation alone makes plateau: a groove of 0.52 µm can't smear where more than 0.02 µm went,
    as in every field that is worn all over. The height itself on whole fields: the floor's own roughness and the lips of closures may
    lift single places, so 95 of 100 count (common practice, no source)."""
    assert wear.CLOSED == VALLEY_DEPTH_UM
    depth = NOTHING.copy()
    depth[20:50], depth[80:110], depth[140:190] = 0.45, 0.52, 4.0
    seen_codes, smeared_in = set(), []
    for seed in range(60):
        surface = wear.run(np.random.default_rng(seed), flat_ground(depth, np.pi / 2), 0.5, NOTHING)
        opened, closed, torn = (surface.codes == code for code in (1, 2, 3))
        assert (surface.depth[opened] >= 0.5).all() and (surface.depth[~opened & ~torn] < 0.5).all()
        assert (depth[closed] >= 0.5).all() and not closed[:60].any()
        assert not closed[60:130].any() or not surface.worn.all()  # a border's ramp takes less than that in places
        assert not (closed | torn)[~surface.worn].any()
        assert (surface.codes == (depth >= 0.5))[~surface.worn].all()
        seen_codes |= set(np.unique(surface.codes).tolist())
        if closed.any():
            assert "smear" in surface.name
            smeared_in.append(surface.name.split("_")[0])
        assert torn.any() <= ("scuff" in surface.name)
    assert seen_codes == {0, 1, 2, 3} and set(smeared_in) == {"worn", "border"}
    low, high = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        surface = wear.run(rng, hone.ground(rng, SHAPE, 0.5), 0.5, NOTHING)
        low.append(surface.height[surface.codes == 1])
        high.append(surface.height[surface.codes == 2])
    low, high = np.concatenate(low), np.concatenate(high)
    assert min(low.size, high.size) > 20000
    assert np.mean(low <= -0.5) > 0.95 and np.median(low) < -1
    assert np.mean(high > -0.5) > 0.95


def test_folded_metal_reaches_a_drawn_distance_from_one_rim_along_the_stroke(monkeypatch):
    """Geometry: 10 µm of 0.5 µm pixels are 20 px. A groove across the stroke is covered over so many columns from one rim; one
    along the stroke has no rim at either end of it and stays bare."""
    monkeypatch.setattr(wear, "log_uniform", lambda rng, low, high: 10.0)
    deep = NOTHING.copy()
    deep[:, 100:160] = 3.0
    sides = set()
    for seed in range(12):
        over = wear.folded(np.random.default_rng(seed), SHAPE, 0.5, 0.0, deep)[120, 100:160]
        assert over.sum() == pytest.approx(20, abs=1)
        first = int(over[:20].mean() > 0.9)
        assert over[:20].mean() == pytest.approx(first, abs=0.06) and over[-20:].mean() == pytest.approx(1 - first, abs=0.06)
        sides.add(first)
        along = wear.folded(np.random.default_rng(seed), SHAPE, 0.5, np.pi / 2, deep)
        assert not along[:, 100:160].any()
    assert sides == {0, 1}


def test_torn_metal_lies_in_streaks_along_the_stroke():
    """Code 3 of semwear.terms. Direction by the structure tensor of the streaks and of the torn share."""
    for seed, stroke in enumerate((0.0, 0.5, np.pi / 2, 2.5)):
        lines = streaks(np.random.default_rng(seed), SHAPE, stroke, 4, 60)
        assert off_deg(direction_deg(lines), np.degrees(stroke)) < 2
        torn = sum(wear.scuffing(np.random.default_rng(10 * seed + k), SHAPE, 0.5, stroke, NOTHING + 1) for k in range(6))
        assert off_deg(direction_deg(torn), np.degrees(stroke)) < 6
        assert not wear.scuffing(np.random.default_rng(seed), SHAPE, 0.5, stroke, NOTHING).any()


def test_slopes_and_curvature_are_those_of_the_height_map_and_opposite_walls_look_unlike():
    """A plane's slopes and a paraboloid's Laplacian (calculus), in µm/µm and 1/µm. Contrast from the detector's side and dark starved
    or bright rough floors (tests/SOURCES.md)."""
    y, x = np.indices(SHAPE, dtype=np.float32) * 0.5
    inner = np.s_[20:-20, 20:-20]
    dx, dy, bend = slopes(0.3 * x - 0.2 * y, 0.5, 0.3)
    assert np.median(dx[inner]) == pytest.approx(0.3, rel=1e-3) and np.median(dy[inner]) == pytest.approx(-0.2, rel=1e-3)
    assert np.abs(bend[inner]).max() < 2e-3
    assert np.median(slopes(0.005 * ((x - 60) ** 2 + (y - 60) ** 2), 0.5, 0.3)[2][inner]) == pytest.approx(0.02, rel=0.02)
    trench = np.clip(4 * (1 - np.abs(x - 65) / 15), 0, None)
    walls, floor = (np.abs(x[0] - 57) < 4, np.abs(x[0] - 73) < 4), np.abs(x[0] - 65) < 2
    bare = wear.Surface(height=-trench, depth=trench, codes=NOTHING, worn=NOTHING > 0, burnish=NOTHING, torn=NOTHING, name="")
    extra = dict.fromkeys(("graphite", "patch", "debris", "relief", "shade"), NOTHING)
    unlike, dark = [], []
    for seed in range(24):
        signal, style = seen(np.random.default_rng(seed), bare, 0.5, extra)
        row = signal[100:140].mean(axis=0)
        if style.startswith("shade"):
            unlike.append(abs(row[walls[0]].mean() - row[walls[1]].mean()))
        if style.startswith("depth"):
            dark.append(row[floor].mean() < row[:40].mean())
    assert np.median(unlike) > 0.1
    assert len(dark) > 3 and np.mean(dark) >= 0.5
