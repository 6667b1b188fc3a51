"""The sloped maker's geometry and physics against definitions, formulas and the facts of the trade."""

import cv2
import makers.sloped as sloped
import numpy as np
import pytest
from makers.sloped.beam import escape, recorded, secant, towards
from makers.sloped.closing import close, closures
from makers.sloped.grid import Grid
from makers.sloped.ground import LIMIT_UM, Ground
from makers.sloped.hone import FINISHES, Groove, lay_grooves
from makers.sloped.scuffing import scuff
from makers.sloped.trench import cut_trench

from semwear.terms import VALLEY_DEPTH_UM

cv2.setNumThreads(1)
GRID = Grid((300, 300), 0.4)
SLOPE = np.tan(np.radians(20))


def groove(*, deg: float = 20.0, width: float = 30.0, depth: float = 3.0) -> Groove:
    return Groove(deg=deg, at=0.0, width=width, depth=depth, slope=SLOPE)


def test_a_pixel_is_valley_smeared_or_plateau_by_half_a_micrometre_below_the_plateau():
    """Code 1 from 0.5 µm down; 2 where metal has closed what was that deep; 3 scuffed; 255 debris (semwear.terms)."""
    assert LIMIT_UM == VALLEY_DEPTH_UM
    ground = Ground(Grid((1, 6), 1.0))
    ground.z[0] = -0.49, -0.51, -0.3, 0.1, -2, -2
    ground.cut[0] = 0.49, 0.51, 0.45, 0.8, 2, 2
    ground.scuff[0, 4] = ground.debris[0, 5] = True
    assert ground.codes()[0].tolist() == [0, 1, 0, 2, 3, 255]


@pytest.mark.parametrize("wear", [0.0, 0.6])
def test_wear_narrows_a_groove_by_the_wear_over_its_slope_at_each_side(wear):
    """A wall of slope m that loses h loses h/m of its width, and the limit lies 0.5/m inside the rim (plane geometry)."""
    widths, at_limit, deepest = [], [], []
    for seed in range(12):
        trench = cut_trench(np.random.default_rng(seed), GRID, groove(), wear)
        middle = np.abs(trench.t) < 40
        area_per_length = GRID.pixel**2 / 80
        widths.append((trench.cut[middle] > 0).sum() * area_per_length)
        at_limit.append((trench.z[middle] <= -LIMIT_UM).sum() * area_per_length)
        deepest.append(np.median(trench.cut[np.abs(trench.s) < 4]))
    assert np.mean(widths) == pytest.approx(30 - 2 * wear / SLOPE, abs=0.5)
    assert np.mean(at_limit) == pytest.approx(30 - 2 * (wear + LIMIT_UM) / SLOPE, abs=0.5)
    assert np.mean(deepest) == pytest.approx(3 - wear, abs=0.15)


def test_grooves_have_the_walls_and_depths_of_the_trade_and_cover_what_their_finish_says():
    """Walls of 6 to 27°, depths of 1 to 10 µm (tests/SOURCES.md, depths from memory there). One groove of 60 µm (this maker's
    widest) a lay may go beyond the share."""
    grid, wear = Grid((448, 448), 1.0), 0.4
    for seed in range(12):
        finish = FINISHES[seed % 3]
        grooves = lay_grooves(np.random.default_rng(seed), grid, finish, (25, -25), wear)
        assert all(6 <= np.degrees(np.arctan(one.slope)) <= 27 for one in grooves)
        left = [one.depth - wear for one in grooves]
        assert min(left) >= 0.9 and max(left) <= 10 and 1 < np.median(left) < 5
        share = sum(one.width - 2 * wear / one.slope for one in grooves) / (2 * grid.reach)
        assert finish.cover[0] <= share <= finish.cover[1] + 2 * 60 / (2 * grid.reach)


def test_the_lays_lie_either_side_of_the_line_across_the_stroke_and_grooves_run_along_them(monkeypatch):
    """The hone angle is included between the lays and bisected by the circumference (semwear.terms)."""
    seen = {}
    scratch, lay = sloped.scratch_plateau, sloped.lay_grooves
    monkeypatch.setattr(sloped, "scratch_plateau", lambda *given: (seen.update(lays=given[2], stroke=given[3]), scratch(*given)))
    monkeypatch.setattr(sloped, "lay_grooves", lambda *given: (seen.update(finish=given[2]), lay(*given))[1])
    for seed in range(10):
        sloped.make(np.random.default_rng(seed), pixel_size_um=1.0, shape=(60, 60))
        first, second = seen["lays"]
        low, high = seen["finish"].angle_deg
        assert (first + second) / 2 == pytest.approx(seen["stroke"] - 90)
        assert low <= first - second <= high
    for deg in (25.0, -60.0):
        trench = cut_trench(np.random.default_rng(1), Grid((500, 500), 0.4), groove(deg=deg), 0.0)
        rows, cols = np.divmod(trench.index, 500)
        inner = np.hypot(rows - 250, cols - 250) < 240
        _, axes = np.linalg.eigh(np.cov(cols[inner], rows[inner]))
        assert abs(np.dot(axes[:, 1], [np.cos(np.radians(deg)), np.sin(np.radians(deg))])) > np.cos(np.radians(1))


def test_moved_metal_closes_its_share_of_a_groove_and_stays_within_the_limit():
    """Smeared is closed to within 0.5 µm of the plateau (semwear.terms); share of length as asked (ratio of sums)."""
    spans = [closures(np.random.default_rng(seed), Grid((900, 900), 0.3), 18.0, 0.3) for seed in range(60)]
    closed = np.mean([end - start for some in spans for start, end, _ in some])
    left = np.mean([after[0] - before[1] for some in spans for before, after in zip(some, some[1:], strict=False)])
    assert closed / (closed + left) == pytest.approx(0.3, abs=0.03)
    for seed in range(8):
        rng = np.random.default_rng(seed)
        trench = cut_trench(rng, GRID, groove(), 0.4)
        as_cut = trench.z.copy()
        close(rng, GRID, trench, 0.5, 110.0, 1)
        assert (trench.z >= as_cut - 1e-6).all()
        assert trench.z.max() < LIMIT_UM
        whole = trench.metal > 0.999
        assert whole.any() and (trench.z[whole] > -LIMIT_UM).all()


def test_yield_grows_as_the_secant_and_with_the_side_that_faces_the_detector_and_starves_in_depth():
    """Yield ∝ secⁿθ, contrast from the detector's side, starved escape from deep grooves (tests/SOURCES.md)."""
    x = np.arange(50, dtype=np.float32)[None, :] * np.ones((50, 1), np.float32)
    slope = np.tan(np.radians(10))
    falling = -slope * x * 0.5
    assert secant(0 * x, 0.5) == pytest.approx(1)
    assert secant(falling / 1.5, 0.5)[25, 25] == pytest.approx(1 / np.cos(np.radians(10)), rel=1e-3)
    assert towards(falling, 0.5, 0.0)[25, 25] == pytest.approx(np.sin(np.radians(10)), rel=1e-3)
    assert towards(-falling, 0.5, 0.0)[25, 25] == pytest.approx(-np.sin(np.radians(10)), rel=1e-3)
    assert towards(-falling.T, 0.5, np.pi / 2)[25, 25] == pytest.approx(np.sin(np.radians(10)), rel=1e-3)
    seen = [escape(np.full((20, 20), -depth, np.float32), 0.5).mean() for depth in (0, 1, 2, 4)]
    assert seen[0] == pytest.approx(1) and seen == sorted(seen, reverse=True) and seen[-1] > 0.5


def test_noise_is_that_of_counted_electrons():
    """Poisson: the variance is proportional to the yield. 250 to 600 electrons a pixel are the maker's own figure, the gain
    110 to 135 grey levels: deviations of 4.5 to 8.5 levels on bare plateau."""
    ground = Ground(Grid((400, 400), 1.0))
    yield_ = np.ones((400, 400), np.float32)
    yield_[:, 200:] = 0.6
    for seed in range(6):
        image = recorded(np.random.default_rng(seed), yield_, ground).astype(float)
        variance = [np.diff(half, axis=0).var() / 2 for half in (image[:, :190], image[:, 210:])]
        assert variance[0] / variance[1] == pytest.approx(1 / 0.6, rel=0.08)
        assert 110 / np.sqrt(600) * 0.97 < np.sqrt(variance[0]) < 135 / np.sqrt(250) * 1.03


@pytest.mark.parametrize("stroke", [90.0, 82.0])
def test_scuffing_is_torn_in_streaks_along_the_stroke(stroke):
    """Streaks along the stroke (semwear.terms): edges cross the stroke's direction several times as often as they end."""
    along = np.array([np.cos(np.radians(stroke)), np.sin(np.radians(stroke))])
    for seed in range(6):
        ground = Ground(Grid((400, 400), 0.6))
        heights = scuff(np.random.default_rng(seed), ground, stroke)
        assert 0.01 < ground.scuff.mean() < 0.25
        assert not heights[~ground.scuff].any() and heights[ground.scuff].std() > 0.2
        gy, gx = np.gradient(cv2.GaussianBlur(ground.scuff.astype(np.float32), (0, 0), 4))
        lengthwise, crosswise = gx * along[0] + gy * along[1], gy * along[0] - gx * along[1]
        assert (crosswise**2).sum() > 4 * (lengthwise**2).sum()
