"""Where moved metal closes grooves: tongues drawn from the rims along a direction until they meet or tear off."""

import cv2
import numpy as np

from tests.session_maker.canvas import Canvas
from tests.session_maker.noise import smooth_noise
from tests.session_maker.pieces import small_pieces
from tests.session_maker.specimen import Flow

LEAST_SHARE = 0.008
"""Smaller shares close nothing: own choice."""

LEAST_CLOSED_PX, LEAST_OPEN_PX = 40, 18
"""Smaller closures tear off, smaller openings among closures are overrun: own choice."""

FAR_PX = 30
"""Distance to a rim where the canvas ends before one: own choice."""


def closed_by_flow(
    rng: np.random.Generator, footprint: np.ndarray, depth: np.ndarray, direction_deg: float, share: float, flow: Flow,
    open_strips: float = 0.0,
) -> np.ndarray:  # fmt: skip
    """Return what closes, (rows, cols) bool: about ``share`` of the footprint, by metal drawn along ``direction_deg``.

    footprint: (rows, cols) bool, the grooves' ground; depth: (rows, cols) µm; open_strips: share of the width that stays
    open in strips along the direction. Deep grooves close first [P: Dimkovski, Ohlsson, Rosén, tests/SOURCES.md].
    """
    if footprint.sum() < 50 or share <= LEAST_SHARE:
        return np.zeros_like(footprint)
    canvas = Canvas(footprint.shape, direction_deg)
    ground = canvas.to_canvas(footprint.astype(np.uint8), cv2.INTER_NEAREST).astype(bool)
    first, second = _to_rims(ground)
    chord = float(np.median((first + second)[ground]))
    first_reach = _reach(rng, canvas, chord, flow)
    second_reach = _reach(rng, canvas, chord, flow) * flow.one_sided
    late = np.minimum(first / first_reach, second / second_reach)
    typical = max(0.8, np.median(depth[footprint]))
    late *= np.exp(-0.5 * np.clip(canvas.to_canvas(depth) / typical - 1, -0.5, 1.2))
    if open_strips > 0:
        strips = smooth_noise(rng, canvas.shape, 700, rng.uniform(18, 50))
        strips = strips + 0.25 * smooth_noise(rng, canvas.shape, 60, 5)
        kept_open = np.quantile(strips, 1 - open_strips)
        late *= np.where(strips > kept_open, 0.08, 1).astype(np.float32)
    late = canvas.to_picture(late, cv2.INTER_NEAREST)
    closed = (late < np.quantile(late[footprint], min(share, 0.97))) & footprint
    return _settled(closed, footprint)


def _to_rims(ground: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return each pixel's distance to the rims before and behind it along its row, px, (side, side) float32 each."""
    side = ground.shape[1]
    place = np.arange(side, dtype=np.int32)[None]
    last = np.maximum.accumulate(np.where(ground, -1, place), axis=1)
    before = np.where(last < 0, FAR_PX, place - last).astype(np.float32)
    coming = np.minimum.accumulate(np.where(ground, 10**6, place)[:, ::-1], axis=1)[:, ::-1]
    behind = np.where(coming > side, FAR_PX, coming - place).astype(np.float32)
    return before, behind


def _reach(rng: np.random.Generator, canvas: Canvas, chord_px: float, flow: Flow) -> np.ndarray:
    """Return how far metal reaches from a rim, as a factor about 1, (side, side)."""
    tongues = smooth_noise(rng, canvas.shape, max(40, 2.5 * chord_px), flow.width_px)
    fingers = smooth_noise(rng, canvas.shape, max(20, chord_px), 2.2)
    patches = smooth_noise(rng, canvas.shape, 140, 110)
    return np.exp(0.85 * (0.75 * tongues + 0.45 * fingers + 0.5 * patches))


def _settled(closed: np.ndarray, footprint: np.ndarray) -> np.ndarray:
    """Return the closures, (rows, cols) bool, smooth at their edges and without specks."""
    ground = cv2.blur(footprint.astype(np.float32), (5, 5))
    closed = (cv2.blur(closed.astype(np.float32), (5, 5)) > 0.5 * ground) & footprint
    closed = closed & ~small_pieces(closed, LEAST_CLOSED_PX, 4)
    beside = cv2.dilate(closed.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    return closed | (small_pieces(footprint & ~closed, LEAST_OPEN_PX, 4) & beside)
