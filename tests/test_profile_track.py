"""Wear tracks of known depth and volume are measured within their stated uncertainty, and located where they are."""

import numpy as np
import pytest

from semwear.profile.track import across_um, locate_band, measure_track, stated_band
from semwear.simulate.heights import heights_across_track

STEP = 3.0


def honed(shape=(200, 300), seed=0, depth=2.0) -> np.ndarray:
    """Return a plateau with straight grooves of two lays, drawn here and not by the simulator."""
    rng = np.random.default_rng(seed)
    rows, cols = np.mgrid[: shape[0], : shape[1]]
    heights = rng.normal(0, 0.05, shape)
    for slope in (0.4, -0.4):
        for start in rng.uniform(-150, shape[0] + 150, 24):
            heights -= depth * rng.uniform(0.3, 1) * (np.abs(rows - start - slope * cols) < rng.uniform(1, 3))
    return heights


def bore(shape, tilt=0.002) -> np.ndarray:
    rows, cols = np.mgrid[: shape[0], : shape[1]]
    return np.square((cols - shape[1] / 2) * STEP) / (2 * 50_000) + tilt * STEP * (rows + cols)


def test_step_height_and_volume_of_a_drawn_track_on_a_smooth_bore():
    # Closed form: a track 100 columns wide and 1.5 µm deep in a map of 200 rows, points 3 µm apart.
    heights = bore((200, 300))
    inside = stated_band(heights.shape, cols=(100, 199))
    heights = heights - 1.5 * inside
    found = measure_track(heights, inside, STEP, STEP, 90.0)
    assert found.depth_um == pytest.approx(1.5, abs=1e-6)
    assert found.volume_mm3 == pytest.approx(1.5 * (100 * STEP) * (200 * STEP) * 1e-9, rel=1e-6)
    assert found.width_um == pytest.approx(300) and found.length_um == pytest.approx(600)
    assert found.section_um2 == pytest.approx(450, rel=1e-6) and found.deepest_um == pytest.approx(1.5, abs=0.01)


def test_oblong_points_and_a_stroke_along_the_rows():
    heights = np.random.default_rng(1).normal(0, 0.01, (240, 160))
    inside = stated_band(heights.shape, rows=(80, 139))
    heights = heights - 0.8 * inside
    found = measure_track(heights, inside, 4.0, 2.0, 0.0)
    assert found.width_um == pytest.approx(60 * 2.0, rel=0.02) and found.length_um == pytest.approx(160 * 4.0, rel=0.02)
    assert found.volume_mm3 == pytest.approx(0.8 * 60 * 160 * 8.0 * 1e-9, rel=0.01)


def volume_error(heights) -> float:
    """Return the error of a drawn track's volume over its stated standard uncertainty."""
    inside = stated_band(heights.shape, cols=(90, 209))
    worn = np.broadcast_to(np.clip(1 - ((np.arange(300) - 149.5) / 60) ** 2, 0, None), heights.shape)
    found = measure_track(heights + bore(heights.shape) - worn, inside, STEP, STEP, 90.0)
    return (found.volume_mm3 - worn[inside].sum() * STEP**2 * 1e-9) / found.volume_u_mm3


def pitted(seed: int) -> np.ndarray:
    """Return a plateau with round pits at random places: strips of it are independent."""
    rng = np.random.default_rng(seed)
    rows, cols = np.mgrid[:200, :300]
    heights = rng.normal(0, 0.05, (200, 300))
    for row, col in rng.uniform(0, (200, 300), (120, 2)):
        heights -= 2.0 * (np.square(rows - row) + np.square(cols - col) < 16)
    return heights


def test_volume_errors_are_as_large_as_stated_where_strips_are_independent():
    # Mean of eight strips: errors over their standard uncertainty follow Student's t with 7 degrees of freedom, whose
    # standard deviation is √(7/5) = 1.18.
    errors = [volume_error(pitted(seed)) for seed in range(20)]
    assert 0.8 < np.sqrt(np.mean(np.square(errors))) < 1.6
    assert abs(np.mean(errors)) < 0.7


def test_volume_of_honed_maps_is_within_twice_its_uncertainty():
    assert max(abs(volume_error(honed(seed=seed))) for seed in range(12)) < 2


@pytest.mark.parametrize("stroke_deg", [90.0, 0.0, 60.0])
def test_a_track_is_located_along_the_stroke(stroke_deg):
    heights = honed((260, 260), seed=4) + bore((260, 260))
    across = across_um(heights.shape, STEP, STEP, stroke_deg)
    truth = np.abs(across - 30) < 120
    inside = locate_band(heights - 1.5 * truth, STEP, STEP, stroke_deg)
    assert inside is not None
    assert (inside & truth).sum() / (inside | truth).sum() > 0.85


def test_across_turns_anticlockwise_as_seen_on_the_screen():
    # Stroke at 45° runs from bottom left to top right, so that its other diagonal lies across.
    across = across_um((101, 101), 1.0, 1.0, 45.0)
    assert across[100, 0] == pytest.approx(across[0, 100], abs=1e-9)
    assert abs(across[0, 0] - across[100, 100]) == pytest.approx(100 * np.sqrt(2))


def test_no_track_is_seen_in_drawn_unworn_maps():
    found = [locate_band(honed(seed=seed) + bore((200, 300)), STEP, STEP, 90.0) for seed in range(20)]
    assert sum(each is not None for each in found) <= 1


def test_simulated_map_across_a_track_gives_back_its_volume():
    # Expected: the volume that the simulation took off. Waviness of the surface is in no strip's scatter, so that the
    # stated uncertainty holds most maps and not all of them.
    found, errors_u = [], []
    for seed in range(12):
        made = heights_across_track(seed, depth_um=2.0, shape=(200, 400))
        track = measure_track(made.heights_um, stated_band((200, 400), cols=(100, 299)), 2.5, 2.5, 90.0)
        found.append(track.volume_mm3 / made.worn_volume_mm3)
        errors_u.append((track.volume_mm3 - made.worn_volume_mm3) / track.volume_u_mm3)
    assert np.median(found) == pytest.approx(1, abs=0.08)
    assert np.max(np.abs(np.array(found) - 1)) < 0.35
    assert np.mean(np.abs(errors_u) < 2) >= 0.7


def test_a_simulated_track_is_found_along_the_stroke():
    for seed in (3, 8):
        made = heights_across_track(seed, depth_um=2.0, shape=(200, 400))
        track = measure_track(made.heights_um, locate_band(made.heights_um, 2.5, 2.5, 90.0), 2.5, 2.5, 90.0)
        assert track.volume_mm3 == pytest.approx(made.worn_volume_mm3, rel=0.35)


def test_islands_of_lost_points_hardly_change_the_volume():
    heights = honed(seed=2)
    inside = stated_band(heights.shape, cols=(100, 199))
    heights = heights - 1.0 * inside
    holed = heights.copy()
    for row, col in np.random.default_rng(3).integers(0, 180, (25, 2)):
        holed[row : row + 6, col : col + 6] = np.nan
    whole, part = (measure_track(each, inside, STEP, STEP, 90.0) for each in (heights, holed))
    assert np.isnan(holed).mean() > 0.01
    assert part.volume_mm3 == pytest.approx(whole.volume_mm3, rel=0.05)


def test_one_unworn_side_is_a_plane_and_says_so():
    heights = np.random.default_rng(0).normal(0, 0.02, (100, 200))
    inside = stated_band(heights.shape, cols=(0, 99))
    found = measure_track(heights - 0.5 * inside, inside, STEP, STEP, 90.0)
    assert found.one_side and found.depth_um == pytest.approx(0.5, abs=0.03)


def test_texture_of_the_track_is_measured_without_its_edges():
    heights = np.random.default_rng(0).normal(0, 0.02, (100, 200))
    inside = stated_band(heights.shape, cols=(60, 139))
    found = measure_track(heights, inside, STEP, STEP, 90.0)
    assert np.flatnonzero(found.core[0]).tolist() == list(range(64, 136))
    assert np.flatnonzero(~found.sides[0]).tolist() == list(range(57, 143))


def test_bands_that_leave_no_reference_are_refused():
    with pytest.raises(ValueError, match="rows run from 0 to 99"):
        stated_band((100, 100), rows=(20, 120))
    with pytest.raises(ValueError, match="less than a tenth"):
        stated_band((100, 100), cols=(2, 97))


@pytest.mark.parametrize(("steps", "stroke_deg"), [((1.0, 4.0), 0.0), ((4.0, 1.0), 90.0), ((4.0, 1.0), 0.0)])
def test_width_and_length_of_a_narrow_track_in_oblong_points(steps, stroke_deg):
    along_rows = stroke_deg == 0.0
    heights = np.random.default_rng(2).normal(0, 0.01, (120, 120))
    inside = stated_band(heights.shape, **{"rows" if along_rows else "cols": (50, 64)})
    found = measure_track(heights - inside, inside, *steps, stroke_deg)
    across, along = (steps[1], steps[0]) if along_rows else steps
    assert found.width_um == pytest.approx(15 * across, rel=0.001) and found.length_um == pytest.approx(120 * along, rel=0.001)
    assert found.section_um2 == pytest.approx(15 * across, rel=0.01)


def test_a_single_row_beside_the_track_is_no_second_side():
    heights = np.random.default_rng(3).normal(0, 0.05, (200, 100))
    assert measure_track(heights, stated_band(heights.shape, rows=(150, 198)), 2.0, 2.0, 0.0).one_side
