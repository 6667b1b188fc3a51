"""Micrographs in which detector and beam decide the look: plain height maps in µm, seen under widely varied imaging."""

import cv2
import numpy as np

from ..made import Made
from .column import expose, focus, scan, store
from .contact import VALLEY_DEPTH_UM, ground_and_closures, scuffing, stroke_marks
from .electrons import choose_setting, signal
from .hone import blotches, choose_finish, grain, graphite, scratches


def _track(rng: np.random.Generator, shape: tuple[int, int], stroke: float) -> np.ndarray:
    """Where the ring ran: all, none, or one side of a straight border along the stroke."""
    kind = rng.choice(["all", "none", "border"], p=[0.57, 0.38, 0.05])
    if kind != "border":
        return np.full(shape, kind == "all")
    rows, cols = np.indices(shape)
    place = -np.sin(stroke) * (cols - shape[1] / 2) + np.cos(stroke) * (rows - shape[0] / 2)
    return (place > rng.uniform(-0.25, 0.25) * min(shape)) ^ bool(rng.random() < 0.5)


def _debris(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Particles lying on the ground, 0–1."""
    lumps = np.zeros(shape, np.uint8)
    for _ in range(rng.integers(1, 9)):
        turn, size = np.linspace(0, 2 * np.pi, 10)[:-1], np.exp(rng.uniform(np.log(2.5), np.log(13)))
        reach = size * rng.uniform(0.5, 1.1, 9)
        ring = rng.uniform(0, 1, 2) * shape[::-1] + np.stack([reach * np.cos(turn), reach * np.sin(turn)], 1)
        cv2.fillPoly(lumps, [np.int32(ring)], 1)
    return lumps.astype(np.float32)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    finish, setting = choose_finish(rng, pixel_size_um, shape), choose_setting(rng)
    worn = _track(rng, shape, finish.stroke)
    run = bool(worn.any())
    wear = rng.uniform(0, 0.35) * finish.depth_um if run else 0.0
    share = rng.choice(
        [0.0, rng.uniform(0.03, 0.3), rng.uniform(0.3, 1), rng.uniform(1, 2.2)], p=[0.15, 0.25, 0.35, 0.25]
    )
    closed = ground_and_closures(
        rng, finish, shape, pixel_size_um, wear * worn.astype(np.float32), share if run else 0.0
    )
    cover = closed.cover * worn

    rough = sum(grain(rng, shape, size, size) * size**0.7 for size in (1.3, 2.5, 6, 15))
    rough *= np.exp(rng.uniform(np.log(0.004), np.log(0.045))) * min(pixel_size_um, 1.0)
    lay_scratches = scratches(rng, finish, shape, pixel_size_um)
    polish = np.where(worn, rng.uniform(0.1, 0.9), 1.0).astype(np.float32)
    skin_height = (rough + lay_scratches) * polish
    height = -closed.ground * (1 - cover) + cover * (closed.lid - closed.crack) + skin_height * (1 - 0.8 * cover)
    floor = np.clip(closed.ground / 0.8, 0, 1) * (1 - cover)
    height += floor * grain(rng, shape, 2, 2) * rng.uniform(0, 0.16) * pixel_size_um
    if run:
        height += stroke_marks(rng, finish, shape, pixel_size_um) * worn * (1 - 0.85 * floor)

    flakes, pits = graphite(rng, shape, pixel_size_um)
    flakes *= 1 - cover
    height -= np.maximum(flakes * 0.4 * min(pixel_size_um * 2, 1), pits * (1 - cover))
    grey = 1 + 0.04 * rng.random() ** 2 * blotches(rng, shape, 50) + setting.floor * floor
    trace = rng.uniform(0.5, 1.2) if rng.random() < 0.92 else 0.15
    lids = cover * np.clip(closed.ground / 0.5, 0, 1)
    grey += setting.skin * trace * lids * closed.shine - 0.35 * np.clip(closed.crack, 0, 1) * worn
    if run and rng.random() < 0.3:
        film = np.clip(2 * blotches(rng, shape, rng.uniform(40, 120)), 0, 1) * worn
        grey -= rng.uniform(0.03, 0.1) * film

    codes = np.zeros(shape, np.uint8)
    deep = cv2.GaussianBlur(closed.ground, (0, 0), 1.2) >= VALLEY_DEPTH_UM
    codes[deep & (cover < 0.5)] = 1
    codes[deep & (cover >= 0.5)] = 2
    name = finish.name + (" worn" if run else " unworn")
    if run and rng.random() < 0.32:
        mask, torn, strength = scuffing(rng, finish, shape, pixel_size_um)
        mask = mask * worn
        height = height * (1 - 0.85 * mask) + torn * mask
        grey = 1 + (grey - 1) * (1 - 0.85 * mask) + mask * rng.uniform(-0.15, 0.2) * strength
        codes[mask >= 0.5] = 3
        name += " scuffed"
    charging = np.zeros(shape, np.float32)
    if rng.random() < 0.35:
        lumps = _debris(rng, shape)
        bump = cv2.GaussianBlur(lumps, (0, 0), 1.5)
        height += bump * (rng.uniform(1, 4) + 0.5 * grain(rng, shape, 3, 3)) * pixel_size_um
        grey = grey * (1 - lumps) + lumps * rng.choice([rng.uniform(1.2, 1.8), rng.uniform(0.5, 0.8)])
        if rng.random() < 0.35:
            charging = cv2.GaussianBlur(lumps, (0, 0), sigmaX=rng.uniform(10, 60), sigmaY=rng.uniform(1, 6))
            charging *= rng.uniform(0.5, 1.5) / max(charging.max(), 1e-3)
        codes[(bump > 0.4) | (charging > 0.35)] = 255

    seen = signal(height, grey, np.clip(flakes, 0, 1), pixel_size_um, setting) + charging
    image = store(rng, expose(rng, scan(rng, focus(rng, seen.astype(np.float32)))))
    return Made(image=image, codes=codes, worn=worn, kind=name)
