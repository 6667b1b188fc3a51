"""Scuffing as adhesive transfer: junctions weld, shear beneath the surface and drag, always along the stroke.

Torn craters, ploughed ridges and welded patches lie together in streaks or bands (ASTM G40 defines scuffing and galling
so, from memory); prows pile up against the sliding direction (Antler's prow formation, Wear 7 (1964) 181, from memory).
"""

import numpy as np

from makers.moulded.noise import Shape, blurred, chance, grain, log_uniform


def scuff(rng: np.random.Generator, shape: Shape, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Scuffed ground (bool), its relief in µm (float32) about the land, and its severity 0–1."""
    rows, cols = np.arange(shape[0], dtype=np.float32)[:, None], np.arange(shape[1], dtype=np.float32)
    field = np.full(shape, -1.0, np.float32)
    for _ in range(int(rng.integers(1, 5))):
        half_px = log_uniform(rng, 7, max(0.062 * shape[0], 12))
        length_px = rng.uniform(0.25, 2.5) * shape[1] if half_px < 30 else rng.uniform(0.6, 3) * shape[1]
        middle_col = rng.uniform(0.1, 0.9) * shape[1]
        along = 1 - np.abs((cols - middle_col) / (length_px / 2)) ** rng.uniform(2, 6)
        middle_row = rng.uniform(0.12, 0.88) * shape[0] + 0.1 * half_px * grain(rng, (1, shape[1]), 1, 60)
        across = 1 - ((rows - middle_row) / half_px) ** 2
        field = np.maximum(field, np.minimum(across, along))
    field += rng.uniform(0.05, 0.25) * grain(rng, shape, 4, 60)
    ground = blurred((field > 0).astype(np.float32), 2.0) > 0.5
    severity = float(rng.uniform(0.3, 1.0))
    scale = min(max(1.0, 0.6 / pixel_size_um), 4.0)
    ploughed = 0.5 * grain(rng, shape, 1.5 * scale, 90) + 0.4 * grain(rng, shape, 4 * scale, 150)
    tearing = grain(rng, shape, 2.5 * scale, 22 * scale) + 0.6 * grain(rng, shape, 1.5 * scale, 5 * scale)
    craters = -np.clip(tearing - rng.uniform(0.0, 0.9), 0, 1.6)
    patches = np.clip(grain(rng, shape, 7 * scale, 34 * scale) - rng.uniform(0.3, 1.2), 0, 0.6)
    lumps = patches * (1 + 0.5 * grain(rng, shape, 2 * scale, 5 * scale))
    mix = rng.dirichlet([1.0, 1.2, 1.3]) + 0.12
    relief = mix[0] * ploughed + 1.6 * mix[1] * craters + 1.4 * mix[2] * lumps
    if chance(rng, 0.3):  # crosswise cracks of a dragged skin
        relief -= 0.4 * (np.mod(cols / (5 * scale) + 0.7 * grain(rng, shape, 10, 30), 1) < 0.16) * (patches > 0)
    amplitude_um = np.clip(pixel_size_um * 1.3, 0.35, 1.8) * (0.25 + severity)
    return ground, (relief * amplitude_um).astype(np.float32), severity
