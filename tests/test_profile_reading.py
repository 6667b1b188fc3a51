"""Height maps are read with their units, or refused in one line that says what to do."""

import numpy as np
import pytest
import x3pio

from semwear.errors import ReadError, ScaleError
from semwear.profile.form import fill_missing, polynomial_form
from semwear.profile.height_map import read_height_map

GIVEN = {"pixel_size_um": 2.0, "height_unit": "um"}


@pytest.fixture
def grid():
    heights = np.random.default_rng(3).normal(0, 1, (40, 56))
    heights[5, 7] = np.nan
    return heights


def test_x3p_written_by_the_library_comes_back_in_micrometres_with_its_gap_and_both_steps(grid, tmp_path):
    # ISO 25178-72: lengths in metres; written by x3pio 2.0.
    path = tmp_path / "map.x3p"
    x3pio.write(path, grid * 1e-6, x_scale=1.5e-6, y_scale=2.5e-6)
    found = read_height_map(path)
    np.testing.assert_allclose(found.heights_um, grid, rtol=1e-12)
    assert (found.pixel_width_um, found.pixel_height_um) == (pytest.approx(1.5), pytest.approx(2.5))
    assert found.source == "file" and found.missing_fraction == pytest.approx(1 / grid.size)


def test_row_and_column_keep_their_order(tmp_path):
    heights = np.zeros((40, 50))
    heights[3, 20] = 5.0
    path = tmp_path / "map.x3p"
    x3pio.write(path, heights * 1e-6, x_scale=1e-6, y_scale=1e-6)
    assert read_height_map(path).heights_um[3, 20] == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("separator", "decimal", "end"), [(",", ".", ""), (";", ",", ""), ("\t", ".", ""), (" ", ".", ""), (";", ".", ";")]
)
def test_text_grids_are_read_whatever_the_separator(grid, tmp_path, separator, decimal, end):
    lines = [separator.join("NaN" if np.isnan(v) else f"{v:.6f}".replace(".", decimal) for v in row) + end for row in grid]
    path = tmp_path / "map.csv"
    path.write_text("# heights of a section\n" + "\n".join(lines), encoding="utf-8")
    np.testing.assert_allclose(read_height_map(path, **GIVEN).heights_um, grid, atol=1e-6)


@pytest.mark.parametrize(("unit", "factor"), [("nm", 1e-3), ("um", 1.0), ("mm", 1e3), ("m", 1e6)])
def test_the_unit_that_was_stated_is_used(grid, tmp_path, unit, factor):
    path = tmp_path / "map.npy"
    np.save(path, grid)
    found = read_height_map(path, pixel_size_um=2.0, height_unit=unit)
    np.testing.assert_allclose(found.heights_um, grid * factor)


def npy(array) -> bytes:
    import io

    stream = io.BytesIO()
    np.save(stream, array)
    return stream.getvalue()


def csv(array) -> bytes:
    return "\n".join(",".join(f"{value:g}" for value in row) for row in array).encode()


NOISE = np.random.default_rng(0).normal(size=(40, 40))
NEARLY_EMPTY = np.where(np.random.default_rng(1).random((40, 40)) < 0.7, np.nan, NOISE)


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("a.csv", b"", "the file is empty"),
        ("a.csv", b"\n\n", "holds no numbers"),
        ("a.csv", csv(NOISE)[:-60], "cut off"),
        ("a.csv", b"x;y\n" + csv(NOISE), "line 1 holds text"),
        ("a.csv", csv(NOISE).replace(b"\n", b"\nerror,", 1), "line 2 holds text"),
        ("a.csv", csv(NOISE[:8]), "needs 32 a side"),
        ("a.csv", csv(np.random.default_rng(0).normal(size=(200, 3))), "list of x, y and z"),
        ("a.csv", csv(np.vstack([np.arange(40) * 2.0, NOISE])), "first line counts in even steps"),
        ("a.csv", csv(np.column_stack([np.arange(40) * 2.0, NOISE])), "first column counts in even steps"),
        ("a.npy", b"no array", "no readable .npy"),
        ("a.npy", npy(NOISE)[:200], "no readable .npy"),
        ("a.npy", npy(np.zeros((3, 40, 40))), "3-dimensional"),
        ("a.npy", npy(np.array([["a"] * 40] * 40)), "of numbers"),
        ("a.npy", npy(NEARLY_EMPTY), "are missing"),
        ("a.npy", npy(np.full((40, 40), 2.0)), "all heights are the same"),
        ("a.x3p", b"PK\x03\x04 cut off", "no readable x3p"),
        ("a.tif", b"II*", "export it as one of these"),
    ],
)  # fmt: skip
def test_what_is_no_height_map_is_refused_in_one_line(tmp_path, name, content, says):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(ReadError, match=says) as found:
        read_height_map(tmp_path / name, **GIVEN)
    assert "\n" not in str(found.value) and name in str(found.value)


def test_a_damaged_x3p_is_refused(grid, tmp_path):
    path = tmp_path / "map.x3p"
    x3pio.write(path, grid * 1e-6, x_scale=1e-6, y_scale=1e-6)
    path.write_bytes(path.read_bytes()[:-300])
    with pytest.raises(ReadError, match="no readable x3p|damaged"):
        read_height_map(path)


def test_a_profile_in_x3p_is_no_surface(tmp_path):
    path = tmp_path / "line.x3p"
    x3pio.write(path, np.zeros(100), x_scale=1e-6)
    with pytest.raises(ReadError, match="holds a profile"):
        read_height_map(path)


def test_unknown_step_or_unit_is_refused_never_assumed(grid, tmp_path):
    np.save(tmp_path / "map.npy", grid)
    with pytest.raises(ScaleError, match="--pixel-size-um"):
        read_height_map(tmp_path / "map.npy", height_unit="um")
    with pytest.raises(ScaleError, match="--height-unit"):
        read_height_map(tmp_path / "map.npy", pixel_size_um=2.0)
    with pytest.raises(ScaleError, match="state one of"):
        read_height_map(tmp_path / "map.npy", pixel_size_um=2.0, height_unit="inch")


def test_a_given_step_that_contradicts_the_file_is_refused(grid, tmp_path):
    path = tmp_path / "map.x3p"
    x3pio.write(path, grid * 1e-6, x_scale=1e-6, y_scale=1e-6)
    with pytest.raises(ScaleError, match="states a step of 1 µm"):
        read_height_map(path, pixel_size_um=2.0)


def test_gaps_are_filled_from_around_and_known_heights_stay():
    # A plane: the filled heights lie on it but for the weights at one-sided gaps.
    rows, cols = np.mgrid[:60, :80]
    plane = 0.01 * rows + 0.02 * cols
    holed = plane.copy()
    holed[20:30, 30:42] = np.nan
    holed[np.random.default_rng(0).random(plane.shape) < 0.05] = np.nan
    filled = fill_missing(holed)
    known = np.isfinite(holed)
    assert np.array_equal(filled[known], holed[known]) and np.isfinite(filled).all()
    assert np.abs(filled - plane).max() < 0.1


def test_robust_form_follows_the_plateau_and_not_the_valleys():
    # Closed form: a bore of radius R has height s²/2R; a quarter of the map lies 3 µm deeper.
    rows, cols = np.mgrid[:100, :140]
    bore = np.square((cols - 70) * 4.0) / (2 * 45_000) + 0.003 * rows
    heights = bore - 3.0 * ((cols + 2 * rows) % 40 < 10) + np.random.default_rng(2).normal(0, 0.01, bore.shape)
    gap = polynomial_form(heights, 2) - bore
    assert np.ptp(gap) < 0.02
    plain = polynomial_form(heights, 2, robust=False)
    assert (heights - plain).mean() == pytest.approx(0, abs=1e-9)
