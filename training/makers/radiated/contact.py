"""What the ring did: it cut the plateau down, drew fine marks along the stroke, moved metal over grooves, and scuffed.

Folds of displaced metal interrupt the grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548).
A closure starts and ends on lines along the stroke, since the metal flowed that way; it lies within 0.5 µm of the plateau.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .hone import Finish, Groove, draw_grooves, frame_side, grain, to_screen, wander

VALLEY_DEPTH_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Closed:
    """On the screen, µm: ground is the depth that hone and truncation left; cover 0–1; lid the height of the covering skin;
    crack the depth of fold lines; shine how strongly the moved metal differs in grey."""

    ground: np.ndarray
    cover: np.ndarray
    lid: np.ndarray
    crack: np.ndarray
    shine: np.ndarray


def _close(
    rng: np.random.Generator,
    groove: Groove,
    layers: np.ndarray,
    tilt: float,
    share: float,
    harsh: np.ndarray,
    wear: float,
):
    """Close one groove in its lay's layers (cover, lid, crack, shine); tilt: its lay against the across direction."""
    side = groove.depth.shape[1]
    left, tries = share * side, 0
    if groove.depth.max() < wear + VALLEY_DEPTH_UM + 0.1:
        return
    while left > 0 and tries < 60:
        tries += 1
        kind = rng.choice(["bridge", "lip", "flap", "flush"], p=[0.35, 0.2, 0.2, 0.25])
        reach = rng.uniform(*{"bridge": (0.6, 4), "lip": (3, 12), "flap": (1.0, 5), "flush": (3, 14)}[kind])
        long = max(reach * groove.width_px / np.cos(tilt) ** 0.5, 5)
        middle = rng.uniform(0, side)
        left -= long * 0.7
        if rng.random() > harsh[min(int(middle), side - 1)]:
            continue
        rows = np.arange(len(groove.depth), dtype=np.float32) - len(groove.depth) / 2
        pad = long / 2 + abs(np.tan(tilt)) * len(rows) / 2 + 5
        a, b = max(0, int(middle - pad)), min(side, int(middle + pad))
        if b - a < 4:
            continue
        place, deep = groove.place[:, a:b], groove.depth[:, a:b]
        run = np.arange(a, b, dtype=np.float32)[None] - middle - np.tan(tilt) * rows[:, None]
        ragged = [
            groove.width_px * rng.uniform(0.05, 0.35) * (wander(rng, len(rows), 6) + 0.3 * wander(rng, len(rows), 2))
            for _ in "ab"
        ]
        over = (run > -long / 2 + ragged[0][:, None]) & (run < long / 2 + ragged[1][:, None])
        hand = rng.choice([-1, 1])
        if kind == "lip":
            edge = (
                rng.uniform(-0.5, 0.5)
                + 0.25 * wander(rng, b - a, max(groove.width_px, 4))
                + 0.1 * wander(rng, b - a, 3)
            )
            over &= hand * place < edge
        over &= (np.abs(place) < 1.2) & (deep.max(axis=0) > wear + VALLEY_DEPTH_UM)
        sag = {"bridge": (-0.2, 0.35), "lip": (-0.25, 0.2), "flap": (-0.35, 0.1), "flush": (0.1, 0.3)}[kind]
        bulge = -rng.uniform(*sag) * np.clip(1.9 - place * place, 0, 1)
        bulge = bulge - rng.uniform(0, 0.4) * np.clip(np.abs(run) / long - 0.3, 0, 0.2) * 5 * (run * hand > 0)
        skin = bulge + rng.uniform(0, 0.09) * grain(rng, over.shape, 6, 3)
        if rng.random() < 0.35:
            over &= grain(rng, over.shape, 5, 3) < rng.uniform(1.4, 2.4)
        if rng.random() < 0.6:
            seam = np.exp(-(((np.abs(place) - 1.0) * groove.width_px / 2) ** 2))
            skin = skin - rng.uniform(0.1, 0.4) * seam * np.clip(0.7 + wander(rng, b - a, 12), 0, 1)
        if kind == "flap":
            fold = rng.uniform(-0.2, 0.85) + 0.16 * wander(rng, b - a, 9) + 0.05 * wander(rng, b - a, 2)
            line = np.abs(hand * place - fold) * groove.width_px / 2 < rng.uniform(0.6, 1.2)
            layers[groove.first_row : groove.first_row + len(rows), a:b, 2] += over * line * rng.uniform(0.3, 1.0)
        spot = layers[groove.first_row : groove.first_row + len(rows), a:b]
        over &= (deep > 0.12) | (np.abs(place) < 1.1)
        spot[..., 0] = np.maximum(spot[..., 0], over)
        spot[..., 3] = np.where(over, rng.uniform(0.3, 1.6) * (1 + 0.2 * grain(rng, over.shape, 4, 4)), spot[..., 3])
        spot[..., 1] = np.where(over, np.clip(skin, -0.42, 0.4), spot[..., 1])


def ground_and_closures(
    rng: np.random.Generator,
    finish: Finish,
    shape: tuple[int, int],
    pixel_size_um: float,
    truncation: np.ndarray,
    share: float,
) -> Closed:
    """Grooves of every lay, cut down by the truncation (µm, a map), with a share of their length closed."""
    side = frame_side(shape)
    ground = cover = lid = crack = shine = np.zeros(shape, np.float32)
    for lay in finish.lays:
        depth, layers = np.zeros((side, side), np.float32), np.zeros((side, side, 4), np.float32)
        tilt = lay - finish.stroke - np.pi / 2
        harsh = np.clip(0.6 + 0.5 * wander(rng, side, rng.uniform(30, 200)), 0.05, 1)
        for groove in draw_grooves(rng, finish, side, pixel_size_um):
            rows = slice(groove.first_row, groove.first_row + len(groove.depth))
            depth[rows] = np.maximum(depth[rows], groove.depth)
            if share > 0:
                _close(rng, groove, layers, tilt, share * rng.uniform(0.3, 1.7), harsh, float(truncation.max()))
        ground = np.maximum(ground, to_screen(depth, shape, lay))
        if share > 0:
            turned = to_screen(layers, shape, lay)
            lid = np.where(turned[..., 0] >= cover, turned[..., 1], lid)
            shine = np.maximum(shine, turned[..., 3])
            cover, crack = np.maximum(cover, turned[..., 0]), np.maximum(crack, turned[..., 2])
    return Closed(ground=np.maximum(ground - truncation, 0), cover=cover, lid=lid, crack=crack, shine=shine)


def stroke_marks(rng: np.random.Generator, finish: Finish, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Fine marks along the stroke: plateau, never valley."""
    side = frame_side(shape)
    fine = grain(rng, (side, side), rng.uniform(60, 250), rng.uniform(1.0, 2.5)) * rng.uniform(0.01, 0.08)
    single = np.maximum(grain(rng, (side, side), 300, 1.6) - rng.uniform(1.6, 2.6), 0) * rng.uniform(0.05, 0.4)
    return np.clip(to_screen(fine - single, shape, finish.stroke) * min(3 * pixel_size_um, 1.8), -0.45, 0.2)


def scuffing(
    rng: np.random.Generator, finish: Finish, shape: tuple[int, int], pixel_size_um: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Streaks along the stroke: mask (0–1), height (µm) and how strong. Torn scales, ploughed furrows, or picked-up lumps."""
    side = frame_side(shape)
    mask, height = np.zeros((side, side), np.float32), np.zeros((side, side), np.float32)
    strength = rng.uniform(0.35, 1.0)
    scale = max(pixel_size_um, 0.15) * strength
    columns, rows = np.arange(side, dtype=np.float32), np.arange(side, dtype=np.float32)[:, None]
    for _ in range(rng.integers(1, 5)):
        half = np.exp(rng.uniform(np.log(8), np.log(55))) * min(shape) / 560
        long, middle = side * rng.uniform(0.25, 1.6), rng.uniform(0.15, 0.85, 2) * side
        taper = np.sqrt(np.clip(1 - ((columns - middle[0]) / (long / 2)) ** 2, 0, 1))
        fringe = rng.uniform(0.1, 0.35) * grain(rng, (side, side), rng.uniform(40, 120), rng.uniform(3, 6))
        line = middle[1] + 0.25 * half * wander(rng, side, 80)
        inside = (taper * (1 + 0.2 * wander(rng, side, 60)) - np.abs(rows - line) / half + fringe > 0.15) & (
            taper > 0.05
        )
        inside = cv2.GaussianBlur(inside.astype(np.float32), (0, 0), 2.5) > 0.5
        kind = rng.choice(["torn", "ploughed", "pick-up"])
        if kind == "torn":
            steps = grain(rng, (side, side), rng.uniform(5, 25), rng.uniform(2, 5))
            drawn = 0.9 * np.sign(steps) * np.abs(steps) ** 0.6 + 0.5 * grain(rng, (side, side), 3, 1.7)
        elif kind == "ploughed":
            drawn = 0.9 * grain(rng, (side, side), 90, rng.uniform(1.8, 4)) + 0.45 * grain(rng, (side, side), 5, 1.8)
        else:
            lumps = grain(rng, (side, side), rng.uniform(12, 22), rng.uniform(5, 8))
            drawn = 2.2 * np.clip(lumps, -0.1, 1) + 0.4 * grain(rng, (side, side), 3, 2)
        drawn = drawn * np.clip(0.8 + 0.4 * grain(rng, (side, side), 60, 15), 0.3, 1.6)
        mask[inside], height[inside] = 1, drawn[inside] * scale
    turned = to_screen(np.dstack([mask, height]), shape, finish.stroke)
    return turned[..., 0], turned[..., 1], strength
