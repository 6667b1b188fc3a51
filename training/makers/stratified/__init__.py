"""A stratified surface as the metrologist splits it: a fine plateau process and a coarse valley process, joined by the minimum."""

import cv2
import numpy as np

from ..made import Made
from . import instrument, matter, tone, wear
from .chance import along, blotches, log_uniform
from .cuts import cuts
from .process import draw


def plateau(rng, process, shape, pixel_size_um: float) -> np.ndarray:
    """The fine process in um: Gaussian, finished along both lays, never 0.5 um below its own level."""
    fine = blotches(rng, shape, max(0.4 / pixel_size_um, 1.0)) * rng.uniform(0.1, 0.6)
    for lay in process.lays_rad:
        length, width = rng.uniform(0.3, 2) * min(shape), max(log_uniform(rng, 0.4, 3) / pixel_size_um, 1.2)
        fine = fine + along(rng, shape, lay + rng.normal(0, 0.03), length, width) * rng.uniform(0.2, 1)
    return np.clip(process.plateau_um * fine / fine.std(), -0.4, 0.4).astype(np.float32)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    process = draw(rng, pixel_size_um, shape)
    fate = str(rng.choice(["unworn", "border", "worn"], p=[0.22, 0.18, 0.6]))
    worn = (
        np.zeros(shape, bool)
        if fate == "unworn"
        else matter.track(rng, process.stroke_rad, shape, border=fate == "border")
    )
    made = cuts(rng, process, pixel_size_um, shape)
    fine = plateau(rng, process, shape, pixel_size_um)
    share = rng.beta(1.3, 1.0) if fate != "unworn" and rng.random() < 0.8 else 0.0
    lost_um = 0.0
    whole = wear.close(
        rng, made, lost_um=np.zeros(shape, np.float32), worn=worn, stroke_rad=0, share=0, pixel_size_um=pixel_size_um
    )
    if fate != "unworn":
        ground = np.minimum(fine, -whole.after_um)
        lost_um = max(-wear.level_at(ground, log_uniform(rng, 0.03, 0.6)), 0.0) * 0.8
        lost_um = min(lost_um + log_uniform(rng, 0.01, 0.25), rng.uniform(0.1, 0.5) * float(whole.before_um.max()))
    lost = np.where(worn, np.float32(lost_um), np.float32(0))
    closing = wear.close(
        rng, made, lost_um=lost, worn=worn, stroke_rad=process.stroke_rad, share=share, pixel_size_um=pixel_size_um
    )
    codes = wear.states(closing)
    torn, torn_um = np.zeros(shape, bool), np.zeros(shape, np.float32)
    if worn.any() and rng.random() < 0.5:
        torn, torn_um = matter.scuffing(rng, process.stroke_rad, worn, pixel_size_um, log_uniform(rng, 0.03, 0.6))
        codes[torn] = 3

    polish = log_uniform(rng, 0.1, 0.8)
    fine = np.where(worn, fine * polish, fine)
    rims = np.minimum(closing.before_um, 0)
    depth = np.maximum(closing.after_um, 0)
    height = np.minimum(fine, fine * 0.6 - depth)
    floor = blotches(rng, shape, max(log_uniform(rng, 0.4, 2.0) / pixel_size_um, 1.2))
    coarser = blotches(rng, shape, max(log_uniform(rng, 1.5, 8) / pixel_size_um, 2.0))
    floor = (floor + rng.uniform(0.3, 1.2) * coarser) * min(log_uniform(rng, 0.02, 0.3), 0.12 * process.depth_um)
    height = height + floor * np.clip(depth / 0.8, 0, 1) - np.where(worn, 0.3, 1) * rims
    marks = matter.stroke_marks(rng, process.stroke_rad, shape, pixel_size_um, log_uniform(rng, 0.05, 0.4))
    height = height - marks * np.where(worn, 1, rng.uniform(0, 0.3)) * (depth < 0.5)
    burnish, fold = closing.burnish, closing.fold
    # burnished caps keep little of the finish, bulge a little, and their folds are narrow cracks
    cap = cv2.GaussianBlur(height, (0, 0), max(1.0, 0.8 / pixel_size_um)) + 0.05 * along(
        rng, shape, process.stroke_rad, 30, 3
    )
    height = height * (1 - burnish) + cap * burnish - fold * log_uniform(rng, 0.15, 0.45)
    height = np.where(torn, torn_um - 0.25 * depth, height).astype(np.float32)

    beam_px = log_uniform(rng, 0.35, 1.1)
    recipe, weight = tone.weights(rng)
    signal = tone.tone(
        rng,
        weight,
        height_um=height,
        depth_um=np.where(torn, 0, depth),
        width_um=process.width_um,
        pixel_size_um=pixel_size_um,
        beam_px=beam_px,
    )
    scale = float(np.std(signal)) + 1e-4
    if recipe != "curvature":
        signal += scale * rng.uniform(0.2, 1.0) * rng.choice([-1, 1], p=[0.3, 0.7]) * burnish
    signal -= scale * rng.uniform(0.5, 2.0) * fold * rng.choice([-0.8, 1], p=[0.3, 0.7])
    grain = blotches(rng, shape, max(0.5 / pixel_size_um, 1.3))
    signal += scale * grain * (rng.uniform(0.05, 0.3) * (1 - 0.9 * burnish) + torn * rng.uniform(0.2, 0.6))
    ridges = np.maximum(torn_um - cv2.GaussianBlur(torn_um, (0, 0), 3.0), 0)
    signal += (
        scale * np.minimum(ridges / (ridges.max() * 0.5 + 1e-6), 1) * rng.uniform(1, 3.5)
        + scale * rng.normal(0, 0.6) * torn
    )
    if rng.random() < 0.45:
        signal -= scale * rng.uniform(0.8, 2.5) * matter.graphite(rng, shape, pixel_size_um) * ~torn
    if rng.random() < 0.35:
        signal += scale * rng.uniform(0.4, 1.3) * rng.choice([-1, 1], p=[0.7, 0.3]) * matter.patches(rng, shape)
    if rng.random() < 0.3:
        lumps, lump_um = matter.debris(rng, shape, pixel_size_um)
        behind = np.roll(lumps.astype(np.float32), tuple(int(v) for v in rng.integers(-6, 7, 2)), (0, 1))
        signal -= scale * rng.uniform(0.3, 1.5) * cv2.GaussianBlur(behind, (0, 0), 2.5)
        signal = np.where(lumps, scale * (rng.uniform(0.5, 2) + 0.4 * np.minimum(lump_um, 4) + 0.4 * grain), signal)
        codes[lumps] = 255
    if rng.random() < 0.08:
        glow = matter.charging(rng, shape)
        signal = signal * (1 - 0.95 * np.clip(glow, 0, 1)) + scale * 2.5 * glow
        codes[cv2.GaussianBlur(glow, (0, 0), 2.5) > 0.5] = 255
    image = instrument.record(rng, signal.astype(np.float32), beam_px)
    return Made(image=image, codes=codes, worn=worn, kind=f"{process.name}_{fate}_{recipe}")
