"""Brightness of the surface (about 0–1 before the camera) from relief and state, each with tones and textures at random."""

from dataclasses import dataclass

import cv2
import numpy as np

from .noise import log_uniform, random_texture, spectral


@dataclass(frozen=True, kw_only=True)
class Beam:
    """backscattered: mode of contrast; side: direction to the detector, radians; shade: brightness for a unit slope
    towards it; rim: brightness of edges."""

    backscattered: bool
    side: float
    shade: float
    rim: float


def draw_beam(rng: np.random.Generator) -> Beam:
    """A detector at random; backscattered electrons see edges less."""
    back = bool(rng.random() < 0.3)
    return Beam(
        backscattered=back,
        side=rng.uniform(0, 2 * np.pi),
        shade=log_uniform(rng, 0.08, 0.5),
        rim=log_uniform(rng, 0.03, 0.3) * (0.5 if back else 1.0),
    )


def edge_line(rng: np.random.Generator, mask: np.ndarray, wide: float) -> np.ndarray:
    """A broken soft line (0–1) along the outline of mask, wide px across."""
    reach = 2 * max(1, round(wide / 2)) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    line = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_GRADIENT, kernel).astype(np.float32)
    line = cv2.GaussianBlur(line, (0, 0), max(0.5, 0.25 * wide))
    broken = 0.6 + rng.uniform(0.2, 0.7) * spectral(rng, mask.shape, log_uniform(rng, 2, 15))
    return line * np.clip(broken, 0, 1.8)


def slopes(ground: np.ndarray, pixel: float, beam: Beam) -> np.ndarray:
    """Brightness from the slope of ground (depth in µm, pixel in µm): the side facing the detector is
    bright, and steep ground of either side gives more."""
    height = cv2.GaussianBlur(-ground, (0, 0), 0.7)
    gx, gy = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=1 / (8 * pixel)), cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=1 / (8 * pixel))
    facing = -(gx * np.float32(np.cos(beam.side)) + gy * np.float32(np.sin(beam.side)))
    steep = np.sqrt(gx * gx + gy * gy)
    return beam.shade * np.tanh(1.5 * facing) + (0 if beam.backscattered else beam.rim) * (1 - 1 / np.sqrt(1 + steep * steep))


def plateau(rng: np.random.Generator, shape: tuple[int, int], lays: tuple[float, float], stroke: float, wear: np.ndarray) -> np.ndarray:
    """Tone of the land: finishing marks along the lays, which polishing takes away where wear (0–1) is 1, and marks
    along the stroke, which come with it."""
    tone = np.full(shape, rng.uniform(0.4, 0.6), np.float32)
    tone += log_uniform(rng, 0.004, 0.035) * random_texture(rng, shape, fine=0.8, coarse=6)
    left = 1 - rng.uniform(0.3, 1.0) * wear
    for lay in lays:
        marks = random_texture(rng, shape, fine=1, coarse=4, stretch=log_uniform(rng, 15, 120), angle=lay, high_pass=60)
        tone += log_uniform(rng, 0.004, 0.035) * marks * left
    if wear.any():
        marks = random_texture(rng, shape, fine=1, coarse=5, stretch=log_uniform(rng, 20, 150), angle=stroke, high_pass=80)
        tone += wear * (log_uniform(rng, 0.006, 0.045) * marks + rng.uniform(-0.08, 0.08))
    return tone


def valleys(rng: np.random.Generator, tone: np.ndarray, ground: np.ndarray, valley: np.ndarray, pixel: float, beam: Beam) -> str:
    """Paint grooves into tone (in place) from the ground's depth in µm; answers how they look."""
    look = str(rng.choice(["dark", "bright", "rim"], p=[0.62, 0.13, 0.25]))
    deep = 1 - np.exp(-np.maximum(ground - 0.15, 0) / np.float32(log_uniform(rng, 0.3, 1.6)))
    change = {"dark": -rng.uniform(0.12, 0.4), "bright": rng.uniform(0.08, 0.25), "rim": rng.uniform(-0.06, 0.04)}[look]
    tone += change * deep
    rough = random_texture(rng, tone.shape, fine=0.8, coarse=5, stretch=log_uniform(rng, 1, 5), angle=rng.uniform(0, np.pi), high_pass=40)
    tone += (log_uniform(rng, 0.06, 0.15) if look == "rim" else log_uniform(rng, 0.01, 0.1)) * rough * deep
    if rng.random() < 0.25:
        # Carbon lies in lumps on the floor and is dark in either mode of contrast.
        lumps = spectral(rng, tone.shape, log_uniform(rng, 3, 20)) > rng.uniform(0.2, 1.5)
        tone -= rng.uniform(0.08, 0.25) * cv2.GaussianBlur(lumps.astype(np.float32), (0, 0), 1) * deep
    tone += slopes(ground, pixel, beam)
    rim = rng.uniform(0.5, 1.0) if look == "rim" else rng.uniform(0, 0.8)
    tone += rim * beam.rim * edge_line(rng, valley, log_uniform(rng, 1, 4))
    return look


def smear(rng: np.random.Generator, tone: np.ndarray, closed: np.ndarray, stroke: float, beam: Beam) -> None:
    """Burnished metal over closed grooves, in place: smooth, of its own tone, with lips and fold lines."""
    soft = cv2.GaussianBlur(closed.astype(np.float32), (0, 0), rng.uniform(0.6, 1.2))
    calm = cv2.GaussianBlur(tone, (0, 0), log_uniform(rng, 1, 4))
    cap = calm * 0.5 + 0.5 * np.float32(np.median(tone)) + rng.choice([1, 1, 1, -1]) * rng.uniform(0.04, 0.16)
    brush = random_texture(rng, tone.shape, fine=1, coarse=4, stretch=log_uniform(rng, 3, 40), angle=stroke, high_pass=30)
    cap += log_uniform(rng, 0.008, 0.05) * brush
    tone += soft * (cap - tone)
    lip = edge_line(rng, closed, log_uniform(rng, 1, 3))
    tone += rng.uniform(0.06, 0.25) * lip * rng.choice([1, 1, -1]) * (0.6 if beam.backscattered else 1)
    folds = spectral(rng, tone.shape, log_uniform(rng, 3, 12), stretch=log_uniform(rng, 2, 8), angle=stroke + rng.normal(0, 0.5))
    crack = np.exp(-((folds / np.float32(rng.uniform(0.06, 0.2))) ** 2))
    tone -= rng.uniform(0.03, 0.2) * crack * soft


def torn(rng: np.random.Generator, tone: np.ndarray, scuffed: np.ndarray, stroke: float, beam: Beam) -> None:
    """Torn metal, in place: rough, drawn out along the stroke, with bright ridges and dark tears."""
    soft = cv2.GaussianBlur(scuffed.astype(np.float32), (0, 0), 1.0)
    tear = spectral(
        rng,
        tone.shape,
        log_uniform(rng, 1.5, 7),
        stretch=log_uniform(rng, 1.5, 10),
        angle=stroke,
        roll_off=rng.uniform(0.7, 1.6),
        high_pass=50,
    )
    grain = random_texture(rng, tone.shape, fine=0.8, coarse=3)
    ridge = np.maximum(tear - rng.uniform(0.4, 1.0), 0)
    body = np.float32(np.median(tone)) + rng.uniform(-0.12, 0.12)
    body = body + rng.uniform(0.06, 0.14) * tear + rng.uniform(0.02, 0.06) * grain + rng.uniform(0.1, 0.25) * ridge
    keep = rng.uniform(0, 0.35)
    tone += soft * (1 - keep) * (body - tone)
    tone += 0.5 * beam.rim * edge_line(rng, scuffed, 2) * soft
