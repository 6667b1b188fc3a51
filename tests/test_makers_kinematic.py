"""The kinematic maker's paths, ring strokes, moved metal and electrons against definitions, geometry and conservation."""

import cv2
import numpy as np
import pytest
from makers import kinematic
from makers.kinematic import dirt, electrons, honing, ring

from semwear.terms import VALLEY_DEPTH_UM

SHAPE = (240, 260)
NOTHING = np.zeros(SHAPE, np.float32)
CLEAN = dirt.Dirt(yield_factor=NOTHING + 1, pits=NOTHING, hidden=NOTHING > 0, glow=NOTHING)


def direction_deg(field: np.ndarray) -> float:
    """Direction along which a field changes least (degrees from x towards y, downwards), by the structure tensor."""
    gy, gx = np.gradient(cv2.GaussianBlur(field.astype(np.float32), (0, 0), 1.5))
    return float(np.degrees(0.5 * np.arctan2(2 * (gx * gy).mean(), (gx**2 - gy**2).mean())) + 90) % 180


def off_deg(one: float, other: float) -> float:
    """Angle between two directions without sense."""
    return abs((one - other + 90) % 180 - 90)


@pytest.mark.parametrize("half_deg", [12.0, 25.0, 70.0])
def test_paths_of_the_two_stroke_senses_lie_at_half_the_hone_angle_to_either_side_of_across_the_stroke(half_deg):
    """tan(angle / 2) = axial speed / peripheral speed; the stroke is down the frame's rows (semwear.terms, the maker's docstrings).
    One straight path, laid down: its principal axis by its second moments."""
    path = np.zeros((400, 400), np.float32)
    path[190:211] = 1
    for sign in (1, -1):
        laid = honing.lay_down(path, SHAPE, np.radians(sign * half_deg), 0.0)
        y, x = np.nonzero(laid > 0.5)
        inner = np.hypot(x - SHAPE[1] / 2, y - SHAPE[0] / 2) < 110
        axis = np.linalg.eigh(np.cov(np.stack([x, y])[:, inner]))[1][:, 1]
        assert axis[1] / axis[0] == pytest.approx(np.tan(np.radians(sign * half_deg)), rel=0.02)
        bent = honing.lay_down(path, SHAPE, np.radians(sign * half_deg), 5e-4)
        assert np.abs(bent - laid)[:, :20].max() > 0.9 or np.abs(bent - laid)[:20].max() > 0.9


def test_the_stroke_frame_covers_the_field_without_changing_lengths():
    """A turn is orthonormal, and each corner of the field has its place in the frame (geometry)."""
    for seed in range(40):
        (rows, cols), there = kinematic._frame(np.random.default_rng(seed), (200, 330))
        assert there[:, :2] @ there[:, :2].T == pytest.approx(np.eye(2)) and np.linalg.det(there[:, :2]) == pytest.approx(1)
        corners = there @ np.array([[0, 329, 0, 329], [0, 0, 199, 199], [1, 1, 1, 1]])
        assert (corners >= 0).all() and (corners[0] <= cols - 1).all() and (corners[1] <= rows - 1).all()


def test_a_grit_cuts_its_own_section_and_the_rims_stand_beside_it():
    """Depth · (1 − |s|^flatness): a vee of slope depth / half width at 1; a lean moves the deepest line and leaves the rims in place.
    No ride, no wander, no fade: what is drawn along a path is put to zero."""
    stone = honing.Stone(width_low=20.0, width_high=20.0, depth=2.0, depth_power=0.0, cover=0.2, flatness=1.0, skew=0.0, rim=0.1,
                         torn=0.0, fade=0.0, grouping=0.0, fine=0.0)  # fmt: skip
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(honing, "along", lambda rng, length, cell: np.zeros(length, np.float32))
        patch.setattr(honing, "log_uniform", lambda rng, low, high: 1.0)
        for skew, deepest in ((0.0, [50]), (0.5, [40, 60])):
            cut, rims = np.zeros((2, 101, 40), np.float32)
            honing._grit(np.random.default_rng(0), honing.Stone(**{**vars(stone), "skew": skew}), cut, rims, 50.0, 20.0, 0.5)
            assert cut.min() == pytest.approx(-2) and cut[:, 0].argmin() in deepest
            below = np.flatnonzero(cut[:, 0] < 0)
            assert (below.min(), below.max()) == (31, 69)  # 20 µm of 0.5 µm pixels
            if not skew:
                assert np.abs(np.diff(cut[32:49, 0])) == pytest.approx(2 / 20, rel=1e-3)
            assert rims[27, 0] == pytest.approx(0.2, rel=1e-3) == rims[73, 0] and rims[50, 0] < 1e-3


def test_grooves_cover_the_share_of_ground_that_the_stone_has_and_never_exceed_ten_micrometres():
    """Widths are laid down until they add up to cover · share of the band, one width too many at most; overlaps cover less. Depth up to
    10 µm (tests/SOURCES.md, from memory there)."""
    covered = []
    for seed in range(16):
        stone = honing.draw_stone(np.random.default_rng(seed), 0.5, 200.0)
        cut, _ = honing.draw_band(np.random.default_rng(seed), stone, 400, 0.6, 0.5)
        most = stone.cover * 0.6 + stone.width_high / 0.5 / 400
        assert 10 * 1.6 >= -cut.min() > 0  # the ride adds up to 1.6 times
        covered.append(((cut < -0.01).mean(), most))
    found, most = np.array(covered).T
    assert (found < 1.15 * most).all() and np.median(found / most) > 0.2


def test_moved_metal_closes_a_groove_from_one_wall_and_more_of_it_the_more_metal_there_is():
    """A load carried along the stroke goes into the hollow at its first wall, and one that runs out leaves the far part open (the
    maker's docstring); nothing closes where there's no hollow or the ring didn't run."""
    hollow, ran = np.zeros(SHAPE, bool), np.ones(SHAPE, bool)
    hollow[90:150] = True
    ran[:, :100] = False
    closed, one_sided = {0.05: [], 0.3: [], 1.5: []}, []
    for target, shares in closed.items():
        for seed in range(10):
            roof = ring.push_metal(np.random.default_rng(seed), hollow, ran, target, 0.5)
            assert roof.min() >= 0 and roof.max() <= 1
            assert not roof[:, :96].any() and not roof[:86].any() and not roof[154:].any()
            shares.append(roof[90:150, 110:].mean())
            full = roof[90:150, 110:] > 0.5
            begun = full[1] | full[-2]
            partly = full.any(axis=0) & (full.mean(axis=0) < 0.8)
            one_sided += begun[partly].tolist()
    means = [np.mean(shares) for shares in closed.values()]
    assert means[0] < 0.1 < means[1] < 0.6 * means[2]
    assert len(one_sided) > 300 and np.mean(one_sided) > 0.9


def test_running_in_marks_are_plateau_and_they_and_torn_metal_run_along_the_stroke():
    """Running-in marks lie within 0.5 µm, torn metal in streaks along the stroke and in the track only (semwear.terms): direction by
    the structure tensor, the stroke down the rows."""
    ran = np.zeros((300, 300), bool)
    ran[:, 80:] = True
    for seed in range(8):
        marks = ring.plough_marks(np.random.default_rng(seed), SHAPE, 0.5, 0.4)
        assert -VALLEY_DEPTH_UM < marks.min() < -0.05 and marks.max() <= 0.3
        assert off_deg(direction_deg(marks), 90) < 3
        torn, relief = ring.tear(np.random.default_rng(seed), ran, 0.5, True)
        assert torn.any() and not torn[:, :80].any()
        assert off_deg(direction_deg(torn), 90) < 12 and off_deg(direction_deg(relief), 90) < 12


def test_slopes_that_face_the_detector_are_brighter_and_hollows_are_starved(monkeypatch):
    """Contrast from the detector's side; starved escape from deep grooves (tests/SOURCES.md). A slope faces the side it falls to."""
    y, x = np.indices(SHAPE, dtype=np.float32) * 0.5
    for turn in (0.0, 1.0, 2.5, 4.5):
        side = (np.cos(turn), np.sin(turn))
        along = (x - 65) * side[0] + (y - 60) * side[1]
        roof = (-0.4 * np.abs(along)).astype(np.float32)
        for seed, backscatter in ((0, False), (1, True), (2, False)):
            signal = electrons.emit(np.random.default_rng(seed), roof, NOTHING, NOTHING, NOTHING > 0, NOTHING > 0, CLEAN, 0.5,
                                    backscatter=backscatter, side=side)  # fmt: skip
            near, far = (along > 10) & (along < 40), (along < -10) & (along > -40)
            assert np.median(signal[near]) > np.median(signal[far]) + 0.05
    pit = -4 * (np.hypot(x - 65, y - 60) < 4).astype(np.float32)
    inside = np.hypot(x - 65, y - 60) < 2
    dark = []
    for seed in range(12):
        signal = electrons.emit(np.random.default_rng(seed), pit, NOTHING, NOTHING, NOTHING > 0, NOTHING > 0, CLEAN, 0.5,
                                backscatter=False, side=(1.0, 0.0))  # fmt: skip
        dark.append(signal[inside].mean() / np.median(signal))
    assert np.median(dark) < 0.8 and max(dark) < 1


def test_truth_of_a_field_is_the_kept_height_of_its_grooves(monkeypatch):
    """Open from 0.5 µm below the plateau, smear only where metal moved in the track (semwear.terms). The frame isn't turned here, so
    that heights and codes share their pixels; texture and marks may lift single places, so 95 of 100 count (common practice, no
    source)."""
    assert kinematic.LIMIT_UM == VALLEY_DEPTH_UM
    kept = {}

    def emit(rng, height, depth, roof, torn, ran, spots, pixel, **other):
        kept.update(height=height, depth=depth, roof=roof, torn=torn, hidden=spots.hidden)
        return electrons.emit(rng, height, depth, roof, torn, ran, spots, pixel, **other)

    monkeypatch.setattr(kinematic, "_frame", lambda rng, shape: (shape, np.eye(2, 3)))
    monkeypatch.setattr(kinematic, "emit", emit)
    open_um, closed_um = [], []
    for seed in range(40):
        made = kinematic.make(np.random.default_rng(seed), pixel_size_um=0.5, shape=SHAPE)
        bare = ~kept["torn"] & ~kept["hidden"]
        assert ((made.codes == 1) == (kept["depth"] > 0.5))[bare].all()
        assert ((made.codes == 3) == (kept["torn"] & ~kept["hidden"])).all() and ((made.codes == 255) == kept["hidden"]).all()
        assert (kept["roof"][made.codes == 2] > 0).all()
        if "smeared" not in made.kind:
            assert not (made.codes == 2).any()
        if "border" not in made.kind:
            below = np.median(kept["height"][made.codes == 0]) - kept["height"]
            open_um.append(below[made.codes == 1])
            closed_um.append(below[made.codes == 2])
    open_um, closed_um = np.concatenate(open_um), np.concatenate(closed_um)
    assert min(open_um.size, closed_um.size) > 10000
    assert np.mean(open_um >= 0.5) > 0.95 and np.mean(closed_um < 0.5) > 0.95
