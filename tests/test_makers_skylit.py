"""The skylit maker's geometry and physics against definitions, formulas and the facts of the trade."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from makers.skylit import scene as scenes
from makers.skylit.closing import draw_closures
from makers.skylit.cutting import Maps, cut_family
from makers.skylit.grid import grid_of
from makers.skylit.hone import FINISHES, LIMIT_UM, Groove, draw_grooves
from makers.skylit.picture import recorded, render
from makers.skylit.scratches import finishing, stroke_scratches
from makers.skylit.scuffing import scuff_streaks
from makers.skylit.sky import shut_sky, side_light

from semwear.terms import VALLEY_DEPTH_UM

cv2.setNumThreads(1)


def cut(seed: int, *, lay_deg: float, closing: float, stroke: float = 0.0) -> Maps:
    """One lay of grooves on a smooth ground of 300 x 300 pixels of 0.6 µm."""
    grid = grid_of(0.6, (300, 300), stroke)
    names = "before", "after", "metal", "fold", "rough", "streak", "pinholes"
    maps = Maps(**{name: np.zeros(grid.shape, np.float32) for name in names})
    cut_family(np.random.default_rng(seed), grid, np.deg2rad(lay_deg), FINISHES["plateau coarse"], 0.2, closing, maps)
    return maps


def test_a_pixel_is_valley_smeared_or_plateau_by_half_a_micrometre_below_the_plateau():
    """Code 1 from 0.5 µm down; 2 where metal has closed what was that deep; 3 scuffed; 255 debris (semwear.terms)."""
    assert LIMIT_UM == VALLEY_DEPTH_UM
    scene = scenes.build(np.random.default_rng(0), 0.6, (1, 6))
    floors = np.array([[-0.49, -0.51, -0.3, 0.1, -2, -2]]), np.array([[-0.49, -0.51, -0.45, -0.8, -2, -2]])
    torn, debris = np.array([[0, 0, 0, 0, 1, 0]]), np.array([[0, 0, 0, 0, 0, 1]])
    scene = replace(scene, floor=floors[0], floor_before=floors[1], scuffed=torn, debris=debris)
    assert scenes.truth(scene)[0].tolist() == [0, 1, 0, 2, 3, 255]


def test_the_limit_lies_where_the_profile_says_and_grooves_are_those_of_the_trade():
    """Round: depth·(1 − r²) = 0.5. V: depth·(1.06 − r) = 0.5 away from its blunt bottom. Walls of up to 27° on the mean, depth
    up to 10 µm, width from 5 µm (tests/SOURCES.md; widths and depths from memory there)."""
    for depth in (0.8, 2.0, 5.0):
        shape = {form: Groove(centre=0, width=20, depth=depth, form=form) for form in ("round", "v")}
        assert shape["round"].limit == pytest.approx(np.sqrt(1 - 0.5 / depth), abs=0.006)
        assert shape["v"].limit == pytest.approx(min(1.06 - 0.5 / depth, 1), abs=0.01)
    assert Groove(centre=0, width=20, depth=0.4, form="flat").limit == 0
    for seed in range(12):
        grid = grid_of(0.8, (400, 400), 0.0)
        finish = list(FINISHES.values())[seed % 3]
        grooves = draw_grooves(np.random.default_rng(seed), grid, finish, 0.2)
        assert all(np.degrees(np.arctan(2 * one.depth / one.width)) <= 27 for one in grooves)
        assert min(one.width for one in grooves) >= 5 and max(one.depth for one in grooves) <= 10
        share = sum(one.width for one in grooves) / (2 * grid.reach)
        assert finish.share[0] / 2 <= share <= finish.share[1] / 2 * 1.15 + 60 / (2 * grid.reach)


def test_the_lays_lie_either_side_of_the_line_across_the_stroke_and_grooves_run_along_them(monkeypatch):
    """The hone angle is bisected by the circumference (semwear.terms). Each lay's own error is 1° (this maker's own figure); three
    standard errors of the mean are allowed."""
    lays = []
    monkeypatch.setattr(scenes, "cut_family", lambda *given: lays.append(np.degrees(given[2])))
    for seed in range(60):
        scenes.build(np.random.default_rng(seed), 1.0, (40, 40))
    pairs = np.reshape(lays, (60, 2))
    assert (pairs[:, 0] > 0).all() and (pairs[:, 1] < 0).all()
    assert abs(pairs.mean()) < 3 * 1.0 / np.sqrt(120)
    for lay_deg, stroke in ((30.0, 0.0), (-20.0, 0.15)):
        valley = (cut(3, lay_deg=lay_deg, closing=0.0, stroke=stroke).after <= -LIMIT_UM).astype(np.float32)
        gy, gx = np.gradient(cv2.GaussianBlur(valley, (0, 0), 3))
        normal = np.degrees(0.5 * np.arctan2(2 * (gx * gy).sum(), (gx**2 - gy**2).sum()))
        # the stroke leans from the columns' axis towards the rows': the line across it turns the other way
        expected = lay_deg - np.degrees(stroke) + 90
        assert abs((normal - expected + 90) % 180 - 90) < 2


def test_moved_metal_closes_its_share_of_a_groove_and_hardly_rises_above_the_plateau():
    """Smeared is closed to within 0.5 µm of the plateau (semwear.terms); share of length as asked (ratio of sums)."""
    groove, grid = Groove(centre=0, width=20, depth=3, form="round"), grid_of(0.4, (2000, 2000), 0.0)
    spans = [draw_closures(np.random.default_rng(seed), grid, groove, 0.4, 1.0) for seed in range(40)]
    closed = np.mean([stop - start for some in spans for start, stop, _ in some])
    left = np.mean([after[0] - before[1] for some in spans for before, after in zip(some, some[1:], strict=False)])
    assert closed / (closed + left) == pytest.approx(0.4, abs=0.04)
    shares = []
    for closing in (0.0, 0.2, 0.6):
        maps = [cut(seed, lay_deg=30.0, closing=closing) for seed in range(5)]
        assert max(one.after.max() for one in maps) <= LIMIT_UM
        was = sum((one.before <= -LIMIT_UM).sum() for one in maps)
        shares.append(sum(((one.before <= -LIMIT_UM) & (one.after > -LIMIT_UM)).sum() for one in maps) / was)
    assert shares[0] == 0 and 0.05 < shares[1] < 0.3 < shares[2] < 0.7


def test_the_sky_is_shut_in_a_groove_as_its_walls_say():
    """At the bottom of an endless V of wall slope m the horizon towards φ rises by m·|cos φ|; on a flat it is open
    (solid geometry: the mean of the sine of that elevation over φ). Directions are looked up at whole pixels and the highest
    counts, which overstates by some 10 %."""
    phi = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    x = np.abs(np.arange(201) - 100).astype(np.float32)[None, :] * np.ones((201, 1), np.float32)
    for slope, pixel in ((0.2, 0.5), (0.45, 1.0)):
        rise = slope * np.abs(np.cos(phi))
        shut = shut_sky(slope * pixel * x, pixel, 14.0)
        assert 0.98 < shut[100, 100] / (rise / np.sqrt(1 + rise**2)).mean() < 1.15
        assert shut[100, 100] > shut[100, 140]  # a point of the wall sees one wall only
    assert not shut_sky(np.full((60, 60), 3, np.float32), 0.5, 14.0).any()


def test_a_slope_that_faces_the_detector_is_brighter_and_one_behind_a_wall_lies_in_shadow():
    """Contrast comes from the detector's side too (tests/SOURCES.md); light runs straight."""
    x = np.arange(200, dtype=np.float32)[None, :] * np.ones((200, 1), np.float32)
    facing, away = (side_light(side * 0.1 * x, 0.5, 0.0)[0][100, 100] for side in (-1, 1))
    assert facing == pytest.approx(np.tanh(2.5 * 0.2), rel=1e-3) and away == pytest.approx(-facing)
    wall = np.where(x > 100, 5, 0).astype(np.float32)
    shadow = side_light(wall, 0.5, 0.0)[1]
    assert shadow[100, 90] > 0.9 and shadow[100, 150] == 0 and side_light(wall, 0.5, np.pi)[1][100, 60] == 0


def test_graphite_is_dark_and_noise_grows_as_the_root_of_the_grey():
    """Carbon scatters 0.06 back where iron scatters 0.28 (tests/SOURCES.md); variance of a count is proportional to it."""
    for seed in range(5):
        scene = scenes.build(np.random.default_rng(seed), 0.6, (120, 120))
        flake = np.zeros((120, 120), np.float32)
        flake[40:80, 40:80] = 1
        bare, carbon = (
            render(np.random.default_rng(seed), replace(scene, graphite=there)).astype(float) for there in (0 * flake, flake)
        )
        assert (carbon - bare)[flake > 0].mean() < -30
        assert (carbon == bare)[flake == 0].all()
        grey = np.full((300, 300), 80, np.float32)
        grey[:, 150:] = 160
        image = recorded(np.random.default_rng(seed), grey).astype(float)
        variance = [np.diff(half, axis=0).var() for half in (image[:, :145], image[:, 155:])]
        assert variance[1] / variance[0] == pytest.approx(2, rel=0.12)


def test_scuffing_runs_along_the_stroke_and_scratches_belong_to_the_plateau():
    """Streaks along the stroke; finishing marks within 0.5 µm of the plateau (semwear.terms)."""
    for seed, stroke in enumerate((0.0, 0.1, -0.15, 0.0)):
        rng, grid = np.random.default_rng(seed), grid_of(0.6, (400, 400), stroke)
        torn = scuff_streaks(rng, grid, 0.12)
        assert torn.mean() == pytest.approx(0.12, abs=0.05)
        gy, gx = np.gradient(cv2.GaussianBlur(torn, (0, 0), 4))
        crosswise, lengthwise = np.cos(stroke) * gx - np.sin(stroke) * gy, np.sin(stroke) * gx + np.cos(stroke) * gy
        assert (crosswise**2).sum() > 4 * (lengthwise**2).sum()
        lays = [np.deg2rad(25), -np.deg2rad(25)]
        for heights in (finishing(rng, grid, lays, 0.2), stroke_scratches(rng, grid, 4)):
            assert -LIMIT_UM < heights.min() < -0.05 and heights.max() <= 0
