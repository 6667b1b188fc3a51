"""Metal moved by the ring: covers over grooves, scuffed patches, and the codes that follow from depths in µm."""

import math

import cv2
import numpy as np

from .draws import between, blob, chance, fill, grain, ragged, streaks
from .grooves import OPEN_UM, POINTS, Groove


def codes_of(before_um: np.ndarray, after_um: np.ndarray, cover: np.ndarray, scuffed: np.ndarray) -> np.ndarray:
    """Mask codes from the depth in µm before and after metal moved; cover 0–1; `before_um` is after truncation, so that
    a groove that wear alone made shallow stays plateau."""
    codes = np.where(after_um >= OPEN_UM, 1, 0).astype(np.uint8)
    codes[(before_um >= OPEN_UM) & (after_um < OPEN_UM) & (cover > 0)] = 2
    codes[scuffed] = 3
    return codes


def close(before_um: np.ndarray, cover: np.ndarray, left_um: float) -> np.ndarray:
    """Depth in µm left under a cover of 0–1 that sinks at most `left_um` below the plateau."""
    return before_um * (1 - cover) + np.minimum(before_um, left_um) * cover


def along_groove(
    rng: np.random.Generator, cover: np.ndarray, *, one: Groove, pixel_size_um: float, longest: float, stroke_deg: float
) -> None:
    """One closure of a groove between two stations: whole or from one rim; ends torn or rounded."""
    half = np.maximum(one.half_um / pixel_size_um, 1.0) + rng.uniform(0.5, 2.0)
    length = between(rng, 1.2, max(longest, 1.3))
    start = rng.uniform(0.15, 0.85) * (POINTS - 1)
    fine = np.linspace(start, min(start + length, POINTS - 1.0), 24)
    middle = np.stack([np.interp(fine, np.arange(POINTS), one.middle[:, i]) for i in (0, 1)], axis=1)
    wide = np.interp(fine, np.arange(POINTS), half)
    across = np.array([-math.sin(math.radians(one.lay_deg)), math.cos(math.radians(one.lay_deg))])
    reach = rng.uniform(0.3, 0.9) if chance(rng, 0.35) else 1.0
    far = wide * (2 * reach - 1) + wide * rng.uniform(0, 0.35) * rng.uniform(-1, 1, 24) * (reach < 1)
    side = rng.choice([-1, 1])
    outline = np.concatenate([middle - side * wide[:, None] * across, (middle + side * far[:, None] * across)[::-1]])
    lay = np.array([across[1], -across[0]])
    # metal is dragged along the stroke, so that a closure's ends lean that way, as far as the lay lets them
    crossing = math.radians(stroke_deg - one.lay_deg)
    lean = np.clip(math.cos(crossing) / (math.sin(crossing) or 1e-3), -2.5, 2.5) * rng.uniform(0.3, 1.1)
    offset = (outline - np.concatenate([middle, middle[::-1]])) @ across
    shift = lean * offset
    # rounded or tongued ends: the middle of an end lags or leads its rims
    shift += np.repeat([-1.0, 1.0, -1.0], [12, 24, 12]) * rng.uniform(-0.6, 0.6) * np.abs(offset)
    outline = outline + shift[:, None] * lay
    if chance(rng, 0.6):
        outline = outline + rng.uniform(-1, 1, (48, 1)) * wide.mean() * rng.uniform(0.05, 0.4) * lay
    fill(cover, outline, 1.0)


def covers(
    rng: np.random.Generator, *, shape: tuple[int, int], grooves: list[Groove], pixel_size_um: float, stroke_deg: float, share: float
) -> np.ndarray:
    """Cover 0–1 over the field; `share` is about the part of the grooves that is closed."""
    cover = np.zeros(shape, np.float32)
    longest = between(rng, 2, 20)
    for one in grooves:
        for _ in range(rng.poisson(share * 22 / (1 + longest / 4))):
            along_groove(rng, cover, one=one, pixel_size_um=pixel_size_um, longest=longest, stroke_deg=stroke_deg)
    if chance(rng, 0.5):
        # burnished lanes and flakes run with the ring and close whatever they cross
        long, ratio = between(rng, 12, 0.5 * max(shape)), between(rng, 0.04, 0.5)
        for _ in range(rng.poisson(2 + 10 * share)):
            centre = (rng.uniform(0, shape[1]), rng.uniform(0, shape[0]))
            size = long * between(rng, 0.4, 1.5)
            fill(cover, blob(rng, centre, size, max(size * ratio, 3), stroke_deg + rng.normal(0, 4), rng.uniform(0.05, 0.4)), 1.0)
    cover = ragged(rng, cover, between(rng, 1.5, 8), between(rng, 0.3, 3))
    feather = between(rng, 0.4, 0.5 + 1.5 / pixel_size_um) if chance(rng, 0.5) else 0.5
    soft = cv2.GaussianBlur(cover, (0, 0), min(feather, 5))
    return np.clip((soft - 0.25) / 0.5, 0, 1)


def scuffs(rng: np.random.Generator, *, shape: tuple[int, int], stroke_deg: float, share: float) -> np.ndarray:
    """Torn patches, bool: streaks along the stroke, gathered in lanes, about `share` of the field."""
    across = between(rng, 3, 25)
    lane = streaks(rng, shape, stroke_deg, between(rng, 60, 900), across)
    fray = streaks(rng, shape, stroke_deg, across * 3, between(rng, 1.5, 4))
    patch = lane + rng.uniform(0.05, 0.35) * fray + rng.uniform(0, 0.6) * grain(rng, shape, between(rng, 20, 90))
    # frayed tips: torn tracks begin and end in teeth, not in points
    patch = ragged(rng, patch, between(rng, 1.5, 6), between(rng, 0.5, 3))
    torn = (patch > np.quantile(patch, 1 - share)).astype(np.uint8)
    torn = cv2.morphologyEx(torn, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    return cv2.morphologyEx(torn, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)) > 0
