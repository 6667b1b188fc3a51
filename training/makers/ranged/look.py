"""From the ground to the signal of a detector: tilt, side, edges, escape out of grooves, composition, films."""

from dataclasses import dataclass

import cv2
import numpy as np

from .draw import clouds, log_uniform, streaks
from .setting import Setting

ETA = {"iron": 0.28, "carbon": 0.06}
"""Share of beam electrons that come back."""
MODES = ("flat", "side", "composition", "mixed")


@dataclass(frozen=True, kw_only=True)
class Beam:
    """Accelerating voltage in kV; the detector's direction in the picture in degrees."""

    kv: float
    mode: str
    detector_deg: float


def choose(rng: np.random.Generator) -> Beam:
    mode = str(rng.choice(MODES, p=[0.2, 0.35, 0.15, 0.3]))
    return Beam(kv=log_uniform(rng, 1.5, 30), mode=mode, detector_deg=float(rng.uniform(0, 360)))


def electron_range_um(kv: float, mass: float = 55.85, number: float = 26, density: float = 7.87) -> float:
    """Range of beam electrons by Kanaya and Okayama; mass in g/mol, density in g/cm³."""
    return 0.0276 * mass * kv**1.67 / (number**0.89 * density)


def tilt_signal(height_um: np.ndarray, pixel_um: float, detector_deg: float, side: float) -> np.ndarray:
    """Secondary signal of each slope, 1 on level ground: 1/cos of the tilt, and more from walls that face the detector."""
    along_x = cv2.Sobel(height_um, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * pixel_um))
    along_y = cv2.Sobel(height_um, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * pixel_um))
    # Ground that falls towards the detector faces it.
    facing = -(along_x * np.cos(np.deg2rad(detector_deg)) + along_y * np.sin(np.deg2rad(detector_deg)))
    steep = along_x**2 + along_y**2
    return np.sqrt(1 + np.minimum(steep, 8)) + side * np.tanh(facing)


def signal(rng: np.random.Generator, setting: Setting, beam: Beam, ground: dict[str, np.ndarray]) -> np.ndarray:
    """Signal in units of level clean iron. `ground` holds height, depth, fold, lip, caps, torn, carbon, film, lumps, worn."""
    height, depth, torn = ground["height"], ground["depth"], ground["torn"]
    shape, pixel = height.shape, setting.pixel_um
    valley = np.clip((depth - 0.3) / 0.4, 0, 1)
    side = {"flat": 0.05, "side": rng.uniform(0.5, 1.2), "composition": rng.uniform(0, 0.3), "mixed": rng.uniform(0.2, 0.6)}[beam.mode]
    # Floors that honing tore are rough; the rubbed plateau isn't.
    grain = clouds(rng, shape, max(1.2, log_uniform(rng, 0.4, 2.5) / pixel))
    lay = setting.lays_deg[0]
    rough = log_uniform(rng, 0.06, 0.35) * (grain + 0.7 * streaks(rng, shape, lay, max(3.0, 6 / pixel), max(1.0, 0.8 / pixel)))
    height = (height + rough * valley * min(1.0, pixel * 2.5)).astype(np.float32)
    out = tilt_signal(height, pixel, beam.detector_deg, side)

    # Convex edges let more out, as far as the beam reaches; transparent and wide at high voltage.
    reach = float(np.clip(electron_range_um(beam.kv) / pixel, 0.8, 8))
    edge = height - cv2.GaussianBlur(height, (0, 0), reach)
    weight = 0.2 if beam.mode == "composition" else rng.uniform(0.2, 0.6)
    out += weight * np.clip(edge, -0.5, 1.0) / max(0.25, 0.4 * reach * pixel)

    starved = 1 - np.exp(-depth / log_uniform(rng, 1.0, 4.0))
    # Only where walls are lit from the side can a groove be as grey as the plateau and still be seen.
    alike = 0.15 if beam.mode in ("side", "mixed") else -1.0
    tone = float(rng.choice([-1.0, 1.0, alike], p=[0.65, 0.13, 0.22])) * log_uniform(rng, 0.18, 0.6)
    out *= 1 + tone * (0.5 * starved + 0.5 * valley * np.clip(0.8 + 0.3 * grain, 0, 1.5))
    if tone < 0 and rng.random() < 0.4:
        filled = np.clip(clouds(rng, shape, max(3.0, setting.width_um / pixel)) + rng.uniform(-1, 0.6), 0, 1) * valley
        out *= 1 - rng.uniform(0.2, 0.6) * filled

    # Burnished caps are smooth, with a crease where rims met and lips at their ends.
    caps = ground["caps"]
    smooth = cv2.GaussianBlur(out, (0, 0), 1.5)
    out = np.where(caps, smooth * (1 + float(rng.choice([-0.7, 1.0])) * rng.uniform(0.04, 0.17)), out)
    cap_marks = streaks(rng, shape, setting.stroke_deg, 60, max(1.0, 1.2 / pixel))
    out += caps * 0.035 * cap_marks
    crease = float(rng.choice([-1.0, -1.0, 1.0])) * rng.uniform(0.2, 0.55)
    out += crease * ground["fold"] + rng.uniform(0.12, 0.45) * ground["lip"]

    out += torn * (0.22 * np.clip(cap_marks, -0.5, 2) + 0.15 * rng.standard_normal(shape, dtype=np.float32) + rng.uniform(-0.15, 0.25))
    carbon_signal = ETA["carbon"] / ETA["iron"] if beam.mode == "composition" else rng.uniform(0.25, 0.75)
    out *= 1 - (1 - carbon_signal) * ground["carbon"]
    film = rng.uniform(0.05, 0.3) * (1.6 if beam.kv < 5 else 0.6)
    out *= 1 - film * ground["film"]
    lumps = ground["lumps"] > 0
    if lumps.any():
        # The shadow falls on the side away from the detector.
        far = np.deg2rad(beam.detector_deg + 180)
        move = np.float32([[1, 0, 6 * np.cos(far)], [0, 1, 6 * np.sin(far)]])
        shadow = cv2.GaussianBlur(cv2.warpAffine(ground["lumps"], move, shape[::-1]), (0, 0), 3) * ~lumps
        out *= 1 - 0.35 * np.clip(shadow, 0, 1)
        out = np.where(lumps, np.clip(out, 0.5, 2) + rng.uniform(0.1, 0.6) + 0.12 * grain, out)
    worn_tone = rng.uniform(-0.08, 0.08)
    return np.clip(out * (1 + worn_tone * ground["worn"]), 0.02, 3.5).astype(np.float32)
