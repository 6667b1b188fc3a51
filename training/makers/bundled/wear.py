"""What the ring does to the ground: truncation, stroke marks, and metal moved over the grooves.

Wear takes the peaks first and the valleys last (common practice), so every depth is lessened by the height lost and
shallow bundles vanish first. Folds interrupt grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011)
548): metal flows along the stroke over a groove as caps, blankets over a whole bundle, one-sided lips, folded flaps
with a crack before them, flush burnished strips, and single strands rolled shut.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np

from .frame import Frame, above_share, soft, streaky

LIMIT_UM = 0.5
CLOSED_UM = 0.42
"""Deepest hollow that closed ground keeps: below the limit by some room for the camera's blur."""


@dataclass
class Ground:
    """Depth below the local plateau (µm), where grooves had been, what covers them (0–1), and how much it shows."""

    depth: np.ndarray
    groove: np.ndarray
    cover: np.ndarray
    trace: np.ndarray
    crack: np.ndarray
    flow: np.ndarray
    kinds: list[str] = field(default_factory=list)


def truncated(
    rng: np.random.Generator, depth: np.ndarray, frame: Frame, worn: np.ndarray, loss_um: float
) -> np.ndarray:
    """Depths after the plateau has lost height, unevenly over the track."""
    uneven = 1 + 0.25 * streaky(rng, frame, 160, 60).clip(-2, 2)
    return np.maximum(depth - loss_um * uneven * worn, 0)


def shifted(values: np.ndarray, along: tuple[float, float], distance: float) -> np.ndarray:
    matrix = np.float32([[1, 0, along[0] * distance], [0, 1, along[1] * distance]])
    size = values.shape[::-1]
    return cv2.warpAffine(values, matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)


def rooted(over: np.ndarray, groove: np.ndarray) -> np.ndarray:
    """Only the metal that hangs on land: what flows over a groove comes from the plateau beside it."""
    count, parts = cv2.connectedComponents((over & groove).astype(np.uint8), connectivity=8)
    land = cv2.dilate((~groove).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    kept = np.bincount(parts[land], minlength=count) > 0
    return over & (kept[parts] | ~groove)


def moved(
    rng: np.random.Generator,
    depth: np.ndarray,
    shut: np.ndarray,
    frame: Frame,
    worn: np.ndarray,
    amount: float,
    pixel_size_um: float,
) -> Ground:
    """Metal moved over this share of the grooves, in a few of the kinds."""
    groove = depth >= LIMIT_UM
    zero = np.zeros_like(depth)
    ground = Ground(depth, groove, zero, zero.copy(), zero.copy(), streaky(rng, frame, 45, 1.6))
    if amount <= 0:
        return ground
    sign = 1 if rng.random() < 0.5 else -1
    along = (sign * frame.unit[0], sign * frame.unit[1])
    typical = float(np.clip(rng.lognormal(np.log(9), 0.4) / pixel_size_um, 6, 60))
    wide = cv2.distanceTransform(groove.astype(np.uint8), cv2.DIST_L2, 3)[::3, ::3]
    typical = float(np.clip(max(typical, 1.3 * np.quantile(wide[wide > 0], 0.9) if wide.any() else 0), 6, 70))
    thin = float(np.clip(0.35 / pixel_size_um, 0.7, 3.0))
    kinds = list(rng.permutation(["caps", "blankets", "lips", "flaps", "flush"])[: int(rng.integers(2, 5))])
    parts = rng.dirichlet(np.full(len(kinds), 1.5)) * amount
    for kind, part in zip(kinds, parts, strict=True):
        size = typical * rng.uniform(0.7, 1.5)
        if kind == "caps":
            noise = (
                streaky(rng, frame, 2.2 * size, size)
                + 0.3 * streaky(rng, frame, 0.6 * size, 0.25 * size)
                + 0.12 * streaky(rng, frame, 6, 2)
            )
        elif kind == "blankets":
            noise = (
                streaky(rng, frame, 6 * size, 3 * size)
                + 0.3 * streaky(rng, frame, 1.2 * size, 0.4 * size)
                + 0.1 * streaky(rng, frame, 14, 3)
            )
        elif kind == "flush":
            noise = streaky(rng, frame, 20 * size, rng.uniform(0.5, 1.8) * size)
        else:
            noise = streaky(rng, frame, 2.5 * size, 1.6 * size) + 0.3 * streaky(rng, frame, 0.8 * size, 0.3 * size)
            part = min((2.2 if pixel_size_um < 0.6 else 1.6) * part, 0.8)
        over = noise > above_share(noise, part)
        if kind in ("lips", "flaps"):
            land = (~groove).astype(np.float32)
            reach = max(rng.uniform(0.25, 0.8) * size, 3.5)
            ragged = 0.5 + 0.2 * streaky(rng, frame, 0.6 * size, 0.25 * size)
            over &= (shifted(land, along, reach) > ragged) | (shifted(land, along, 0.5 * reach) > ragged)
            over = cv2.medianBlur(over.astype(np.uint8), 5) > 0
        over = rooted(over & worn, groove)
        seen = soft(over, thin)
        strength = rng.uniform(0.1, 0.6) if kind == "flush" else rng.uniform(0.6, 1.2)
        ground.cover = np.maximum(ground.cover, seen)
        ground.trace = np.maximum(ground.trace, seen * np.float32(strength))
        if kind in ("flaps", "blankets", "lips"):
            edge = np.maximum(seen - shifted(seen, along, -2 * thin), 0) * np.float32(1.0 if kind == "flaps" else 0.4)
            ground.crack = np.maximum(ground.crack, edge)
        ground.kinds.append(str(kind))
    near = (2.5 * soft(groove, 1.2)).clip(0, 1)
    ground.cover, ground.trace = ground.cover * near, ground.trace * near
    rolled = soft((shut + 0.25 * streaky(rng, frame, 18, 2.5) > 0.45) & worn & (shut > 0.05), 0.7) * near
    ground.cover = np.maximum(ground.cover, rolled)
    ground.trace = np.maximum(ground.trace, rolled * np.float32(rng.uniform(0.5, 1.1)))
    hollow = CLOSED_UM * (0.55 + 0.22 * streaky(rng, frame, 30, 12)).clip(0.05, 1) * np.float32(rng.uniform(0.45, 1))
    hollow = hollow * (1 - np.exp(-depth))
    ground.depth = np.where(depth > hollow, depth + (hollow - depth) * ground.cover, depth)
    return ground


def stroke_marks(rng: np.random.Generator, frame: Frame, worn: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Heights of the fine running-in marks along the stroke, hundredths of a µm to a quarter of one."""
    fine = streaky(rng, frame, rng.uniform(120, 500), rng.uniform(1.1, 2.5))
    some = np.minimum(streaky(rng, frame, 900, 3.0) + 1.6, 0)
    size = min(pixel_size_um, 0.9)
    return (size * (rng.uniform(0.02, 0.09) * fine + rng.uniform(0.0, 0.4) * some)).clip(-0.35, 0.2) * worn
