"""What is no open valley, though it may look like one: flakes, pull-outs, scratches, stains; and debris, which hides the ground."""

import cv2
import numpy as np

from makers.escaped.frame import Frame, cloud, soft

SHIFT = 3
"""Sub-pixel bits of the drawn polygons."""


def flakes(rng: np.random.Generator, height, material, codes, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Graphite, dark in either mode (tests/SOURCES.md): curved slivers at random angles, hidden under moved and torn metal."""
    mask = np.zeros(frame.shape, np.uint8)
    bend, longest = rng.uniform(0.3, 1.2), rng.uniform(20, 90)
    for _ in range(_count(rng, frame, 0.6, (60, 500))):
        length, thick = longest * rng.uniform(0.3, 1), frame.at_least(rng.uniform(1.0, 4.0), 1.5)
        place = np.linspace(-0.5, 0.5, 14)
        bow = bend * rng.normal() * (place**2) * length + 0.04 * length * rng.normal(size=14).cumsum() / 3
        half = 0.5 * thick * np.sqrt(1 - (2 * place) ** 2) * rng.uniform(0.6, 1.4, 14)
        outline = np.concatenate([np.stack([place * length, bow + half]), np.stack([place * length, bow - half])[:, ::-1]], 1)
        _fill(mask, rng, outline, rng.uniform(0, 180), frame)
    weight = soft(mask, 0.7) * soft(codes == 0, 0.7)
    return height - weight * np.float32(0.4), material * (1 - weight * np.float32(rng.uniform(0.4, 0.75)))


def pullouts(rng: np.random.Generator, height, material, codes, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Pits where a grain broke out of the plateau."""
    mask = np.zeros(frame.shape, np.uint8)
    for _ in range(_count(rng, frame, 0.4, (30, 300))):
        angle = np.linspace(0, 2 * np.pi, 12, endpoint=False)
        radius = frame.at_least(rng.uniform(1.0, 6.0), 1.5) * (1 + 0.3 * np.sin(angle + rng.uniform(0, 6)) + rng.normal(0, 0.1, 12))
        _fill(mask, rng, radius * np.stack([np.cos(angle), np.sin(angle)]), 0.0, frame)
    weight = soft(mask, 0.8) * soft(codes == 0, 0.7)
    grain = cloud(rng, frame.along, frame.across, (frame.at_least(0.8, 1.6),) * 2)
    return height - weight * (1.5 + 0.3 * grain), material * (1 - weight * np.float32(rng.uniform(0.1, 0.45)))


def scratches(rng: np.random.Generator, height, material, codes, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Fine scratches along the stroke, unwanted (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548); direction tells them apart."""
    if rng.random() < 0.4:
        return height, material
    drawn = np.zeros(frame.shape, np.uint8)
    for _ in range(int(rng.integers(1, 12))):
        angle = np.radians(frame.stroke_deg + rng.normal(0, 1.5))
        half = 0.5 * frame.side_um / frame.pixel_um * rng.uniform(0.2, 1.5)
        middle = rng.uniform(0, 1, 2) * frame.shape[::-1]
        ends = middle + np.outer((-half, half), (np.cos(angle), np.sin(angle)))
        thick = max(1, round(rng.uniform(0.3, 1.5) / frame.pixel_um))
        cv2.polylines(drawn, [np.round(ends * 2**SHIFT).astype(np.int32)], False, 1, min(thick, 5), cv2.LINE_8, SHIFT)
    fading = np.clip(0.6 + 0.6 * cloud(rng, frame.along, frame.across, (frame.side_um / 6, frame.at_least(0.4, 1.5))), 0, 1.3)
    weight = soft(drawn, 0.6) * fading * soft(np.isin(codes, (0, 2)), 0.6)
    contrast = rng.choice((-1, 1), p=(0.7, 0.3)) * rng.uniform(0.08, 0.25)
    return height - weight * np.float32(0.2), material * (1 + weight * np.float32(contrast))


def stains(rng: np.random.Generator, height, material, codes, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Patches of oil or tribofilm over plateau and groove alike: grey changes, the ground doesn't."""
    if rng.random() < 0.7:
        return height, material
    size = frame.side_um * rng.uniform(0.15, 0.4)
    spread = cloud(rng, frame.along, frame.across, (size, size)) + 0.15 * cloud(rng, frame.along, frame.across, (size / 8,) * 2)
    patch = np.clip((spread - 0.7) / rng.uniform(0.05, 0.4), 0, 1)
    return height, material * (1 + np.float32(rng.choice((-1, 1)) * rng.uniform(0.06, 0.2)) * patch)


def debris(rng: np.random.Generator, height, material, frame: Frame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Particles lying on the surface, bright and in their own shadow, and where they hide it (rows, cols)."""
    mask = np.zeros(frame.shape, np.uint8)
    for _ in range(int(rng.integers(1, 4))):
        angle = np.sort(rng.uniform(0, 2 * np.pi, 9))
        radius = min(frame.at_least(rng.uniform(2, 12), 4), 0.06 * frame.side_um) * rng.uniform(0.7, 1.3, 9)
        _fill(mask, rng, radius * np.stack([np.cos(angle), np.sin(angle)]), 0.0, frame)
    inside = cv2.distanceTransform(mask, cv2.DIST_L2, 3) * np.float32(frame.pixel_um)
    grain = cloud(rng, frame.along, frame.across, (frame.at_least(1.0, 2.0),) * 2)
    grey = rng.uniform(1.35, 1.8) + 0.12 * grain
    weight = soft(mask, 0.6)
    return height + inside * 0.8, material * (1 - weight) + grey * weight, mask > 0


def _count(rng, frame, share: float, per_mm2: tuple[float, float]) -> int:
    """How many lie in the field: none in most of the rest of the fields than this share (densities: common practice, no source)."""
    area_mm2 = frame.shape[0] * frame.shape[1] * frame.pixel_um**2 / 1e6
    return min(int(rng.poisson(rng.uniform(*per_mm2) * area_mm2)), 150) if rng.random() < share else 0


def _fill(mask, rng, outline_um: np.ndarray, angle_deg: float, frame) -> None:
    """Fills an outline (2, points), turned and put down anywhere in the field."""
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    turned = (np.array([[c, -s], [s, c]]) @ outline_um).T / frame.pixel_um + rng.uniform(0, 1, 2) * frame.shape[::-1]
    cv2.fillPoly(mask, [np.round(turned * 2**SHIFT).astype(np.int32)], 1, cv2.LINE_8, SHIFT)
