"""The signal that leaves the ground: tilt, detector's side, starved depths, bright rims, carbon, and a rough grain."""

from dataclasses import dataclass

import cv2
import numpy as np

from .matter import Matter
from .randomly import brushed, log_uniform

YIELD_IRON, YIELD_CARBON = 0.28, 0.06
"""Backscatter coefficients (Reuter)."""


@dataclass(kw_only=True)
class Scene:
    """Picture-frame maps. relief_um: heights with fine marks; depth_um: below the local plateau, fine marks left out;
    covered, torn, worn: 0–1; stroke_deg and lay_deg: directions from the row."""

    relief_um: np.ndarray
    depth_um: np.ndarray
    covered: np.ndarray
    torn: np.ndarray
    worn: np.ndarray
    stroke_deg: float
    lay_deg: tuple[float, float]
    matter: Matter


def tilt_gain(slope: np.ndarray, exponent: float = 1.0) -> np.ndarray:
    """Secondary yield over that of level ground: sec^n of the tilt whose tangent is slope."""
    return np.sqrt(1 + np.square(slope)) ** exponent


def fine_relief(scene: Scene, rng: np.random.Generator, pixel_size_um: float) -> np.ndarray:
    """Marks (µm, all shallower than 0.45): finishing along the lays where unworn, running-in along the stroke where worn."""
    shape = scene.depth_um.shape
    across = max(log_uniform(rng, 0.5, 4) / pixel_size_um, 1.2)
    height = log_uniform(rng, 0.02, 0.2)
    finish = sum(
        brushed(rng, shape, lay + rng.normal(0, 2), log_uniform(rng, 60, 600) / pixel_size_um, across)
        for lay in scene.lay_deg
    )
    finish = -height * np.clip(finish - 0.6, 0, 2.2)
    if scene.worn.max() > 0 or rng.random() < 0.25:
        across = max(log_uniform(rng, 0.4, 8) / pixel_size_um, 1.2)
        marks = brushed(
            rng, shape, scene.stroke_deg + rng.normal(0, 1), log_uniform(rng, 40, 900) / pixel_size_um, across
        )
        marks = -log_uniform(rng, 0.03, 0.2) * np.clip(marks - rng.uniform(-0.3, 1.2), 0, 2.2)
        run_in = scene.worn if scene.worn.max() > 0 else np.float32(1)
        # Running-in takes most of the finish away before it leaves its own marks.
        finish = finish * (1 - rng.uniform(0.5, 1) * run_in) + marks * run_in
    deep = np.clip(scene.depth_um / 0.5, 0, 1)
    return (np.clip(finish, -0.42, 0) * (1 - 0.8 * deep)).astype(np.float32)


def starved(relief_um: np.ndarray, pixel_size_um: float, reach_um: float) -> np.ndarray:
    """Occlusion 0–1: how far the ground lies below its surroundings over the distance to them."""
    out = np.zeros_like(relief_um)
    for share in (0.35, 1.0):
        near = reach_um * share / pixel_size_um
        shrink = max(int(near / 3), 1)
        small = cv2.resize(relief_um, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
        around = cv2.GaussianBlur(small, (0, 0), max(near / shrink, 0.8))
        around = cv2.resize(around, relief_um.shape[::-1], interpolation=cv2.INTER_LINEAR)
        out += 0.5 * np.clip((around - relief_um) / (reach_um * share) * 3, -0.3, 1)
    return out


def grain(scene: Scene, rng: np.random.Generator, pixel_size_um: float) -> np.ndarray:
    """Brightness (relative) of roughness too fine to be lit as relief: burnished smooth, floors rough, torn roughest."""
    shape = scene.depth_um.shape
    size = max(log_uniform(rng, 0.25, 2.5) / pixel_size_um, 1.0)
    mixed = brushed(rng, shape, rng.uniform(0, 180), size, size)
    mixed = mixed + 0.6 * brushed(rng, shape, rng.uniform(0, 180), 2.6 * size, 2.6 * size)
    plain = log_uniform(rng, 0.01, 0.06)
    valley = plain * log_uniform(rng, 1.5, 6)
    floor = np.clip(scene.depth_um / 1.0, 0, 1)
    amount = plain * (1 - rng.uniform(0.2, 0.8) * scene.worn) * (1 - floor) + min(valley, 0.2) * floor
    amount = np.where(scene.covered > 0.5, plain * rng.uniform(0.2, 0.6), amount)
    amount = np.where(scene.torn > 0.5, rng.uniform(0.1, 0.28), amount)
    if scene.torn.max() > 0:
        sharp = brushed(rng, shape, scene.stroke_deg, rng.uniform(1.3, 4), 1.2)
        mixed = mixed + rng.uniform(0.3, 1.2) * sharp * (scene.torn > 0.5)
    return amount * mixed


def signal(scene: Scene, rng: np.random.Generator, pixel_size_um: float) -> tuple[np.ndarray, str]:
    """Electrons relative to smooth plateau (float32) and the detector's name."""
    relief = scene.relief_um
    backscattered = rng.random() < 0.25
    down, right = np.gradient(relief, pixel_size_um)
    limit = 1.2
    down, right = np.clip(down, -limit, limit), np.clip(right, -limit, limit)
    slope = np.hypot(down, right)
    side = rng.uniform(0, 2 * np.pi)
    facing = -(right * np.cos(side) + down * np.sin(side)) / tilt_gain(slope)
    out = 1 + log_uniform(rng, 0.15, 1.2) * facing
    if not backscattered:
        out *= tilt_gain(slope, rng.uniform(0.9, 1.6))
    reach = float(np.clip(log_uniform(rng, 3, 30), 3 * pixel_size_um, 40 * pixel_size_um))
    out *= np.exp(-log_uniform(rng, 0.3, 1.8) * starved(relief, pixel_size_um, reach))
    sharp = relief - cv2.GaussianBlur(relief, (0, 0), float(np.clip(0.6 / pixel_size_um, 0.8, 4)))
    rims = log_uniform(rng, 0.3, 4) * (0.4 if backscattered else 1.0) / np.clip(pixel_size_um, 0.3, 1)
    out *= 1 + np.clip(rims * sharp, -0.3, 0.7)
    looks = rng.choice(["dark", "bright", "rim"], p=[0.55, 0.17, 0.28])
    fullness = 1 - np.exp(-np.clip(scene.depth_um - 0.2, 0, None) / log_uniform(rng, 0.5, 2.5))
    lump = 12 / pixel_size_um
    patchy = np.clip(1 + rng.uniform(0, 0.5) * brushed(rng, relief.shape, rng.uniform(0, 180), lump, lump), 0.2, 1.6)
    floor = {"dark": -rng.uniform(0.25, 0.75), "bright": rng.uniform(0.15, 0.6), "rim": rng.uniform(-0.12, 0.08)}[looks]
    out *= np.clip(1 + floor * fullness * patchy, 0.12, 2)
    # Work-hardened metal laid over a groove keeps little carbon or oxide and may be a shade off the plateau.
    shade = rng.uniform(0.04, 0.2) * rng.choice([-1, 1], p=[0.4, 0.6])
    out *= 1 + shade * scene.covered * np.clip(patchy, 0.5, 1.3) + rng.uniform(-0.25, 0.3) * scene.torn
    out *= 1 + rng.uniform(-0.12, 0.12) * scene.worn
    out *= 1 + grain(scene, rng, pixel_size_um)
    matter = scene.matter
    shows = matter.carbon * np.where(scene.covered + scene.torn > 0.5, 0.1, 1)
    carbon = YIELD_CARBON / YIELD_IRON if backscattered else rng.uniform(0.25, 0.7)
    out *= 1 - shows * (1 - carbon)
    out *= 1 + rng.uniform(-0.35, 0.2) * matter.film
    if matter.debris.max() > 0:
        lump = matter.debris * (1 + 0.25 * brushed(rng, relief.shape, 0, 4, 4))
        off = float(rng.uniform(3, 12))
        shift = np.array([[1, 0, -off * np.cos(side)], [0, 1, -off * np.sin(side)]])
        shadow = cv2.GaussianBlur(cv2.warpAffine(matter.debris, shift, relief.shape[::-1]), (0, 0), off / 2)
        out *= 1 - rng.uniform(0.1, 0.5) * shadow
        out = np.where(matter.debris > 0, np.where(lump > 0.2, rng.uniform(0.5, 1.5) * (0.6 + 0.6 * lump), out), out)
    out = out + matter.charging * rng.uniform(0.8, 1.6)
    return out.astype(np.float32), f"{'backscattered' if backscattered else 'secondary'} {looks}"
