"""The lamplit maker's sections, closures, lamps and truth against definitions, formulas and geometry."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from makers import lamplit
from makers.lamplit import closing, lamps, lays, track
from makers.lamplit.field import LEVEL_UM, draw_scene
from makers.lamplit.noise import Turned
from makers.lamplit.sections import NAMES, section
from scipy import ndimage

from semwear.terms import VALLEY_DEPTH_UM

SHAPE = (240, 260)


def direction_deg(field: np.ndarray) -> float:
    """Direction along which a field changes least (degrees from x towards y, downwards), by the structure tensor."""
    gy, gx = np.gradient(cv2.GaussianBlur(field.astype(np.float32), (0, 0), 1.5))
    return float(np.degrees(0.5 * np.arctan2(2 * (gx * gy).mean(), (gx**2 - gy**2).mean())) + 90) % 180


def off_deg(one: float, other: float) -> float:
    """Angle between two directions without sense."""
    return abs((one - other + 90) % 180 - 90)


class Chosen:
    """Chance that gives the lower end of every range but the ones stated, one lamp and unlit edges."""

    def __init__(self, **stated):
        self.stated = stated

    def uniform(self, low, high):
        name = {2 * np.pi: "turn", 75: "lift_deg", 1.2: "far", 0.5: "strength"}.get(high, "")
        return self.stated.get(name, low)

    def integers(self, low, high):
        return low


@pytest.mark.parametrize("name", NAMES)
def test_sections_are_whole_in_the_middle_end_at_the_rims_and_come_down_as_steeply_as_asked(name):
    """Share 1 at the middle, 0 from the rim on. A vee's wall is linear, a bowl a parabola (their names); a box's wall takes
    0.4 · steep + 0.04 of the half width (the maker's formula), by where its floor begins. A comb's teeth stay deep."""
    t = np.linspace(0, 1.5, 3001)
    for steep in (0.1, 1.0):
        share = section(name, t, steep, 9.0)
        assert share[0] == pytest.approx(1) and not share[t >= 1].any() and share.min() >= 0 and share.max() <= 1
        if name == "comb":
            assert share[t < 1 - 0.5 * steep - 0.05].min() >= 0.5
            continue
        assert (np.diff(share) <= 1e-12).all()
        wanted = {"vee": 1 - t, "bowl": 1 - t**2, "box": (1 - t) / (0.4 * steep + 0.04)}.get(name)
        if wanted is not None:
            assert share == pytest.approx(np.clip(wanted, 0, 1))


def test_a_canvas_is_laid_on_the_picture_along_its_angle_and_the_lays_are_bisected_across_the_stroke(monkeypatch):
    """A line along the canvas by its second moments. Hone angle bisected by the direction across the stroke (semwear.terms), but for 3°
    of scatter (the maker's own figure): three standard errors for the mean."""
    for angle in (0.0, 30.0, 90.0, 140.0):
        turned = Turned(SHAPE, angle)
        canvas = np.zeros((turned.side,) * 2, np.float32)
        canvas[turned.side // 2 - 8 : turned.side // 2 + 9] = 1
        y, x = np.nonzero(turned.to_picture(canvas) > 0.5)
        inner = np.hypot(x - SHAPE[1] / 2, y - SHAPE[0] / 2) < 110
        axis = np.linalg.eigh(np.cov(np.stack([x, y])[:, inner]))[1][:, 1]
        assert off_deg(np.degrees(np.arctan2(axis[1], axis[0])), angle) < 0.5
    drawn = []
    kept = lays.draw_lay

    def noted(rng, turned, *rest):
        drawn.append((turned.angle_deg, rest[-1]))
        return kept(rng, turned, *rest)

    monkeypatch.setattr(lamplit.field, "draw_lay", noted)
    for seed in range(40):
        draw_scene(np.random.default_rng(seed), 1.0, (60, 70))
    pairs = list(zip(drawn[::2], drawn[1::2], strict=True))
    # from the direction across the stroke, 90° on from it
    off = [((one + two) / 2 - stroke) % 180 - 90 for (one, stroke), (two, _) in pairs]
    assert abs(np.mean(off)) < 3 * 3 / np.sqrt(40) and np.abs(off).max() < 15
    assert all(20 <= two - one <= 150 for (one, _), (two, _) in pairs)


def test_closures_have_fronts_along_the_stroke(monkeypatch):
    """Metal moves along the stroke: a step of one pixel across a groove goes with cot(stroke − lay) pixels along it (geometry). The
    front of a sheet, fitted over seeds whose raggedness averages out, has the slope asked for; so has the one a lay asks for."""
    asked = []
    monkeypatch.setattr(lays, "close", lambda *given: asked.append(given[-2]))
    plan = closing.draw_plan(np.random.default_rng(0))
    stone = lays.draw_stone(np.random.default_rng(0), 0.5, 120.0)
    for off in (25.0, 60.0, 90.0, 130.0):
        asked.clear()
        lays.draw_lay(np.random.default_rng(1), Turned(SHAPE, 20.0), stone, 0.5, plan, 20.0 + off)
        assert asked and np.allclose(asked, 1 / np.tan(np.radians(off)), atol=1e-6)
    half = 24.0
    offset = np.arange(-30, 31, dtype=np.float32)[:, None] + np.zeros((1, 500), np.float32)
    for shear in (-1.5, 0.0, 1.0):
        slopes = []
        for seed in range(30):
            layers = np.full((61, 500), closing.OPEN), np.zeros((61, 500), np.float32), np.zeros((61, 500), np.uint8)
            place = slice(0, 61), offset / half, offset, half
            closing._one(np.random.default_rng(seed), "sheet", plan, layers, *place, shear, 3.0, 150.0, 200.0)
            inside = (layers[0] < 5)[10:51]
            slopes.append(np.polyfit(np.arange(41), inside.argmax(axis=1), 1)[0])
            assert not (layers[0] < 5)[np.abs(offset[:, 0]) > 1.06 * half].any()  # from rim to rim
        assert np.mean(slopes) == pytest.approx(shear, abs=0.12)


def test_closures_close_to_within_half_a_micrometre_but_for_metal_that_sags():
    """Smeared is closed to within 0.5 µm (semwear.terms); metal that sags into a deep groove leaves it an open valley."""
    s = np.linspace(-1.2, 1.2, 61, dtype=np.float32)[:, None] + np.zeros((1, 400), np.float32)
    plan = replace(closing.draw_plan(np.random.default_rng(0)), dip_um=0.3, seam_um=0.42)
    for kind in closing.KINDS:
        left, shares = [], []
        for seed in range(10):
            cap, lip, label = np.full(s.shape, closing.OPEN), np.zeros(s.shape, np.float32), np.zeros(s.shape, np.uint8)
            closing._one(np.random.default_rng(seed), kind, plan, (cap, lip, label), slice(0, 61), s, s * 25, 25.0, 0.5, 4.0, 100.0, 150.0)
            left.append(cap[cap < closing.OPEN])
            shares.append((cap[np.abs(s) < 1] < closing.OPEN).mean())
            assert ((label > 0) == (cap < closing.OPEN)).all() and not lip[label == 0].any()
        left = np.concatenate(left)
        assert np.mean(shares) > 0.05 and left.min() >= 0
        assert (left.min() >= 0.3 * 4 and left.max() <= 4) if kind == "sag" else left.max() < VALLEY_DEPTH_UM


def test_one_lamp_lights_the_side_that_faces_it_by_the_cosine_law_and_hollows_are_starved():
    """Lambert: brightness goes as n·l, here beside a quarter of even light, over the picture's median; the relief raised 0.35-fold (the
    lower ends of what is drawn). A roof has two normals. Starved escape from deep grooves (tests/SOURCES.md): none on flat ground or on a
    hill, half at most (the maker's range)."""
    slope, lift = 0.6, 40.0
    y, x = np.indices(SHAPE, dtype=np.float32) - 120
    for turn in (0.0, 1.2, np.pi, 5.0):
        out = x * np.cos(turn) + y * np.sin(turn)
        rise = -slope * np.abs(out)  # um, for pixels of 1 um
        lit = lamps.light(Chosen(turn=turn, lift_deg=lift), rise.astype(np.float32), np.zeros(SHAPE, np.float32), 1.0, False)
        lamp = np.array([np.cos(np.radians(lift)), np.sin(np.radians(lift))])
        fall = 0.35 * slope
        wanted = [0.25 + 0.3 * (sign * fall * lamp[0] + lamp[1]) / np.hypot(1, fall) / lamp[1] for sign in (1, -1)]
        inner = np.zeros(SHAPE, bool)
        inner[30:-30, 30:-30] = True
        found = [np.median(lit[inner & (sign * out > 30) & (sign * out < 80)]) for sign in (1, -1)]
        assert found[0] / found[1] == pytest.approx(wanted[0] / wanted[1], rel=0.03)
    pit = (np.hypot(x, y) < 8).astype(np.float32)
    for seed in range(8):
        hill, level, shallow, deep = (lamps._hollow(np.random.default_rng(seed), h * pit, False)[120, 120] for h in (4.0, 0.0, -1.0, -4.0))
        assert hill == level == 0 < shallow < deep < 0.5
    floor = lamps.light(Chosen(), -4 * pit, np.zeros(SHAPE, np.float32), 1.0, False)[120, 120]
    assert 0.95 < floor < 0.98  # level, so lit as flat ground is (1), less the least of that range


def test_shadows_of_debris_are_as_long_as_its_height_over_the_tangent_of_the_lamps_height():
    """A lump of height h throws h / tan(lift); the maker draws 1 / tan(lift). The shadow beside a lump that a move of so many pixels
    carries it to lies that far away, by the centre of the moved lump."""
    y, x = np.indices(SHAPE) - 120
    lump = np.where(np.hypot(x, y) < 12, 10.0, 0).astype(np.float32)
    for turn, far, pixel in ((0.0, 1.2, 0.5), (2.0, 0.8, 0.5), (4.0, 1.0, 1.0)):
        shadow = lamplit._cast(Chosen(turn=turn, far=far, strength=0.5), lump, pixel)
        assert not shadow[lump > 0].any() and 0.2 < shadow.max() <= 0.5
        length = far * 10 / pixel
        moved = np.hypot(x - length * np.cos(turn), y - length * np.sin(turn)) < 12
        blurred = ndimage.gaussian_filter(0.5 * moved.astype(float), 1 + length / 3) * (lump <= 0)
        assert np.abs(shadow - blurred).max() < 0.03
    assert not lamplit._cast(np.random.default_rng(0), np.zeros(SHAPE, np.float32), 0.5).any()


def test_the_ring_takes_height_in_its_track_that_runs_out_at_the_border_and_marks_and_tears_along_its_stroke():
    """Linear with the distance to the border (by scipy's exact one), nothing outside. Marks lie within 0.5 µm and torn streaks run
    along the stroke (semwear.terms)."""
    worn = np.zeros(SHAPE, bool)
    worn[:, 100:] = True
    for seed in range(8):
        lost = track.truncation(np.random.default_rng(seed), worn, 0.5)
        inward = ndimage.distance_transform_edt(worn)
        assert not lost[~worn].any() and 0.05 <= lost.max() <= 1.6
        ramp = (lost > 0) & (lost < 0.95 * lost.max())
        if ramp.any():
            rate = lost[ramp] / inward[ramp]
            assert np.ptp(rate) < 0.05 * rate.mean()
        assert np.ptp(track.truncation(np.random.default_rng(seed), worn | True, 0.5)) == 0
        angle = (0.0, 35.0, 90.0, 150.0)[seed % 4]
        marks = track.marks(np.random.default_rng(seed), Turned(SHAPE, angle), 0.3)
        torn = sum(track.scuff(np.random.default_rng(10 * seed + k), Turned(SHAPE, angle), 0.5)[0].astype(float) for k in range(6))
        assert -VALLEY_DEPTH_UM < marks.min() < 0 and marks.max() <= 0
        assert off_deg(direction_deg(marks), angle) < 3 and off_deg(direction_deg(torn), angle) < 8


def test_truth_is_read_off_the_finished_relief():
    """Open from 0.5 µm below the plateau, smear in worn fields with moved metal only (semwear.terms). The height itself: the floor's own
    roughness and pull-outs may lift or sink single places, so 93 of 100 count (common practice, no source)."""
    assert LEVEL_UM == VALLEY_DEPTH_UM
    low, high, kinds = [], [], set()
    for seed in range(90, 140):  # torn metal would reach out of the track of some of these
        scene = draw_scene(np.random.default_rng(seed), 0.5, SHAPE)
        bare = (scene.codes != 255) & (scene.codes != 3)
        assert ((scene.codes == 1) == (scene.depth >= 0.5))[bare].all()
        assert not np.isin(scene.codes, (2, 3))[~scene.worn].any()
        closed = scene.codes == 2
        assert (scene.burnished | scene.packed)[closed].mean() > 0.9 if closed.any() else True
        if closed.any():
            assert "smeared" in scene.kind and "unworn" not in scene.kind
        low.append(scene.height[scene.codes == 1])
        high.append(scene.height[closed])
        kinds |= set(scene.kind.split("+"))
    low, high = np.concatenate(low), np.concatenate(high)
    assert kinds == {"unworn", "worn", "border", "smeared", "scuffed"} and min(low.size, high.size) > 10000
    assert np.mean(low <= -0.5) > 0.93 and np.mean(high > -0.5) > 0.93
