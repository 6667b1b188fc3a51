"""What the ring did: where it ran, how much it wore off the plateau, its marks, and metal torn by adhesion. Heights in um."""

from dataclasses import dataclass

import numpy as np

from .ground import Frame, log_uniform, wander


@dataclass
class Track:
    """worn: where the ring ran; truncation: height (um) gone from the plateau; marks: shallow marks along the stroke (um, up is
    positive); torn: where adhesion tore; torn_height: its relief (um); glazed: share of burnishing of the land between grooves; polish: share of texture that running has wiped."""

    worn: np.ndarray
    truncation: np.ndarray
    marks: np.ndarray
    torn: np.ndarray
    torn_height: np.ndarray
    glazed: np.ndarray
    polish: float
    smeared: bool
    name: str


def draw(rng: np.random.Generator, frame: Frame) -> Track:
    along, across = frame.turned(frame.stroke)
    zeros, no = np.zeros(frame.shape, np.float32), np.zeros(frame.shape, bool)
    lot = rng.random()
    if lot < 0.4:
        return Track(no, zeros, zeros, no, zeros, zeros, 0.0, False, "unworn")
    worn = ~no
    if lot < 0.55:
        place = rng.uniform(-0.3, 0.3) * min(frame.shape) * frame.pixel_um
        worn = (across - place) * rng.choice([-1, 1]) > 2 * frame.pixel_um * wander(rng, along, 12 * frame.pixel_um, frame.span_um)
    truncation = worn * np.float32(log_uniform(rng, 0.03, 0.8)) * np.clip(1 + 0.25 * wander(rng, across, 60, frame.span_um), 0.2, 2)
    marks = worn * _marks(rng, frame, along, across)
    torn, torn_height = no, zeros
    if rng.random() < 0.27:
        torn, torn_height = _torn(rng, frame, along, across, worn)
    smeared = bool(rng.random() < 0.62)
    name = ("border" if lot < 0.55 else "worn") + (" smeared" if smeared else "") + (" scuffed" if torn.any() else "")
    return Track(worn, truncation.astype(np.float32), marks, torn, torn_height, worn * _glazed(rng, frame), float(rng.uniform(0.1, 0.95)), smeared, name)


def _marks(rng, frame, along, across) -> np.ndarray:
    """Shallow scratches and burnished ribs along the stroke; less than 0.5 um, so still plateau."""
    fine = wander(rng, across, log_uniform(rng, 1.2, 5) * frame.pixel_um, frame.span_um)
    rare = np.maximum(np.abs(wander(rng, across, 2.5 * frame.pixel_um, frame.span_um)) - rng.uniform(0.8, 2.2), 0)
    fading = np.clip(0.6 + 0.5 * frame.noise(rng, frame.stroke, 180 * frame.pixel_um, 5 * frame.pixel_um), 0, 1)
    height = log_uniform(rng, 0.01, 0.12) * fine - rng.uniform(0, 0.3) * rare * fading
    return np.clip(height, -0.42, 0.3).astype(np.float32)


def _glazed(rng, frame) -> np.ndarray:
    """Land burnished in patches drawn out along the stroke: it looks like closed metal, yet closes nothing."""
    if rng.random() < 0.6:
        return np.zeros(frame.shape, np.float32)
    size = log_uniform(rng, 8, 50) * frame.pixel_um
    wish = frame.noise(rng, frame.stroke, size * rng.uniform(1.5, 6), size)
    return np.clip((wish - rng.uniform(-0.2, 1)) * log_uniform(rng, 2, 20), 0, 1).astype(np.float32)


def _torn(rng, frame, along, across, worn) -> tuple[np.ndarray, np.ndarray]:
    px = frame.pixel_um
    heavy = rng.random() < 0.3
    width = log_uniform(rng, 5, 45) * px
    wish = wander(rng, across + 1.5 * px * frame.noise(rng, frame.stroke, 25 * px, 8 * px), width, frame.span_um)
    wish = wish + 0.5 * frame.noise(rng, frame.stroke, 14 * width, width) + 0.25 * frame.noise(rng, frame.stroke, 10 * px, 3 * px)
    torn = (wish > np.quantile(wish[worn], 1 - (rng.uniform(0.4, 0.9) if heavy else log_uniform(rng, 0.05, 0.35)))) & worn
    tall = log_uniform(rng, 0.4, 1.8) * max(1.0, px) ** 0.5
    # Bent coordinates, for torn metal shows no lattice.
    bend = [np.float32(rng.uniform(1, 4) * px) * frame.noise(rng, rng.uniform(0, np.pi), 9 * px, 6 * px) for _ in range(2)]
    frame = Frame(frame.right + bend[0], frame.down + bend[1], px, frame.stroke)
    # Ploughed furrows, across them the torn fronts of metal that stuck and let go, and loose scales.
    furrows = frame.noise(rng, frame.stroke, log_uniform(rng, 15, 120) * px, log_uniform(rng, 1.5, 4) * px)
    fronts = frame.noise(rng, frame.stroke, 3.5 * px, log_uniform(rng, 3, 12) * px)
    scales = frame.noise(rng, frame.stroke, 7 * px, 4 * px)
    mix = rng.uniform(0.2, 1, 3)
    height = tall * (mix[0] * furrows + mix[1] * np.abs(fronts) * (scales > 0) + 0.7 * mix[2] * np.round(1.5 * scales))
    return torn, (height * torn).astype(np.float32)
