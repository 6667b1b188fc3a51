"""The honed ground as a height map in µm: grooves of two lays, finishing scratches, graphite and pull-outs.

Each lay is drawn in its own upright frame (columns along the lay, rows across it) and turned onto the screen. A honed bore
is two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503); included angles of
30–60°, or 140–150° for helical slide honing, grooves 1–10 µm deep and 5–50 µm wide (from memory). Finer pixels see the
finer end of the same population.
"""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, kw_only=True)
class Finish:
    """One specimen's hone: lays (radians on the screen), groove width and spacing (px), depth over width, cross-section."""

    stroke: float
    hone_angle: float
    lays: tuple[float, ...]
    width_px: float
    spacing_px: float
    aspect: float
    power: float
    skew: float
    scratch: float
    torn: float
    depth_um: float
    name: str


def frame_side(shape: tuple[int, int]) -> int:
    return int(np.hypot(*shape)) + 12


def to_screen(canvas: np.ndarray, shape: tuple[int, int], angle: float) -> np.ndarray:
    """An upright square canvas whose columns run along `angle`, seen on the screen."""
    c, s, half = np.cos(angle), np.sin(angle), canvas.shape[0] / 2
    cx, cy = (shape[1] - 1) / 2, (shape[0] - 1) / 2
    turn = np.array([[c, s, half - c * cx - s * cy], [-s, c, half + s * cx - c * cy]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(canvas, turn, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT)


def grain(rng: np.random.Generator, shape: tuple[int, int], along: float, across: float) -> np.ndarray:
    """Gaussian texture of about unit spread, correlated over `along` columns and `across` rows."""
    coarse = rng.standard_normal((int(shape[0] / across) + 3, int(shape[1] / along) + 3), dtype=np.float32)
    big = cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return big / (big.std() + 1e-6)


def blotches(rng: np.random.Generator, shape: tuple[int, int], size: float) -> np.ndarray:
    """Cloudy texture of about unit spread without direction, at three scales."""
    side = frame_side(shape)
    cloud = sum(grain(rng, (side, side), size / part, size / part) * part**-0.6 for part in (1, 3, 9))
    return to_screen(cloud, shape, rng.uniform(0, np.pi)) / 1.3


def wander(rng: np.random.Generator, length: int, over: float) -> np.ndarray:
    """A smooth random line of about unit spread."""
    knots = rng.standard_normal(int(length / over) + 3)
    return np.interp(np.arange(length) / over, np.arange(len(knots)), knots).astype(np.float32)


def choose_finish(rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]) -> Finish:
    name = str(rng.choice(["rough", "plateau", "fine"], p=[0.35, 0.4, 0.25]))
    wide_px = {"rough": (9, 30), "plateau": (8, 34), "fine": (4.5, 11)}[name]
    width_um = np.clip(np.exp(rng.uniform(*np.log(wide_px))) * pixel_size_um, 2.2, 45)
    width_px = float(np.clip(width_um / pixel_size_um, 4.5, min(shape) / 8))
    gap = {"rough": rng.uniform(1.6, 3.2), "plateau": rng.uniform(3, 7), "fine": rng.uniform(2, 5)}[name]
    hone_angle = np.radians(rng.uniform(140, 150) if rng.random() < 0.12 else rng.uniform(30, 60))
    stroke = rng.uniform(0, np.pi)
    lays = tuple(stroke + np.pi / 2 + side * hone_angle / 2 for side in (-1, 1))
    if rng.random() < 0.08:
        lays = lays[:1] if rng.random() < 0.5 else lays[1:]
    aspect = rng.uniform(0.09, 0.3)
    return Finish(
        stroke=stroke,
        hone_angle=hone_angle,
        lays=lays,
        width_px=width_px,
        spacing_px=max(gap * width_px * (2 if len(lays) == 2 else 1.2), 9.0),
        aspect=aspect,
        depth_um=max(width_px * pixel_size_um * aspect, 1.1),
        power=float(rng.choice([1.2, 2.0, 4.0])),
        skew=rng.uniform(-0.35, 0.35),
        scratch=rng.choice([0.02, 0.06, 0.12, 0.22], p=[0.2, 0.35, 0.3, 0.15]),
        torn=rng.uniform(0.02, 0.14),
        name=name,
    )


@dataclass(kw_only=True)
class Groove:
    """One groove in its lay's frame: rows it takes, its depth there (µm) and the place across it (−1 … 1 from rim to rim)."""

    first_row: int
    depth: np.ndarray
    place: np.ndarray
    width_px: float


def draw_grooves(rng: np.random.Generator, finish: Finish, side: int, pixel_size_um: float) -> list[Groove]:
    grooves, centre = [], rng.uniform(0, finish.spacing_px)
    while centre < side and len(grooves) < 110:
        width = max(min(finish.width_px * np.exp(rng.normal(0, 0.4)), 1.8 * finish.width_px, 50 / pixel_size_um), 3.2)
        deepest = max(width * pixel_size_um * finish.aspect, 1.1) * np.exp(rng.normal(0, 0.35))
        half = width / 2 * (1 + 0.13 * wander(rng, side, 45) + 0.04 * wander(rng, side, 6))
        first, last = max(0, int(centre - 0.9 * width - 3)), min(side, int(centre + 0.9 * width + 4))
        line = centre + 0.06 * width * wander(rng, side, 60)
        place = (np.arange(first, last, dtype=np.float32)[:, None] - line) / half
        bent = np.clip(np.abs(place - finish.skew * (1 - np.minimum(place * place, 1))), 0, 1)
        along = np.clip(1 + 0.14 * wander(rng, side, 30) + 0.05 * wander(rng, side, 7), 0.3, 1.5)
        if rng.random() < 0.3:
            end = rng.uniform(0, side)
            along = along * np.clip((np.arange(side) - end) * rng.choice([-1, 1]) / (3 * width), 0, 1)
        depth = min(deepest, 9.0) * (1 - bent**finish.power) * along
        if last - first > 2:
            torn = finish.torn * grain(rng, depth.shape, 6, 2) + 0.08 * grain(rng, depth.shape, 50, 1.6)
            depth = depth * np.clip(1 + torn, 0.4, 1.6)
            grooves.append(Groove(first_row=first, depth=depth.astype(np.float32), place=place, width_px=width))
        centre += finish.spacing_px * rng.gamma(2.2, 1 / 2.2) + 0.5 * finish.width_px
    return grooves


def scratches(rng: np.random.Generator, finish: Finish, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Finishing scratches along the lays, always shallower than 0.5 µm."""
    side, ground = frame_side(shape), np.zeros(shape, np.float32)
    for lay in finish.lays:
        lines = np.maximum(grain(rng, (side, side), 160, rng.uniform(1.0, 2.2)) - rng.uniform(-0.3, 1.2), 0)
        ground -= to_screen(lines, shape, lay)
    return np.maximum(ground * finish.scratch * min(2.5 * pixel_size_um, 1.6), -0.4)


def graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Flakes (0–1) and pull-outs (depth, µm): curved, pointed slots and ragged pits without direction."""
    flakes, pits = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    if rng.random() < 0.55:
        length = np.clip(rng.uniform(15, 70) / pixel_size_um, 8, min(shape) / 3)
        for _ in range(rng.integers(2, 26)):
            bend, start, turn = rng.normal(0, 0.7), rng.uniform(0, 1, 2) * shape[::-1], rng.uniform(0, 2 * np.pi)
            way = turn + bend * np.linspace(0, 1.5, 14) + rng.normal(0, 0.15, 14)
            steps = np.cumsum(np.stack([np.cos(way), np.sin(way)], 1), 0) * length * rng.uniform(0.3, 1) / 14
            cv2.polylines(flakes, [np.int32((start + steps) * 8)], False, 1.0, int(rng.integers(1, 4)), cv2.LINE_8, 3)
    for _ in range(rng.integers(0, 9)):
        turn, size = np.linspace(0, 2 * np.pi, 16)[:-1], np.clip(rng.uniform(2, 9) / pixel_size_um, 3, 22)
        reach = size * (0.8 + 0.2 * np.sin(2 * turn + rng.uniform(0, 6)) + rng.normal(0, 0.12, 15))
        ring = rng.uniform(0, 1, 2) * shape[::-1] + np.stack([reach * np.cos(turn), reach * np.sin(turn)], 1)
        cv2.fillPoly(pits, [np.int32(ring)], 1)
    depth = cv2.GaussianBlur(pits.astype(np.float32), (0, 0), 1.7) * min(rng.uniform(1.5, 5) * pixel_size_um, 3)
    return cv2.GaussianBlur(flakes, (0, 0), 0.8), depth
