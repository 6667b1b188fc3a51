"""The compact maker's own claims: its geometry against strip formulas and published figures, its states against physics."""

from functools import cache

import cv2
import numpy as np
import pytest
from makers.compact import make, moved, surface
from makers.compact.geometry import Frame
from makers.compact.grooves import Line, cut, hone_angle_deg, lays_rad, lines


def flat_frame(stroke_deg: float = 0.0, size: int = 320) -> Frame:
    return Frame.of(0.5, (size, size), np.radians(stroke_deg))


def gradient_axis_deg(map_: np.ndarray) -> float:
    """Direction of the steepest change on the whole, from the structure tensor (Bigün and Granlund 1987, from memory)."""
    rows, cols = np.gradient(cv2.GaussianBlur(map_.astype(np.float32), (0, 0), 1.5))
    return float(np.degrees(0.5 * np.arctan2(2 * (rows * cols).mean(), (cols**2 - rows**2).mean())))


def axis_gap_deg(one: float, other: float) -> float:
    return abs((one - other + 90) % 180 - 90)


@cache
def grounds() -> list[tuple]:
    """Fields of many pixel sizes with the grooves cut into them before wear."""
    found, whole = [], surface.cut
    for seed in range(36):
        cuts = []
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(surface, "cut", lambda *given, kept=cuts: kept.append(whole(*given)) or kept[-1])
            drawn = surface.ground(np.random.default_rng(seed), (0.2, 0.6, 1.8)[seed % 3], (220, 240))
        found.append((drawn, cuts[0]))
    return found


def test_hone_angles_are_those_in_use():
    """Some 30–60° are usual, 140–150° for helical slide honing (from memory); a share outside both is this maker's own."""
    angles = np.array([hone_angle_deg(np.random.default_rng(seed)) for seed in range(400)])
    assert np.mean((angles > 28) & (angles < 62)) > 0.6
    assert 0.08 < np.mean((angles > 138) & (angles < 152)) < 0.25
    assert angles.min() > 25 and angles.max() < 155


@pytest.mark.parametrize(("stroke_deg", "angle_deg"), [(0, 40), (70, 60), (125, 145)])
def test_the_spectrum_of_the_grooves_shows_the_hone_angle_about_the_direction_across_the_stroke(stroke_deg, angle_deg):
    """A line's spectrum lies at right angles to it; the hone angle is bisected by the circumference (semwear.terms)."""
    frame, rng = flat_frame(stroke_deg), np.random.default_rng(3)
    lays = [np.radians(stroke_deg + 90 + side * angle_deg / 2) for side in (-1, 1)]
    drawn = [Line(lay, place, 6.0, 3.0) for lay in lays for place in rng.uniform(-100, 100, 14)]
    window = np.outer(np.hanning(320), np.hanning(320))
    depth = cut(rng, frame, drawn, 0).depth
    power = np.abs(np.fft.fft2((depth - depth.mean()) * window)) ** 2
    rows, cols = np.meshgrid(np.fft.fftfreq(320), np.fft.fftfreq(320), indexing="ij")
    ring = (np.hypot(rows, cols) > 0.02) & (np.hypot(rows, cols) < 0.2)
    direction = np.degrees(np.arctan2(rows, cols)) % 180
    strength = np.histogram(direction[ring], 180, (0, 180), weights=power[ring])[0]
    strength = sum(np.roll(strength, shift) for shift in (-1, 0, 1))
    first = int(np.argmax(strength))
    away = np.array([axis_gap_deg(first, other) > 15 for other in range(180)])
    second = int(np.argmax(strength * away))
    found = sorted(axis_gap_deg(peak + 0.5 - 90, stroke_deg + 90) for peak in (first, second))
    assert found == pytest.approx([angle_deg / 2] * 2, abs=2)
    acute = min(angle_deg, 180 - angle_deg)
    assert axis_gap_deg(first, second) == pytest.approx(acute, abs=3)


def test_lays_lie_evenly_about_the_direction_across_the_stroke_and_few_fields_have_one():
    drawn = [lays_rad(np.random.default_rng(seed), 0.4, 50.0) for seed in range(300)]
    both = [lays for lays in drawn if len(lays) == 2]
    assert 0.02 < 1 - len(both) / len(drawn) < 0.15
    assert np.degrees(np.mean(both[0]) - 0.4) == pytest.approx(90)
    assert np.degrees(both[0][1] - both[0][0]) == pytest.approx(50)


def test_area_of_ruled_grooves_is_that_of_strips():
    """Strips of widths w over a height h take Σw/h; two crossing families 1 − (1 − a)(1 − b)."""
    frame = flat_frame(size=400)
    one = [Line(0.0, place, 7.0, 3.0) for place in (-70, -30, 10, 60)]
    other = [Line(np.pi / 2, place, 11.0, 3.0) for place in (-60, 0, 50)]
    shares = [(cut(np.random.default_rng(1), frame, drawn, 0).depth > 0).mean() for drawn in (one, other, one + other)]
    a, b = 4 * 7 / 200, 3 * 11 / 200
    assert shares == pytest.approx([a, b, 1 - (1 - a) * (1 - b)], abs=0.012)


def test_grooves_have_the_drawn_width_and_depth_where_they_were_drawn():
    place, width, depth = 12.0, 9.0, 2.5
    profile = cut(np.random.default_rng(5), flat_frame(), [Line(0.0, place, width, depth)], 0).depth[:, 100]
    rows = np.flatnonzero(profile > 0)
    assert rows.size * 0.5 == pytest.approx(width, abs=0.75)
    assert (rows.mean() - 159.5) * 0.5 == pytest.approx(place, abs=0.5)
    assert 0.75 * depth < profile.max() <= depth


def test_drawn_populations_take_about_the_share_asked_for_and_walls_slope_as_published():
    """Walls of hone grooves slope 6–27° (follows from depths and widths from memory); narrow ones here may be steeper."""
    frame = flat_frame()
    drawn = [lines(np.random.default_rng(seed), frame, [0.5, 1.5], 0.3, 12.0) for seed in range(40)]
    shares = [sum(each.width_um for each in one) / (2 * frame.reach_um) for one in drawn]
    assert np.mean(shares) == pytest.approx(0.3, abs=0.05)
    slopes = [np.degrees(np.arctan(2 * each.depth_um / each.width_um)) for one in drawn for each in one]
    assert 6 < np.median(slopes) < 27


def test_open_and_smeared_lie_only_where_a_groove_half_a_micrometre_deep_had_been():
    for drawn, hone in grounds():
        assert (hone.depth[np.isin(drawn.codes, (1, 2))] >= surface.VALLEY_DEPTH_UM).all()
        unworn_plateau = (drawn.codes == 0) & ~drawn.worn
        assert (hone.depth[unworn_plateau] < surface.VALLEY_DEPTH_UM).all()


def test_open_valleys_are_deep_and_smeared_ones_closed_to_the_plateau_level():
    """The limit is 0.5 µm (semwear.terms); the roughness of the ground is let off, graphite left out."""
    for code, holds in (
        (1, lambda height: height < -0.3),
        (2, lambda height: height > -0.5),
        (0, lambda height: height > -0.7),
    ):
        heights = np.concatenate(
            [drawn.height[(drawn.codes == code) & (drawn.graphite == 0)] for drawn, _ in grounds()]
        )
        assert heights.size > 5000
        assert holds(heights).mean() > 0.98, code


def test_metal_closes_about_the_share_of_groove_asked_for():
    frame = flat_frame()
    drawn = [Line(np.pi / 2 + side * 0.4, place, 8.0, 2.0) for side in (-1, 1) for place in range(-100, 101, 25)]
    hone = cut(np.random.default_rng(2), frame, drawn, 0)
    depths, means = np.full(len(drawn), 2.0), []
    for amount in (0.05, 0.2, 0.5):
        covers = [
            moved.closures(np.random.default_rng(seed), frame, hone, depths, 8.0, amount)[0] for seed in range(12)
        ]
        assert not any(cover[hone.depth == 0].any() for cover in covers)
        means.append(np.mean([cover[hone.depth > 0].mean() for cover in covers]))
    assert 0.02 < means[0] < 0.1 and 0.1 < means[1] < 0.3 and 0.3 < means[2] < 0.65


@pytest.mark.parametrize("stroke_deg", [10, 65, 140])
def test_scuffing_runs_along_the_stroke(stroke_deg):
    """Scuffed ground lies in streaks along the stroke (semwear.terms): its outlines change across it."""
    for seed in range(4):
        where = moved.scuffing(np.random.default_rng(seed), flat_frame(stroke_deg), 0.15)[0]
        assert 0.01 < where.mean() < 0.4
        assert axis_gap_deg(gradient_axis_deg(where), stroke_deg + 90) < 8


def test_tilt_foreshortens_as_its_cosine():
    """0.14 % at 3°, 1.5 % at 10°, 3.4 % at 15° (1 − cos)."""
    for tilt_deg, lost in ((3, 0.0014), (10, 0.015), (15, 0.034)):
        tall = [np.ptp(Frame.of(0.5, (200, 200), 0.0, tilt).y) for tilt in (0, tilt_deg)]
        assert 1 - tall[0] / tall[1] == pytest.approx(lost, rel=0.05)


def test_six_in_ten_fields_are_worn_three_in_ten_of_those_scuffed():
    """This maker's own shares, within three standard deviations of 36 fields."""
    worn = [drawn for drawn, _ in grounds() if drawn.worn.any()]
    assert 0.6 * 36 - 8.8 < len(worn) < 0.6 * 36 + 8.8
    assert 1 <= sum((drawn.codes == 3).any() for drawn in worn) <= 0.32 * len(worn) + 3 * np.sqrt(0.22 * len(worn))


def test_valleys_are_dark_in_most_pictures_and_bright_in_some():
    """The secondary-electron signal of a deep floor may fall (starved escape) or rise (rough floors): both are drawn."""
    darker = []
    for seed in range(28):
        made = make(np.random.default_rng(seed), pixel_size_um=0.6, shape=(200, 200))
        if 0.02 < (made.codes == 1).mean() < 0.6:
            darker.append(made.image[made.codes == 1].mean() < made.image[made.codes == 0].mean())
    assert 0.6 < np.mean(darker) < 0.97
