"""From heights to electrons by simple secondary-electron rules: tilt, detector side, edges, starved escape, material."""

import cv2
import numpy as np

from .dirt import Dirt
from .noise import log_uniform, smooth


def emit(
    rng: np.random.Generator,
    height: np.ndarray,
    depth: np.ndarray,
    roof: np.ndarray,
    torn: np.ndarray,
    ran: np.ndarray,
    dirt: Dirt,
    pixel: float,
    *,
    backscatter: bool,
    side: tuple[float, float],
) -> np.ndarray:
    """Signal per pixel (1 is flat clean metal). height um; depth: how far below the plateau, um; roof: share closed by moved metal;
    torn, ran bool; pixel um/px; side: unit vector (x, y) towards the detector."""
    shape = height.shape
    ground = height + dirt.pits
    inside = np.clip((depth - 0.4) / 0.25, 0, 1)
    # Torn and ploughed floors are rough; carbon fills them smooth. Both live below the plateau only.
    rough = smooth(rng, shape, (max(1.0, log_uniform(rng, 0.4, 3) / pixel),) * 2)
    ground = ground + rough * inside * log_uniform(rng, 0.01, 0.25)
    down, across = cv2.Sobel(ground, cv2.CV_32F, 0, 1, scale=0.125 / pixel), cv2.Sobel(ground, cv2.CV_32F, 1, 0, scale=0.125 / pixel)
    steep = np.sqrt(1 + np.minimum(down * down + across * across, 9))
    # A surface that faces the detector falls away from it in height: minus the slope along that side.
    facing = -(across * side[0] + down * side[1]) / steep
    signal = 1 + (steep - 1) * rng.uniform(0.2, 1.0) * (0.3 if backscatter else 1) + facing * log_uniform(rng, 0.12, 1.2)
    # Edges give from two faces: convex curvature within the electrons' range shines.
    reach = max(0.8, log_uniform(rng, 0.4, 2.5) / pixel)
    convex = ground - cv2.GaussianBlur(ground, (0, 0), reach)
    signal += np.clip(convex, 0, 0.6) * log_uniform(rng, 0.2, 2.2) * (0.3 if backscatter else 1)
    # Torn ridges are thin and unpolished: they shine more than a rim of the same curvature.
    signal += np.where(torn, np.clip(convex, -0.3, 0.6), 0) * rng.uniform(0.3, 1.2)
    # Starved escape: few electrons leave a deep narrow place, and the wider the open sky the more leave.
    sky = cv2.GaussianBlur(ground, (0, 0), max(1.5, log_uniform(rng, 2, 15) / pixel))
    buried = np.clip(sky - ground, 0, None)
    signal *= np.exp(-buried * log_uniform(rng, 0.1, 1.2))
    # The floor itself: carbon and oil darken it, a fresh or oxidised (charging) one is brighter, or it is just like the land.
    floor = rng.choice((-1, 1, 0), p=(0.55, 0.25, 0.2)) * log_uniform(rng, 0.1, 0.5)
    patchy = np.clip(1 + rng.uniform(0, 0.6) * smooth(rng, shape, (12 / pixel, 12 / pixel)), 0, 2)
    signal *= np.clip(1 + floor * patchy * inside, 0.1, 2)
    signal *= np.clip(1 + rough * inside * rng.uniform(0.02, 0.2), 0.3, 2)
    if roof.any():
        # Lips and fold lines: where the cap ends, its edge throws a bright line, and a crack stays beside it.
        edge = np.clip(4 * roof * (1 - roof), 0, 1)
        seam = np.clip(smooth(rng, shape, (6 / pixel, 6 / pixel)) + rng.uniform(0, 1.2), 0, 1)
        signal += edge * seam * rng.choice((-1, 1), p=(0.4, 0.6)) * log_uniform(rng, 0.06, 0.5)
        signal *= 1 + np.clip(roof, 0, 1) * rng.uniform(-0.1, 0.14)
    signal[ran] *= rng.uniform(0.9, 1.12)
    signal[torn] *= rng.uniform(0.85, 1.2)
    grain = smooth(rng, shape, (max(1.0, log_uniform(rng, 0.5, 10) / pixel),) * 2)
    signal *= 1 + grain * np.where(ran, 0.6, 1.0) * log_uniform(rng, 0.004, 0.06)
    signal *= dirt.yield_factor
    return np.clip(signal + dirt.glow, 0.02, 4).astype(np.float32)
