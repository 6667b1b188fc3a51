"""Fields in which sliding comes first: every streak is the path of a junction over a honed surface.

`make` draws the honed ground, wears it where the ring ran, closes grooves, tears streaks along the stroke, adds what only
looks like them, and takes the picture. The truth follows from the heights, not from what the picture shows.
"""

import cv2
import numpy as np

from ..made import Made
from .closing import LIMIT_UM, filled, truncated
from .frame import Frame, line, smooth, spread, step, whole
from .hone import honed
from .instrument import recorded
from .junctions import scuffed
from .marks import abrasive, film, running_in
from .matter import debris, graphite, pits, stains
from .picture import detector, signal


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field with its truth."""
    stroke = np.radians(rng.choice([90, 0, rng.uniform(0, 180)], p=[0.5, 0.3, 0.2]) + rng.normal(0, 4))
    frame = Frame(shape, pixel_size_um, float(stroke))
    hone = honed(rng, shape, pixel_size_um, float(stroke))
    worn, kind = _track(rng, frame)
    severity = smear = None
    if worn.any():
        smear = float(np.clip(spread(rng, 0.1, 1.0), 0, 0.9)) if rng.random() < 0.7 else None
        severity = str(rng.choice(["beginning", "band", "heavy"], p=[0.3, 0.35, 0.35])) if rng.random() < 0.3 else None

    on = worn.astype(np.float32)
    worn_off = spread(rng, 0.03, 1.0) * on
    depth = truncated(hone.depth, worn_off)
    polish = 1 - on * rng.uniform(0.4, 0.95) * (depth < 0.2)
    rim = hone.rim * (1 - on * rng.uniform(0.5, 1.0))
    foot = depth >= LIMIT_UM
    after, relief, metal = depth, np.zeros_like(depth), np.zeros_like(depth)
    if smear is not None:
        after, relief, metal = filled(rng, frame, depth, hone.yielding, worn, smear)
    closed = whole(foot & (after < LIMIT_UM), 12) & worn & (after < LIMIT_UM)
    open_ = whole(after >= LIMIT_UM, 12) & ~closed

    floor = step(after, 0.25, 0.75)
    # Grains tear the floor along the lay; on burnished metal nothing of the old texture is left.
    grit = smooth(rng, shape, 1.5, 1.5) * spread(rng, 0.02, 0.25) * min(1.0, 2 * pixel_size_um)
    height = -after + rim * (1 - metal) + hone.finish * polish * (1 - 0.8 * metal) + grit * floor + relief
    height += spread(rng, 0.004, 0.04) * smooth(rng, shape, 1, 1) * (1 - 0.7 * metal)
    if worn.any() and rng.random() < 0.8:
        height += running_in(rng, frame) * on * (1 - floor)
    if rng.random() < (0.5 if worn.any() else 0.15):
        height += abrasive(rng, frame, int(rng.integers(1, 8)))
    if rng.random() < 0.2:
        height -= pits(rng, shape, pixel_size_um)

    carbon = graphite(rng, shape, pixel_size_um) if rng.random() < 0.6 else np.zeros(shape, np.float32)
    height -= spread(rng, 0.05, 1.0) * carbon
    clot = max(1.5, spread(rng, 0.5, 6) / pixel_size_um)
    clots = smooth(rng, shape, clot, clot) + 0.5 * smooth(rng, shape, 1.5, 1.5)
    filling = rng.uniform(0.2, 0.8) if rng.random() < 0.35 else rng.uniform(0, 0.12)
    carbon = carbon * (1 - 0.9 * metal) + filling * floor * (0.4 + 0.6 * step(clots, -1.2, 1.2))
    # Burnished metal is clean and dense, so somewhat brighter, or carries a film of its own.
    cover = spread(rng, 0.02, 0.18) * rng.choice([-1, 1], p=[0.7, 0.3]) * metal
    if rng.random() < 0.3:  # fine loose edges on the floor shine
        cover = cover - rng.uniform(0.05, 0.35) * floor
    torn = np.zeros(shape, bool)
    if severity is not None:
        scuff = scuffed(rng, frame, severity)
        torn = scuff.torn & worn
        old = rng.uniform(0, 0.3)  # what still shows of the ground beneath
        height = np.where(torn, scuff.height + old * height, height)
        carbon = np.where(torn, 0.1 * carbon, carbon)
        cover = np.where(torn, -rng.uniform(-0.05, 0.15) - 0.05 * scuff.welded, cover)
    if worn.any() and rng.random() < 0.35:
        cover = cover + rng.uniform(-0.12, 0.3) * film(rng, frame) * on * (1 - 0.7 * torn)
    if rng.random() < 0.25:
        cover = cover + rng.uniform(-0.1, 0.35) * stains(rng, shape)

    codes = open_.astype(np.uint8)
    codes[closed] = 2
    codes[torn] = 3
    kind += ", smeared" * bool((codes == 2).any()) + f", scuffed ({severity})" * bool(torn.any())
    seen = signal(height.astype(np.float32), carbon, cover, pixel_size_um, eye := detector(rng))
    if rng.random() < 0.3:
        seen, hidden = _littered(rng, frame, seen, eye.side, worn.any())
        codes[hidden] = 255
    return Made(image=recorded(rng, seen.astype(np.float32)), codes=codes, worn=worn, kind=kind)


def _track(rng: np.random.Generator, frame: Frame) -> tuple[np.ndarray, str]:
    """Where the ring ran: nowhere, on one side of a border along the stroke, or everywhere."""
    lot = rng.random()
    if lot < 0.4:
        return np.zeros(frame.shape, bool), "unworn"
    if lot > 0.55:
        return np.ones(frame.shape, bool), "worn"
    across = np.arange(frame.side, dtype=np.float32)[:, None] - frame.side / 2
    border = (
        rng.uniform(-0.25, 0.25) * min(frame.shape) + spread(rng, 0.5, 6) * line(rng, frame.side, frame.side / 8)[None]
    )
    return frame.to_picture(np.sign(rng.random() - 0.5) * (across - border)) > 0, "track border"


def _littered(
    rng: np.random.Generator, frame: Frame, seen: np.ndarray, side: float, dragged: bool
) -> tuple[np.ndarray, np.ndarray]:
    """The signal with debris, its shadow away from the detector, and charging; and what these hide."""
    px = frame.pixel_um
    pile = debris(rng, frame, dragged)
    hidden = pile > 0
    reach = spread(rng, 2, 10)
    away = np.float32([[1, 0, reach * np.cos(side)], [0, 1, reach * np.sin(side)]])
    shade = cv2.GaussianBlur(cv2.warpAffine(hidden.astype(np.float32), away, frame.shape[::-1]), (0, 0), reach / 2)
    seen = seen * (1 - rng.uniform(0.1, 0.5) * shade)
    lit = rng.choice([rng.uniform(0.35, 0.75), rng.uniform(1.25, 1.9)], p=[0.3, 0.7])
    lit = lit * (1 + 0.15 * smooth(rng, frame.shape, 2, 2) + 0.3 * np.exp(-pile / (1.5 * px)))
    seen = np.where(hidden, lit, seen)
    if rng.random() < 0.3:  # charge builds up and bleeds away along the scan line
        grains = hidden.astype(np.float32)
        glow = cv2.blur(cv2.GaussianBlur(grains, (0, 0), 4), (61, 1))
        seen = seen + rng.uniform(0.8, 2.0) * glow
        hidden = hidden | (glow > 0.35)
    return seen, hidden
