"""Hone grooves of two lays, before and after metal was moved over them."""

from dataclasses import dataclass

import numpy as np

from tests.microscope_maker.closures import Moved, close, draw_moved
from tests.microscope_maker.finish import Hone, draw_hone, draw_lay_deg
from tests.microscope_maker.frame import Frame


@dataclass(frozen=True, kw_only=True)
class Grooves:
    """(rows, cols) µm: depth before and after metal was moved; rim: burrs; floor and lump: relief of floors and of closures;
    lays: unit vectors of the two lays."""

    before: np.ndarray
    after: np.ndarray
    rim: np.ndarray
    floor: np.ndarray
    lump: np.ndarray
    lays: tuple[tuple[float, float], ...]


def lay_grooves(f: Frame, finish: str, wear: np.ndarray, weight: np.ndarray, smears: bool) -> Grooves:
    """Lay grooves at random until each lay holds its share; ``wear`` (rows, cols) µm cuts them off from above."""
    r = f.rng
    hone = draw_hone(f.own, finish, f.width)
    before, after, rim = (np.zeros(f.shape, np.float32) for _ in range(3))
    moved = draw_moved(f, weight) if smears else None
    upstream = f.own["upstream"].choice([-1, 1])
    lays = []
    for side, part in ((1, hone.balance), (-1, 1 - hone.balance)):
        b = np.radians(draw_lay_deg(f.own, hone.alpha_deg, side, f.tilt))
        d = (float(np.cos(b)), float(np.sin(b)))
        lays.append(d)
        s, t = -f.x * d[1] + f.y * d[0], f.x * d[0] + f.y * d[1]
        lo, hi = float(s.min()), float(s.max())
        todo, placed = hone.share * part * (hi - lo) * r.uniform(0.75, 1.25), 0.0
        while placed < todo:
            # Grooves are 1-10 µm deep and 5-50 µm wide [M, tests/SOURCES.md].
            w = float(np.clip(hone.width_um * np.exp(r.normal(0, 0.5)), max(3.5, 3 * f.px), 50))
            if placed and w > 2.2 * (todo - placed):
                w = max(4.0, 3 * f.px, todo - placed)
            s0 = r.uniform(lo, hi)
            placed += w * 0.9
            depth = float(np.clip(w * hone.slope * np.exp(r.normal(0, 0.3)), 1.3, 9))
            idx = np.flatnonzero(np.abs(s - s0).ravel() < w * 0.95 + 2)
            if idx.size < 30:
                continue
            tt = t.ravel()[idx]
            g, burr, q = _groove(f, hone, w, depth, s.ravel()[idx] - s0, tt)
            g = np.maximum(g - wear.ravel()[idx], 0)
            before.ravel()[idx] = np.maximum(before.ravel()[idx], g)
            rim.ravel()[idx] = np.maximum(rim.ravel()[idx], burr)
            if moved is not None:
                g = close(f, moved, upstream, g, q, tt, w, idx)
            after.ravel()[idx] = np.maximum(after.ravel()[idx], g)
    rim[before > 0.3] = 0
    rim = np.maximum(rim, 0)
    rough = f.own["floors"].uniform(0.05, 0.45)
    floor = rough * (f.noise(1.6, 6, lays[0]) + f.noise(1.6, 6, lays[1]) + 0.7 * f.noise(1.2, 1.2))
    lump = _lumps(f, moved)
    return Grooves(before=before, after=after, rim=rim, floor=floor, lump=lump, lays=tuple(lays))


def _groove(
    f: Frame, hone: Hone, w: float, depth: float, ss: np.ndarray, tt: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return one groove's depth, burrs (µm) and place across it (half widths, -1 to 1 between its rims), (n,) each.

    ss, tt: (n,) µm across and along it.
    """
    r, half = f.rng, w / 2
    mid = f.line(tt, 130) * min(0.8, 0.06 * w)
    h1 = half * (1 + hone.ragged * (f.line(tt, 4 + w / 4) + 0.8 * f.line(tt, 35)))
    h2 = half * (1 + hone.ragged * (f.line(tt, 4 + w / 4) + 0.8 * f.line(tt, 35)))
    q = (ss - mid) / np.where(ss > mid, h1, h2)
    aq = np.abs(q)
    deep = depth * (1 + 0.18 * f.line(tt, 40))
    if r.random() < 0.3:  # it ends within the field
        length, t0 = r.uniform(120, 600), r.uniform(tt.min(), tt.max())
        taper = np.clip((length / 2 - np.abs(tt - t0)) / (r.uniform(4, 9) * w), 0, 1)
        deep = deep * taper
        aq = aq / np.sqrt(np.maximum(taper, 0.04))
    shape = np.clip(1 - aq**hone.form, 0, 1)
    g = deep * shape * (1 - 0.25 * np.clip(f.line(q, 0.25) * 0.6, -0.6, 0.9) * shape)
    burr = hone.rimmed * np.exp(-(((aq - 1.12) / 0.13) ** 2)) * (0.6 + 0.5 * f.line(tt, 9)) * np.clip(deep / 2, 0, 1)
    return g, burr, q


def _lumps(f: Frame, moved: Moved | None) -> np.ndarray:
    if moved is None:
        return np.zeros(f.shape, np.float32)
    return f.own["lumps"].uniform(0.06, 0.18) * (f.noise(1.5, 20) + 0.8 * f.noise(4, 8) + 0.4 * f.noise(1, 2))
