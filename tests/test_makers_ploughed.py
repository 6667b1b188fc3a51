"""Fields worn pass by pass: their geometry, their account of metal and their picture against sources outside the code."""

import cv2
import numpy as np
from makers.ploughed import stroke_frame
from makers.ploughed.camera import shot
from makers.ploughed.lays import depth_um, hone, lay_angles_deg, section
from makers.ploughed.passes import Strokes, land_passes
from makers.ploughed.picture import tilt_gain
from makers.ploughed.scuff import plough, tear
from makers.ploughed.wear import states


def strokes(shape, **changed) -> Strokes:
    """A land that wears 0.6 um off in 8 passes and has metal to spare."""
    given = dict(
        sink_um=np.full(shape[1], 0.6, np.float32),
        marks_um=np.zeros(shape[1], np.float32),
        passes=8,
        kept=0.8,
        supply_um=4.0,
        lip_um=0.5,
        overhang=12,
        sag_um=np.full(shape, 0.1, np.float32),
        grip=np.ones(shape, bool),
    )
    return Strokes(**given | changed)


def trench(rows: int, width: int, deep: float, columns: int = 12) -> np.ndarray:
    depth = np.zeros((rows, columns), np.float32)
    depth[rows // 2 - width // 2 : rows // 2 - width // 2 + width] = deep
    return depth


def test_the_included_hone_angle_is_bisected_by_the_circumference():
    """semwear.terms: bisected by the direction across the stroke; tan(angle/2) = axial over peripheral speed."""
    for included in (20, 60, 145):
        first, second = np.radians(lay_angles_deg(included))
        assert np.isclose(np.degrees(first - second), included)
        # across is the columns' direction: axial speed lies along the rows
        assert np.isclose(np.sin(first) / np.cos(first), np.tan(np.radians(included / 2)))
        assert np.isclose(first, -second)


def test_groove_walls_slope_by_6_to_27_degrees():
    """Walls of 6-27 degrees: tests/SOURCES.md (secondary-electron picture)."""
    for wall in (6, 15, 27):
        deep = depth_um(20, 0.3, wall)
        offset = np.linspace(-10, 10, 4001)
        slope = np.abs(np.gradient(section(offset, 20, deep, 0.3, 0.0), offset))
        assert np.isclose(np.degrees(np.arctan(slope.max())), wall, atol=0.1)
    steepest = []
    for seed in range(6):
        depth = hone(np.random.default_rng(seed), (240, 240), 0.5).depth
        assert depth.max() <= 12 and depth.min() >= 0  # 10 um, and a fifth for a deepening stretch (tests/SOURCES.md, [M])
        smooth = cv2.GaussianBlur(depth, (0, 0), 2.0)
        slope = np.hypot(*np.gradient(smooth, 0.5))[(smooth > 0.3) & (smooth < 0.8 * smooth.max())]
        steepest.append(np.degrees(np.arctan(np.median(slope))))
    assert 2 < np.median(steepest) < 27


def test_metal_is_conserved_up_to_wear_debris():
    """Conservation of mass: cut and supplied = deposited + wear + carried out."""
    rng = np.random.default_rng(3)
    depth = np.maximum(trench(90, 6, 1.2), trench(90, 30, 3.0) * (rng.random((90, 12)) < 0.5))
    depth[:20] = 0
    summits = rng.uniform(0, 0.4, depth.shape).astype(np.float32)
    worn = land_passes(depth, summits, strokes(depth.shape, passes=9))
    account = worn.account
    into, out = account["cut"] + account["supplied"], account["deposited"] + account["wear"] + account["out"]
    assert account["deposited"] > 1
    assert np.isclose(into, out, rtol=1e-3)
    assert np.isclose(account["deposited"], worn.metal.sum(), rtol=1e-3)


def test_narrow_grooves_close_and_wide_deep_ones_keep_an_open_middle():
    """Folds smear and interrupt grooves (Dimkovski, Ohlsson, Rosen, Wear 271 (2011) 548); that a lip must bridge the void
    from its edges, so that narrow ones close first, is common practice, no source."""
    narrow = land_passes(trench(90, 6, 1.2), np.zeros((90, 12), np.float32), strokes((90, 12)))
    wide = land_passes(trench(90, 50, 6.0), np.zeros((90, 12), np.float32), strokes((90, 12)))
    level = -0.6
    assert (level - narrow.height[42:48] < 0.5).all()
    assert (level - wide.height[44:46] > 0.5).all()
    assert (wide.laid[20:32] > 0).any() and (wide.laid[58:70] > 0).any()  # to and fro: lips on both edges


def test_truncation_alone_makes_plateau_and_only_laid_metal_makes_smear():
    """semwear.terms: valley at least 0.5 um below the local plateau; smeared where moved metal has closed it."""
    depth = np.float32([[0.49, 0.51, 0.8, 2.0, 2.0, 2.0]])
    sunk = np.float32([[0, 0, -0.4, -0.4, -0.4, -0.4]])
    height = np.float32([[-0.49, -0.51, -0.8, -2.0, -0.7, -1.0]])
    lid = np.array([[False, False, False, False, True, True]])
    assert states(depth, sunk, height, lid).tolist() == [[0, 1, 0, 1, 2, 1]]


def test_nothing_moves_out_of_the_track():
    """semwear.terms: out-of-track ground was never touched."""
    sink = np.where(np.arange(12) < 6, 0, 0.6).astype(np.float32)
    depth = trench(90, 6, 1.2)
    worn = land_passes(depth, np.full_like(depth, 0.3), strokes(depth.shape, sink_um=sink))
    assert np.array_equal(worn.height[:, :6], 0.3 - depth[:, :6]) and not worn.metal[:, :6].any()
    assert worn.metal[:, 6:].any()
    share = np.where(np.arange(200) < 90, 0, 1).astype(np.float32)
    torn = tear(np.random.default_rng(1), share, (220, 200), 0.6).where
    assert torn.any() and not torn[:, :90].any()


def test_scuffing_runs_in_streaks_along_the_stroke():
    """semwear.terms: torn or ploughed, in streaks along the stroke. Longer along the rows than across."""
    long = []
    for seed in range(6):
        torn = tear(np.random.default_rng(seed), np.ones(240, np.float32), (240, 240), 0.7).where
        changes = [np.count_nonzero(np.diff(torn.astype(np.int8), axis=axis)) for axis in (0, 1)]
        long.append(changes[1] / max(changes[0], 1))
    assert np.median(long) > 1.5
    lump = np.zeros((60, 9), np.float32)
    lump[10, 4] = 2.0
    furrow = plough(lump, 15, forth=True)
    assert furrow[:10].max() == 0 and (np.diff(furrow[10:, 4]) < 0).all() and furrow[:, [0, 8]].max() == 0


def test_tilt_alone_gives_half_to_twelve_percent_of_contrast():
    """tests/SOURCES.md: sec(angle) on walls of 6-27 degrees gives 0.5-12 %."""
    gain = tilt_gain(np.tan(np.radians([6.0, 27.0]))) - 1
    assert np.allclose(gain, (0.0055, 0.1223), atol=0.0005)


def test_shot_noise_follows_the_dose():
    """N = i t / e, of Poisson statistics: 100 pA for 10 us are 6,242 electrons, so 1.27 % (tests/SOURCES.md)."""
    electrons = 100e-12 * 10e-6 / 1.602176634e-19
    flat = shot(np.random.default_rng(0), np.ones((300, 300), np.float32), electrons)
    assert np.isclose(flat.std(), 1 / np.sqrt(6242), rtol=0.03) and np.isclose(flat.mean(), 1, atol=1e-3)


def test_a_turned_stroke_keeps_lengths_and_the_frame_covers_the_picture():
    """A rotation: lengths stay (definition)."""
    for turn in (-88, -45, 3, 90):
        frame, to_frame = stroke_frame((220, 300), turn)
        corners = np.float64([[0, 0, 1], [299, 0, 1], [0, 219, 1], [299, 219, 1]]) @ to_frame.T
        assert corners.min() >= 0 and (corners <= (frame[1] - 1, frame[0] - 1)).all()
        assert np.isclose(np.linalg.norm(corners[0] - corners[3]), np.hypot(299, 219))
