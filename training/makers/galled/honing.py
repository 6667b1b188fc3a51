"""Honed ground: two bands of grooves placed at random at two angles (Puente Leon, CIRP Annals 51 (2002) 503), bisected by the
direction across the stroke. Included hone angle mostly 30-60 degrees, 140-150 for helical slide honing; depths 1-10 um, widths
5-50 um (from memory), smaller where the field is too
narrow to show several. Walls slope 6-27 degrees, steeper in small grooves."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, Map, ramp

COLUMN = 6.0
FINISHES = {
    "single-stage": {"cover": (0.14, 0.3), "width_um": (4, 14), "depth_um": (0.8, 6.0), "scratch": (0.0, 0.35)},
    "plateau": {"cover": (0.06, 0.17), "width_um": (5, 28), "depth_um": (0.9, 9.0), "scratch": (0.0, 0.5)},
    "fine": {"cover": (0.03, 0.1), "width_um": (3, 8), "depth_um": (0.7, 2.0), "scratch": (0.1, 0.6)},
}


@dataclass
class Honed:
    """Unrun ground: groove depth below the plateau (um, 0 on it), ridge height beside grooves, depth of faint finishing
    scratches, height of the plateau's own roughness and of groove floors, the lays' angles."""

    depth: Map
    ridge: Map
    scratch: Map
    rough: Map
    floor: Map
    lays: list[float]
    finish: str


def hone_angle(rng: np.random.Generator) -> float:
    """Included angle in degrees about the direction across the stroke."""
    kind = rng.random()
    if kind < 0.72:
        return rng.uniform(30, 60)
    return rng.uniform(138, 152) if kind < 0.85 else rng.uniform(22, 95)


def section(rng: np.random.Generator, x: Map) -> Map:
    """Groove depth across its width, x from -1 to 1: V, round, flat-floored, or scored by several grits."""
    inside = np.clip(1 - np.abs(x), 0, 1)
    kind = rng.integers(4)
    if kind == 0:
        return inside
    if kind == 1:
        return np.clip(1 - x * x, 0, 1)
    if kind == 2:
        return np.clip(inside * rng.uniform(2, 4), 0, 1)
    lean = rng.uniform(2, 6)
    return np.clip(inside * 3, 0, 1) * (0.82 + 0.18 * np.cos(lean * x + rng.uniform(0, 6)))


def band(rng: np.random.Generator, frame: Frame, lay: float, cover: float, width: float, depth_um: tuple[float, float]):
    """One lay's grooves: depth and side ridges (um). Drawn in a strip, rows across the lay, columns along it."""
    rows, cols = int(4 * frame.reach) + 8, int(2 * frame.reach / COLUMN) + 4
    depth, ridge = np.zeros((rows, cols), np.float32), np.zeros((rows, cols), np.float32)
    total, goal = 0.0, cover * 2 * frame.reach
    along = np.arange(cols) / cols
    spread = rng.uniform(0.15, 0.5)
    ridged = rng.uniform(0, 0.16)
    while total < goal:
        w = float(np.clip(width * np.exp(spread * rng.standard_normal()), 4.2, goal))
        total += w
        slope = np.radians(rng.uniform(9, 28))
        d = float(np.clip(w * frame.pixel_um / 2 * np.tan(slope), *depth_um)) * rng.uniform(0.85, 1.2)
        bumps = cv2.GaussianBlur(rng.standard_normal((1, cols)).astype(np.float32), (0, 0), rng.uniform(0.7, 5))[0]
        half = w / 2 * (1 + 0.16 * np.clip(bumps, -1.5, 1.5))
        centre = rng.uniform(0, rows / 2) + rng.uniform(-2, 2) * along + 0.35 * np.roll(bumps, 3)
        reach = np.ones(cols)
        if rng.random() < 0.3:
            ends = np.sort(rng.uniform(-0.3, 1.3, 2)) if rng.random() < 0.6 else np.array([rng.uniform(0, 1), 2.0])
            reach = ramp(along, ends[0], ends[0] + 0.12) * (1 - ramp(along, ends[1] - 0.12, ends[1]))
        low, high = int(max(0, 2 * (centre.min() - 1.7 * w))), int(min(rows, 2 * (centre.max() + 1.7 * w)))
        if high - low < 2:
            continue
        x = (np.arange(low, high)[:, None] / 2 - centre[None]) / half[None]
        cut = d * reach * (1 + 0.12 * np.roll(bumps, 7))
        np.maximum(depth[low:high], section(rng, x) * cut, out=depth[low:high])
        side = np.exp(-(((np.abs(x) - 1.22) / 0.16) ** 2)) * (1 + 0.5 * np.sign(x) * rng.uniform(-1, 1))
        np.maximum(ridge[low:high], ridged * min(d, 2) * reach * side, out=ridge[low:high])
    a, w = frame.axes(lay)
    at = (a + np.float32(frame.reach)) / np.float32(COLUMN), (w + np.float32(frame.reach)) * np.float32(2)
    return tuple(cv2.remap(strip, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE) for strip in (depth, ridge))


def hone(rng: np.random.Generator, frame: Frame) -> Honed:
    finish = str(rng.choice(list(FINISHES), p=[0.32, 0.48, 0.2]))
    of = FINISHES[finish]
    half = np.radians(hone_angle(rng)) / 2
    lays = [frame.stroke + np.pi / 2 - half, frame.stroke + np.pi / 2 + half]
    if rng.random() < 0.1:
        lays = [lays[int(rng.integers(2))]]
    pixel = frame.pixel_um
    cover = rng.uniform(*of["cover"])
    width = np.clip(rng.uniform(*of["width_um"]) / pixel, 5.5, max(5.5, cover * 2 * frame.reach / rng.uniform(3.5, 8)))
    depth, ridge, scratch, rough, floor = (np.zeros(frame.shape, np.float32) for _ in range(5))
    dense, fine = rng.uniform(*of["scratch"]), rng.uniform(0.01, 0.06)
    torn = rng.uniform(0.15, 0.6) if finish == "single-stage" and rng.random() < 0.6 else 0.0
    balance = np.array([1.0, rng.uniform(0.45, 1.0)])[rng.permutation(2)]
    for lay, share in zip(lays, balance, strict=False):
        d, r = band(rng, frame, lay, cover * share, width, of["depth_um"])
        depth, ridge = np.maximum(depth, d), np.maximum(ridge, r)
        if dense > 0.08:
            d, _ = band(rng, frame, lay, dense * share, 4.6, (0.05, 0.36))
            scratch = np.maximum(scratch, np.minimum(d, 0.42) * rng.uniform(0.3, 1))
        rough += fine * pixel * 1.6 * frame.noise(rng, lay, rng.uniform(60, 300), rng.uniform(1.2, 2.5))
        grain = frame.noise(rng, lay, rng.uniform(40, 200), rng.uniform(1.5, 4)) * rng.uniform(0, 1)
        grain += frame.noise(rng, lay, rng.uniform(4, 25), rng.uniform(1.5, 5)) * rng.uniform(0, 1)
        floor += rng.uniform(0.0, 0.45) * pixel * grain
        if torn:
            # Folded and torn metal lies along the lay that pushed it: steps with their steep side across the lay.
            scale = rng.uniform(7, 16)
            _, w = frame.axes(lay)
            fold = np.mod(w / scale + 1.1 * frame.noise(rng, lay, 45, 12), 1)
            rough += (
                np.clip(torn * scale * pixel * 0.25, 0.03, 0.3)
                * (fold - 0.5)
                * ramp(frame.noise(rng, lay, 80, 18), -0.2, 0.9)
            )
    # Cut metal is not glass: grain and specks of the matrix, without direction.
    rough += rng.uniform(0.01, 0.07) * pixel * frame.noise(rng, 0, rng.uniform(1.3, 2.5), rng.uniform(1.3, 2.5))
    patch = rng.uniform(4, 14)
    rough += rng.uniform(0.0, 0.1) * pixel * frame.noise(rng, rng.uniform(0, 3), patch, patch * rng.uniform(0.4, 1))
    if rng.random() < 0.4:
        specks = frame.noise(rng, 0, 3, 3)
        rough -= rng.uniform(0.2, 0.6) * pixel * ramp(specks, rng.uniform(1.8, 2.6), 3)
    return Honed(depth, ridge, scratch, rough, floor, lays, finish)
