"""The matrix of grey cast iron: pearlite colonies with their lamellae, and the steadite network between eutectic cells."""

from dataclasses import dataclass

import cv2
import numpy as np

from .grain import between, cloud, step

LAMELLA_SPACING_UM = (0.25, 1.6)
COLONY_UM = (6.0, 45.0)
CELL_UM = (120.0, 600.0)


@dataclass(frozen=True)
class Matrix:
    """grey: yield against plain pearlite (1 = same); relief: height in µm of lamellae and of proud steadite."""

    grey: np.ndarray
    relief: np.ndarray


def patches(rng: np.random.Generator, shape: tuple[int, int], size_px: float) -> np.ndarray:
    """Labels of touching grains some size_px across, bounded by wandering lines."""
    margin = int(min(size_px, 80)) + 4
    rows, cols = shape[0] + 2 * margin, shape[1] + 2 * margin
    count = max(int(rows * cols / size_px**2), 2)
    ground = np.full((rows, cols), 255, np.uint8)
    ground[rng.integers(0, rows, count), rng.integers(0, cols, count)] = 0
    _, labels = cv2.distanceTransformWithLabels(ground, cv2.DIST_L2, 3, labelType=cv2.DIST_LABEL_PIXEL)
    wander = min(size_px, 80) * 0.07
    down, right = np.indices(shape, dtype=np.float32)
    down += margin + wander * (cloud(rng, shape, size_px / 3) + 0.4 * cloud(rng, shape, size_px / 9))
    right += margin + wander * (cloud(rng, shape, size_px / 3) + 0.4 * cloud(rng, shape, size_px / 9))
    return cv2.remap(labels.astype(np.float32), right, down, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE).astype(int)


def steadite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """0–1, 1 where the broken phosphide network lies between cells."""
    cells = patches(rng, shape, between(rng, *CELL_UM) / pixel_size_um)
    within = np.ones(shape, np.uint8)
    within[:, 1:] &= cells[:, 1:] == cells[:, :-1]
    within[1:] &= cells[1:] == cells[:-1]
    away_um = cv2.distanceTransform(within, cv2.DIST_L2, 3) * pixel_size_um
    # The last melt gathers where cells meet, in islands: the network is seldom closed.
    half_um = between(rng, 1.0, 4.0) * (0.3 + cloud(rng, shape, 14 / pixel_size_um))
    return step(half_um - away_um, pixel_size_um) * (half_um > 0)


def lay_matrix(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> Matrix:
    """A piece of pearlitic iron; how far lamellae and grains show is drawn, since honing hides them more or less."""
    colony = patches(rng, shape, between(rng, *COLONY_UM) / pixel_size_um)
    top = int(colony.max()) + 1
    grey = 1 + between(rng, 0.005, 0.06) * rng.standard_normal(top)[colony].astype(np.float32)
    relief = np.zeros(shape, np.float32)
    shown = between(rng, 0.04, 0.4)
    spacing_px = between(rng, *LAMELLA_SPACING_UM) * rng.uniform(1, 1.8, top) / pixel_size_um
    if spacing_px.max() > 2.5 and rng.random() < 0.75:
        turn = rng.uniform(0, np.pi, top)
        # A lamella finer than the picture's sampling must vanish, not beat against it.
        seen = np.clip(spacing_px / 2 - 1, 0, 1)
        wave = 2 * np.pi / spacing_px
        down, right = np.indices(shape, dtype=np.float32)
        bend = 1.2 * cloud(rng, shape, 5 / pixel_size_um)
        phase = right * (wave * np.cos(turn)).astype(np.float32)[colony] + down * (wave * np.sin(turn)).astype(np.float32)[colony]
        lamella = np.sin(phase + bend) * seen.astype(np.float32)[colony]
        # Honing smears the lamellae over in places.
        lamella *= np.clip(0.8 + cloud(rng, shape, 15 / pixel_size_um), 0, 1)
        grey += shown * lamella
        relief += between(rng, 0.005, 0.05) * lamella
    if rng.random() < 0.6:
        network = steadite(rng, shape, pixel_size_um)
        dotted = 1 + 0.5 * cloud(rng, shape, 0.8 / pixel_size_um)
        grey += network * (between(rng, 0.02, 0.15) * dotted)
        relief = relief * (1 - network) + between(rng, 0.02, 0.2) * network
    return Matrix(grey.astype(np.float32), relief.astype(np.float32))
