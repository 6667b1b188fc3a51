"""A field's grid and the noise that everything on it is made of."""

import cv2
import numpy as np


class Scene:
    """Generator, pixel size in µm, shape (rows, cols), direction of the stroke in °, and a factor by which features grow."""

    def __init__(self, rng: np.random.Generator, pixel_um: float, shape: tuple[int, int]):
        self.rng, self.px, self.shape = rng, pixel_um, shape
        self.size = float(np.clip((pixel_um / 0.5) ** 0.35, 0.75, 1.5))
        self.stroke = 90 + rng.uniform(-4, 4)

    def grain(self, angle: float, length_um: float, width_um: float) -> np.ndarray:
        """Noise (rows, cols) of mean 0 and spread 1, its grains length_um by width_um, lying at angle in °."""
        rows, cols = self.shape
        length, width = max(length_um / self.px, 1.0), max(width_um / self.px, 1.0)
        reach = float(np.hypot(rows, cols)) + 4
        knots = self.rng.standard_normal((int(reach / width) + 6, int(reach / length) + 6)).astype(np.float32)
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        y, x = rows / 2, cols / 2
        to_knots = np.array(
            [
                [c / length, s / length, knots.shape[1] / 2 - (c * x + s * y) / length],
                [-s / width, c / width, knots.shape[0] / 2 - (-s * x + c * y) / width],
            ]
        )
        how = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        out = cv2.warpAffine(knots, to_knots, (cols, rows), flags=how, borderMode=cv2.BORDER_REFLECT)
        return (out - out.mean()) / (out.std() + 1e-6)

    def wave(self, samples: int, period_um: float) -> np.ndarray:
        """Smooth noise (samples,), one sample a pixel, its knots of spread 1 period_um apart."""
        knots = self.rng.standard_normal(int(samples / max(period_um / self.px, 2)) + 5)
        x = np.linspace(0, len(knots) - 3, samples) + self.rng.random()
        i = x.astype(int)
        t = x - i
        t = t * t * (3 - 2 * t)
        return (knots[i] * (1 - t) + knots[i + 1] * t).astype(np.float32)

    def lognormal(self, median: float, sigma: float, low: float, high: float) -> float:
        """A number around the median, between low and high."""
        return float(np.clip(median * np.exp(sigma * self.rng.standard_normal()), low, high))

    def blur(self, picture: np.ndarray, pixels: float) -> np.ndarray:
        """Gaussian blur of a picture (rows, cols) with a standard deviation in pixels; a large one on a reduced grid."""
        if pixels < 0.25:
            return picture
        if pixels <= 5:
            return cv2.GaussianBlur(picture, (0, 0), pixels, borderType=cv2.BORDER_REFLECT)
        by = int(pixels / 2.5)
        rows, cols = picture.shape
        small = cv2.resize(picture, (max(2, cols // by), max(2, rows // by)), interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), pixels / by, borderType=cv2.BORDER_REFLECT)
        return cv2.resize(small, (cols, rows), interpolation=cv2.INTER_LINEAR)
