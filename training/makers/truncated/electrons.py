"""Secondary electrons from a height map: yield grows as secⁿθ, n about 1 (from memory); ground that sees little sky sends fewer
to the detector; a detector at one side sees walls that face it brighter; edges thinner than the electrons' range glow
(Kanaya and Okayama, J. Phys. D 5 (1972) 43: 0.16–1.6 µm in iron at 5–20 kV). Grey follows slope and depth smoothly."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, kw_only=True)
class Beam:
    """How one setting of the microscope weighs what it sees; floor < 0 makes groove floors bright."""

    power: float
    sky: float
    side: float
    side_deg: float
    tilt_deg: float
    edge: float
    range_um: float
    floor: float


def draw_beam(rng: np.random.Generator) -> Beam:
    kilovolts = rng.choice([5, 10, 15, 20])
    one_side = rng.random() < 0.65
    look = rng.choice(3, p=[0.55, 0.3, 0.15])
    floor = (rng.uniform(0.1, 0.6), rng.uniform(-0.05, 0.15), -rng.uniform(0.15, 0.45))[look]
    return Beam(
        power=float(rng.uniform(0.8, 1.6)),
        sky=float((rng.uniform(0.6, 1.6), rng.uniform(0.2, 0.8), rng.uniform(0.0, 0.3))[look]),
        side=float(rng.uniform(0.15, 0.9) if one_side else rng.uniform(0, 0.12)),
        side_deg=float(rng.uniform(0, 360)),
        tilt_deg=float(rng.uniform(3, 30)) if rng.random() < 0.35 else 0.0,
        edge=float((rng.uniform(0.0, 0.8), rng.uniform(0.8, 2.2), rng.uniform(0.0, 0.8))[look]),
        range_um=float({5: 0.16, 10: 0.50, 15: 0.99, 20: 1.60}[int(kilovolts)]),
        floor=float(floor),
    )


def obscurance(height_um: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Share of the sky hidden, from how far the ground lies below its surroundings at several distances (tangent of the
    horizon, meaned over the distances)."""
    hidden = np.zeros_like(height_um)
    distances = (2.0, 5.0, 12.0)
    for distance in distances:
        around = cv2.GaussianBlur(height_um, (0, 0), distance)
        hidden += np.maximum(around - height_um, 0) / np.float32(distance * pixel_size_um)
    return hidden / len(distances) / (1 + hidden / len(distances))


def secondaries(height_um: np.ndarray, depth_um: np.ndarray, beam: Beam, pixel_size_um: float) -> np.ndarray:
    """Signal at the detector, about 1 on flat ground; depth_um: below the local plateau, of whatever is low."""
    height = height_um.astype(np.float32)
    rise_x = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * pixel_size_um))
    rise_y = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * pixel_size_um))
    c, s = np.cos(np.radians(beam.side_deg)), np.sin(np.radians(beam.side_deg))
    facing = np.float32(c) * rise_x + np.float32(s) * rise_y
    long = np.sqrt(1 + rise_x**2 + rise_y**2)
    tilt = np.radians(beam.tilt_deg)
    upright = np.maximum((np.cos(tilt) + np.sin(tilt) * facing) / long, 0.45) / np.cos(tilt)
    signal = upright ** np.float32(-beam.power)
    signal *= 1 - beam.side * np.tanh(facing / long)
    signal *= np.maximum(1 - beam.sky * obscurance(height, pixel_size_um), 0.1)
    spread = float(np.clip(beam.range_um / pixel_size_um, 0.8, 4))
    proud = np.maximum(height - cv2.GaussianBlur(height, (0, 0), spread), 0) / (spread * pixel_size_um)
    signal *= 1 + beam.edge * 2.5 * np.minimum(proud, 0.3)
    return signal * (1 - beam.floor * (1 - np.exp(-np.maximum(depth_um, 0) / 1.2)))
