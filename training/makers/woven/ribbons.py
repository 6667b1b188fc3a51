"""Grooves as ribbons whose state runs along their length: how wide and deep, open, closed or closed on one side. Lengths in µm."""

from dataclasses import dataclass

import numpy as np

from .weave import Frame, cloud, spread, thread

BEYOND = -30.0  # µm; far outside every rim
STEEPNESS = (0.105, 0.51)  # tangents of 6 and 27 degrees, between which groove walls lie


@dataclass(frozen=True, kw_only=True)
class Habit:
    """How a field's grooves are cut: median width (µm), tangent of the walls, share of area grooved, share of length closed,
    length of a closure (µm), waviness (share of width), chance to fade."""

    width: float
    tangent: float
    share: float
    closed: float
    closure: float
    wave: float
    fade: float


@dataclass(frozen=True, kw_only=True)
class Band:
    """One band of grooves on the picture: rise (µm inside the rim, as if the walls went on), wall (signed tangent, + where it
    faces the frame's across), depth (µm), shut (0–1), seam (0–1 fold lines), brush (finishing scratches, unit deviation)."""

    rise: np.ndarray
    wall: np.ndarray
    depth: np.ndarray
    shut: np.ndarray
    seam: np.ndarray
    brush: np.ndarray


def _closures(rng, habit: Habit, length_um: float, deep: float) -> list[tuple[float, float, float]]:
    """Start, end (µm) and side (0 across, -1 or 1 one wall only) of each closed run of a ribbon."""
    runs = []
    todo = habit.closed * length_um * min(1.3, deep**0.4) * rng.uniform(0.4, 1.5)
    while todo > 0 and len(runs) < 12:
        run = min(habit.closure * spread(rng, 0.3, 4.0), length_um)
        start = rng.uniform(-run, length_um)
        runs.append((start, start + run, float(rng.choice([0, 0, 0, 0, -1, 1]))))
        todo -= run
    return runs


def _paint(rng, sheet, seam, habit: Habit, centre_px: float, width: float, pixel: float) -> None:
    """Lay one ribbon into the sheet, in place; centre in pixels, width and pixel in µm."""
    side = sheet.shape[0]
    along = np.arange(side, dtype=np.float32)
    # Slow wander of the line and quick wander of its width: the stone's grit breaks out as it goes.
    bend = habit.wave * width / pixel * thread(rng, side, 30 + 20 * width / pixel) + centre_px
    slow = spread(rng, 0.03, 0.25) * thread(rng, side, 4 * width / pixel + 6)
    quick = spread(rng, 0.005, 0.09) * thread(rng, side, spread(rng, 2, 12))
    swell = np.clip(1 + slow + quick, 0.4, 1.6)
    tangent = float(np.clip(habit.tangent * spread(rng, 0.75, 1.35), STEEPNESS[0], STEEPNESS[1]))
    half = width / 2 * swell
    if rng.random() < habit.fade:
        ends = np.sort(rng.uniform(-0.4, 1.4, 2)) * side
        run = spread(rng, 0.03, 0.4) * side
        half = half * np.clip(np.minimum(along - ends[0], ends[1] - along) / run, 0.02, 1)
    floor = np.clip(half * tangent * rng.uniform(0.45, 0.95), 0.0, 10.0)
    margin = half.max() / pixel + 5
    low, high = int(max(bend.min() - margin, 0)), int(min(bend.max() + margin, side))
    if high - low < 2:
        return
    across = (np.arange(low, high, dtype=np.float32)[None] - bend[:, None]) * pixel
    rise = (half[:, None] - np.abs(across)) * tangent
    depth = np.clip(rise, 0, floor[:, None])
    wall = np.where((rise > 0) & (rise < floor[:, None]), -np.sign(across) * tangent, 0)
    shut, fold = np.zeros_like(rise), np.zeros_like(rise)
    place = along[:, None] * pixel
    for start, end, one in _closures(rng, habit, side * pixel, floor.max() / max(0.5 * habit.width * habit.tangent, 0.1)):
        lean = rng.normal(0, 0.7)
        rag = width * 0.25 * thread(rng, high - low, 3 + 0.1 * width / pixel)[None]
        inside = (place > start + lean * across + rag) & (place < end + lean * across - rag * rng.uniform(-1, 1))
        if one:
            inside &= one * across > half[:, None] * (rng.uniform(-0.5, 0.3) + 0.15 * thread(rng, side, 9)[:, None])
        shut = np.maximum(shut, inside)
        if rng.random() < 0.75:
            path = half[:, None] * (rng.uniform(-0.8, 0.8) + 0.22 * thread(rng, side, 8 + 2 * width / pixel)[:, None])
            line = np.exp(-(((across - path) / (pixel * rng.uniform(0.6, 1.3))) ** 2)) * (thread(rng, side, 14)[:, None] > -0.6)
            fold = np.maximum(fold, line * inside)
    part = sheet[:, low:high]
    # the deeper groove took the ground of the other; where neither cut, the nearer rim counts
    upper = (depth > part[..., 2]) | ((depth == part[..., 2]) & (rise > part[..., 0]))
    part[upper] = np.stack([rise, wall, depth, shut], -1)[upper]
    seam[:, low:high] = np.where(upper, fold, seam[:, low:high])


def cut(rng: np.random.Generator, frame: Frame, habit: Habit, pixel: float) -> Band:
    """One band of grooves in the given frame; pixel in µm."""
    side = frame.side
    sheet = np.zeros((side, side, 4), np.float32)
    sheet[..., 0] = BEYOND
    seam = np.zeros((side, side), np.float32)
    reach, painted = habit.share * side * pixel, 0.0
    groups = rng.uniform(0, side, max(2, int(reach / habit.width / 4) + 1))
    grouped = rng.random() * 0.7
    for _ in range(110):
        if painted >= reach:
            break
        width = float(np.clip(habit.width * np.exp(rng.normal(0, 0.45)), 2.0, 60.0))
        at = rng.uniform(0, side)
        if rng.random() < grouped:
            at = rng.choice(groups) + rng.normal(0, 2.5 * habit.width / pixel)
        _paint(rng, sheet, seam, habit, at, width, pixel)
        painted += width
    brush = cloud(rng, (side, side), spread(rng, 30, 300), spread(rng, 1.0, 2.5)) + 0.7 * cloud(rng, (side, side), side, spread(rng, 1, 6))
    laid = frame.lay(sheet, (BEYOND, 0.0, 0.0, 0.0))
    rest = frame.lay(np.stack([seam, brush], -1), (0.0, 0.0))
    return Band(rise=laid[..., 0], wall=laid[..., 1], depth=laid[..., 2], shut=laid[..., 3], seam=rest[..., 0], brush=rest[..., 1])
