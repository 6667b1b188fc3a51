"""Where the ring ran and what it did: track, contact, amount removed, stroke scratches, scuffing; graphite too.

Running-in takes the peaks first, then the core, the valleys last (common practice, no source), so it is a
truncation. Scuffing is adhesion: metal is torn out and ploughed in streaks along the stroke, with rough tears,
ridges, and smooth plates of transferred metal.
"""

import cv2
import numpy as np

from .frame import Frame
from .noise import blur, fractal, line_noise, patches, streaks
from .surface import Surface

TRACKS = ("in-track", "out-of-track", "edge")
"""Where a field can lie: all in the track, all outside it, or with the track's edge in it."""


def track_map(rng, frame: Frame, stroke_deg: float, track: str) -> np.ndarray:
    """Return where the ring ran as 0..1, (rows, cols) float32; the edge of a track runs along the stroke."""
    if track == "in-track":
        return np.ones(frame.shape, np.float32)
    if track == "out-of-track":
        return np.zeros(frame.shape, np.float32)
    along, across = frame.along_across(stroke_deg)
    side = frame.shorter_side_um
    count = 512
    edge = 0.05 * side * line_noise(rng, count, rng.uniform(20, 200))
    at = np.clip((along / (2 * frame.half_diagonal_um) + 0.5) * (count - 1), 0, count - 1).astype(np.int32)
    soft = max(rng.uniform(0.02, 0.3) * side, 2 * frame.pixel_size_um)
    place = (across - rng.uniform(-0.25, 0.25) * side - edge[at]) * rng.choice([-1.0, 1.0])
    ramp = np.clip(place / soft + 0.5, 0, 1)
    return (ramp * ramp * (3 - 2 * ramp)).astype(np.float32)


def contact_maps(rng, frame: Frame, worn: np.ndarray, stroke_deg: float, severity: float):
    """Return how strongly smear acts (0..1) and what running-in removed (µm), two (rows, cols) float32."""
    shape, pixel = frame.shape, frame.pixel_size_um
    removed = severity * float(np.exp(rng.uniform(np.log(0.03), np.log(1.3))))
    uneven = rng.uniform(0, 0.5)
    map_um = removed * np.clip(1 + uneven * patches(rng, shape, rng.uniform(0.3, 1.0) * min(shape)), 0.1, 2.5) * worn
    if rng.random() < 0.35:
        return worn.copy(), map_um.astype(np.float32)
    bands = 0.7 * streaks(rng, shape, stroke_deg, rng.uniform(100, 800) / pixel, rng.uniform(10, 60) / pixel)
    spots = 0.7 * patches(rng, shape, rng.uniform(0.15, 0.5) * min(shape))
    contact = np.clip(0.5 + rng.uniform(-0.1, 0.8) + rng.uniform(0.2, 0.7) * (bands + spots), 0, 1) * worn
    return contact.astype(np.float32), map_um.astype(np.float32)


def add_burnish(rng, surface: Surface) -> None:
    """Burnish patches of the plateau along the stroke: the look of a closure where there was no groove.

    Moved metal is drawn out past the grooves too. These patches are plateau, and keep a network from taking every
    burnished patch for a closed groove.
    """
    frame, pixel = surface.frame, surface.frame.pixel_size_um
    width = np.clip(float(np.exp(rng.uniform(np.log(2), np.log(30)))) / pixel, 3, 0.3 * min(frame.shape))
    noise = streaks(rng, frame.shape, surface.stroke_deg, width * rng.uniform(2, 15), width)
    noise += 0.4 * patches(rng, frame.shape, max(width / 2, 2))
    patch = np.clip((noise - rng.uniform(0.3, 2.0)) / np.float32(rng.uniform(0.05, 0.5)), 0, 1)
    surface.burnish = (patch * surface.worn * (surface.open_um < 0.1)).astype(np.float32)


def add_scuffing(rng, surface: Surface, severity: float) -> None:
    """Tear and plough patches along the stroke; fills scuff (0..1), scuff_um and scuff_tone of the surface."""
    frame, pixel, shape = surface.frame, surface.frame.pixel_size_um, surface.frame.shape
    along, across = frame.along_across(surface.stroke_deg)
    side = frame.shorter_side_um
    reach = np.full(shape, -9.0, np.float32)
    for _ in range(int(rng.integers(1, 2 + int(4 * severity) + 1))):
        length, width = side * rng.uniform(0.3, 2.0), side * float(np.exp(rng.uniform(np.log(0.015), np.log(0.4))))
        here = (
            1
            - np.square((along - rng.uniform(-0.6, 0.6) * side) / length)
            - np.square((across - rng.uniform(-0.5, 0.5) * side) / width)
        )
        reach = np.maximum(reach, here)
    grain = max(rng.uniform(1.5, 8) / pixel, 3.0)
    torn = streaks(rng, shape, surface.stroke_deg, grain * rng.uniform(6, 25), grain)
    torn += 0.4 * streaks(rng, shape, surface.stroke_deg, grain * 40, 3 * grain)
    inside = np.clip((np.clip(reach, -1, 1) * 1.5 + rng.uniform(0.1, 0.7) * torn - 0.1) * 6, 0, 1) * surface.worn
    plough = streaks(rng, shape, surface.stroke_deg, grain * rng.uniform(10, 40), 0.6 * grain)
    tears = fractal(rng, shape, max(rng.uniform(2, 15) / pixel, 3), octaves=4, gain=rng.uniform(0.5, 0.9))
    steps = np.tanh(3 * streaks(rng, shape, surface.stroke_deg + 90, grain * 2, grain * rng.uniform(0.6, 1.5)))
    plates = np.clip((patches(rng, shape, max(rng.uniform(5, 25) / pixel, 4)) - rng.uniform(0.2, 1.8)) * 4, 0, 1)
    weights = rng.dirichlet([1.0, 1.0, 0.5])
    rough = weights[0] * plough + weights[1] * tears + weights[2] * steps
    smooth = 0.15 * blur(rough, 1.5 * grain) + 0.3
    amplitude = float(np.exp(rng.uniform(np.log(0.5), np.log(2.5))))
    surface.scuff = inside.astype(np.float32)
    shape_um = rough * (1 - plates) + smooth * plates
    surface.scuff_um = (amplitude * shape_um * inside).astype(np.float32)
    surface.scuff_tone = ((rng.normal(0, 0.5) + rng.normal(0, 0.5) * plates + 0.2 * rough) * inside).astype(np.float32)
    # ploughed metal fills what grooves were left, but not the deepest ones
    filled = np.clip(inside * np.clip(rng.uniform(0.3, 1.3) + 0.3 * torn, 0.2, 1), 0, 0.95)
    surface.depth_um *= 1 - filled
    surface.closed = np.maximum(surface.closed, filled * (surface.open_um > 0.05))
    surface.trace *= 1 - inside


def _draw_worms(rng, frame: Frame, count: int, length_um: float, thickness_um: float) -> np.ndarray:
    """Return `count` worm-like flakes drawn as 0..1, (rows, cols) float32."""
    canvas = np.zeros(frame.shape, np.uint8)
    pixel, (rows, cols) = frame.pixel_size_um, frame.shape
    for _ in range(count):
        points = int(rng.integers(5, 12))
        step = length_um * rng.uniform(0.3, 1.5) / points / pixel
        headings = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.45, points))
        path = np.cumsum(np.column_stack([np.cos(headings), np.sin(headings)]) * step, axis=0)
        path += rng.uniform(0, 1, 2) * [cols, rows]
        for number in range(points - 1):
            taper = np.sin(np.pi * (number + 1) / points)
            thickness = max(int(round(thickness_um * taper * rng.uniform(0.6, 1.4) / pixel)), 1)
            start, stop = (path[number] * 16).astype(int), (path[number + 1] * 16).astype(int)
            cv2.line(canvas, start.tolist(), stop.tolist(), 255, thickness, cv2.LINE_AA, 4)
    return canvas.astype(np.float32) / 255


def add_graphite(rng, surface: Surface) -> None:
    """Put graphite flakes, some pulled out, and scratches along the stroke into the surface (both may be none).

    Flakes of grey iron are some 20-150 µm long and 1-5 µm thick (common practice, no source).
    """
    frame, pixel, shape = surface.frame, surface.frame.pixel_size_um, surface.frame.shape
    surface.graphite = np.zeros(shape, np.float32)
    surface.pit_um = np.zeros(shape, np.float32)
    area_mm2 = shape[0] * shape[1] * pixel**2 * 1e-6
    if rng.random() < 0.5:
        count = int(min(rng.poisson(area_mm2 * float(np.exp(rng.uniform(np.log(20), np.log(600))))), 400))
        flakes = _draw_worms(rng, frame, count, rng.uniform(15, 120), rng.uniform(0.8, 4.5))
        warp = patches(rng, shape, max(3 / pixel, 2))
        flakes = np.clip(flakes * (1 + 0.5 * warp), 0, 1)
        surface.graphite = blur(flakes, min(0.3 / pixel, 2.0)).astype(np.float32)
        if rng.random() < 0.6:
            pulled = np.clip(patches(rng, shape, max(30 / pixel, 6)) + rng.uniform(-1, 1), 0, 1)
            surface.pit_um += surface.graphite * pulled * rng.uniform(0.3, 4.0)
            surface.graphite *= 1 - rng.uniform(0, 0.9) * pulled
    if rng.random() < 0.25:  # small pull-outs and pores
        spots = fractal(rng, shape, max(rng.uniform(1, 10) / pixel, 2), octaves=3, gain=0.7) - rng.uniform(2.6, 3.6)
        surface.pit_um += np.clip(spots * 2, 0, 1) * rng.uniform(0.3, 3.0)
    if rng.random() < 0.4:
        along, across = frame.along_across(surface.stroke_deg)
        for _ in range(int(rng.integers(1, 7))):
            turned = np.radians(rng.normal(0, 2.0))
            place = across * np.cos(turned) + along * np.sin(turned) - rng.uniform(-0.5, 0.5) * frame.shorter_side_um
            width = max(float(np.exp(rng.uniform(np.log(0.4), np.log(6)))), 1.2 * pixel)
            middle, length = rng.uniform(-0.6, 0.6) * frame.shorter_side_um, frame.shorter_side_um * rng.uniform(0.1, 1)
            ends = np.clip((length - np.abs(along - middle)) / (0.2 * length), 0, 1)
            cut = np.clip(1 - np.abs(place) / (0.5 * width), 0, 1) * ends
            surface.pit_um += cut.astype(np.float32) * min(width * rng.uniform(0.05, 0.3), 2.5)
