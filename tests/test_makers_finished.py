"""The truth of plateau-honed fields follows depth, not looks."""

import cv2
import numpy as np
import pytest
from makers.finished import make
from makers.finished_lays import cut_surface, draw_lays, draw_tracks
from makers.finished_picture import Surface, electron_signal, sky_share
from makers.finished_tools import base_hone, draw_tools, finishing_stone
from makers.finished_tracks import Cut, Track, plough
from makers.finished_wear import overlay, plateau_level

WALLS_DEG = (6.0, 27.0)  # groove walls slope only 6-27 degrees: tests/SOURCES.md, Secondary-electron picture [D]
LIMIT_UM = 0.5  # semwear.terms, Pixel states


@pytest.fixture(scope="module")
def fields():
    return [make(np.random.default_rng(seed), pixel_size_um=0.6, shape=(260, 300)) for seed in range(56)]


def straight(depth_um, direction_deg, slopes=(0.3, 0.3), floor_um=4.0):
    return Track(
        row_px=100.0, col_px=120.0, direction_deg=direction_deg, depth_um=depth_um, slopes=slopes, floor_um=floor_um,
        length_um=1e4, bow_um=0.0, depths=np.ones(2), rim_um=0.0, tone=0.0, lay=0,
    )  # fmt: skip


def test_track_edges_and_worn_fields_without_moved_metal_are_drawn(fields):
    assert any(0 < made.worn.mean() < 1 for made in fields)
    assert any(made.worn.any() and not np.isin(made.codes, (2, 3)).any() for made in fields)


def test_fields_of_scratches_alone_are_seen_and_hold_no_valley(fields):
    scratched = [made for made in fields if made.kind.startswith("finishing stone")]
    assert len(scratched) >= 3
    assert not any((made.codes == 1).any() or (made.codes == 2).any() for made in scratched)
    assert np.median([_directedness(made.image) for made in scratched]) > 1.6  # noise alone gives 1.0 to 1.3
    assert np.mean([(made.codes == 1).mean() > 0.02 for made in fields]) > 0.5


def test_noise_alone_shows_no_direction():
    assert _directedness(np.random.default_rng(0).normal(128, 20, (260, 300))) < 1.3


def test_scratches_are_plateau_even_where_they_cross_each_other():
    for seed in range(6):
        rng = np.random.default_rng(seed)
        lays, shares, stroke_deg = draw_lays(rng)
        tool = finishing_stone(rng, lays, shares, stroke_deg, 0.5)
        surface, again = (cut_surface(draw_tracks(rng, tool, (200, 240), 0.5), (200, 240), 0.5) for _ in range(2))
        overlay(surface, again, 1.0)
        assert 0.03 < surface.depth.max() < LIMIT_UM
        assert (surface.depth - plateau_level(surface.depth, 0.5)).max() < LIMIT_UM


def test_depth_populations_of_most_finishes_go_through_the_limit():
    shallow = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        lays, shares, stroke_deg = draw_lays(rng)
        finish, tools = draw_tools(rng, lays, shares, stroke_deg, 0.5)
        depths = np.array([track.depth_um for tool in tools for track in draw_tracks(rng, tool, (300, 300), 0.5)])
        if finish in ("both stones", "one stone"):
            shallow.append((depths < LIMIT_UM).mean())
    assert len(shallow) > 25 and np.mean((np.array(shallow) > 0.05) & (np.array(shallow) < 0.99)) > 0.8


def test_walls_of_drawn_grooves_slope_as_walls_of_hone_grooves_do():
    pixel_size_um, slopes_deg = 0.1, []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        tool = base_hone(rng, (0.0,), (1.0,), 0.5)
        track = max(draw_tracks(rng, tool, (200, 200), 0.5), key=lambda one: one.depth_um)
        alone = straight(track.depth_um, 0.0, track.slopes, track.floor_um)
        cut = Cut.none((int(1.6 * track.width_um / pixel_size_um) + 240, 60))
        plough(cut, Track(**{**vars(alone), "row_px": len(cut.depth) / 2, "col_px": 30.0}), 0, pixel_size_um)
        profile = cut.depth[:, 30].astype(float)
        assert profile.max() == pytest.approx(track.depth_um, rel=0.01)
        slope = np.degrees(np.arctan(np.abs(np.gradient(profile, pixel_size_um))))
        on_wall = (profile > 0.2 * track.depth_um) & (profile < 0.8 * track.depth_um)
        slopes_deg.append((slope[on_wall].min(), slope[on_wall].max()))
    assert min(low for low, _ in slopes_deg) > WALLS_DEG[0] - 0.1
    assert max(high for _, high in slopes_deg) < WALLS_DEG[1] + 0.1
    assert max(high for _, high in slopes_deg) - min(low for low, _ in slopes_deg) > 5


def test_no_track_is_narrower_than_its_walls_allow():
    for seed in range(12):
        rng = np.random.default_rng(seed)
        lays, shares, stroke_deg = draw_lays(rng)
        for tool in draw_tools(rng, lays, shares, stroke_deg, 0.3)[1]:
            for track in draw_tracks(rng, tool, (220, 220), 0.3):
                assert track.width_um >= 2 * track.depth_um / np.tan(np.radians(WALLS_DEG[1]))


@pytest.mark.parametrize("direction_deg", [0.0, 30.0, 90.0, 140.0])
def test_a_track_runs_in_its_direction_anticlockwise_from_the_rows(direction_deg):
    cut = Cut.none((201, 241))
    plough(cut, straight(2.0, direction_deg), 0, 0.5)
    rows, cols = np.nonzero(cut.depth > 1)
    along = np.linalg.eigh(np.cov(cols, -rows))[1][:, 1]
    found = np.degrees(np.arctan2(along[1], along[0]))
    assert abs((found - direction_deg + 90) % 180 - 90) < 3


def test_level_ground_sees_the_whole_sky_and_a_deep_floor_less():
    cut = Cut.none((201, 241))
    plough(cut, straight(5.0, 0.0, floor_um=2.0), 0, 0.5)
    share = sky_share(-cut.depth, 0.5)
    assert share[5, 120] == pytest.approx(1) and share[100, 120] < 0.97


def test_depth_shows_in_the_picture():
    deeper = []
    for seed in range(24):
        contrasts = []
        for depth_um in (0.3, 3.0):
            cut = Cut.none((201, 241))
            plough(cut, straight(depth_um, 20.0, floor_um=8.0), 0, 0.5)
            zeros = np.zeros_like(cut.depth)
            surface = Surface(
                heights=-cut.depth, depth=cut.depth, tone=zeros, moved_tone=zeros, smooth=zeros, lay=cut.lay
            )
            _, signal = electron_signal(np.random.default_rng(seed), surface, (20.0,), 0.5)
            inside = cut.depth > 0.2
            land = signal[cut.depth == 0]
            contrasts.append(np.sqrt(np.mean((signal[inside] - land.mean()) ** 2)) / land.std())
        deeper.append(contrasts[1] > 1.15 * contrasts[0])
    assert np.mean(deeper) > 0.85


def test_valley_floors_are_dark_in_some_fields_and_bright_in_others(fields):
    signs = [
        np.sign(made.image[made.codes == 1].mean() - made.image[made.codes == 0].mean())
        for made in fields
        if (made.codes == 1).sum() > 500
    ]
    assert 0.15 < np.mean(np.array(signs) > 0) < 0.85


def _directedness(image: np.ndarray) -> float:
    """Largest over mean of the gradients' energy by direction (1 for a picture without any)."""
    level = cv2.GaussianBlur(image.astype(np.float32), (0, 0), 1.2)
    down, right = np.gradient(level)
    direction = np.arctan2(down, right) % np.pi
    energy, _ = np.histogram(direction, bins=18, range=(0, np.pi), weights=down**2 + right**2)
    return float(energy.max() / energy.mean())
