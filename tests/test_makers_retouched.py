"""The retouched maker's bands, closures, textures and look-alikes against definitions, formulas and the geometry of what was drawn."""

import cv2
import numpy as np
import pytest
from makers.retouched import _directions, closures, lookalikes, surface, textures, valleys
from makers.retouched.bands import LIMIT_UM, Band, cut, family
from makers.retouched.valleys import Palette

from semwear.terms import VALLEY_DEPTH_UM

SHAPE = (240, 260)
NOTHING = np.zeros(SHAPE, np.float32)


def band(*, half_px: float = 20.0, depth_um: float = 2.0, wall: float = 0.5, angle: float = 0.0, worn: int = 1) -> Band:
    """A straight groove through the picture's middle, from border to border."""
    s = np.arange(-200.0, 200.0, 2.0)
    way, normal = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    centre = np.array([SHAPE[1] / 2, SHAPE[0] / 2]) + s[:, None] * way
    even = np.ones(len(s))
    return Band(centre, normal, even * half_px, even * half_px, even * depth_um, wall, even * worn, angle, 0.9)


def direction_deg(field: np.ndarray) -> float:
    """Direction along which a field changes least (degrees from x towards y, downwards), by the structure tensor."""
    gy, gx = np.gradient(cv2.GaussianBlur(field.astype(np.float32), (0, 0), 1.5))
    return float(np.degrees(0.5 * np.arctan2(2 * (gx * gy).mean(), (gx**2 - gy**2).mean())) + 90) % 180


def off_deg(one: float, other: float) -> float:
    """Angle between two directions without sense."""
    return abs((one - other + 90) % 180 - 90)


def test_the_lays_are_bisected_by_the_direction_across_the_stroke():
    """tan(angle / 2) = axial speed / peripheral speed, axial along the stroke (semwear.terms)."""
    for seed in range(40):
        stroke, one, other = _directions(np.random.default_rng(seed))
        axial, peripheral = np.cos([one - stroke, other - stroke]), np.sin([one - stroke, other - stroke])
        assert axial[0] / peripheral[0] == pytest.approx(-axial[1] / peripheral[1])
        assert abs(axial[0] / peripheral[0]) == pytest.approx(np.tan((one - other) / 2))


@pytest.mark.parametrize(("depth_um", "wall"), [(2.0, 0.5), (1.0, 1.0), (0.7, 0.3), (0.45, 0.5)])
def test_open_ground_is_where_a_wall_has_come_down_by_half_a_micrometre(depth_um, wall):
    """Open from 0.5 µm below the plateau (semwear.terms). Width between those places on a straight-walled section, found by looking
    for them; areas of the drawn masks within a disc, over its diameter, are near enough the widths."""
    assert LIMIT_UM == VALLEY_DEPTH_UM
    u = np.linspace(-1, 1, 40001)
    section = depth_um * np.minimum((1 - np.abs(u)) / wall, 1)
    wanted = np.mean(section >= 0.5)
    for angle in (0.0, 0.6, np.pi / 2):
        groove = band(depth_um=depth_um, wall=wall, angle=angle)
        assert groove.inner == pytest.approx(wanted, abs=1e-3)
        y, x = np.indices(SHAPE)
        disc = np.hypot(x - SHAPE[1] / 2 + 0.5, y - SHAPE[0] / 2 + 0.5) < 100
        whole, deep = (part[disc].sum() / 200 for part in cut([groove], SHAPE))
        assert whole == pytest.approx(40, abs=1)
        assert deep == pytest.approx(40 * wanted, abs=1)


def test_wear_takes_its_truncation_off_every_groove_in_the_track_and_off_no_other():
    """A level taken off the plateau makes every groove shallower by as much (geometry), and narrower,
    for walls slope."""
    worn = np.zeros(SHAPE, bool)
    worn[:, 130:] = True
    counted = 0
    for seed in range(6):
        before, after = (
            family(np.random.default_rng(seed), SHAPE, 0.5, 0.3, 1.0, worn, truncation, 3.0, 12.0) for truncation in (0.0, 0.8)
        )
        after = {one.turn: one for one in after}
        for old in before:
            new, on = after[old.turn], old.worn > 0
            assert new.depth[~on] == pytest.approx(old.depth[~on]) and new.left[~on] == pytest.approx(old.left[~on])
            assert new.depth[on] == pytest.approx(np.maximum(old.depth[on] - 0.8, 0.02))
            assert (new.left[on] < old.left[on]).all() and (new.right[on] < old.right[on]).all()
            counted += on.sum()
    assert counted > 400


def test_texture_has_the_correlation_length_the_slope_and_the_direction_that_were_asked_for():
    """White noise through a Gaussian of length L is correlated by exp(−d²/4L²) at distance d (integration). With a tail the power falls
    as q^(−2·tail) beyond the corner (the maker's docstring: its amplitude by the exponent tail)."""
    field = textures.filtered(np.random.default_rng(0), (600, 600), 5.0)
    for far in (3, 6, 9):
        for moved, still in ((field[far:], field[:-far]), (field[:, far:], field[:, :-far])):
            assert (moved * still).mean() == pytest.approx(np.exp(-(far**2) / 100), abs=0.05)
    for seed, angle in enumerate((0.0, 0.7, 1.9)):
        assert off_deg(direction_deg(textures.filtered(np.random.default_rng(seed), SHAPE, 20, 2, angle)), np.degrees(angle)) < 2
    window = np.hanning(512)[:, None] * np.hanning(512)
    q = np.hypot(*np.meshgrid(np.fft.fftfreq(512), np.fft.fftfreq(512)))
    edges = np.geomspace(0.12, 0.4, 8)
    for tail in (1.0, 2.0):
        power = np.abs(np.fft.fft2(window * textures.filtered(np.random.default_rng(1), (512, 512), 8.0, tail=tail))) ** 2
        mean = [power[(q >= a) & (q < b)].mean() for a, b in zip(edges[:-1], edges[1:], strict=True)]
        slope = np.polyfit(np.log(np.sqrt(edges[1:] * edges[:-1])), np.log(mean), 1)[0]
        assert slope == pytest.approx(-2 * tail, abs=0.15)


def test_closures_lie_on_grooves_where_the_ring_ran_and_flakes_are_dragged_out_along_the_stroke(monkeypatch):
    """Smear is a groove's footprint that moved metal closed (semwear.terms): nothing on a groove out of the track; on one in it, caps
    stay within a groove's width of its middle, drawn askew by the stroke and no farther. Metal moves along the stroke, so single flakes
    are longest that way: principal axis of each outline by its second moments; by chance a third would lie within 30° of it."""
    light, covered = np.array([1.0, 0.0]), []
    across = np.abs(np.arange(SHAPE[0]) - SHAPE[0] / 2)
    for seed in range(40):
        bare = closures.lay_over(np.random.default_rng(seed), [band(worn=0)], SHAPE, np.pi / 2, light)
        assert not bare.mask.any()
        shallow = closures.lay_over(np.random.default_rng(seed), [band(depth_um=0.25)], SHAPE, np.pi / 2, light)
        assert not shallow.mask.any()
        half = band()
        half.worn[half.centre[:, 0] < 130] = 0
        mask = closures.lay_over(np.random.default_rng(seed), [half], SHAPE, np.pi / 2, light).mask
        assert not mask[across > 60].any()
        covered.append((mask[:, :90].mean(), mask[across < 20][:, 130:].mean()))
    out, within = np.mean(covered, axis=0)
    assert out < 0.02 and within > 0.15
    rings = []
    monkeypatch.setattr(closures, "fill", lambda sheet, one, two, value: rings.append(np.concatenate([one, two[::-1]])))
    sheets, groove = np.zeros((4, SHAPE[0] * 2, SHAPE[1] * 2), np.float32), band()
    for stroke in (0.0, np.pi / 2, 0.9):
        rings.clear()
        drag = np.array([np.cos(stroke), np.sin(stroke)])
        for seed in range(10):
            closures._flakes(np.random.default_rng(seed), sheets, groove, slice(20, 180), 0.0, 0.1, 0.2, 0.3, drag)
        axes = [np.linalg.eigh(np.cov(ring.T))[1][:, 1] for ring in rings]
        assert len(axes) > 100
        assert np.mean([abs(axis @ drag) > np.cos(np.radians(30)) for axis in axes]) > 0.75


def test_the_wall_on_the_detectors_side_is_the_darker_one_and_a_deep_narrow_floor_the_darkest():
    """A wall turns its back on a detector above it on the same side (geometry); starved escape from deep grooves
    (tests/SOURCES.md)."""
    for light in (np.array([0.0, 1.0]), np.array([0.0, -1.0])):
        look = Palette(floor=0.0, lit=0.4, rim=0.0, starve=0.0, scatter=0.0, rough=0.0, carbon=0.0, torn=0.0)
        tone = np.mean([valleys.ribbons(np.random.default_rng(k), [band()], SHAPE, look, light)[0] for k in range(8)], axis=0)
        top, bottom = tone[102:106, 60:200].mean(), tone[134:138, 60:200].mean()
        towards, away = (bottom, top) if light[1] > 0 else (top, bottom)
        assert away - towards > 0.3
    look = Palette(floor=-0.2, lit=0.0, rim=0.0, starve=0.3, scatter=0.0, rough=0.0, carbon=0.0, torn=0.0)
    floors = []
    for depth_um in (0.5, 1.5, 4.0):
        groove = [band(depth_um=depth_um, wall=0.3)]
        tone = np.mean([valleys.ribbons(np.random.default_rng(k), groove, SHAPE, look, light)[0] for k in range(8)], axis=0)
        floors.append(tone[116:124].mean())
    assert -0.2 > floors[0] > floors[1] + 0.02 > floors[2] + 0.05


def test_debris_is_not_assessed_and_throws_its_shadow_away_from_the_detector():
    """Debris hides what is below, its shadow doesn't (semwear.terms); a body stands between the detector and its shadow."""
    towards, away = [], []
    for seed in range(30):
        picture, codes = NOTHING + 1, np.zeros(SHAPE, np.uint8)
        turn = np.random.default_rng(seed + 500).uniform(0, 2 * np.pi)
        light = np.array([np.cos(turn), np.sin(turn)])
        lookalikes.debris(np.random.default_rng(seed), picture, codes, 0.5, light)
        assert set(np.unique(codes)) <= {0, 255}
        for side, sign in ((towards, 1), (away, -1)):
            move = np.array([[1, 0, sign * 6 * light[0]], [0, 1, sign * 6 * light[1]]])
            beside = (cv2.warpAffine(codes, move, SHAPE[::-1], flags=cv2.INTER_NEAREST) == 255) & (cv2.dilate(codes, np.ones((5, 5))) == 0)
            side.append(picture[beside].mean() if beside.any() else 1.0)
    assert np.mean(away) < np.mean(towards) - 0.02
    assert np.mean(np.array(away) < np.array(towards) - 0.001) > 0.7


def test_torn_metal_and_scratches_run_along_the_stroke():
    """Code 3 is torn in streaks along the stroke, scratches along it are no valley (semwear.terms). Structure tensor."""
    for seed, stroke in enumerate((0.0, 0.6, np.pi / 2, 2.4)):
        track = NOTHING.copy()
        track[60:] = 1
        light = np.array([1.0, 0.0])
        torn = [surface.scuff(np.random.default_rng(10 * seed + k), NOTHING + 1, stroke, 0.5, track, light) for k in range(6)]
        assert all(set(np.unique(mask)) <= {0, 1} and not mask[:58].any() for mask in torn)
        assert 0.01 < np.mean(torn) < 0.6
        assert off_deg(direction_deg(np.sum(torn, axis=0)[64:]), np.degrees(stroke)) < 6
        lines = sum(lookalikes.scratches(np.random.default_rng(10 * seed + k), SHAPE, 0.5, stroke) for k in range(4))
        assert off_deg(direction_deg(lines), np.degrees(stroke)) < 3
