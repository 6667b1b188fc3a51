"""What lies in or on the metal and is no groove: graphite flakes and pull-outs, stains and films, debris."""

import cv2
import numpy as np

from .grain import lattice, log_uniform, wander
from .ring import Surface
from .story import Story


def flakes(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """0–1 map of graphite of grey iron: thin curved flakes some 15–120 µm long and 0.5–4 µm thick, some pulled out."""
    canvas = np.zeros(shape, np.uint8)
    area_um2 = shape[0] * shape[1] * pixel_size_um**2
    length_um = log_uniform(rng, 15, 120)
    count = int(np.clip(area_um2 / length_um**2 * rng.uniform(0.4, 2.0), 2, 120))
    for _ in range(count):
        steps = 14
        step_px = length_um * log_uniform(rng, 0.3, 1.4) / steps / pixel_size_um
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.22, steps)) + rng.normal(0, 0.08) * np.arange(steps)
        start = rng.uniform(0, 1, 2) * (shape[1], shape[0])
        line = np.rint(start + np.cumsum(np.stack((np.cos(heading), np.sin(heading)), 1) * step_px, 0)).astype(np.int32)
        thick = log_uniform(rng, 0.5, 4) / pixel_size_um
        for k in range(steps - 1):
            # A flake is thickest in the middle of its length.
            width = max(1, int(round(thick * np.sin(np.pi * (k + 0.7) / steps))))
            cv2.line(canvas, line[k].tolist(), line[k + 1].tolist(), 255, width, cv2.LINE_AA)
    return canvas.astype(np.float32) / 255


def stains(rng: np.random.Generator, surface: Surface) -> np.ndarray:
    """Tone of films: smooth-edged patches, dark or bright; drops without a direction or tribofilm drawn along the stroke."""
    drawn = rng.choice((1.0, 6.0))
    size = log_uniform(rng, 25, 120)
    level = lattice(rng, surface.along, surface.across, size * drawn, size) + 0.3 * lattice(
        rng, surface.along, surface.across, size / 4, size / 4
    )
    edge = log_uniform(rng, 0.03, 0.4)
    return rng.choice((-1, -1, 1)) * rng.uniform(0.1, 0.5) / (1 + np.exp(-np.clip((level - rng.uniform(0.6, 1.4)) / edge, -30, 30)))


def debris(rng: np.random.Generator, shape: tuple[int, int], story: Story) -> tuple[np.ndarray, np.ndarray]:
    """(grains, hidden): a relief of grains in px of height, and True where they hide the surface."""
    relief = np.zeros(shape, np.float32)
    count = int(rng.integers(2, 14)) if story.scene == "littered" else int(rng.random() < 0.2) * 2
    for _ in range(count):
        radius = log_uniform(rng, 3, 16)
        turns = np.linspace(0, 2 * np.pi, 14, endpoint=False)
        far = radius * (1 + 0.3 * wander(rng, 14, 1))
        outline = np.stack((np.cos(turns) * far * rng.uniform(0.5, 1), np.sin(turns) * far), 1)
        centre = rng.uniform(0, 1, 2) * (shape[1], shape[0])
        cv2.fillPoly(relief, [np.rint(outline + centre).astype(np.int32)], float(radius * 0.7))
    return cv2.GaussianBlur(relief, (0, 0), 1.5), relief > 0
