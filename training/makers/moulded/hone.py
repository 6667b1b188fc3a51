"""The honed casting before it runs, in the stroke's frame: columns run along the stroke, rows across it.

Two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503), each lay half the hone angle
from the direction across the stroke; included angles of some 30–60°, 140–150° for helical slide honing, depths of
1–10 µm and widths of 5–50 µm (from memory). Graphite flakes of grey iron are curved, some 10–100 µm long (from memory).
"""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.moulded.noise import Shape, blurred, chance, grain, log_uniform

ALONG_STEP_PX = 8
"""A groove's width and depth are drawn this far apart along its length."""


@dataclass(frozen=True, kw_only=True)
class Hone:
    """groove_um, marks_um (depths of hone grooves and of finishing marks below the land; the latter under 0.45 µm),
    graphite and pits (0–1), all (rows, cols) float32; the lays' angles from across the stroke; the finish's name."""

    groove_um: np.ndarray
    marks_um: np.ndarray
    graphite: np.ndarray
    pits: np.ndarray
    lays_deg: tuple[float, ...]
    typical_depth_um: float
    finish: str


def hone(rng: np.random.Generator, shape: Shape, pixel_size_um: float) -> Hone:
    included_deg = rng.uniform(140, 150) if chance(rng, 0.12) else rng.uniform(30, 60)
    lays_deg = (included_deg / 2, -included_deg / 2) if chance(rng, 0.88) else (included_deg / 2,)
    finish = str(rng.choice(["rough", "plateau", "fine"], p=[0.35, 0.4, 0.25]))
    narrow_um = max(4.0 * pixel_size_um, 2.2)
    width_um = log_uniform(
        rng, 1.2 * narrow_um, {"rough": 1.0, "plateau": 0.8, "fine": 0.45}[finish] * min(38, 42 * pixel_size_um)
    )
    depth_um = min(
        log_uniform(rng, *{"rough": (1.5, 5), "plateau": (1.2, 4), "fine": (0.75, 1.5)}[finish]), 0.4 * width_um
    )
    cover = (
        rng.uniform(*{"rough": (0.4, 0.95), "plateau": (0.22, 0.6), "fine": (0.3, 0.85)}[finish]) / len(lays_deg) ** 0.7
    )
    power = log_uniform(rng, 1.0, 6.0)
    marks_depth_um = rng.uniform(0.04, 0.4) * (1.3 if finish == "plateau" else 0.8)
    groove_um, marks_um = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    for lay_deg in lays_deg:
        share = cover * rng.uniform(0.55, 1.2)
        lay = _grooves(rng, shape, pixel_size_um, (narrow_um, width_um, depth_um, share, power))
        groove_um = np.maximum(groove_um, np.minimum(_laid(lay, shape, lay_deg), 10.0))
        spread = grain(rng, lay.shape, rng.uniform(1.0, 2.5), 40) - rng.uniform(0.0, 1.4)
        marks_um = np.maximum(
            marks_um,
            _laid(np.clip(spread, 0, 2.2) / 2.2 * marks_depth_um * min(max(pixel_size_um, 0.4), 1.5), shape, lay_deg),
        )
    graphite, pits = _matter(rng, shape, pixel_size_um)
    return Hone(
        groove_um=groove_um,
        marks_um=np.minimum(marks_um, 0.45),
        graphite=graphite,
        pits=pits,
        lays_deg=lays_deg,
        typical_depth_um=depth_um,
        finish=finish,
    )


def _grooves(rng: np.random.Generator, shape: Shape, pixel_size_um: float, population: tuple) -> np.ndarray:
    """One lay's depth in its own frame: rows across the grooves, columns along them in coarse steps."""
    narrow_um, width_um, depth_um, share, power = population
    across, along = int(np.hypot(*shape)) + 8, int(np.hypot(*shape) / ALONG_STEP_PX) + 4
    depth = np.zeros((across, along), np.float32)
    steps = np.arange(along)
    scored = 1 + rng.uniform(0.05, 0.22) * grain(rng, depth.shape, rng.uniform(1.0, 2.5), 12)  # grits score the floor
    for _ in range(min(max(int(share * across * pixel_size_um / width_um + rng.random()), 2), 90)):
        width_px = max(width_um * rng.lognormal(-0.15, 0.55), narrow_um) / pixel_size_um
        peak_um = min(depth_um * rng.lognormal(0, 0.4), 0.25 * width_px * pixel_size_um * 2, 10.0)
        centre = rng.uniform(0, across) + np.cumsum(rng.normal(0, 0.12, along)) + rng.normal(0, 0.03, along) * width_px
        half = width_px / 2 * (1 + 0.07 * rng.standard_normal(along)).clip(0.6, 1.4)
        swell = 1 + 0.3 * np.interp(
            steps, np.arange(0, along + 12, 12), rng.standard_normal(len(range(0, along + 12, 12)))
        )
        if chance(rng, 0.35):  # the grain of the stone lifts: the groove ends within the field
            swell = swell * np.clip((steps - rng.uniform(0, along)) * rng.choice([-1, 1]) / 6, 0, 1)
        first, last = (
            int(np.clip(edge, 0, across)) for edge in (centre.min() - half.max(), centre.max() + half.max() + 1)
        )
        from_axis = np.abs((np.arange(first, last)[:, None] - centre) / half + rng.uniform(-0.15, 0.15))
        profile = (
            peak_um
            * swell.clip(0.2 if swell.min() > 0 else 0, 1.7)
            * (1 - from_axis ** (power * rng.uniform(0.8, 1.3)))
        )
        depth[first:last] = np.maximum(depth[first:last], profile * scored[first:last].clip(0.4, 1.6))
    return depth


def _laid(lay: np.ndarray, shape: Shape, lay_deg: float) -> np.ndarray:
    """The lay's own frame turned into the stroke's."""
    cos, sin = np.cos(np.radians(lay_deg)), np.sin(np.radians(lay_deg))
    centre_row, centre_col = shape[0] / 2, shape[1] / 2
    matrix = np.array([[sin / ALONG_STEP_PX, cos / ALONG_STEP_PX, 0.0], [cos, -sin, 0.0]])
    matrix[:, 2] = (lay.shape[1] / 2, lay.shape[0] / 2) - matrix[:, :2] @ (centre_col, centre_row)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(lay, matrix, shape[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)


def _matter(rng: np.random.Generator, shape: Shape, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Graphite flakes and pull-outs, as covered share of each pixel."""
    graphite, pits = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 / 1e6
    flakes = min(int(rng.choice([0, 0, 40, 150]) * area_mm2 * rng.uniform(0.5, 1.5) + rng.choice([0, 0, 0, 2])), 70)
    for _ in range(flakes):
        turn = np.cumsum(rng.normal(0, 0.35, 9)) + rng.uniform(0, 2 * np.pi)
        step_px = rng.uniform(1.2, 8) / pixel_size_um
        path = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * step_px, 0) + rng.uniform(0, 1, 2) * shape[::-1]
        thick_px = (
            np.clip(log_uniform(rng, 0.5, 3.5) / pixel_size_um, 0.8, 10)
            * np.sin(np.linspace(0.15, 3, 9))
            * rng.uniform(0.4, 1.2, 9)
        )
        normal = np.stack([-np.sin(turn), np.cos(turn)], 1) * thick_px[:, None] / 2
        flake = np.concatenate([path + normal, (path - normal)[::-1]])
        cv2.fillPoly(graphite, [(flake * 8).astype(np.int32)], int(rng.uniform(110, 255)), cv2.LINE_AA, 3)
    if chance(rng, 0.5):
        for _ in range(int(rng.integers(1, 25))):
            angles = np.linspace(0, 2 * np.pi, 10, endpoint=False)
            radius = np.clip(log_uniform(rng, 0.6, 5) / pixel_size_um, 1.2, 16) * rng.uniform(0.5, 1.3, 10)
            outline = (
                np.stack([radius * np.cos(angles), radius * np.sin(angles)], 1) + rng.uniform(0, 1, 2) * shape[::-1]
            )
            cv2.fillPoly(pits, [(outline * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)
    return graphite.astype(np.float32) / 255, blurred(pits.astype(np.float32) / 255, rng.uniform(0.6, 2.0))
