"""Simulated height maps show the surfaces that they are made of."""

import math

import numpy as np
import pytest

from semwear.profile.height_map import read_height_map
from semwear.profile.height_table import HeightSettings, measure_height_file
from semwear.simulate import simulate_field
from semwear.simulate.heights import (
    BORE_RADIUS_MM,
    heights_across_track,
    measured_heights,
    write_height_pair,
    write_heights,
)


def field(seed, *, worn):
    return simulate_field(
        seed, family="plateaued", renderer="slope", pixel_size_um=1.0, shape=(240, 320), worn=worn, severity=0.7, scuffed=False,
        stroke_deg=90.0, tilt_deg=0.0,
    )  # fmt: skip


def test_a_pair_is_written_read_and_measured_close_to_its_truth(tmp_path):
    made = write_height_pair(tmp_path, "X1", field(3, worn=True), field(3, worn=False), 5, coarser=2)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(made) == ["X1_in-track.x3p", "X1_out-of-track.x3p"]
    for name, truth in made.items():
        found = read_height_map(tmp_path / name)
        assert found.pixel_width_um == pytest.approx(2.0) and found.heights_um.shape == (120, 160)
        np.testing.assert_allclose(found.heights_um, truth.heights_um, atol=0.0006)  # whole nanometres
        row = measure_height_file(tmp_path / name, HeightSettings(stroke_deg=90.0), words={"zone": "in-track"}).rows[0]
        assert row["below_plateau_fraction"] == pytest.approx(truth.valley_fraction, abs=0.04)


def test_same_seed_same_map_and_the_bore_curves_across_the_stroke():
    own = field(4, worn=False)
    one, two = measured_heights(own, 1, tilt_um_per_mm=0.0), measured_heights(own, 1, tilt_um_per_mm=0.0)
    np.testing.assert_array_equal(one.heights_um, two.heights_um)
    form = one.heights_um - own.height_um
    # Closed form: s²/2R at the edge, 160 µm from the middle.
    edge, middle = np.nanmean(form[:, :4]), np.nanmean(form[:, 158:162])
    assert edge - middle == pytest.approx(158**2 / (2000 * BORE_RADIUS_MM), abs=0.02)


def test_worn_volume_across_a_track_is_that_of_a_parabola(tmp_path):
    # Closed form: 2/3 · depth · width · length, with half the map's width as the track's.
    made = heights_across_track(1, depth_um=1.2, shape=(80, 400), pixel_size_um=2.0)
    assert made.worn_volume_mm3 == pytest.approx(2 / 3 * 1.2 * 400 * 160 * 1e-9, rel=1e-3)
    write_heights(tmp_path / "t.x3p", made)
    assert math.isfinite(read_height_map(tmp_path / "t.x3p").missing_fraction)
