"""Claims about the maker "diffused": its grooves, its mask codes and its electrons against definitions, handbooks and formulas."""

import numpy as np
import pytest
from makers.diffused import make
from makers.diffused.band import Band, draw_band
from makers.diffused.emission import towards
from makers.diffused.frame import Frame
from makers.diffused.instrument import counted, electrons
from makers.diffused.moved import codes_of, truncate_and_close
from makers.diffused.section import DEPTH_UM, draw_section
from makers.diffused.transport import IRON, backscattered, diffuse, escape, horizon, range_um, secant, slopes


def ramp(slope_deg: float, pixel_um: float = 0.5) -> np.ndarray:
    """A plane that rises to the right."""
    x = np.arange(60, dtype=np.float32) * pixel_um
    return np.tile(x * np.float32(np.tan(np.radians(slope_deg))), (60, 1))


def simple_band(depth: float, cover: float) -> Band:
    maps = {name: np.zeros((3, 5), np.float32) for name in ("depth_um", "rim_um", "cover", "scratch_um")}
    maps["depth_um"][:, 1:4] = depth
    maps["cover"][1] = cover
    return Band(**maps)


def ground_of(depth: float, cover: float, truncated: float):
    flat = np.ones((3, 5), np.float32)
    return truncate_and_close([simple_band(depth, cover)], flat * truncated, flat * 0.2, flat > 0)


def test_range_in_iron_is_kanaya_and_okayamas():
    """Kanaya and Okayama, J. Phys. D 5 (1972) 43: 0.16, 0.50, 0.99 and 1.60 µm at 5, 10, 15 and 20 kV."""
    got = [range_um(energy, **IRON) for energy in (5, 10, 15, 20)]
    assert got == pytest.approx([0.16, 0.50, 0.99, 1.60], abs=0.006)


def test_backscatter_of_iron_and_carbon_is_reuters():
    """Reuter 1972 (from memory): 0.28 for iron, about 0.06 for carbon."""
    assert backscattered(26) == pytest.approx(0.28, abs=0.005)
    assert backscattered(6) == pytest.approx(0.06, abs=0.01)


@pytest.mark.parametrize(("slope_deg", "gain"), [(6, 0.0055), (27, 0.122)])
def test_tilt_alone_brightens_groove_walls_by_half_a_percent_to_twelve(slope_deg, gain):
    """sec θ − 1 at 6° and 27°, the usual slopes of groove walls (tests/SOURCES.md)."""
    middle = secant(slopes(ramp(slope_deg), 0.5), 1.0)[20:40, 20:40]
    assert middle == pytest.approx(1 + gain, abs=0.001)


def test_a_step_shades_its_height_over_the_detectors_tangent():
    """Geometry: a step of height h hides the detector, tan(elevation) = t, up to h / t from its foot; the far side is not shaded.
    A wall seen by no more than half the sky lets cos² of its horizon out (Lambert's law)."""
    height = np.zeros((40, 200), np.float32)
    height[:, 100:] = 4.0
    rise = horizon(height, 0.5, 0.0, list(range(1, 60)))
    shaded = rise[20] > 0.4
    assert shaded.sum() * 0.5 == pytest.approx(4.0 / 0.4, abs=1.0)
    assert not shaded[100:].any() and shaded[99]
    assert not horizon(height, 0.5, 180.0, list(range(1, 60)))[20, :100].any()
    flat, foot = escape(height, 0.5, 20)[20, [20, 98]]
    assert flat == pytest.approx(1.0) and foot < 0.8
    assert towards(slopes(ramp(20), 0.5), 180.0)[30, 30] == pytest.approx(np.sin(np.radians(20)), abs=1e-3)


def test_diffusion_keeps_the_number_of_electrons_and_spreads_them_as_far_as_told():
    """Conservation; the second moment of a point is the spread squared (definition of the standard deviation)."""
    point = np.zeros((81, 81), np.float32)
    point[40, 40] = 1
    out = diffuse(point, 2.0, 0.5)
    assert out.sum() == pytest.approx(1, abs=1e-4)
    offset = (np.arange(81) - 40) * 0.5
    assert np.sqrt((out.sum(0) * offset**2).sum()) == pytest.approx(2.0, rel=0.03)


def test_noise_is_that_of_counting_electrons():
    """100 pA for 10 µs brings i·t/e = 6242 electrons; Poisson's variance is the mean."""
    assert electrons(100, 10) == pytest.approx(6242, abs=1)
    noisy = counted(np.random.default_rng(3), np.full((300, 300), 0.5, np.float32), 400)
    assert noisy.var() == pytest.approx(0.5 / 400, rel=0.03)


def test_codes_keep_the_half_micrometre_limit_and_truncation_is_no_smear():
    """semwear.terms: open from 0.5 µm below the local plateau; smeared where moved metal closed such a groove."""
    none = np.zeros((3, 5), bool)
    assert codes_of(ground_of(2.0, 1.0, 0.0), none, none).tolist() == [
        [0, 1, 1, 1, 0],
        [0, 2, 2, 2, 0],
        [0, 1, 1, 1, 0],
    ]
    assert not codes_of(ground_of(2.0, 1.0, 1.6), none, none).any()
    assert not codes_of(ground_of(0.49, 1.0, 0.0), none, none).any()
    assert (codes_of(ground_of(0.51, 0.0, 0.0), none, none)[:, 1:4] == 1).all()
    assert (codes_of(ground_of(5.0, 0.5, 0.0), none, none)[:, 1:4] == 1).all(), "half closed and still deep is open"


def test_walls_slope_6_to_27_degrees_and_depth_hangs_loosely_on_width():
    """Wall slopes 6–27° (common practice, no source); depth 0.2–10 µm. A correlation of logarithms well below 1 is 'loose'."""
    rng = np.random.default_rng(5)
    sections = [
        draw_section(rng, float(w), f)
        for w, f in zip(rng.uniform(5, 30, 400), rng.choice(["v", "trapezoid", "u"], 400), strict=True)
    ]
    assert all(5.9 <= slope <= 27.1 for section in sections for slope in section.slopes_deg)
    depths, widths = (np.array([getattr(section, name) for section in sections]) for name in ("depth_um", "width_um"))
    assert DEPTH_UM[0] <= depths.min() and depths.max() <= DEPTH_UM[1]
    assert 0.3 < np.corrcoef(np.log(depths), np.log(widths))[0, 1] < 0.85
    for section in sections[:20]:
        place = np.linspace(-0.6, 0.6, 1201)
        depth = section.depth(place)
        assert depth.max() == pytest.approx(section.depth_um, rel=0.02) and not depth[np.abs(place) > 0.501].any()


@pytest.mark.parametrize("lay", [25.0, 110.0])
def test_grooves_run_along_their_lay(lay):
    """Direction by the structure tensor (Bigün and Granlund 1987, from memory), degrees clockwise from the rows' direction."""
    frame = Frame(angle_deg=lay, shape=(260, 300), pixel_um=0.6)
    band = draw_band(np.random.default_rng(8), frame, coverage=0.6, width_um=10, scale=1, closing=None)
    x, y = slopes(band.depth_um, 0.6)
    across = 0.5 * np.degrees(np.arctan2(2 * (x * y).sum(), (x * x - y * y).sum()))
    assert (across + 90 - lay + 90) % 180 - 90 == pytest.approx(0, abs=4)


def test_two_fields_in_five_are_unworn_and_unworn_ones_hold_no_moved_metal():
    """semwear.terms: smear and scuffing belong to the track; 40 % unworn is this maker's own choice (3 standard errors)."""
    fields = [make(np.random.default_rng(seed), pixel_size_um=0.9, shape=(200, 200)) for seed in range(120)]
    unworn = [not field.worn.any() for field in fields]
    assert np.mean(unworn) == pytest.approx(0.4, abs=3 * np.sqrt(0.24 / 120))
    assert not any(np.isin(field.codes, (2, 3)).any() for field, bare in zip(fields, unworn, strict=True) if bare)
