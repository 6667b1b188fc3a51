"""The drawn grooves, marks and noise against definitions and formulas; each check names what it stands on."""

import cv2
import numpy as np
import pytest
from makers.plotted.closures import close_groove, tear_streaks
from makers.plotted.grooves import draw_grooves, half_width_um, lays
from makers.plotted.instrument import electrons_per_pixel, shot_noise
from makers.plotted.ribbon import fill_between, ribbon
from makers.plotted.styles import STYLES, Look, paint, tilt_gain, tone

SHAPE = (240, 260)


def grooves_of(seed: int, *, pixel_size_um: float = 0.6, worn: bool = False, truncation_um: float = 0.0, hone_angle_deg: float = 50.0):
    rng = np.random.default_rng(seed)
    return draw_grooves(rng, SHAPE, pixel_size_um, 90.0, hone_angle_deg, np.full(SHAPE, worn), truncation_um)


def axis_deg(mask: np.ndarray) -> float:
    """Direction along which a mask changes least, 0–180°, by its structure tensor."""
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.5)
    gx, gy = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    return float(np.rad2deg(0.5 * np.arctan2(2 * (gx * gy).sum(), (gx**2 - gy**2).sum())) + 90) % 180


def test_a_valley_is_the_ground_half_a_micrometre_down_between_the_rims():
    """semwear.terms, code 1; a wall of slope s is 0.5 µm down at 0.5/tan(s) inside its rim (plane geometry)."""
    assert half_width_um(2.0, 0.0, 45.0) - half_width_um(2.0, 0.0, 45.0, 0.5) == pytest.approx(0.5)
    for groove in grooves_of(3):
        assert (groove.valley.half <= groove.rims.half).all()
        assert (groove.valley.half[groove.depth_um <= 0.5] == 0).all()
        assert (groove.valley.half[groove.depth_um > 0.51] > 0).all()


def test_a_painted_valley_has_the_area_of_its_outline_and_none_where_it_has_no_width():
    """Area of a rectangle, length × width (plane geometry)."""
    layer = np.zeros((100, 200), np.uint8)
    half = np.r_[np.full(20, 6.0), np.zeros(20)]
    line = np.column_stack([np.linspace(10, 190, 40), np.full(40, 50.0)])
    fill_between(layer, ribbon(line, half), -1, 1, 255)
    length = line[19, 0] - line[0, 0]
    assert (layer > 127).sum() == pytest.approx(length * 12, rel=0.15)
    assert not layer[:, int(line[21, 0]) :].any()


def test_wear_that_only_truncates_leaves_plateau_and_no_smear():
    """semwear.terms, codes 0 and 2: smear is where moved metal closed the groove; what wear made shallow is plateau."""
    fresh, gone = grooves_of(1), grooves_of(1, worn=True, truncation_um=20.0)
    assert max(groove.valley.half.max() for groove in fresh) > 1
    assert not gone
    shallow = [groove for seed in range(12) for groove in grooves_of(seed, worn=True, truncation_um=1.0)]
    for groove in shallow:
        if groove.depth_um.max() <= 0.5:
            layers = {name: np.zeros(SHAPE, np.uint8) for name in ("tone", "rough", "closed")}
            habits = {"share": 1.0, "level": 0.0, "lip": 20.0, "shapes": np.full(5, 0.2), "grooves": 1.0}
            close_groove(np.random.default_rng(1), layers, groove, habits, 90.0, np.ones(SHAPE, bool))
            assert not layers["closed"].any()
    assert any(groove.depth_um.max() <= 0.5 for groove in shallow)


@pytest.mark.parametrize("hone_angle_deg", [30, 60, 140])
def test_the_circumference_halves_the_hone_angle(hone_angle_deg):
    """semwear.terms, hone angle; tan(angle/2) = axial over peripheral speed, the stroke being axial."""
    first, second = (np.deg2rad(lay - 90.0) for lay in lays(90.0, hone_angle_deg))
    for lay in (first, second):
        across, along = abs(np.sin(lay)), abs(np.cos(lay))
        # The stroke lies at 90°, so it is a lay's component across the shifted axis.
        assert along / across == pytest.approx(np.tan(np.deg2rad(hone_angle_deg / 2)))
    drawn = np.array([groove.lay_deg for seed in range(4) for groove in grooves_of(seed, hone_angle_deg=hone_angle_deg)])
    assert np.ptp(drawn) == pytest.approx(hone_angle_deg, abs=15)


def test_grooves_keep_to_the_depths_widths_and_slopes_of_honed_bores():
    """Depth up to 10 µm and width up to 50 or 60 µm (trade facts, from memory), slopes 6–27° (trade facts, a formula's input)."""
    drawn = [groove for seed in range(6) for groove in grooves_of(seed)]
    assert all(6 <= groove.slope_deg <= 27 for groove in drawn)
    assert np.mean([groove.depth_um.mean() <= 10 for groove in drawn]) == 1
    widths_um = np.array([2 * np.median(groove.rims.half) * 0.6 for groove in drawn])
    assert np.mean(widths_um < 60) > 0.9 and np.median(widths_um) > 2


def test_tilt_alone_gives_little_contrast_and_only_the_lit_bank_is_bright():
    """sec θ − 1 is 0.5 % at 6° and 12 % at 27° (trade facts, a formula); which bank is bright turns with the detector."""
    assert tilt_gain(6) == pytest.approx(0.0055, abs=2e-4) and tilt_gain(27) == pytest.approx(0.122, abs=2e-3)
    (groove, *_) = [groove for groove in grooves_of(2) if groove.depth_um.mean() > 1]
    looks = [Look("banks", groove.lay_deg - 90 + turn, 0.0, 120.0, 0.0, 0.0, 0.0) for turn in (0, 180, 90)]
    left, right = ([tone(look, groove, across, 2.0) for look in looks] for across in (-0.6, 0.6))
    assert left[0] > right[0] and left[1] < right[1] and left[2] == pytest.approx(right[2], abs=0.01)


def test_shot_noise_is_the_root_of_the_electrons_counted():
    """N = i·t/e: 100 pA for 10 µs is 6,242 electrons (trade facts, a formula); relative noise is 1/√N (Poisson)."""
    electrons = electrons_per_pixel(100e-12, 10e-6)
    assert electrons == pytest.approx(6242, abs=1)
    noisy = shot_noise(np.random.default_rng(0), np.full((300, 300), 128, np.float32), electrons)
    assert noisy.std() / 128 == pytest.approx(1 / np.sqrt(electrons), rel=0.03)


def test_torn_metal_lies_in_streaks_along_the_stroke():
    """semwear.terms, code 3."""
    for stroke_deg in (20, 90, 150):
        layers = {"torn": np.zeros((300, 300), np.uint8), "tone": np.full((300, 300), 128, np.uint8)}
        tear_streaks(np.random.default_rng(4), layers, 1.0, (300, 300), float(stroke_deg), True)
        assert abs((axis_deg(layers["torn"]) - stroke_deg + 90) % 180 - 90) < 12


def test_a_deep_groove_is_seen_in_every_style():
    """Starved escape from deep grooves, rims and rough floors show a groove (trade facts); how much is common practice, no source."""
    (groove, *_) = [groove for groove in grooves_of(2) if groove.depth_um.mean() > 2]
    for style in STYLES:
        tones, roughs = np.full(SHAPE, 128, np.uint8), np.zeros(SHAPE, np.uint8)
        paint(np.random.default_rng(0), tones, roughs, Look(style, 0.0, 40.0, 120.0, 40.0, -20.0, 150.0), groove)
        assert tones.std() > 1 and roughs.any()
