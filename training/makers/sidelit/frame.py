"""Coordinates of a field in µm, and smooth noise drawn in them."""

import cv2
import numpy as np


class Frame:
    """A field's grid: x, y (rows, cols) in µm from its centre; u along the stroke, v across it, in µm; half its diagonal in µm."""

    def __init__(self, rng: np.random.Generator, pixel_um: float, shape: tuple[int, int]):
        self.rng, self.px, self.shape = rng, pixel_um, shape
        rows, cols = shape
        self.roll = np.deg2rad(rng.uniform(-6, 6))
        y, x = np.meshgrid((np.arange(rows) - rows / 2) * pixel_um, (np.arange(cols) - cols / 2) * pixel_um, indexing="ij")
        self.x, self.y = x.astype(np.float32), y.astype(np.float32)
        self.u, self.v = self.along(np.pi / 2), self.along(0)
        self.half = float(np.hypot(rows, cols) * pixel_um / 2)

    def along(self, angle: float) -> np.ndarray:
        """Coordinate (rows, cols) in µm along a direction in rad from the circumference; the stroke lies at π/2."""
        turned = angle + self.roll
        return self.x * np.float32(np.cos(turned)) + self.y * np.float32(np.sin(turned))

    def noise(self, along_um: float, across_um: float, angle: float = np.pi / 2, octaves: int = 1) -> np.ndarray:
        """Smooth noise (rows, cols) of spread 1.2 in its first octave, longer along angle; what is finer than the pixels fades."""
        out = np.zeros(self.shape, np.float32)
        nearly_round = along_um < 2.5 * across_um
        p, q = self.along(angle), self.along(angle + np.pi / 2)
        for octave in range(octaves):
            if nearly_round:  # each octave lies on a lattice of its own, so that none shows
                turn = angle + self.rng.uniform(-0.4, 0.4)
                p, q = self.along(turn), self.along(turn + np.pi / 2)
            long, wide = along_um / 2**octave, across_um / 2**octave
            fade = min(1.0, wide / (1.4 * self.px))
            long, wide = max(long, 1.4 * self.px), max(wide, 1.4 * self.px)
            knots = self.rng.standard_normal((int(2 * self.half / long) + 6, int(2 * self.half / wide) + 6)).astype(np.float32)
            columns, rows = (q + self.half) / np.float32(wide) + 2, (p + self.half) / np.float32(long) + 2
            out += cv2.remap(knots, columns, rows, cv2.INTER_CUBIC) * np.float32(1.4 * fade * 0.6**octave)
        return out

    def blur(self, picture: np.ndarray, um: float, least: float = 0.6) -> np.ndarray:
        """Gaussian blur with a standard deviation in µm, at least a given number of pixels."""
        return cv2.GaussianBlur(picture, (0, 0), max(um / self.px, least))


def wander(rng: np.random.Generator, t: np.ndarray, half_um: float, step_um: float, spread: float) -> np.ndarray:
    """Random function of t (n,) in µm, piecewise linear between knots step_um apart that have the given spread."""
    knots = int(2.4 * half_um / step_um) + 4
    places = np.linspace(-1.2 * half_um, 1.2 * half_um, knots)
    return np.interp(t, places, rng.standard_normal(knots) * spread).astype(np.float32)


def large(mask: np.ndarray, more_than: float) -> np.ndarray:
    """The parts of a mask (rows, cols), joined over corners too, that have more than so many pixels."""
    _, parts, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    keep = stats[:, cv2.CC_STAT_AREA] > more_than
    keep[0] = False
    return keep[parts]
