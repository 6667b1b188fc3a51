"""One row of figures against drawn masks and grooves whose answers are counted by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from semwear.measure import FieldStates, empty_row, measure_field
from semwear.terms import FIELD_COLUMNS


def drawn_states(codes, *, directions=(30.0, 150.0), grooves=(), **further):
    """States with the given codes; grooves are (lay index, open µm, smeared µm, width µm)."""
    table = np.array(grooves, dtype=float).reshape(-1, 4)
    return FieldStates(
        codes=codes,
        lays=SimpleNamespace(directions_deg=directions, hone_angle_deg=60.0, stroke_deg=90.0),
        grooves=SimpleNamespace(
            lay_index=table[:, 0].astype(int),
            open_length_um=table[:, 1],
            smeared_length_um=table[:, 2],
            width_um=table[:, 3],
        ),
        **further,
    )


def row_of(states, *, picture=None, pixel_size_um=0.5, **further):
    return measure_field(
        file="a.tif",
        sha256="0",
        states=states,
        pixel_size_um=pixel_size_um,
        pixel_size_u_um=0.002,
        pixel_size_source="given",
        picture=np.ones(states.codes.shape, bool) if picture is None else picture,
        **further,
    )


@pytest.fixture
def codes():
    """20 × 50 pixels: 5 rows of data bar, 15 × 50 of picture with 100 valley, 50 smeared, 25 scuffed, 75 not assessed."""
    codes = np.zeros((20, 50), np.uint8)
    codes[15:] = 255
    codes[0, :] = codes[1, :] = 1
    codes[2, :] = 2
    codes[3, :25] = 3
    codes[4, :] = codes[3, 25:] = 255
    return codes


def picture_of(codes):
    picture = np.ones(codes.shape, bool)
    picture[15:] = False
    return picture


def test_fractions_are_shares_of_the_assessed_area_and_add_up_to_one(codes):
    row = row_of(drawn_states(codes), picture=picture_of(codes))
    assessed = 15 * 50 - 75
    assert row["valley_fraction"] == pytest.approx(100 / assessed)
    assert row["smeared_fraction"] == pytest.approx(50 / assessed)
    assert row["scuffed_fraction"] == pytest.approx(25 / assessed)
    parts = ("valley", "smeared", "scuffed", "plateau")
    assert sum(row[f"{part}_fraction"] for part in parts) == pytest.approx(1, abs=1e-12)


def test_not_assessed_is_a_share_of_the_micrograph_without_its_data_bar(codes):
    assert row_of(drawn_states(codes), picture=picture_of(codes))["not_assessed_fraction"] == pytest.approx(75 / 750)


def test_extent_is_that_of_the_picture_without_its_data_bar(codes):
    row = row_of(drawn_states(codes), picture=picture_of(codes), pixel_size_um=0.5)
    assert (row["field_width_um"], row["field_height_um"]) == (25.0, 7.5)


def test_upright_extent_uses_the_height_of_pixels_that_are_not_square(codes):
    row = row_of(drawn_states(codes), picture=picture_of(codes), pixel_size_um=0.5, pixel_height_um=0.6)
    assert (row["field_width_um"], row["field_height_um"]) == (25.0, pytest.approx(9.0))


def test_groove_figures_follow_their_definitions():
    # Lay 0: 100 open + 20 smeared; lay 1: 300 open + 0 smeared; widths 4 and 8 are open, 20 is nowhere open.
    states = drawn_states(
        np.zeros((100, 200), np.uint8),
        grooves=[(0, 100, 10, 4), (1, 200, 0, 8), (1, 100, 0, 8), (0, 0, 10, 20), (1, 0, 0, 20)],
    )
    row = row_of(states, pixel_size_um=2.0)
    assert (row["lay_1_deg"], row["lay_2_deg"]) == (150.0, 30.0)  # lay 1 has more groove length
    assert row["groove_balance"] == pytest.approx(120 / 300)
    assert row["groove_width_um"] == 8.0
    assert row["groove_continuity"] == pytest.approx(400 / 420)
    assert row["groove_length_density_per_mm"] == pytest.approx(0.400 / (0.200 * 0.400))  # mm over mm²
    assert row["flags"] == ""


def test_one_lay_has_no_angle_and_no_balance_and_few_grooves_are_flagged():
    row = row_of(drawn_states(np.zeros((9, 9), np.uint8), directions=(30.0,), grooves=[(0, 10, 0, 4)]))
    assert row["lay_1_deg"] == 30.0
    assert np.isnan([row["hone_angle_deg"], row["lay_2_deg"], row["groove_balance"]]).all()
    assert row["flags"] == "one lay only;too few grooves"


def test_balance_is_nought_where_two_lays_were_found_and_one_has_no_groove():
    """Expected: by the definition, length of the weaker lay over the stronger, 0 over 50 µm; unknown as long as both have none."""
    states = drawn_states(np.zeros((9, 9), np.uint8), grooves=[(1, 10, 0, 4)] * 5)
    assert row_of(states)["groove_balance"] == 0 and row_of(states)["lay_1_deg"] == 150.0
    assert np.isnan(row_of(drawn_states(np.zeros((9, 9), np.uint8), grooves=[]))["groove_balance"])


def test_no_lay_leaves_lay_columns_empty_with_a_flag():
    row = row_of(drawn_states(np.zeros((9, 9), np.uint8), directions=()))
    empty = ("hone_angle_deg", "lay_1_deg", "lay_2_deg", "groove_balance", "groove_width_um", "groove_continuity")
    assert np.isnan([row[name] for name in empty]).all()
    assert row["flags"] == "no lay found"


def test_intervals_stay_between_nothing_and_everything(codes):
    row = row_of(drawn_states(codes, margins=((0.05, 0.03), (0.2, 0.01), (float("nan"), float("nan")))), picture=picture_of(codes))
    assert row["valley_fraction_low"] == pytest.approx(100 / 675 - 0.05)
    assert row["valley_fraction_high"] == pytest.approx(100 / 675 + 0.03)
    assert row["smeared_fraction_low"] == 0.0
    assert np.isnan(row["scuffed_fraction_high"])


def test_worn_columns_come_from_regions_and_are_withheld_with_the_intervals_from_fields_unlike_the_training():
    regions = tuple({"worn_probability": value} for value in (0.2, 0.5, 0.8))
    codes = np.zeros((9, 9), np.uint8)
    row = row_of(drawn_states(codes, regions=regions))
    assert row["worn_score"] == pytest.approx(0.5) and row["worn_fraction"] == pytest.approx(2 / 3)
    unlike = drawn_states(codes, regions=regions, flags=("unlike the training fields",), distance=1.7, margins=((0.1, 0.1),) * 3)
    withheld = row_of(unlike)
    assert np.isnan([withheld["worn_score"], withheld["worn_fraction"]]).all()
    assert np.isnan([withheld[f"{state}_fraction_{end}"] for state in ("valley", "smeared") for end in ("low", "high")]).all()
    assert withheld["training_distance"] == 1.7


def test_scuffed_area_is_flagged(codes):
    assert "scuffing" in row_of(drawn_states(codes), picture=picture_of(codes))["flags"].split(";")


def test_nothing_assessed_is_refused_with_a_sentence():
    row = row_of(drawn_states(np.full((9, 9), 255, np.uint8)))
    assert row["status"] == "refused" and "no part of the picture can be assessed" in row["reason"]
    assert np.isnan(row["valley_fraction"])


def test_nothing_assessed_for_want_of_a_lay_says_so_and_keeps_the_scale():
    row = row_of(drawn_states(np.full((9, 9), 255, np.uint8), directions=(), flags=("no lay found",)))
    assert row["status"] == "refused" and "no hone lay was found" in row["reason"]
    assert row["flags"] == "no lay found" and row["pixel_size_um"] == 0.5 and np.isnan(row["plateau_fraction"])


def test_every_row_has_every_column_and_no_other(codes):
    names = {column.name for column in FIELD_COLUMNS}
    assert set(row_of(drawn_states(codes))) == names == set(empty_row("a.tif"))
    with pytest.raises(KeyError, match="colour"):
        empty_row("a.tif", colour="blue")
