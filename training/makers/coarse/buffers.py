"""Depth and wall shade drawn contour by contour: painting from shallow to deep keeps the deeper groove at every crossing."""

from dataclasses import dataclass

import cv2
import numpy as np

from .grooves import DEPTH_UM, Groove

SHIFT = 4
LEVELS_UM = {
    "survey": (0.0, 0.3, 0.7, 1.4, 2.6, 4.5, 7.0),
    "close": tuple(np.round(9.8 * np.linspace(0, 1, 34) ** 1.5, 3).tolist()),
}
"""Contours drawn in either look, µm: on wide walls coarse ones would show as terraces."""
CODE_PER_UM = 25.0
"""Grey codes a µm in the 8-bit depth buffer: 10 µm fit in."""
LEAN_PER_TAN = 200.0
"""Grey codes a unit of tan(slope) in the 8-bit lean buffer, about 128."""


def fixed(polygon: np.ndarray) -> np.ndarray:
    """Canvas points in the fixed-point form that drawing takes."""
    return np.round(np.clip(polygon, -20000, 20000) * (1 << SHIFT)).astype(np.int32)


def fill(canvas: np.ndarray, polygons: list[np.ndarray], value: float, smooth: bool = True) -> None:
    kind = cv2.LINE_AA if smooth else cv2.LINE_8
    for polygon in polygons:
        cv2.fillPoly(canvas, [fixed(polygon)], float(value), kind, SHIFT)


@dataclass(frozen=True, kw_only=True)
class Relief:
    """depth: µm below the plateau; lean: tan of the ground's slope towards the detector; floor: bool, groove floors."""

    depth: np.ndarray
    lean: np.ndarray
    floor: np.ndarray


def relief(grooves: list[Groove], shape, detector_deg: float, levels_um: tuple[float, ...]) -> Relief:
    """Depth and lean on a canvas of this shape, detector_deg the direction on the picture in which the detector stands."""
    towards = np.array([np.cos(np.radians(detector_deg)), np.sin(np.radians(detector_deg))])
    depth = np.zeros(shape, np.uint8)
    lean = np.full(shape, 128, np.uint8)
    events = []
    for groove in grooves:
        deepest = float(groove.depth.max())
        events += [(z, groove, False) for z in levels_um if z < 0.93 * deepest]
        events.append((0.95 * float(np.median(groove.depth[groove.depth > 0.5 * deepest])), groove, True))
    for z, groove, is_floor in sorted(events, key=lambda event: event[0]):
        polygons = groove.contour(z)
        if not polygons:
            continue
        fill(depth, polygons, min(255, max(1, z * CODE_PER_UM)))
        if is_floor:
            fill(lean, polygons, 128)
            continue
        # The wall at the first rim falls away from the normal, so it faces against it; the other wall faces along it.
        facing = float(groove.normal @ towards)
        for halves in groove.walls(z):
            for half, side, slope in zip(halves, (-1, 1), groove.slopes, strict=True):
                fill(lean, [half], 128 + LEAN_PER_TAN * side * facing * np.tan(slope))
    tilted = (lean.astype(np.float32) - 128) / LEAN_PER_TAN
    down = cv2.GaussianBlur(depth.astype(np.float32), (0, 0), 1.6) / CODE_PER_UM
    return Relief(depth=np.minimum(down, DEPTH_UM[1]), lean=tilted, floor=(np.abs(tilted) < 0.02) & (down > 0.4))


def deeper(grooves: list[Groove], shape, below_um: float) -> np.ndarray:
    """Where the ground lies at least this far down: bool, from the vectors and so free of the levels' steps."""
    canvas = np.zeros(shape, np.uint8)
    for groove in grooves:
        fill(canvas, groove.contour(below_um), 255, smooth=False)
    return canvas > 0
