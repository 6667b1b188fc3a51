"""Type A graphite: curved, branching flakes at random or in rosettes; open, pulled out, or under a jacket of sheet metal."""

from dataclasses import dataclass

import cv2
import numpy as np

from .grain import between, cloud, step

LENGTH_UM = (20.0, 150.0)
WIDTH_UM = (1.0, 6.0)
SHARE = (0.02, 0.13)
MOST = 260


@dataclass(frozen=True)
class Graphite:
    """bare: 0–1, graphite that the beam reaches; jacket: 0–1, flakes that honing drew iron over; pit_um: how far the
    ground lies below the plateau by graphite lost, µm; near: 0–1, iron weakened by a flake close by."""

    bare: np.ndarray
    jacket: np.ndarray
    pit_um: np.ndarray
    near: np.ndarray


def spine(rng: np.random.Generator, start: np.ndarray, heading: float, length: float) -> tuple[np.ndarray, float]:
    """Points of a wandering line (n, 2) in the unit of start and length, and its heading at the middle."""
    count = 12
    turns = rng.normal(0, 0.22, count) + rng.normal(0, 0.09)
    headings = heading + np.cumsum(turns)
    steps = np.stack([np.cos(headings), np.sin(headings)], 1) * length / count
    return start + np.vstack([np.zeros(2), np.cumsum(steps, 0)]), float(headings[count // 2])


def outline(rng: np.random.Generator, points: np.ndarray, width: float) -> np.ndarray:
    """Closed outline of a flake with blunt, thinning ends about its spine."""
    ahead = np.gradient(points, axis=0)
    normal = np.stack([-ahead[:, 1], ahead[:, 0]], 1) / (np.hypot(ahead[:, 0], ahead[:, 1])[:, None] + 1e-9)
    thin = np.sin(np.linspace(0.12, np.pi - 0.12, len(points))) ** 0.6
    half = 0.5 * width * thin[:, None]
    left, right = rng.uniform(0.6, 1.3, (2, len(points), 1))
    return np.vstack([points + normal * half * left, (points - normal * half * right)[::-1]])


def grow(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> list[np.ndarray]:
    """Outlines in pixels (x, y) of the flakes of a field, branches included, until their drawn area share is reached."""
    extent = np.array([shape[1], shape[0]], float)
    wanted = between(rng, *SHARE) * extent.prod()
    typical, wide = between(rng, *LENGTH_UM), between(rng, *WIDTH_UM)
    rosettes = rng.random() < 0.4
    reach = min(0.4 * LENGTH_UM[1] / pixel_size_um, 0.3 * extent.min())
    hubs = rng.uniform(-0.1, 1.1, (max(int(extent.prod() / (2.5 * reach) ** 2), 1), 2)) * extent
    made, area = [], 0.0
    while area < wanted and len(made) < MOST:
        length = np.clip(typical * rng.lognormal(0, 0.4), *LENGTH_UM) / pixel_size_um
        width = max(np.clip(wide * rng.lognormal(0, 0.3), *WIDTH_UM) / pixel_size_um, 1.0)
        heading = rng.uniform(0, 2 * np.pi)
        start = rng.uniform(-0.1, 1.1, 2) * extent
        if rosettes and rng.random() < 0.8:
            start = hubs[rng.integers(len(hubs))] + rng.normal(0, 0.12 * reach, 2)
        points, midway = spine(rng, start, heading, length)
        made.append(outline(rng, points, width))
        for _ in range(rng.integers(0, 3)):
            side = midway + rng.choice([-1, 1]) * rng.uniform(0.4, 1.2)
            branch, _ = spine(rng, points[rng.integers(3, 10)], side, length * rng.uniform(0.2, 0.6))
            made.append(outline(rng, branch, width * rng.uniform(0.4, 0.9)))
        inside = np.mean((points >= 0).all(1) & (points < extent).all(1))
        area += 1.2 * length * width * 0.8 * inside + 0.02 * wanted
    return made


def lay_graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, iron_drawn: float) -> Graphite:
    """Flakes of a field, of which the share iron_drawn (0–1) lies under metal drawn over by tool or ring."""
    flake = np.zeros(shape, np.uint8)
    for ring in grow(rng, shape, pixel_size_um):
        cv2.fillPoly(flake, [np.round(ring * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    body = flake.astype(np.float32) / 255
    covered = step(cloud(rng, shape, between(rng, 8, 60) / pixel_size_um) - 3 * (0.5 - iron_drawn), 0.15)
    bare = body * (1 - covered)
    # Graphite leaves the wider flakes first, and takes crumbs of the edge along: a pull-out.
    lost = step(cloud(rng, shape, between(rng, 8, 40) / pixel_size_um) - rng.uniform(0, 2.2), 0.2)
    torn = cv2.dilate(bare * lost, np.ones((3, 3), np.uint8)) * np.clip(0.8 + 0.5 * cloud(rng, shape, 1 / pixel_size_um), 0, 1)
    pit_um = between(rng, 0.05, 0.5) * bare + between(rng, 0.6, 4) * torn * lost
    near = cv2.GaussianBlur(body, (0, 0), max(1.5 / pixel_size_um, 1.0))
    return Graphite(np.maximum(bare, torn * 0.7), body * covered, pit_um.astype(np.float32), np.clip(near * 2.5, 0, 1))
