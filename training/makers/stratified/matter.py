"""Scuffing, graphite, marks along the stroke, patches and debris: what lies on or in the ground beside the grooves."""

import cv2
import numpy as np

from .chance import across, along, blotches, log_uniform, wander


def scuffing(
    rng, stroke_rad: float, worn: np.ndarray, pixel_size_um: float, share: float
) -> tuple[np.ndarray, np.ndarray]:
    """Mask of torn ground in streaks along the stroke covering about the share of the field, and its height in um."""
    shape = worn.shape
    field = float(min(shape))
    wide = log_uniform(rng, 0.02, 0.3) * field
    streaks = along(rng, shape, stroke_rad, log_uniform(rng, 0.8, 5) * field, wide)
    breaks = along(rng, shape, stroke_rad, wide * rng.uniform(1, 3), max(wide * 0.15, 1.5))
    score = streaks + rng.uniform(0.15, 0.45) * breaks
    mask = (score > np.quantile(score[worn], 1 - share)) & worn if worn.any() else np.zeros(shape, bool)
    mask = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0
    grain = max(log_uniform(rng, 0.8, 5) / pixel_size_um, 1.6)
    ploughed = along(rng, shape, stroke_rad, grain * log_uniform(rng, 4, 30), grain)
    # torn lips stand across the stroke: the asperity lets go again and again
    lips = along(rng, shape, stroke_rad, grain * rng.uniform(0.6, 1.2), grain * rng.uniform(1.5, 4))
    torn = np.maximum(lips - rng.uniform(0, 0.8), 0) ** 1.3
    mix = rng.uniform(0.25, 0.8)
    ploughed = ploughed + rng.uniform(0.3, 1) * along(
        rng, shape, stroke_rad, grain * log_uniform(rng, 8, 40), grain * rng.uniform(2, 5)
    )
    height = log_uniform(rng, 0.4, 1.8) * (
        (1 - mix) * ploughed + mix * torn * 1.5 + 0.35 * blotches(rng, shape, grain * 0.7)
    )
    return mask, np.where(mask, height, 0).astype(np.float32)


def stroke_marks(rng, stroke_rad: float, shape, pixel_size_um: float, deepest_um: float) -> np.ndarray:
    """Depth in um of fine marks along the stroke, each at most deepest_um; sparse or dense."""
    span = int(np.hypot(*shape)) * 2
    line = np.zeros(span)
    for _ in range(int(log_uniform(rng, 4, 120))):
        width = max(log_uniform(rng, 0.3, 4) / pixel_size_um, 0.7)
        at = rng.uniform(0, span)
        near = np.arange(max(int(at - 4 * width), 0), min(int(at + 4 * width) + 2, span))
        line[near] = np.maximum(line[near], deepest_um * rng.uniform(0.2, 1) * np.exp(-(((near - at) / width) ** 2)))
    index = np.clip(across(shape, stroke_rad) + span / 2, 0, span - 1).astype(np.int32)
    gate = along(rng, shape, stroke_rad, rng.uniform(0.3, 1.5) * min(shape), rng.uniform(4, 30))
    return line.astype(np.float32)[index] * np.clip(gate + rng.uniform(0, 1.5), 0, 1)


def graphite(rng, shape, pixel_size_um: float) -> np.ndarray:
    """Cover 0 to 1 of curved flakes of grey iron, cut by the surface, and of the pits where they fell out."""
    cover = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 / 1e6
    length = log_uniform(rng, 8, 90) / pixel_size_um
    for _ in range(int(np.clip(rng.poisson(area_mm2 * log_uniform(rng, 60, 900)), 1, 70))):
        size = length * np.exp(rng.normal(0, 0.5))
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, 9))
        points = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * size / 9, 0) + rng.uniform(0, 1, 2) * shape[::-1]
        thick = max(1, int(round(log_uniform(rng, 0.5, 3.5) / pixel_size_um)))
        for one, (start, end) in enumerate(zip(points[:-1], points[1:], strict=True)):
            wide = max(1, int(thick * (1 - abs(one - 3.5) / 6)))
            cv2.line(
                cover,
                tuple(int(v * 8) for v in start),
                tuple(int(v * 8) for v in end),
                255,
                min(wide, 60),
                cv2.LINE_AA,
                3,
            )
    return cv2.GaussianBlur(cover, (0, 0), 0.6).astype(np.float32) / 255


def patches(rng, shape) -> np.ndarray:
    """Cover 0 to 1 of stains, oil or tribofilm, with soft or drawn edges."""
    field = blotches(rng, shape, log_uniform(rng, 0.05, 0.4) * min(shape)) + 0.25 * blotches(
        rng, shape, log_uniform(rng, 3, 12)
    )
    return np.clip((field - rng.uniform(0.4, 1.6)) * log_uniform(rng, 1, 12), 0, 1)


def debris(rng, shape, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Mask of particles and their height in um."""
    mask = np.zeros(shape, np.uint8)
    for _ in range(int(log_uniform(rng, 1, 16))):
        size = np.clip(log_uniform(rng, 0.8, 18) / pixel_size_um, 1.5, 0.1 * min(shape))
        turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
        far = size * np.exp(rng.normal(0, 0.25, 12))
        points = (
            np.stack([far * np.cos(turn), far * np.sin(turn) * rng.uniform(0.4, 1)], 1)
            + rng.uniform(0, 1, 2) * shape[::-1]
        )
        cv2.fillPoly(mask, [np.round(points).astype(np.int32)], 1)
    inner = cv2.distanceTransform(mask, cv2.DIST_L2, 3)
    return mask > 0, np.sqrt(inner).astype(np.float32) * np.sqrt(pixel_size_um) * rng.uniform(0.8, 2)


def charging(rng, shape) -> np.ndarray:
    """Glow 0 to about 1.5 beside a charged spot, drawn out along the scan lines after it, each line by another length."""
    spot = blotches(rng, shape, log_uniform(rng, 0.04, 0.15) * min(shape)) * 0.6 + 0.15 * blotches(rng, shape, 5)
    spot = np.maximum(spot - np.quantile(spot[::4, ::4], rng.uniform(0.93, 0.985)), 0) * 3
    tail = cv2.blur(spot, (int(rng.uniform(0.1, 0.5) * shape[1]) | 1, 1)) * (
        1 + 0.4 * rng.standard_normal((shape[0], 1))
    )
    return np.clip(cv2.GaussianBlur(spot, (0, 0), 2.0) + np.maximum(tail, 0), 0, 1.5).astype(np.float32)


def track(rng, stroke_rad: float, shape, *, border: bool) -> np.ndarray:
    """Where the ring ran: everywhere, or on one side of a border along the stroke."""
    if not border:
        return np.ones(shape, bool)
    edge = across(shape, stroke_rad)
    wobble = wander(rng, int(np.hypot(*shape)) + 4, 0.3 * min(shape))
    place = np.clip(across(shape, stroke_rad - np.pi / 2) + len(wobble) / 2, 0, len(wobble) - 1).astype(np.int32)
    way = rng.choice([-1, 1])
    return way * (edge - rng.uniform(-0.25, 0.25) * min(shape) + 1.5 * wobble[place]) > 0
