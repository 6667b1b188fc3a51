"""Metal moved over a groove: caps, bridges, lips from one rim and flush burnished strips."""

from dataclasses import dataclass

import numpy as np

from tests.microscope_maker.frame import Frame


@dataclass(frozen=True, kw_only=True)
class Moved:
    """drag, fine, patchy: (rows, cols) unit noises; rate: share of the grooves' length that closes; mix: (4,) shares of the
    kinds; weight: (rows, cols) 0-1, the track."""

    drag: np.ndarray
    fine: np.ndarray
    patchy: np.ndarray
    rate: float
    mix: np.ndarray
    weight: np.ndarray


def draw_moved(f: Frame, weight: np.ndarray) -> Moved:
    """Draw how the metal of a smeared field moved; ``weight``: (rows, cols) 0-1, the track."""
    own = f.own
    drag = 0.6 * f.noise(2.5, 12) + 0.55 * f.noise(7, 25)
    fine = 0.8 * f.noise(1.5, 4)
    little, much = own["little moved"].uniform(0.15, 0.45), own["much moved"].uniform(0.45, 1.25)
    rate = float(own["moved"].choice([little, much]))
    mix = own["kinds of closures"].dirichlet([0.9, 0.8, 0.8, 0.7])
    return Moved(drag=drag, fine=fine, patchy=f.noise(60, 160), rate=rate, mix=mix, weight=weight)


def close(
    f: Frame, moved: Moved, upstream: int, g: np.ndarray, q: np.ndarray, tt: np.ndarray, w: float, idx: np.ndarray
) -> np.ndarray:  # fmt: skip
    """Return a groove's depth (n,) µm with metal over it, at most 0.47 µm deep under a closure.

    upstream: side that lips mostly come from, 1 or -1; g: depth; q: place across, half widths; tt: µm along; w: width, µm;
    idx: its pixels in the flat field. None lies outside the track.
    """
    r = f.rng
    n, k = moved.drag.ravel()[idx], moved.fine.ravel()[idx]
    lo, hi = float(tt.min()), float(tt.max())
    local = moved.rate * np.clip(1 + 0.7 * r.normal(0, 0.7), 0.1, 1.9)
    todo, done = local * (hi - lo), 0.0
    cover = np.full(g.shape, -9.0, np.float32)
    level = np.full(g.shape, 0.2, np.float32)
    for _ in range(80):
        if done >= todo:
            break
        kind = int(r.choice(4, p=moved.mix))
        t0 = r.uniform(lo - 5, hi + 5)
        rest = 1.3 * (todo - done) + 6
        if kind == 0:  # cap
            length = min(r.uniform(0.7, 3.0) * w + 6, rest)
            c = (length / 2 - np.abs(tt - t0)) / 5 + 0.9 * n
            lv = r.uniform(0.0, 0.33)
            credit = length
        elif kind == 1:  # bridges, several close together
            length = r.uniform(4, 11)
            c = (length / 2 - np.abs(tt - t0 + r.normal(0, 2) * q)) / 2.5 + 0.5 * n - 0.25 * (1 - np.abs(q))
            lv = r.uniform(0.05, 0.4)
            credit = length
        elif kind == 2:  # lip from one rim
            length = min(r.uniform(15, 110), rest)
            sd = upstream if r.random() < 0.8 else -upstream
            reach = r.uniform(-0.5, 0.7) + 0.45 * n
            c = np.minimum((reach - sd * q) * w / 7, (length / 2 - np.abs(tt - t0)) / 6)
            lv = r.uniform(0.0, 0.25)
            credit = length * 0.55
        else:  # flush burnished strip
            length = min(r.uniform(30, 220), rest)
            c = (length / 2 - np.abs(tt - t0)) / 8 + 0.7 * n
            lv = r.uniform(0.16, 0.40)
            credit = length
        done += credit
        new = c > cover
        cover = np.where(new, c, cover)
        level = np.where(new, lv, level)
    cover += 0.2 * k + 0.5 * np.minimum(moved.patchy.ravel()[idx], 0.8) * (cover > -3)
    cover -= 12 * (moved.weight.ravel()[idx] < 0.5)
    edge = np.clip(cover * 2.2 / max(1.0, f.px), 0, 1)
    seam = np.exp(-(((np.abs(q) - 0.93) / max(0.07, 0.8 * f.px / w)) ** 2)) * np.clip(0.5 + 0.5 * n, 0, 1)
    lid = np.minimum(level * (0.75 + 0.25 * np.clip(k, -1, 1)) + 0.2 * seam, 0.47)
    return np.where(g > lid, g + (lid - g) * edge, g)
