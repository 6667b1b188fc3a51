"""What every state of the surface gives back to the detector, before the instrument takes its picture."""

from dataclasses import dataclass

import cv2
import numpy as np

from .instrument import topography
from .lookalikes import blotches, graphite, marks, streaks


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Maps on the canvas. depth µm and lean (tan) as honed; floor, worn, covered, torn bool; lips, cracks, particles 0 to 1."""

    depth: np.ndarray
    lean: np.ndarray
    floor: np.ndarray
    worn: np.ndarray
    covered: np.ndarray
    torn: np.ndarray
    lips: np.ndarray
    cracks: np.ndarray
    particles: np.ndarray


def after_wear(rng, ground: Ground, worn_off_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Depth (µm) and lean once the plateau is worn off and metal has closed grooves; a cap sags by less than 0.5 µm."""
    lowered = np.maximum(ground.depth - worn_off_um * ground.worn, 0)
    lean = np.where(lowered > 0, ground.lean, 0)
    sag = np.float32(rng.uniform(0.0, 0.4))
    lowered = np.where(ground.covered, np.minimum(lowered, sag), lowered)
    lean = np.where(ground.covered, lean * 0.15, lean)
    return lowered.astype(np.float32), lean.astype(np.float32)


def _plateau(rng, ground: Ground, lays_deg, stroke_deg: float, size) -> np.ndarray:
    """Relative grey of fine marks: finishing scratches along the lays, worn away in the track where stroke marks replace them."""
    strength = 10 ** rng.uniform(-1.5, -0.75)
    fine = marks(rng, size, lays_deg, int(rng.integers(20, 150)), 2.5) * strength
    grain = streaks(rng, size, rng.choice(lays_deg), rng.uniform(15, 90), rng.uniform(1.5, 3)) * 10 ** rng.uniform(-2.4, -1.5)
    grain += blotches(rng, size, rng.uniform(2.5, 7)) * 10 ** rng.uniform(-2.2, -1.4)
    out = fine + grain
    if ground.worn.any():
        left = rng.uniform(0.05, 0.6)
        run = marks(rng, size, [stroke_deg], int(rng.integers(10, 120)), 1.2) * strength * rng.uniform(0.5, 1.2)
        run += streaks(rng, size, stroke_deg, rng.uniform(80, 400), rng.uniform(1.5, 4)) * 10 ** rng.uniform(-2.2, -1.4)
        out = np.where(ground.worn, left * out + run + rng.normal(0, 0.035), out)
    return out.astype(np.float32)


def _torn(rng, size, stroke_deg: float) -> np.ndarray:
    """Relative grey of scuffed metal: ploughed ridges along the stroke, bright crests, and tears across it."""
    wide, fine = rng.uniform(10, 26), rng.uniform(3, 7)
    ridges = 0.7 * streaks(rng, size, stroke_deg, wide * rng.uniform(4, 14), wide)
    ridges += 0.6 * streaks(rng, size, stroke_deg + rng.normal(0, 4), fine * rng.uniform(5, 15), fine)
    # Metal tears across the stroke in patches where it stuck, not evenly like a weave.
    patches = np.clip(blotches(rng, size, rng.uniform(20, 60)), 0, 2)
    pits = blotches(rng, size, rng.uniform(4, 12))
    tears = streaks(rng, size, stroke_deg + 90 + rng.normal(0, 15), rng.uniform(8, 30), rng.uniform(4, 9)) * patches
    rough = 0.7 * ridges + 0.4 * tears + rng.uniform(0.2, 0.6) * pits * (0.4 + patches)
    crests = np.clip(ridges - 0.8, 0, 1.5) * np.clip(1 + 0.6 * pits, 0, 2)
    return 10 ** rng.uniform(-1.0, -0.55) * rough + rng.uniform(0.1, 0.4) * crests - 0.25 * (tears < -1.8) + rng.normal(0, 0.08)


def signal_of(rng, ground: Ground, *, lays_deg, stroke_deg: float, worn_off_um: float, canvas_um: float) -> np.ndarray:
    """Signal on the canvas, about 1 on clean plateau: float32."""
    size = ground.depth.shape
    depth, lean = after_wear(rng, ground, worn_off_um)
    secondary = rng.random() < 0.75
    side = rng.uniform(0.15, 0.9) if secondary else rng.uniform(0.5, 1.5)
    floors = str(rng.choice(["dark", "rough", "bright", "rim"], p=[0.45, 0.25, 0.15, 0.15]))
    starved = 10 ** rng.uniform(-2, -0.9) * (1 if secondary else 0.5)
    edge = rng.uniform(0.15, 0.7) if secondary else rng.uniform(0, 0.15)
    out = topography(depth, lean, kilovolt=rng.uniform(5, 20), canvas_um=canvas_um, side=side, starved=starved, edge=edge)
    out += _plateau(rng, ground, lays_deg, stroke_deg, size) * np.exp(-0.8 * depth)
    # A cap sags but has no floor of its own to be seen.
    inside = (depth**2 / (depth**2 + 0.25)) * np.where(ground.covered, np.float32(rng.uniform(0, 0.3)), np.float32(1))
    bed = streaks(rng, size, rng.choice(lays_deg), rng.uniform(10, 60), rng.uniform(2, 5))
    bed = 0.7 * bed + 0.6 * blotches(rng, size, rng.uniform(2.5, 8))
    rough = 10 ** rng.uniform(-1.7, -1.0) if floors != "rough" else rng.uniform(0.12, 0.28)
    base = {"dark": -rng.uniform(0.12, 0.5), "rough": rng.normal(0, 0.08), "bright": rng.uniform(0.12, 0.35), "rim": 0.0}[floors]
    # Carbon and dried oil gather on floors in patches, not evenly.
    fill = 1 + 0.3 * np.clip(blotches(rng, size, rng.uniform(30, 120)), -2, 2)
    out += inside * (base * fill * np.where(ground.floor, 1.15, 1.0) + rough * bed)
    if ground.covered.any():
        cap = streaks(rng, size, stroke_deg, rng.uniform(30, 200), rng.uniform(1.5, 4)) * rng.uniform(0.01, 0.05)
        cap += rng.choice([-1, 1, 1]) * rng.uniform(0.03, 0.14) * np.clip(1 + 0.7 * blotches(rng, size, rng.uniform(30, 160)), 0, 2)
        mat = cv2.GaussianBlur((ground.covered & (ground.depth > worn_off_um)).astype(np.float32), (0, 0), 10 ** rng.uniform(0, 0.7))
        out += mat * cap + rng.uniform(0.15, 0.5) * ground.lips - rng.uniform(0.15, 0.5) * ground.cracks
    if rng.random() < 0.65:
        flakes, holes = graphite(rng, size, canvas_um)
        shown = np.where(ground.covered, 0.15, 1.0) * np.exp(-0.3 * depth)
        rim = cv2.GaussianBlur(holes, (0, 0), 3) * (1 - holes)
        out = out * (1 - shown * (flakes * rng.uniform(0.35, 0.75) + holes * 0.7)) + shown * rim * rng.uniform(0.1, 0.6)
    if ground.torn.any():
        mat = cv2.GaussianBlur(ground.torn.astype(np.float32), (0, 0), 1.5)
        rim = np.clip(cv2.GaussianBlur(mat, (0, 0), 4) - mat, 0, 1)
        out = out * (1 - mat) + mat * (1 + _torn(rng, size, stroke_deg)) + rng.uniform(0.2, 0.9) * rim
    if rng.random() < 0.25:
        stain = blotches(rng, size, rng.uniform(60, 260)) + 0.35 * blotches(rng, size, rng.uniform(12, 40))
        stain = np.clip(stain - rng.uniform(0.5, 1.6), 0, None)
        out -= np.minimum(stain * rng.uniform(0.6, 2.5), 1) * rng.uniform(0.05, 0.22)
    if ground.particles.any():
        shadow = np.roll(cv2.GaussianBlur(ground.particles, (0, 0), 6), (int(rng.integers(-12, 13)), int(rng.integers(-12, 13))), (0, 1))
        body = cv2.GaussianBlur(ground.particles, (0, 0), 1.2)
        out -= rng.uniform(0.1, 0.35) * shadow * (1 - body)
        out += body * rng.uniform(0.2, 0.9)
    return np.maximum(out, 0.02).astype(np.float32)
