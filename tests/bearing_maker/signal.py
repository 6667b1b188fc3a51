"""Secondary-electron signal by look-up: tables of local inclination, curvature and depth, drawn anew for each specimen.

Yield grows with inclination about as sec θ (from memory). Ridges within the electron range let more electrons out, so
curvature is taken at that range: R = 0.0276 A E^1.67 / (Z^0.89 ρ) µm (Kanaya, Okayama 1972). Deep places starve the
detector and look dark, or look bright where floors are rough; a specimen keeps its sign. Each table is a random monotone
curve with these signs. A side detector adds the slope towards it; an in-lens one sees the surface alike from all sides.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .field import Surface
from .noise import smooth_noise, soft_step
from .specimen import Setting


@dataclass(frozen=True)
class Tables:
    """Signal against tan of inclination, curvature and depth in µm, the direction of the detector and material terms."""

    tangent: tuple[np.ndarray, np.ndarray]
    curve: tuple[np.ndarray, np.ndarray]
    depth: tuple[np.ndarray, np.ndarray]
    towards_deg: float
    directional: float
    deposit: float
    crack: float
    graphite: float
    scuff: float
    floor: float


def electron_range_um(kv: float) -> float:
    """Return the range of electrons in iron, µm; 0.99 at 15 kV."""
    return 0.0276 * 55.85 * kv**1.67 / (26**0.89 * 7.87)


def draw_tables(setting: Setting, seed: int) -> Tables:
    """Draw one specimen's tables."""
    rng = np.random.default_rng(seed)
    side = setting.detector == "side"
    bright_floor = rng.random() < 0.2
    depth_gain = rng.uniform(0.08, 0.2) if bright_floor else -rng.uniform(0.14, 0.36)
    depth = _rising(np.array([0, 0.3, 0.6, 1.0, 1.6, 2.3, 3.2]), depth_gain, rng, first=0.35)
    return Tables(
        tangent=_rising(np.linspace(0, 1.2, 9), rng.uniform(0.15, 0.4), rng),
        curve=_two_sided(np.linspace(-0.5, 0.5, 11), rng.uniform(0.06, 0.24), rng),
        depth=depth,
        towards_deg=float(rng.uniform(0, 360)),
        directional=float(rng.uniform(0.15, 0.5)) if side else float(rng.uniform(0.0, 0.05)),
        deposit=_worked(float(np.interp(1.2, *depth)), rng),
        crack=float(rng.uniform(0.03, 0.09)),
        graphite=float(rng.uniform(0.18, 0.4)),
        scuff=float(rng.uniform(-0.05, 0.08)),
        floor=float(rng.uniform(0.02, 0.06)),
    )


def _worked(valley: float, rng: np.random.Generator) -> float:
    """Return the tone of worked metal: darker or brighter than plateau, but never like the open valley's."""
    sign = rng.choice([-1, 1])
    share = rng.uniform(0.1, 0.35) if sign * valley > 0 else rng.uniform(0.1, 0.5)
    return float(sign * max(0.02, share * abs(valley)))


def _rising(
    knots: np.ndarray, gain: float, rng: np.random.Generator, first: float = 1.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return a monotone curve from zero to the gain; first scales its first step."""
    steps = rng.exponential(1.0, knots.size - 1) * np.diff(knots) / (0.4 * knots[-1] + knots[1:])
    steps[0] *= first
    return knots, gain * np.concatenate([[0], np.cumsum(steps) / steps.sum()])


def _two_sided(knots: np.ndarray, gain: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return a rising curve through zero whose bright side (ridges) is the stronger."""
    steps = rng.uniform(0.4, 1.6, knots.size - 1) / (0.12 + np.abs(knots[1:] + knots[:-1]) / 2)
    values = np.cumsum(np.concatenate([[0], steps]))
    values = (values - np.interp(0, knots, values)) / (values[-1] - values[0]) * 2
    return knots, gain * np.where(values < 0, 0.6, 1.0) * values


def emitted(surface: Surface, setting: Setting, tables: Tables, rng: np.random.Generator) -> np.ndarray:
    """Return the noise-free signal, about 0.5 on plain plateau."""
    pixel = setting.pixel_um
    fine = cv2.GaussianBlur(surface.height_um, (0, 0), 0.35)
    grad_y, grad_x = np.gradient(fine / pixel)
    grad_y *= np.cos(np.deg2rad(setting.tilt_deg))
    signal = 0.5 + np.interp(np.hypot(grad_x, grad_y), *tables.tangent)
    size = max(electron_range_um(setting.kv) / pixel, 0.7)
    bump = cv2.GaussianBlur(fine, (0, 0), 0.6 * size) - cv2.GaussianBlur(fine, (0, 0), 1.8 * size)
    signal += np.interp(bump, *tables.curve)
    hole = _below(surface.height_um, pixel)
    signal += np.interp(hole, *tables.depth)
    towards = np.deg2rad(tables.towards_deg)
    facing = -(grad_x * np.cos(towards) - grad_y * np.sin(towards))
    signal += tables.directional * np.tanh(1.2 * facing) / 1.2
    signal += 0.5 * np.sin(np.deg2rad(setting.tilt_deg)) * np.tanh(facing if setting.detector == "side" else grad_y)
    return (signal + _materials(surface, hole, pixel, tables, rng)).astype(np.float32)


def _below(height: np.ndarray, pixel: float) -> np.ndarray:
    """Return how deep each place lies below its surroundings' high ground, µm: over 10 µm and over 50 µm."""
    deep = []
    for reach in (10.0, 50.0):
        sigma = reach / 2 / pixel
        step = max(1, int(sigma / 6))
        small = height[::step, ::step]
        top = small.copy()
        for _ in range(2):  # pulls the mean towards the high ground
            top = np.maximum(small, cv2.GaussianBlur(top, (0, 0), sigma / step))
        top = cv2.GaussianBlur(top, (0, 0), sigma / step)
        deep.append(cv2.resize(top, height.shape[::-1], interpolation=cv2.INTER_LINEAR) - height)
    return np.clip(0.4 * deep[0] + 0.6 * deep[1], 0, None)


def _materials(surface: Surface, hole: np.ndarray, pixel: float, tables: Tables, rng) -> np.ndarray:
    """Return what does not follow from shape: carbon, floors, worked metal and faint grains by channelling."""
    shape = hole.shape
    grit = smooth_noise(shape, 0.35 / pixel + 0.5, 0.35 / pixel + 0.5, rng)
    clots = smooth_noise(shape, 2.5 / pixel + 0.5, 2.5 / pixel + 0.5, rng)
    floor = soft_step(hole, 0.3, 1.0) * (1 - surface.deposit)
    term = tables.floor * floor * (grit + 0.7 * clots)
    term -= tables.graphite * surface.graphite * (1 + 0.12 * clots)
    broad = smooth_noise(shape, 9 / pixel, 9 / pixel, rng)
    streaky = np.clip(1 + 0.35 * clots + 0.35 * broad, 0, None)
    term += tables.deposit * surface.deposit * streaky - tables.crack * surface.crack
    term += surface.scuff * (tables.scuff + 0.03 * grit + 0.04 * clots)
    grains = np.round(2 * smooth_noise(shape, 8 / pixel, 8 / pixel, rng)) * 0.5
    return term + 0.008 * grains * (1 - surface.scuff) + 0.012 * grit * (1 - 0.5 * surface.deposit)
