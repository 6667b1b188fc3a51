"""Procedural textures on a torus: gradient noise and cellular noise, drawn once a field and looked up at any coordinates."""

from dataclasses import dataclass

import cv2
import numpy as np

CELLS, TEXELS = 48, 8
"""Period of both textures in lattice cells, and texels a cell."""


def smoothstep(x: np.ndarray, low: float = 0.0, high: float = 1.0) -> np.ndarray:
    x = np.clip((x - low) / (high - low), 0, 1)
    return x * x * (3 - 2 * x)


def smooth_min(a: np.ndarray, b: np.ndarray, radius: np.ndarray | float) -> np.ndarray:
    """Minimum whose edge is rounded over |a − b| < radius; at most radius/4 below the sharp one."""
    overlap = np.maximum(radius - np.abs(a - b), 0) / radius
    return np.minimum(a, b) - overlap * overlap * radius * 0.25


def _gradient_tile(rng: np.random.Generator) -> np.ndarray:
    angles = rng.uniform(0, 2 * np.pi, (CELLS, CELLS))
    at = np.arange(CELLS * TEXELS)
    cell, part = at // TEXELS, (at % TEXELS + 0.5) / TEXELS
    ease = part**3 * (part * (6 * part - 15) + 10)
    tile = np.zeros((at.size, at.size))
    for down in (0, 1):
        for right in (0, 1):
            corner = angles[np.ix_((cell + down) % CELLS, (cell + right) % CELLS)]
            weight = np.outer(ease if down else 1 - ease, ease if right else 1 - ease)
            tile += weight * (np.sin(corner) * (part - down)[:, None] + np.cos(corner) * (part - right)[None, :])
    return (tile / tile.std()).astype(np.float32)


def _cellular_tiles(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Second less first distance (0 on the borders between cells), and a number 0–1 for each cell."""
    points, numbers = rng.random((2, CELLS, CELLS)), rng.random((CELLS, CELLS))
    at = np.arange(CELLS * TEXELS)
    cell, part = at // TEXELS, ((at % TEXELS + 0.5) / TEXELS).astype(np.float32)
    first = np.full((at.size, at.size), 9.0, np.float32)
    second, number = first.copy(), np.zeros_like(first)
    for down in (-1, 0, 1):
        for right in (-1, 0, 1):
            where = np.ix_((cell + down) % CELLS, (cell + right) % CELLS)
            dy = points[0][where].astype(np.float32) + down - part[:, None]
            dx = points[1][where].astype(np.float32) + right - part[None, :]
            distance = np.sqrt(dx * dx + dy * dy)
            nearer = distance < first
            second = np.where(nearer, first, np.minimum(second, distance))
            number = np.where(nearer, numbers[where], number)
            first = np.minimum(first, distance)
    return second - first, number.astype(np.float32)


@dataclass(frozen=True)
class Textures:
    """Lookups take coordinates in lattice cells; the gradient noise has mean 0 and standard deviation 1."""

    gradient: np.ndarray
    border: np.ndarray
    number: np.ndarray

    @classmethod
    def drawn(cls, rng: np.random.Generator) -> "Textures":
        return cls(_gradient_tile(rng), *_cellular_tiles(rng))

    @staticmethod
    def _look_up(tile: np.ndarray, u: np.ndarray, v: np.ndarray, how: int) -> np.ndarray:
        # Wrapped here, since the lookup keeps whole texels in 16 bits; by floor, as the remainder is many times slower.
        u, v = (np.asarray(c, np.float32) * np.float32(1 / CELLS) for c in np.broadcast_arrays(u, v))
        u, v = ((c - np.floor(c)) * np.float32(CELLS * TEXELS) for c in (u, v))
        return cv2.remap(tile, u, v, how, borderMode=cv2.BORDER_WRAP)

    def noise(self, u: np.ndarray, v: np.ndarray) -> np.ndarray:
        return self._look_up(self.gradient, u, v, cv2.INTER_LINEAR)

    def smooth_noise(self, u: np.ndarray, v: np.ndarray) -> np.ndarray:
        """For heights that light falls on, where the facets of a linear lookup would show."""
        return self._look_up(self.gradient, u, v, cv2.INTER_CUBIC)

    def cells(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return self._look_up(self.border, u, v, cv2.INTER_LINEAR), self._look_up(self.number, u, v, cv2.INTER_NEAREST)
