"""Maker of training fields by process: hone a height map, let a ring press and drag its metal, look with electrons."""

import cv2
import numpy as np

from makers.made import Made
from makers.pressed_hone import OPEN_UM, grain, hone, spread
from makers.pressed_marks import graphite, particles, scratches, stains
from makers.pressed_picture import draw_beam, emission, record
from makers.pressed_ring import cover_height, draw_law, lone, press, scuff


def _stroke_deg(rng):
    """Direction of the stroke from the picture's rows, counted from its x axis."""
    near = rng.choice([0.0, 90.0, rng.uniform(0, 180)], p=[0.42, 0.42, 0.16])
    return float(near + rng.normal(0, 2.5) * (rng.random() < 0.7))


def _track(rng, shape, kind):
    """Where the ring ran: everywhere, nowhere, or beside an edge along the stroke."""
    if kind != "edge":
        return np.full(shape, kind == "all")
    edge = rng.uniform(0.25, 0.75) * shape[1]
    wander = grain(rng, (shape[0], 1), shape[0] / 3, 1.0) * np.float32(shape[1] * spread(rng, 0.001, 0.02))
    side = np.arange(shape[1], dtype=np.float32)[None, :] < edge + wander
    return side if rng.random() < 0.5 else ~side


def _run_in(rng, shape, pixel, worn):
    """Stroke marks (µm) and burnish (0–1) of worn ground, barely to clearly seen."""
    strength = spread(rng, 0.15, 1.0)
    size = max(spread(rng, 0.3, 4) / pixel, 1.0)
    marks = grain(rng, shape, size * spread(rng, 20, 200), size) * np.float32(0.14 * strength)
    size = max(spread(rng, 3, 40) / pixel, 1.0)
    marks += grain(rng, shape, size * spread(rng, 8, 60), size) * np.float32(0.06 * strength * rng.random())
    return np.clip(marks, -0.38, 0.38) * worn, np.float32(strength) * worn


def _floor(rng, depth, pixel):
    """Looks of open floors: (height in µm, tone). Oil soot, roughness and starved depths begin at the 0.5 µm limit."""
    shape = depth.shape
    inside = np.clip((depth - np.float32(0.38)) * 5, 0, 1)
    look = rng.choice(["dark", "bright", "rough", "shaded", "filled"], p=[0.38, 0.14, 0.2, 0.14, 0.14])
    tone = np.zeros(shape, np.float32)
    rough = spread(rng, 0.01, 0.08) * (5 if look == "rough" else 1)
    size = max(spread(rng, 0.4, 3) / pixel, 1.0)
    height = grain(rng, shape, size, size) * np.float32(rough)
    if look == "dark":
        tone -= np.float32(spread(rng, 0.1, 0.8)) * (1 + np.float32(rng.choice([0, 0.1])) * np.minimum(depth, 6))
    elif look == "bright":
        tone += np.float32(spread(rng, 0.1, 0.6))
    elif look == "rough":
        tone += np.float32(rng.uniform(-0.15, 0.15)) + np.float32(rng.uniform(0.05, 0.3)) * grain(
            rng, shape, size, size
        )
    elif look == "shaded":
        tone += np.float32(rng.choice([-1, 1]) * spread(rng, 0.12, 0.3))
    else:
        span = spread(rng, 4, 60) / pixel
        patch = np.clip(grain(rng, shape, span, span) * 3 + np.float32(rng.uniform(-1, 2)), 0, 1)
        tone -= np.float32(spread(rng, 0.3, 0.9)) * (0.4 + 0.6 * patch)
    return height * inside, tone * inside


def _cover_tone(rng, closed, pixel, floors):
    """Tone of closed ground: like plateau, brighter, darker, mottled or streaked; never as that of open floors."""
    shape = closed.shape
    cast = rng.choice([0.0, rng.normal(0, 0.12), rng.normal(0, 0.3)], p=[0.35, 0.4, 0.25])
    if cast * floors > 0:
        cast = np.sign(cast) * min(abs(cast), 0.4 * abs(floors))
    tone = np.full(shape, np.float32(cast))
    if rng.random() < 0.5:
        size = max(spread(rng, 0.5, 10) / pixel, 1.0)
        mottle = min(spread(rng, 0.03, 0.25), 0.4 * abs(floors))
        tone += np.float32(mottle) * grain(rng, shape, size * spread(rng, 1, 25), size)
    if rng.random() < 0.2:
        inner = cv2.erode(closed.astype(np.uint8), np.ones((3, 3), np.uint8))
        tone += np.float32(rng.choice([-1, 1]) * spread(rng, 0.1, 0.5)) * (inner == 0)
    return tone * closed


def _draw_kinds(rng):
    """(track, bare, smear, scuff) of one field."""
    track = str(rng.choice(["none", "all", "edge"], p=[0.29, 0.53, 0.18]))
    bare = bool(rng.random() < 0.07)
    if track == "none":
        return track, bare, False, False
    torn = bool(rng.random() < 0.3)
    return track, bare, bool(rng.random() < (0.6 if torn else 0.92)), torn


def _surface(rng, shape, pixel):
    """The worked ground in the stroke's frame: (height µm, tone, codes, worn, kind, groove width in pixels)."""
    track, bare, smears, scuffs = _draw_kinds(rng)
    law = draw_law(rng)
    ground = hone(rng, shape, pixel, bare, law)
    worn = _track(rng, shape, track)
    run = worn.any()
    codes = (ground.cut >= OPEN_UM).astype(np.uint8)
    depth, closed = ground.cut, np.zeros(shape, bool)
    flakes = graphite(rng, shape, pixel) if rng.random() < 0.25 else None
    fine, rise = ground.fine, ground.rise
    if run:
        marks, burnish = _run_in(rng, shape, pixel, worn)
        keep = 1 - burnish * np.float32(rng.uniform(0.3, 0.95))
        fine, rise = fine * keep, rise * (1 - burnish * np.float32(rng.uniform(0, 0.8)))
    if smears:
        closed, depth, stamp = press(rng, ground, pixel, law, worn)
    plate = 1 - np.clip(depth * 2, 0, 1)
    height = rise * (~closed) - depth + fine * (0.3 + 0.7 * plate) * (1 - np.float32(rng.uniform(0.4, 1.0)) * closed)
    floor_height, tone = _floor(rng, depth, pixel)
    height += floor_height
    if rng.random() < 0.3:  # the metal's own grain, on plateau and floors alike
        size = max(spread(rng, 0.25, 4) / pixel, 1.0)
        metal = grain(rng, shape, size, size)
        height += metal * np.float32(spread(rng, 0.005, 0.05))
        tone += metal * np.float32(rng.choice([0.0, spread(rng, 0.02, 0.12)]))
    if run:
        height += marks * plate * np.where(closed, np.float32(rng.choice([0.2, 1.0, 1.0])), 1)
        tone += burnish * plate * np.float32(rng.normal(0, 0.12))
    if closed.any():
        # Some covers are burnished flush: only missing finishing marks and the groove's going on tell of them.
        plain = np.float32(rng.choice([1.0, rng.uniform(0.05, 0.3)], p=[0.75, 0.25]))
        alone = lone(closed, depth)
        height += closed * cover_height(rng, closed, pixel, stamp) * np.where(alone, 1, plain)
        floors = tone[(depth >= OPEN_UM) & worn]
        floors = float(floors.mean()) if floors.size else -0.3
        tone += _cover_tone(rng, closed, pixel, floors) * plain
        step = -np.sign(floors) * rng.uniform(0.1, 0.35) if rng.random() < 0.7 else floors * rng.uniform(0.15, 0.35)
        tone += alone * np.float32(step)
        codes[closed] = 2
    mark = scratches(rng, shape, pixel, None if rng.random() < 0.5 or not run else worn)
    height -= mark * plate
    if flakes is not None:
        seen = flakes * np.float32(rng.uniform(0.4, 1.0)) * (1 - 0.9 * closed)
        tone -= seen
        height -= seen * np.float32(spread(rng, 0.05, 1.5))
    if scuffs:
        torn, soft, relief = scuff(rng, shape, pixel, worn)
        height += (relief - height) * soft
        size = max(spread(rng, 1, 8) / pixel, 1.0)
        cast = np.float32(rng.choice([0.0, rng.normal(0, 0.35)], p=[0.3, 0.7]))
        patch = cast + grain(rng, shape, size * spread(rng, 2, 20), size) * np.float32(spread(rng, 0.03, 0.25))
        tone += (patch - tone) * soft
        codes[torn] = 3
    tone += stains(rng, shape, pixel, run) * np.float32(spread(rng, 0.15, 0.8))
    name = "bare" if bare else ("unrun" if not run else "run")
    kind = "-".join([name] + ["smear"] * bool((codes == 2).any()) + ["scuff"] * bool((codes == 3).any()))
    return height, tone, codes, worn, kind, ground.width / pixel


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One simulated micrograph with its truth."""
    pixel = float(pixel_size_um)
    rows, cols = shape
    angle = np.deg2rad(_stroke_deg(rng))
    s, c = np.sin(angle), np.cos(angle)
    frame = (int(abs(c) * cols + abs(s) * rows) + 6, int(abs(s) * cols + abs(c) * rows) + 6)
    height, tone, codes, worn, kind, finest = _surface(rng, frame, pixel)
    height = cv2.GaussianBlur(height, (0, 0), max(0.45, spread(rng, 0.02, 0.4) / pixel))
    signal = emission(rng, height, pixel, draw_beam(rng), tone)
    turn = np.array([[-s, c, 0.0], [c, s, 0.0]])
    turn[:, 2] = np.array([frame[1] - 1, frame[0] - 1]) / 2 - turn[:, :2] @ (np.array([cols - 1, rows - 1]) / 2)
    size, back = (cols, rows), cv2.WARP_INVERSE_MAP
    edge = cv2.BORDER_REPLICATE
    signal = cv2.warpAffine(signal, turn, size, flags=cv2.INTER_CUBIC | back, borderMode=edge)
    codes = cv2.warpAffine(codes, turn, size, flags=cv2.INTER_NEAREST | back, borderMode=edge)
    worn = cv2.warpAffine(worn.astype(np.uint8), turn, size, flags=cv2.INTER_NEAREST | back, borderMode=edge) > 0
    codes[~worn & ((codes == 2) | (codes == 3))] = 0
    debris = particles(rng, shape, pixel)
    if debris:
        body, shade = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
        drop = np.round(rng.normal(0, 1.5 / pixel, 2)).astype(np.int32)
        for outline in debris:
            cv2.fillPoly(shade, [outline + drop], 255)
            cv2.fillPoly(body, [outline], 255)
        spread_um = max(0.5 / pixel, 0.5)
        signal -= cv2.GaussianBlur(shade.astype(np.float32) / 255, (0, 0), 2 * spread_um) * np.float32(0.3)
        lift = cv2.distanceTransform(body, cv2.DIST_L2, 3)
        bright = np.float32(signal.std() * rng.uniform(0.5, 3)) * (1.3 - np.minimum(lift / (lift.max() + 1e-3), 1))
        signal = np.where(body > 0, signal.mean() + bright + 0.3 * signal, signal).astype(np.float32)
        codes[body > 0] = 255
    return Made(image=record(rng, signal, max(finest, 1.7)), codes=codes, worn=worn, kind=kind)
