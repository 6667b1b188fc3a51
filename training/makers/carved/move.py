"""Wear: stamps of moved metal that shut grooves, and torn stamps of adhesion along the stroke."""

import cv2
import numpy as np

from .carve import Lay
from .frame import Frame, between, cloud, thread


def cap_grooves(rng: np.random.Generator, lay: Lay, amount: float, run: float, stroke: float) -> None:
    """Shut stretches of the grooves: `amount` is about the shut share, `run` the middle stretch over the groove's width,
    `stroke` the sliding direction (radians)."""
    # Metal is dragged along the stroke, so a cap's ends tend to run along it and cross the groove aslant.
    apart = stroke - lay.frame.angle
    slant = float(np.clip(np.cos(apart) / (np.sin(apart) or 1e-6), -2.5, 2.5))
    side = lay.frame.side
    for groove in lay.grooves:
        # The deep ones are folded over more readily than the shallow ones, but chance decides too.
        share = np.clip(amount * between(rng, 0.4, 2) * min(1.5, 0.6 + 0.2 * groove.depth), 0, 0.97)
        covered = 0.0
        for _ in range(40):
            if covered > share * side:
                break
            reach = int(np.clip(between(rng, 0.4, 2.5) * run * groove.half * 2, 4, side * 1.2))
            start = int(rng.integers(-reach // 2, side))
            a, b = max(0, start), min(side, start + reach)
            covered += reach
            path = groove.path[a:b]
            if b - a < 3:
                continue
            lo = max(0, int(path.min() - groove.half * 1.5 - 1))
            hi = min(side, int(path.max() + groove.half * 1.5) + 2)
            if hi - lo < 1:
                continue
            off = (np.arange(lo, hi, dtype=np.float32)[:, None] - path) / groove.half
            col = np.arange(a, b, dtype=np.float32)
            ragged = thread(rng, hi - lo, groove.half * 0.4 + 1)[:, None] * groove.half * 0.5
            col = col - off * groove.half * slant * rng.uniform(0, 1)
            ends = np.minimum(col - start + ragged, start + reach - col + ragged[::-1]) / (groove.half * 0.25 + 1)
            stamp = np.clip(ends, 0, 1)
            if rng.random() < 0.3:
                # A lip folded in from one rim only: its front wanders across the groove.
                front = rng.uniform(-0.2, 0.7) + 0.4 * thread(rng, b - a, groove.half + 2)
                stamp = stamp * np.clip((front - off * rng.choice([-1, 1])) * groove.half * 0.5 + 0.5, 0, 1)
            np.maximum(lay.shut[lo:hi, a:b], stamp, out=lay.shut[lo:hi, a:b])


def tongues(rng: np.random.Generator, frame: Frame, count: int, wide: float, run: float) -> np.ndarray:
    """Tongues of metal pushed along the stroke (0–1): `wide` px across, `run` times as long, blunt at the front."""
    sheet = frame.sheet()
    side = frame.side
    for _ in range(count):
        w = max(2, int(wide * between(rng, 0.5, 2)))
        n = max(4, int(w * run * between(rng, 0.5, 2)))
        r, c = int(rng.integers(-w // 2, side)), int(rng.integers(-n // 2, side))
        a, b, lo, hi = max(0, c), min(side, c + n), max(0, r), min(side, r + w)
        if b - a < 2 or hi - lo < 1:
            continue
        along = (np.arange(a, b, dtype=np.float32) - c) / n
        girth = np.sqrt(np.clip(along, 0, 1)) * np.clip((1 - along) * 8, 0, 1) * (1 + 0.2 * thread(rng, b - a, w / 2))
        off = np.abs(np.arange(lo, hi, dtype=np.float32)[:, None] - r - w / 2) / (w / 2)
        stamp = np.clip((girth - off) * w * 0.3 + 0.2, 0, 1)
        np.maximum(sheet[lo:hi, a:b], stamp, out=sheet[lo:hi, a:b])
    return frame.to_picture(sheet)


def tear(rng: np.random.Generator, frame: Frame, px: float, heavy: bool) -> tuple[np.ndarray, np.ndarray]:
    """Adhesion streaks along the stroke: their cover (0–1) and the torn height (µm) in picture axes."""
    side = frame.side
    cover, height = frame.sheet(), frame.sheet()
    for _ in range(int(rng.integers(4, 14)) if heavy else int(rng.integers(1, 5))):
        wide = int(np.clip(between(rng, 6, 120) / px, 6, side / (4 if heavy else 7)))
        n = int(np.clip(wide * between(rng, 3, 25), 30, 1.5 * side))
        r, c = int(rng.integers(-wide // 2, side - 2)), int(rng.integers(-n // 2, side - 20))
        a, b, lo, hi = max(0, c), min(side, c + n), max(0, r), min(side, r + wide)
        if b - a < 4 or hi - lo < 2:
            continue
        along = (np.arange(a, b, dtype=np.float32) - c) / n
        girth = np.clip(4 * along * (1 - along), 0, 1) ** 0.4 * (1 + 0.15 * thread(rng, b - a, wide * 0.6 + 3))
        off = np.abs(np.arange(lo, hi, dtype=np.float32)[:, None] - r - wide / 2) / (wide / 2)
        comb = 0.25 * thread(rng, hi - lo, 2)[:, None]
        np.maximum(cover[lo:hi, a:b], np.clip((girth - off + comb) * 3, 0, 1), out=cover[lo:hi, a:b])
    ridge = max(2.0, between(rng, 0.8, 8) / px)
    top = float(np.clip(ridge * px * between(rng, 0.2, 0.5), 0.3, 4))  # keeps the torn walls below some 45 degrees
    # Torn lips: many short scales over the streaks, one steep side each, over coarse ploughed ridges.
    for _ in range(int(np.clip(cover.mean() * 2500, 20, 450))):
        w, n = int(np.clip(between(rng, 0.8, 8) / px, 2, 26)), int(np.clip(between(rng, 1, 14) / px, 3, 50))
        r, c = int(rng.integers(0, side - w)), int(rng.integers(0, side - n))
        if cover[r + w // 2, c + n // 2] < 0.3:
            continue
        ramp = np.linspace(0, 1, n, dtype=np.float32)[None, :] * np.sin(np.linspace(0.1, 3.04, w, dtype=np.float32))[:, None]
        height[r : r + w, c : c + n] += ramp * top * rng.choice([-0.7, 1]) * between(rng, 0.2, 1)
    height += top * 0.45 * cloud(rng, height.shape, ridge, ridge * between(rng, 4, 30))
    height += top * 0.12 * cloud(rng, height.shape, 1.6, between(rng, 2, 6))
    patch = max(12.0, ridge * 4)
    height *= np.clip(0.7 + 0.5 * cloud(rng, height.shape, patch, patch * 3), 0.15, 1.6)  # torn more here, ploughed smoother there
    cover = frame.to_picture(cover)
    return cover, frame.to_picture(height) * cv2.GaussianBlur(cover, (0, 0), 1)
