"""Hone grooves, each drawn on a canvas whose rows run along its lay: profile from width and wall slope, waviness, ends,
torn rims, and beside them the map of how readily moved metal would close them."""

from dataclasses import dataclass

import numpy as np

from .grain import between, canvas_side, cloud, step, turned

WIDTH_UM = (2.0, 60.0)
DEPTH_UM = (0.2, 10.0)
SLOPE_DEG = (6.0, 27.0)


@dataclass(frozen=True)
class Band:
    """One lay: depth_um below the plateau before wear; rim_um metal raised at the edges; closing: above 0 where moved
    metal closes the groove (nothing is closed where it is negative)."""

    depth_um: np.ndarray
    rim_um: np.ndarray
    closing: np.ndarray


def depth_um(width_um: float, slope_deg: float, floor_share: float) -> float:
    """Depth of a trapezoid groove with walls of slope_deg whose flat floor takes floor_share of width_um (0 = a V)."""
    return float(np.clip(0.5 * width_um * (1 - floor_share) * np.tan(np.deg2rad(slope_deg)), 0.02, DEPTH_UM[1]))


def places(rng: np.random.Generator, side: int, count: int) -> np.ndarray:
    """Row of each groove's middle: random, gathered in groups."""
    crowd = np.exp(rng.uniform(0, 1.2) * cloud(rng, (side, 1), between(rng, 0.05, 0.5) * side)[:, 0])
    return rng.choice(side, count, p=crowd / crowd.sum()).astype(float)


def closing_of(rng: np.random.Generator, across: np.ndarray, width_px: float, share: float) -> np.ndarray:
    """Positive where closed, over a groove's strip: across runs −1 to 1 between the rims, share 0–1 is about how much."""
    rows, cols = across.shape
    manner = rng.choice(["cap", "bridges", "fold"])
    run = width_px * (between(rng, 4, 25) if manner == "cap" else between(rng, 0.8, 4))
    ragged = 0.22 * cloud(rng, across.shape, max(0.3 * width_px, 3.0))
    value = cloud(rng, (1, cols), 1, run) + ragged + 3.2 * (share - 0.5)
    if manner == "fold":
        # A fold comes over from one rim and need not reach the other.
        value = value + rng.choice([-1, 1]) * across * 0.9
    return value.astype(np.float32)


def cut_band(
    rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, lay_deg: float, share: float, smear: float
) -> Band:
    """A lay at lay_deg over about the share of the field (0–1), smear (0–1) being how much of it gets closed in a track."""
    side = canvas_side(shape)
    widest_um = min(WIDTH_UM[1], 0.3 * min(shape) * pixel_size_um)
    typical_um = between(rng, min(max(WIDTH_UM[0], 5 * pixel_size_um), 0.5 * widest_um), widest_um)
    slope_deg = rng.uniform(SLOPE_DEG[0] + 2, SLOPE_DEG[1])
    # Narrow grooves with gentle walls are finishing marks: a lay that is to be a valley must be able to reach 0.5 µm.
    while depth_um(typical_um, slope_deg, 0.2) < 0.7 and (typical_um < widest_um or slope_deg < SLOPE_DEG[1]):
        typical_um, slope_deg = min(1.3 * typical_um, widest_um), min(slope_deg + 3, SLOPE_DEG[1])
    depth, rim = np.zeros((side, side), np.float32), np.zeros((side, side), np.float32)
    closing = np.full((side, side), -3, np.float32)
    count = int(np.clip(rng.poisson(share * side * pixel_size_um / typical_um) + 1, 1, 60))
    waves_px, torn = min(between(rng, 0.02, 0.6) / pixel_size_um, 1.5), between(rng, 0.02, 0.5)
    columns = np.arange(side, dtype=np.float32)
    for middle in places(rng, side, count):
        width_um = np.clip(typical_um * rng.lognormal(0, 0.35), WIDTH_UM[0], widest_um)
        floor = rng.uniform(0, 0.55)
        slope = np.clip(slope_deg + rng.normal(0, 3), *SLOPE_DEG)
        half_px = max(0.5 * width_um / pixel_size_um, 0.8)
        path = middle + waves_px * cloud(rng, (1, side), 1, max(60 / pixel_size_um, 80))[0]
        path += between(rng, 0.01, 0.08) * half_px * cloud(rng, (1, side), 1, max(half_px, 4))[0]
        top, end = int(max(path.min() - 1.6 * half_px, 0)), int(min(path.max() + 1.6 * half_px + 2, side))
        if end - top < 2:
            continue
        across = (np.arange(top, end, dtype=np.float32)[:, None] - path[None].astype(np.float32)) / np.float32(half_px)
        strength = np.ones(side, np.float32)
        if rng.random() < 0.35:
            ends = np.sort(rng.uniform(-0.5, 1.5, 2)) * side
            strength = step(np.minimum(columns - ends[0], ends[1] - columns), between(rng, 1, 20) * half_px)
        strength = strength * np.clip(1 + 0.2 * cloud(rng, (1, side), 1, 8 * half_px)[0], 0.3, 1.15)
        full = depth_um(width_um, slope, floor)
        ground = full * np.clip((1 - np.abs(across)) / (1 - floor), 0, 1) * strength[None]
        edge = np.exp(-(((np.abs(across) - 1.12) / 0.13) ** 2))
        ridge = torn * min(full, 1) * edge * strength[None] * np.clip(0.4 + cloud(rng, across.shape, 1.5, half_px + 3), 0, 2)
        inside = ground > depth[top:end]
        own = closing_of(rng, across, 2 * half_px, float(np.clip(rng.normal(smear, 0.25), 0, 1))) if smear > 0 else -3.0
        closing[top:end] = np.where(inside, own, closing[top:end])
        depth[top:end] = np.maximum(depth[top:end], ground)
        rim[top:end] = np.maximum(rim[top:end], ridge)
    rim[depth > 0.3] *= 0.3
    # Every groove is the work of many grains: its ground is striated along the lay.
    striae = cloud(rng, (side, side), max(between(rng, 0.4, 3) / pixel_size_um, 1.3), 50 / pixel_size_um)
    depth = np.minimum(depth * (1 + between(rng, 0.03, 0.3) * np.clip(striae, -2, 2)), DEPTH_UM[1])
    return Band(*(turned(canvas, lay_deg, shape) for canvas in (depth, rim, closing)))


def scratches(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, along_deg: float, deepest_um: float):
    """Depth in µm, never more than deepest_um, of fine marks along a direction."""
    side = canvas_side(shape)
    across = cloud(rng, (side, 1), max(between(rng, 0.3, 2.5) / pixel_size_um, 1.0))
    lasting = cloud(rng, (side, side), max(2 / pixel_size_um, 2.0), side * between(rng, 0.1, 1.5))
    mark = np.clip(across + 0.6 * lasting - rng.uniform(0.2, 1.6), 0, 1.6) / 1.6
    return turned((deepest_um * mark).astype(np.float32), along_deg, shape)
