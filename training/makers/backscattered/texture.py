"""Random textures on a picture's grid: smooth clouds, grains and lines that wander, each with its size in µm."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Grid:
    """The pixels of a picture: shape (rows, cols) and the side of a pixel in µm."""

    shape: tuple[int, int]
    pixel_um: float

    @property
    def span_um(self) -> float:
        """Diagonal of the picture, µm."""
        return float(np.hypot(*self.shape)) * self.pixel_um

    def axes(self, angle_deg: float) -> tuple[np.ndarray, np.ndarray]:
        """Distance along and across a direction (from the rows' axis towards the columns'), float32 µm from the centre."""
        rows, cols = self.shape
        x = ((np.arange(cols, dtype=np.float32) - (cols - 1) / 2) * self.pixel_um)[None]
        y = ((np.arange(rows, dtype=np.float32) - (rows - 1) / 2) * self.pixel_um)[:, None]
        cos, sin = (np.float32(f(np.radians(angle_deg))) for f in (np.cos, np.sin))
        return x * cos + y * sin, y * cos - x * sin


def cloud(rng: np.random.Generator, grid: Grid, angle_deg: float, along_um: float, across_um: float) -> np.ndarray:
    """Smooth noise (rows, cols) float32 of about zero mean and unit spread, its features sized along and across a direction."""
    pixel = grid.pixel_um
    sizes = [max(across_um, 1.2 * pixel), max(along_um, 1.2 * pixel)]
    coarse = rng.standard_normal([int(grid.span_um / size) + 5 for size in sizes], np.float32)
    # enlarged before it is turned, since turning knows thirty-seconds of a cell only
    factors = [max(1, round(size / (4 * pixel))) for size in sizes]
    fine = cv2.resize(coarse, None, fx=factors[1], fy=factors[0], interpolation=cv2.INTER_CUBIC)
    cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    lines = np.array([[cos, sin], [-sin, cos]]) * pixel * np.array([[factors[1] / sizes[1]], [factors[0] / sizes[0]]])
    rows, cols = grid.shape
    shift = (np.array(fine.shape[::-1]) - 1) / 2 - lines @ [(cols - 1) / 2, (rows - 1) / 2]
    matrix, how = np.column_stack([lines, shift]), cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(fine, matrix, (cols, rows), flags=how, borderMode=cv2.BORDER_REFLECT) / np.float32(0.8)


def grains(rng: np.random.Generator, grid: Grid, angle_deg: float, along_um: float, across_um: float) -> np.ndarray:
    """Cells of one grey each with irregular edges, (rows, cols) float32 of unit spread: crystals seen by channelling."""
    along_um, across_um = max(along_um, 3 * grid.pixel_um), max(across_um, 2.2 * grid.pixel_um)
    along, across = grid.axes(angle_deg)
    size = [int(grid.span_um / step) + 8 for step in (across_um, along_um)]
    columns = along / along_um + 0.45 * cloud(rng, grid, angle_deg, along_um, across_um) + size[1] / 2
    lines = across / across_um + 0.45 * cloud(rng, grid, angle_deg, along_um, across_um) + size[0] / 2
    greys = rng.uniform(-1.73, 1.73, size).astype(np.float32)
    return cv2.remap(greys, columns, lines, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REFLECT)


def wander(rng: np.random.Generator, places: np.ndarray, scale: float) -> np.ndarray:
    """Smooth noise of unit spread along one coordinate, at the given places (same unit as the scale); any shape, float32."""
    if not places.size:
        return np.zeros(places.shape, np.float32)
    low, high = float(places.min()), float(places.max())
    knots = np.arange(low - scale, high + 2 * scale, scale / 4)
    bell = np.exp(-0.5 * np.linspace(-2.5, 2.5, 17) ** 2)
    smooth = np.convolve(rng.standard_normal(knots.size + 16), bell / np.sqrt((bell**2).sum()), mode="valid")
    return np.interp(places, knots, smooth).astype(np.float32)


def soft_step(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 below low, 1 above high, smooth between."""
    t = np.clip((values - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def larger(mask: np.ndarray, pixels: int) -> np.ndarray:
    """The parts of a mask (rows, cols) bool with at least so many joined pixels."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    kept = stats[:, cv2.CC_STAT_AREA] >= pixels
    kept[0] = False
    return kept[labels]
