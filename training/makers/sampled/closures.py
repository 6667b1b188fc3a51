"""Closures: displaced metal over grooves, as a marked point process along the lines.

Folds smear and interrupt grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548). Metal flows along the
stroke, so the ends of every closure run along the stroke, sheared against the groove. A Boolean model of segments of mean
length m and rate r per length covers 1 − exp(−r·m) of the line (from memory: Chiu et al., Stochastic Geometry).
"""

from dataclasses import dataclass

import numpy as np

from .lines import Trace, log_uniform, smooth_noise

OPEN = 99.0
"""Level, in µm below the plateau, that stands for no cover."""


@dataclass(frozen=True, kw_only=True)
class Closing:
    """How one field's grooves close: covered share of line, lengths in groove widths, kinds, and the trace they leave."""

    share: float
    length: float
    length_spread: float
    depth_power: float
    kinds: np.ndarray
    one_lay: bool
    bands: np.ndarray | None
    grey: float
    grey_spread: float


def draw_closing(rng: np.random.Generator, length: int, groove_share: float) -> Closing:
    share = rng.choice([rng.uniform(0, 0.05), rng.uniform(0.1, 0.6), rng.uniform(0.6, 0.97)], p=[0.2, 0.45, 0.35])
    bands = None
    if rng.uniform() < 0.35:  # closures gather in bands along the stroke
        wave = smooth_noise(rng, (2, 2 * length), 2, length / rng.uniform(3, 14))[0]
        bands = 1 / (1 + np.exp(-6 * (wave - rng.uniform(-0.9, 0.3))))
    return Closing(
        share=float(min(share, 0.32 / groove_share)),
        length=log_uniform(rng, 1.0, 40),
        length_spread=float(rng.uniform(0.1, 1.0)),
        depth_power=float(rng.uniform(-0.4, 1.0)),
        kinds=rng.dirichlet([0.8, 0.8, 0.8, 0.5]),
        one_lay=bool(rng.uniform() < 0.15),
        bands=bands,
        grey=float(rng.choice([rng.uniform(-0.12, -0.03), rng.uniform(0.04, 0.25)])),
        grey_spread=log_uniform(rng, 0.02, 0.1),
    )


def draw_segments(rng: np.random.Generator, closing: Closing, width: float, reach: float, share: float) -> np.ndarray:
    """Middle and length (px) of each closure on a line of the given reach; lengths 1–100 widths."""
    typical = np.clip(closing.length * width, 5, max(5, 1.5 * reach))
    mean = typical * np.exp(closing.length_spread**2 / 2)
    number = min(rng.poisson(-np.log(1 - min(share, 0.98)) / mean * (reach + mean)), 120)
    lengths = np.clip(typical * np.exp(closing.length_spread * rng.standard_normal(number)), width, 100 * width)
    return np.stack([rng.uniform(-mean / 2, reach + mean / 2, number), np.maximum(lengths, 5)], axis=1)


def close(
    rng: np.random.Generator, traces: list[Trace], closing: Closing, stroke: float, length: int
) -> tuple[np.ndarray, np.ndarray]:
    """Level of the covering metal (µm below the plateau, OPEN where none) and its own grey, on the lay's grid.

    stroke is the direction of the stroke seen from the lay, in radians.
    """
    level = np.full((length, length), OPEN, np.float32)
    grey = np.zeros((length, length), np.float32)
    shear = float(np.clip(np.cos(stroke) / (np.sin(stroke) or 1e-6), -3, 3))
    deep = np.median([t.line.depth for t in traces]) if traces else 1.0
    faint_rim = rng.choice([-1, 1]) * rng.uniform(0.05, 0.25)
    upstream = rng.choice([-1, 1])
    for t in traces:
        share = closing.share * float(np.clip((t.line.depth / deep) ** closing.depth_power, 0.2, 2))
        rows, columns = t.s.shape
        for middle, long in draw_segments(rng, closing, t.line.width, columns, min(share, 0.97)):
            at = int(np.clip(middle, 0, columns - 1))
            if closing.bands is not None:
                across = (at + t.left - length / 2) * -np.sin(stroke) + (t.middle[at] - length / 2) * np.cos(stroke)
                if rng.uniform() > closing.bands[int(np.clip(across + length, 0, 2 * length - 1))]:
                    continue
            reach = long / 2 + abs(shear) * t.line.width / 2 + 4
            low, high = int(max(0, middle - reach)), int(min(columns, middle + reach + 1))
            if high - low < 2:
                continue
            up, down = t.middle[low:high] - t.half[low:high], t.middle[low:high] + t.half[low:high]
            first, last = max(0, int(up.min()) - t.top), min(rows, int(down.max()) + 2 - t.top)
            if last - first < 1:
                continue
            s = t.s[first:last, low:high]
            u = np.arange(low, high, dtype=np.float32) - middle - shear * s * t.half[low:high]
            ragged = 1.0 + min(2.5, 0.08 * long) * smooth_noise(rng, (last - first, 2), 2, 2)[:, :1]
            inner = long / 2 - np.abs(u) + ragged  # px from the closure's ends
            kind = rng.choice(4, p=closing.kinds)
            body = (inner > 0) & (np.abs(s) < 1)
            faint = 0.35 if kind == 3 or rng.uniform() < 0.12 else 1.0
            tone = np.full(s.shape, closing.grey + closing.grey_spread * rng.standard_normal(), np.float32)
            tone += 0.06 * smooth_noise(rng, s.shape, 2, 5)
            tone += 0.22 * rng.uniform(0.3, 1) * (inner < 2.0)
            tone += faint_rim * (np.abs(s) > 1 - 2 / t.line.width)
            tone = np.maximum(tone, -0.2)
            side = s * (upstream if rng.uniform() < 0.8 else -upstream)
            if kind == 1:  # a lip from one side that narrows the groove
                bulge = np.sqrt(np.clip(1 - (2 * u / long) ** 2, 0, 1))
                edge = 1 - 2 * rng.uniform(0.25, 0.9) * bulge + 0.12 * smooth_noise(rng, (2, high - low), 2, 8)[:1]
                body &= side > edge
                tone += 0.2 * (side - edge < 3 / t.line.width)
            elif kind == 2:  # a folded flap: a crack stays where its edge came down
                crack = rng.uniform(-0.9, 0.3) + 0.1 * smooth_noise(rng, (2, high - low), 2, 10)[:1]
                tone -= 0.55 * (np.abs(side - crack) * t.line.width / 2 < rng.uniform(0.6, 1.4))
                tone += 0.1 * ((side > crack) & (side - crack < 4 / t.line.width))
            height = rng.uniform(0, 0.1) if kind == 3 else rng.uniform(0.0, 0.42)
            box = (slice(t.top + first, t.top + last), slice(t.left + low, t.left + high))
            level[box][body] = height
            grey[box][body] = faint * tone[body]
    return level, grey
