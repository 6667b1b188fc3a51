"""Grey of a state of the ground, in units of the plateau's mean (1 = plateau); depths in µm, lengths in pixels."""

import math

import cv2
import numpy as np

from .draws import between, chance, grain, streaks


def tilt_gain(slope: np.ndarray) -> np.ndarray:
    """Secondary yield over that of level ground, sec θ of a slope given as tan θ."""
    return np.sqrt(1 + slope * slope)


def relief(depth_um: np.ndarray, pixel_size_um: float, detector_deg: float, side: float) -> np.ndarray:
    """Grey change of slopes: sec θ of the tilt, and `side` (0–1) of what a detector at one side sees more or less."""
    height = -cv2.GaussianBlur(depth_um, (0, 0), 0.8)
    dx = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=1 / 8) / pixel_size_um
    dy = cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=1 / 8) / pixel_size_um
    # ground that rises away from the detector faces it
    facing = -(dx * math.cos(math.radians(detector_deg)) + dy * math.sin(math.radians(detector_deg)))
    gain = tilt_gain(np.hypot(dx, dy))
    return np.minimum(gain - 1, 1.2) + side * facing / gain


def plateau(rng: np.random.Generator, shape: tuple[int, int], stroke_deg: float, lays: tuple[float, float], worn: np.ndarray) -> np.ndarray:
    """Level ground: fine hone marks where it is not worn, polish and marks along the stroke where it is."""
    strength, size = between(rng, 0.015, 0.11), between(rng, 0.6, 4)
    hone = sum(streaks(rng, shape, lay, between(rng, 50, 600), between(rng, 1, 4)) for lay in lays) * 0.7
    ring = streaks(rng, shape, stroke_deg, between(rng, 50, 800), between(rng, 1, 5))
    polish, left = rng.uniform(0.2, 1.1), rng.uniform(0, 0.8)
    marks = np.where(worn, polish * ring + left * hone, hone)
    base = rng.uniform(0.2, 0.9) * marks + rng.uniform(0.2, 0.9) * grain(rng, shape, size)
    return 1 + strength * base + between(rng, 0.005, 0.06) * grain(rng, shape, between(rng, 15, 120))


def valleys(rng: np.random.Generator, depth_um: np.ndarray, pixel_size_um: float, backscatter: bool) -> tuple[np.ndarray, str]:
    """What grooves add to the plateau's grey, and the look's name: dark, bright, or rims and texture only."""
    shape = depth_um.shape
    look = rng.choice(["dark", "bright", "rims"], p=[0.62, 0.14, 0.24])
    tone = {"dark": -between(rng, 0.1, 0.65), "bright": between(rng, 0.1, 0.4), "rims": rng.uniform(-0.06, 0.06)}[look]
    # escape starves with depth, towards a limit
    starved = 1 - np.exp(-depth_um / between(rng, 0.3, 3))
    soft = np.clip((depth_um - 0.25) / 0.3, 0, 1)
    grainy = between(rng, 0.02, 0.16) * (1.6 if look == "rims" else 1.0)
    floor = grainy * grain(rng, shape, between(rng, 0.7, 4)) * soft
    if chance(rng, 0.35):
        # carbon in the floor: dark lumps
        lumps = grain(rng, shape, between(rng, 1.5, 7)) > rng.uniform(0.3, 1.4)
        floor -= cv2.GaussianBlur(lumps.astype(np.float32), (0, 0), 0.8) * soft * rng.uniform(0.1, 0.4)
    side = rng.uniform(0, 0.2) if backscatter else between(rng, 0.1, 0.7)
    added = tone * starved + floor + rng.uniform(0.3, 1) * relief(depth_um, pixel_size_um, rng.uniform(0, 360), side)
    if look == "rims" or chance(rng, 0.45):
        width = between(rng, 0.8, 2.5)
        edge = soft * (1 - soft) * 2 + np.abs(cv2.GaussianBlur(soft, (0, 0), width) - cv2.GaussianBlur(soft, (0, 0), width * 2))
        torn = np.clip(1 + rng.uniform(0, 0.9) * grain(rng, shape, between(rng, 1.5, 8)), 0, 3)
        added += between(rng, 0.3, 1.6) * (0 if backscatter and look != "rims" else 1) * edge * torn
    return added.astype(np.float32), str(look)


def smear(rng: np.random.Generator, grey: np.ndarray, cover: np.ndarray, once_um: np.ndarray, stroke_deg: float) -> np.ndarray:
    """Moved metal painted over a groove: nearly plateau, smoother or rougher, with lips at its edges or all but gone."""
    shape = grey.shape
    on = cover * np.clip(once_um / 0.5, 0, 1)
    if chance(rng, 0.12):
        tone, rough, lip = rng.uniform(-0.02, 0.02), 0.02, 0.0
    else:
        tone = rng.choice([-1, 1], p=[0.6, 0.4]) * between(rng, 0.03, 0.2)
        rough, lip = between(rng, 0.01, 0.1), between(rng, 0.1, 0.7) if chance(rng, 0.7) else 0.0
    if chance(rng, 0.6):
        skin = streaks(rng, shape, stroke_deg, between(rng, 6, 80), between(rng, 1, 3))
    else:
        skin = grain(rng, shape, between(rng, 0.7, 5))
    grey = grey + on * (tone + rough * skin)
    if lip:
        width = between(rng, 0.7, 2)
        edge = np.abs(cv2.GaussianBlur(cover, (0, 0), width) - cover) * np.clip(once_um / 0.5, 0, 1)
        breaks = np.clip(0.6 + grain(rng, shape, between(rng, 2, 9)), 0, 2)
        # a lip stands up and shines, a fold's seam is a crack and dark
        grey = grey + lip * edge * breaks * (1.8 if chance(rng, 0.6) else -1.8)
    if chance(rng, 0.5):
        folds = streaks(rng, shape, stroke_deg + 90 + rng.normal(0, 20), between(rng, 6, 30), between(rng, 1, 2.5))
        grey = grey - on * between(rng, 0.08, 0.4) * np.clip(folds - rng.uniform(1.2, 2), 0, 1)
    return grey


def scuff(rng: np.random.Generator, grey: np.ndarray, torn: np.ndarray, stroke_deg: float) -> np.ndarray:
    """Torn metal: rough ground stretched along the stroke, bright ridges, dark gouges and torn teeth across."""
    shape = grey.shape
    long, across = between(rng, 10, 120), between(rng, 1.2, 5)
    body = streaks(rng, shape, stroke_deg, long, across)
    fine = streaks(rng, shape, stroke_deg, across * rng.uniform(1.2, 4), between(rng, 1, 2))
    teeth = grain(rng, shape, between(rng, 0.8, 3))
    rough = between(rng, 0.14, 0.34)
    mixed = rng.uniform(0.5, 1) * body + rng.uniform(0.1, 0.7) * fine + rng.uniform(0.2, 0.8) * teeth
    metal = 1 + rng.uniform(-0.15, 0.2) + rough * mixed
    metal += between(rng, 0.1, 0.5) * np.clip(body + 0.5 * teeth - 1.2, 0, 2)
    metal -= between(rng, 0.1, 0.4) * np.clip(-body - 0.4 * fine - 1, 0, 1.5)
    soft = cv2.GaussianBlur(torn.astype(np.float32), (0, 0), between(rng, 0.5, 1.5))
    return grey * (1 - soft) + soft * (rng.uniform(0.0, 0.3) * (grey - 1) + metal)
