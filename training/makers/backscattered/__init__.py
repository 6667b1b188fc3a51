"""Fields as backscattered electrons show them: composition first, relief second, moved metal by its grain and its dark seam."""

import cv2
import numpy as np

from makers.backscattered.beam import CARBON, escape_blur, halves
from makers.backscattered.camera import exposed
from makers.backscattered.closure import LIMIT_UM, close
from makers.backscattered.hone import draw_finish, ground, hone, lays
from makers.backscattered.matter import STATES, moved, plain, pressed_in, torn
from makers.backscattered.scuff import torn_relief, torn_streaks
from makers.backscattered.texture import Grid, larger, wander
from makers.backscattered.traps import fine_marks, graphite, scratches, specks
from makers.made import Made


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field; four in ten unworn, most strokes near the vertical of the picture (the project's own mix)."""
    grid = Grid(shape, float(pixel_size_um))
    stroke = 90 + rng.normal(0, 4) if rng.random() < 0.7 else rng.uniform(0, 180)
    worn, finish = track(rng, grid, stroke), draw_finish(rng, grid.pixel_um)
    state, kilovolt = str(rng.choice(list(STATES), p=list(STATES.values()))), float(rng.choice([8, 10, 15, 20]))
    grooves = hone(rng, grid, finish, stroke)
    run_in = rng.uniform(0, 0.15 * finish.depth_um)
    for each in grooves:
        each.depth = np.maximum(each.depth - run_in * worn.ravel()[each.at], 0)
    nothing = np.zeros(shape, bool)
    depth, cap, faint = ground(grid, grooves), nothing, nothing
    if worn.any() and rng.random() < 0.85:
        depth, cap, faint = close(rng, grid, grooves, worn, stroke, rng.uniform(0.08, 0.75))
    scuffed = torn_streaks(rng, grid, stroke, worn) if worn.any() and rng.random() < 0.4 else nothing
    # spots of a few pixels, which no eye tells from noise, are levelled
    depth = np.where(~scuffed & ((depth < LIMIT_UM) | larger(depth >= LIMIT_UM, 20)), depth, 0)
    cap = larger(cap & ~scuffed, 12)
    flakes, pits = graphite(rng, grid)
    flakes *= 1 - np.float32(rng.uniform(0, 0.7)) * worn
    flakes, pits = (np.where(cap | scuffed, 0, each) for each in (flakes, pits))
    debris = specks(rng, grid, 2.5 if rng.random() < 0.1 else 0, (4, min(14, 25 * grid.pixel_um + 2)))
    rough = fine_marks(rng, grid, list(lays(finish, stroke)), rng.uniform(0.02, 0.09)) * (1 - rng.uniform(0, 0.8) * worn)
    if worn.any():
        rough += worn * fine_marks(rng, grid, [stroke], rng.uniform(0.02, 0.08)) + worn * scratches(rng, grid, stroke)
    height = -depth + rough * np.where(depth > LIMIT_UM, 1.5, 1) - 2 * pits
    if scuffed.any():
        height = np.where(scuffed, torn_relief(rng, grid, stroke), height)
    height += cv2.GaussianBlur(debris, (0, 0), 2) * 4
    matter = plain(rng, grid, depth, state, kilovolt, stroke, worn)
    matter = moved(rng, grid, matter, (depth, cap, faint), state, stroke)
    matter = torn(rng, grid, matter, scuffed, kilovolt, stroke)
    hard = specks(rng, grid, rng.choice([0, 4]), (0.8, 3))
    for share, number in ((flakes, CARBON[0]), (0.8 * pits, CARBON[0]), (hard, rng.choice([10, 24, 60]))):
        matter = pressed_in(matter, share, number)
    matter *= 1 - rng.uniform(0.15, 0.35) * depth / (depth + 2)  # escape starved in deep ground (tests/SOURCES.md)
    matter = matter + debris * (rng.uniform(0.4, 1.5) - matter)
    height, matter = (each.astype(np.float32) for each in (height, matter))
    left, right = halves(height, matter, grid, rng.uniform(0, 360))
    relief = np.float32(rng.choice([0.1, 0.5, 0.9], p=[0.55, 0.25, 0.2]))  # the sum, one half alone, mostly the difference
    signal = escape_blur(left + right + relief * (left - right), kilovolt, rng.uniform(0.4, 1.2) * grid.pixel_um, grid)
    image = exposed(rng, signal, grid, ~scuffed)
    codes = np.where(depth >= LIMIT_UM, 1, 0).astype(np.uint8)
    codes[cap], codes[scuffed] = 2, 3
    codes[cv2.dilate(debris, np.ones((3, 3))) > 0.3] = 255
    found = [word for code, word in ((2, "smeared"), (3, "scuffed")) if (codes == code).any()]
    return Made(image=image, codes=codes, worn=worn, kind=" ".join(["worn" if worn.any() else "unworn", *found]))


def track(rng: np.random.Generator, grid: Grid, stroke_deg: float) -> np.ndarray:
    """Where the ring ran, (rows, cols) bool: nowhere, everywhere, or to one side of a border along the stroke."""
    chance = rng.random()
    if chance < 0.9:
        return np.full(grid.shape, chance >= 0.4)
    along, across = grid.axes(stroke_deg)
    border = (0.15 * rng.uniform(-1, 1) + 0.01 * wander(rng, along, 0.3 * grid.span_um)) * grid.span_um
    return (across > border) ^ bool(rng.random() < 0.5)
