"""The frame of a field: its pixels in µm, its direction of stroke, and noise laid along a direction."""

import cv2
import numpy as np

from tests.microscope_maker.figures import Figures


def draw_tilt_deg(own: Figures) -> float:
    """Return how far the stroke is turned from the picture's columns, degrees."""
    return float(np.clip(own["tilt"].normal(0, 3.5), -9, 9))


class Frame:
    """x, y: (rows, cols) µm; width, height: µm; stroke: unit vector; rng: the field's own; own: the specimen's figures."""

    def __init__(self, rng: np.random.Generator, own: Figures, px: float, shape: tuple[int, int]) -> None:
        self.rng, self.own, self.px, self.shape = rng, own, float(px), tuple(shape)
        rows, cols = shape
        across, down = (np.arange(n, dtype=np.float32) * self.px for n in (cols, rows))
        self.x, self.y = np.meshgrid(across, down)
        self.width, self.height = cols * self.px, rows * self.px
        self.tilt = draw_tilt_deg(own)
        a = np.radians(self.tilt)
        self.stroke = (float(np.sin(a)), float(np.cos(a)))

    @property
    def across(self) -> np.ndarray:
        """(rows, cols) µm across the stroke."""
        return self.x * self.stroke[1] - self.y * self.stroke[0]

    @property
    def along(self) -> np.ndarray:
        """(rows, cols) µm along the stroke."""
        return self.x * self.stroke[0] + self.y * self.stroke[1]

    def noise(self, across: float, along: float, direction: tuple[float, float] | None = None) -> np.ndarray:
        """Return smooth unit noise, correlated over ``across`` and ``along`` µm of a direction (the stroke unless given)."""
        dx, dy = direction or self.stroke
        su, sv = max(across / self.px, 1.1), max(along / self.px, 1.1)
        rows, cols = self.shape
        cx, cy = np.array([0, cols, 0, cols]), np.array([0, 0, rows, rows])
        p, q = (cx * dy - cy * dx) / su, (cx * dx + cy * dy) / sv
        p0, q0 = p.min() - 2 - self.rng.random(), q.min() - 2 - self.rng.random()
        size = (int(q.max() - q0) + 4, int(p.max() - p0) + 4)
        grid = self.rng.standard_normal(size, dtype=np.float32)
        m = np.array([[dy / su, -dx / su, -p0], [dx / sv, dy / sv, -q0]])
        flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(grid, m, (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT) * np.float32(1.35)

    def line(self, t: np.ndarray, length: float) -> np.ndarray:
        """Return unit noise of one variable at ``t`` µm, correlated over ``length`` µm."""
        lo, hi = float(t.min()), float(t.max())
        n = int((hi - lo) / length) + 3
        knots = self.rng.standard_normal(n).astype(np.float32)
        return np.interp(t, lo + (np.arange(n) - self.rng.random()) * length, knots).astype(np.float32)
