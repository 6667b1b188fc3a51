"""Adhesive scuffing: each streak is the path of a junction that is born, grows, ploughs, lumps and dies."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, line, smooth, spread, step, whole


@dataclass
class Path:
    """One junction's life, cell by cell along the stroke: first column, course (rows), half-width (cells), depth
    (µm), sense of travel, and how much of each ridge stands (0-2)."""

    start: int
    course: np.ndarray
    half: np.ndarray
    depth: np.ndarray
    forward: int
    rags: tuple[np.ndarray, np.ndarray]


def path(rng: np.random.Generator, side: int, *, half_px: float, length_px: float, depth_um: float, row: float) -> Path:
    """A junction grows as it gathers metal and sheds it in steps, so its width is a ramp with drops, not a bell."""
    count = int(np.clip(length_px, 8, 1.6 * side))
    life = np.linspace(0, 1, count, dtype=np.float32)
    growth = (
        np.sqrt(life / rng.uniform(0.15, 0.8)).clip(0, 1) * np.clip((1 - life) / rng.uniform(0.02, 0.25), 0, 1) ** 0.5
    )
    shed = np.exp(0.28 * line(rng, count, spread(rng, 4, 14) * half_px) + 0.1 * line(rng, count, 1.5 * half_px))
    forward = int(rng.choice([-1, 1]))
    half = half_px * growth * shed
    course = row + 0.25 * half_px * line(rng, count, max(30.0, 14 * half_px))
    depth = depth_um * growth * np.clip(1 + 0.6 * line(rng, count, 3 * half_px), 0.1, 2.2)
    if forward < 0:
        half, course, depth = half[::-1], course[::-1], depth[::-1]
    rags = tuple(
        np.clip(rng.uniform(0.3, 1.1) + 0.5 * line(rng, count, 3 * half_px) + 0.2 * line(rng, count, 5), 0, 2)
        for _ in range(2)
    )
    return Path(int(rng.uniform(-0.6 * count, side - 0.4 * count)), course, half, depth, forward, rags)


def furrow(ratio: np.ndarray, depth_um: np.ndarray | float, kept: float = 0.7) -> np.ndarray:
    """Height (µm) across a furrow, by distance over half-width: cut inside, and `kept` of the cut area piled as two ridges."""
    cut = -depth_um * np.clip(1 - ratio**2, 0, None)
    # The cut area is 4/3 of depth x half-width; two ridges, each a Gaussian of spread 0.14, take up the kept share of it.
    pile = kept * (4 / 3) / (2 * 0.14 * np.sqrt(2 * np.pi))
    return cut + pile * depth_um * np.exp(-0.5 * ((np.abs(ratio) - 1.22) / 0.14) ** 2)


def draw(frame: Frame, paths: list[Path], kept: float) -> tuple[np.ndarray, np.ndarray]:
    """Height (µm) and touched share (0-1) on the stroke's grid, later junctions over earlier ones."""
    height, touched = frame.blank(), frame.blank()
    for p in paths:
        a, b = max(0, p.start), min(frame.side, p.start + p.half.size)
        if b <= a:
            continue
        part = slice(a - p.start, b - p.start)
        half, course, depth = p.half[part], p.course[part], p.depth[part]
        top = max(0, int((course - 1.8 * half).min()) - 2)
        end = min(frame.side, int((course + 1.8 * half).max()) + 3)
        if end <= top:
            continue
        ratio = (np.arange(top, end, dtype=np.float32)[:, None] - course[None]) / np.maximum(half, 0.3)[None]
        inside = np.clip((1.45 - np.abs(ratio)) * np.minimum(half, 4.0)[None], 0, 1)
        place = (slice(top, end), slice(a, b))
        # Metal piles up to one side more than to the other, and leaves the ridge in rags.
        uneven = np.where(ratio > 0, p.rags[0][part], p.rags[1][part])
        shape = furrow(ratio, depth[None], kept)
        height[place] = height[place] * (1 - inside) + inside * np.where(np.abs(ratio) > 1, shape * uneven, shape)
        touched[place] = np.maximum(touched[place], inside)
    return height, touched


@dataclass
class Scuff:
    """Picture-sized maps: torn (bool), height over the plateau within it (µm), welded smooth metal (0-1)."""

    torn: np.ndarray
    height: np.ndarray
    welded: np.ndarray


def _population(rng: np.random.Generator, frame: Frame, severity: str) -> list[Path]:
    px, side = frame.pixel_um, frame.side
    field = min(frame.shape)
    half = spread(rng, max(2.5, 1.2 / px), max(3.0, min(18 / px, 0.05 * field)))
    if severity == "beginning":
        rows = side / 2 + rng.uniform(-0.42, 0.42, rng.integers(1, 5)) * field
    else:
        wide = field * (rng.uniform(0.08, 0.3) if severity == "band" else rng.uniform(0.35, 1.1))
        count = int(np.clip(rng.uniform(0.7, 2.2) * wide / half, 4, 60))
        rows = side / 2 + rng.uniform(-0.3, 0.3) * field * (severity == "band") + rng.normal(0, wide / 3, count)
    return [
        path(
            rng,
            side,
            row=float(row),
            half_px=float(np.clip(half * np.exp(rng.normal(0, 0.45)), 2, 0.1 * field)),
            length_px=field * spread(rng, 0.3, 2.2),
            depth_um=float(np.clip(half * px * spread(rng, 0.06, 0.3), 0.3, 5)),
        )
        for row in rows
    ]


def scuffed(rng: np.random.Generator, frame: Frame, severity: str) -> Scuff:
    """Severity: "beginning" (a few streaks), "band" or "heavy"."""
    px, side = frame.pixel_um, frame.side
    paths = _population(rng, frame, severity)
    height, touched = draw(frame, paths, rng.uniform(0.3, 0.9))
    # Ploughing at the scale of single asperities: long along the stroke, narrow across it.
    fine = smooth(rng, (side, side), spread(rng, 1.2, 3), spread(rng, 15, 60))
    lumps = smooth(rng, (side, side), spread(rng, 3, 8), spread(rng, 6, 20))
    rough_um = float(np.clip(spread(rng, 0.12, 0.4) * px * 4, 0.1, 1.5))
    coarse = smooth(rng, (side, side), spread(rng, 3, 9), spread(rng, 40, 200))
    patchy = np.clip(1 + 0.6 * smooth(rng, (side, side), 14, 50), 0.25, 2)
    lumped = 1.5 * np.maximum(lumps - 1.0, 0) - 2.5 * step(-lumps, 1.1, 1.6)
    texture = rough_um * patchy * (fine + rng.uniform(0, 1.5) * coarse + lumped)
    if rng.random() < 0.35:  # hot metal tears open across the pull, where it was drawn fastest
        tears = smooth(rng, (side, side), spread(rng, 6, 18), spread(rng, 2, 5))
        hot = step(smooth(rng, (side, side), 25, 90), 0.0, 0.6)
        texture = texture - 2.5 * rough_um * hot * step(-np.abs(tears), -0.16, -0.03)
    welded = frame.blank()
    for p in paths:
        if rng.random() < 0.55:
            _weld(rng, p, height, welded, touched)
    # The mark ends where the metal tore, not on a ruled edge.
    ragged = 0.17 * smooth(rng, (side, side), 2.5, 7)
    if rng.random() < 0.4:  # islands that no junction touched, long along the stroke
        islands = smooth(rng, (side, side), spread(rng, 5, 15), spread(rng, 20, 70)) > rng.uniform(1.0, 1.8)
        touched = np.where(islands, 0, touched)
    marked = cv2.GaussianBlur(touched, (0, 0), 1.5) + ragged * (touched > 0) > 0.5
    torn = frame.to_picture(marked.astype(np.float32)) > 0.5
    # One tear is one region: chinks narrower than a ridge belong to it.
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    torn = cv2.morphologyEx(cv2.medianBlur(torn.astype(np.uint8), 5), cv2.MORPH_CLOSE, disc) > 0
    torn = whole(torn, 40)
    bare = 1 - 0.85 * welded
    return Scuff(torn, frame.to_picture(height + texture * bare), frame.to_picture(welded))


def _weld(rng: np.random.Generator, p: Path, height: np.ndarray, welded: np.ndarray, touched: np.ndarray) -> None:
    """A dying junction leaves what it carried: a tongue of metal, blunt ahead and thin behind, smooth on top."""
    side = height.shape[0]
    at = p.start + (p.half.size - 1 if p.forward > 0 else 0)
    big = float(p.half.max()) * rng.uniform(0.8, 1.4)
    long = big * rng.uniform(2, 6)
    row = float(p.course[-1 if p.forward > 0 else 0])
    a, b = max(0, int(at - long)), min(side, int(at + long))
    top, end = max(0, int(row - 1.5 * big)), min(side, int(row + 1.5 * big) + 1)
    if b <= a or end <= top:
        return
    s = p.forward * (np.arange(a, b, dtype=np.float32) - at) / long
    r = (np.arange(top, end, dtype=np.float32) - row)[:, None] / big
    ragged = 1 + 0.2 * line(rng, s.size, 3.0)[None]
    shape = np.clip(1 - (r / ragged) ** 2 - np.where(s > 0, s * 3, s)[None] ** 2, 0, 1)
    place = (slice(top, end), slice(a, b))
    lift = float(p.depth.max()) * rng.uniform(0.5, 1.2)
    on = step(shape, 0.0, 0.25)
    height[place] = height[place] * (1 - on) + lift * on * (0.5 + 0.5 * np.sqrt(shape))
    welded[place] = np.maximum(welded[place], on)
    touched[place] = np.maximum(touched[place], on)
