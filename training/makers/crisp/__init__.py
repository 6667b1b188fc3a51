"""Fields judged by a plain referee: heights before and after wear are the only state, and the truth is read off them."""

import cv2
import numpy as np

from ..made import Made
from .beam import emission, record
from .grain import cloud, fine, frame, log_uniform, ramp
from .hone import hone
from .traps import debris, flakes, scratches, stain
from .wear import LIMIT_UM, marks, scuff, smear, track


def _stroke(rng: np.random.Generator) -> float:
    """Direction of the stroke in degrees from the row axis: mostly vertical, often horizontal, now and then any."""
    pick = rng.random()
    if pick < 0.25:
        return rng.uniform(0, 180)
    return (90 if pick < 0.7 else 0) + rng.normal(0, 4)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of shape (rows, columns) in pixels of pixel_size_um µm; all chance from rng."""
    size = max(shape) * pixel_size_um
    along, across = frame(shape, pixel_size_um, _stroke(rng))
    stroke_deg = float(np.degrees(np.arctan2(along[1, 0] - along[0, 0], along[0, 1] - along[0, 0])))
    sheets = hone(rng, shape, pixel_size_um, stroke_deg)
    ran = rng.random() < 0.6
    worn, border = track(rng, along, across, size) if ran else (np.zeros(shape, bool), False)
    cut = log_uniform(rng, 0.03, 0.7) * (1 + 0.2 * cloud(rng, along, across, (size / 2, size / 4))) if ran else np.zeros(shape)
    # the ring's edge is rounded: wear sets in over a few pixels, not at one
    cut = (cut * cv2.GaussianBlur(worn.astype(np.float32), (0, 0), 4)).astype(np.float32)
    kind = ["border" if border else "worn"] if ran else ["unworn"]

    share = rng.uniform(0.1, 0.9) if ran and rng.random() < 0.6 else 0.0
    kind += ["smeared"] if share else []
    before, after = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    relief, rim = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    for ground in sheets:
        depth = np.maximum(ground.depth - cut, 0).astype(np.float32)
        before = np.maximum(before, depth)
        rim = np.maximum(rim, ground.rim)
        if share:
            closed = smear(rng, ground, depth, worn, share, pixel_size_um)
            depth, relief = closed.depth, relief + closed.relief
        after = np.maximum(after, depth)
    codes = np.where(after >= LIMIT_UM, 1, np.where(before >= LIMIT_UM, 2, 0)).astype(np.uint8)

    # texture in heights: cut metal and floors are rough, plateau carries finishing scratches, moved metal is burnished
    open_ground, cap = ramp(after, 0.3, 0.7), (codes == 2).astype(np.float32)
    # seen coarsely, roughness doesn't grow with the pixel without end: cut metal has some tenths of a micrometre
    rough = fine(rng, shape, log_uniform(rng, 0.7, 1.6)) * min(pixel_size_um, 0.8)
    land = (1 - open_ground) * (1 - 0.9 * cap)
    plain = np.zeros(shape, np.float32)
    # seams, lips and folds stay within the limit, or the ground under them would be no closed groove
    shut = np.clip(relief - after, -0.98 * LIMIT_UM, 0.98 * LIMIT_UM)
    height = np.where(codes == 2, shut, -after) + rough * open_ground * log_uniform(rng, 0.05, 0.4)
    torn_rim = np.clip(0.7 + 0.7 * cloud(rng, along, across, (6 * pixel_size_um, 6 * pixel_size_um)), 0, 2)
    height += rim * torn_rim * np.where(worn, np.clip(1 - cut * 4, 0, 1), 1) * (1 - cap) * (1 - open_ground)
    plain += rough * land * log_uniform(rng, 0.01, 0.1) * np.where(worn, 0.5, 1)
    for turn in rng.uniform(25, 75) * np.array([-1, 1]):
        line_u, line_v = frame(shape, pixel_size_um, stroke_deg + 90 + turn)
        finish = cloud(rng, line_u, line_v, (size * rng.uniform(0.2, 1), pixel_size_um * log_uniform(rng, 1.3, 4)))
        plain -= np.clip(finish - 0.4, 0, 2) * land * pixel_size_um * log_uniform(rng, 0.02, 0.16) * np.where(worn, 0.35, 1)
    if ran:
        plain += marks(rng, along, across, size, pixel_size_um) * worn * (1 - open_ground) * (1 - 0.5 * cap)
    # what is within the limit is plateau, so its own marks stay within it too
    height += np.clip(plain, -0.9 * LIMIT_UM, 0.9 * LIMIT_UM)
    matter = np.ones(shape, np.float32)
    if rng.random() < 0.5:
        height -= scratches(rng, along, across, size, pixel_size_um) * (1 - open_ground)
    if rng.random() < 0.4:
        grey = flakes(rng, shape, pixel_size_um)
        height -= grey * pixel_size_um * rng.uniform(0, 1)
        matter *= 1 - grey * rng.uniform(0.3, 0.75)
        kind.append("graphite")
    if rng.random() < 0.4:
        matter *= stain(rng, along, across, size)
    floor = rng.choice(["bare", "carbon", "bright"], p=[0.45, 0.35, 0.2])
    if floor != "bare":
        tint = rng.uniform(-0.5, -0.15) if floor == "carbon" else rng.uniform(0.35, 0.8)
        spread = np.clip(0.75 + 0.3 * cloud(rng, along, across, (20 * pixel_size_um, 20 * pixel_size_um)), 0, 1.2)
        matter *= 1 + open_ground * tint * spread
        kind.append(str(floor))
    # burnished metal is cleaner or filmed over, patch by patch, against the ground plateau about it
    film = 1 + 0.3 * cloud(rng, along, across, (25 * pixel_size_um, 8 * pixel_size_um))
    matter *= 1 + cap * rng.choice([-1, 1]) * rng.uniform(0.04, 0.18) * film
    if share:
        # pressed metal is not welded to the wall: the gap left about it traps electrons, where it is not rubbed shut
        gap = cv2.GaussianBlur(cap - cv2.erode(cap, np.ones((3, 3), np.uint8)), (0, 0), 0.6)
        broken = np.clip(0.6 + 0.6 * cloud(rng, along, across, (9 * pixel_size_um, 9 * pixel_size_um)), 0, 1)
        matter *= 1 - gap * broken * rng.uniform(0.1, 0.5)
    matter *= np.where(worn, rng.uniform(0.93, 1.12), 1)
    if ran and rng.random() < 0.25:
        where, tear = scuff(rng, along, across, worn, size, pixel_size_um)
        # torn metal is laid over grooves and caps alike; the referee calls the ground by what lies on top
        height, after = np.where(where, tear, height), np.where(where, 0, after)
        matter = np.where(where, rng.uniform(0.85, 1.15), matter)
        codes[where] = 3
        kind.append("scuffed")
    if rng.random() < 0.25:
        where, tall = debris(rng, shape, pixel_size_um)
        height = np.where(where, height + tall, height)
        matter = np.where(where, rng.uniform(0.6, 1.8), matter)
        codes[where] = 255
        kind.append("debris")
    height = cv2.GaussianBlur(height.astype(np.float32), (0, 0), 0.6)
    signal = emission(rng, height, after.astype(np.float32), pixel_size_um, rng.random() < 0.25) * matter
    return Made(image=record(rng, signal.astype(np.float32)), codes=codes, worn=worn, kind=" ".join(kind))
