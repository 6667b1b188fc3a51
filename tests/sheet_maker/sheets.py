"""Outlines of thin sheets of metal that flowed along the stroke: a root on a rim and a ragged, lobed, feathered front."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.sheet_maker.grooves import STEP_PX, Groove
from tests.sheet_maker.noise import Rng, curve


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """One sheet: outline (n, 2) x, y px; sag µm where it spans a deep groove; thickness µm; tone 1 = as the land."""

    outline: np.ndarray
    front: np.ndarray
    sag_um: float
    thickness_um: float
    tone: float
    streaky: float


def front_line(rng: Rng, n: int, *, lobes: float, feather: float) -> np.ndarray:
    """Return how far a front reaches, mean about 1: broad lobes, small fringes and a few long feathers."""
    reach = (
        1
        + lobes * curve(rng, n, rng.uniform(9, 45))
        + rng.uniform(0.1, 0.5) * lobes * curve(rng, n, rng.uniform(4, 10))
        + feather * 0.6 * np.convolve(rng.standard_normal(n), (0.25, 0.5, 0.25), "same")
    )
    spikes = np.convolve(
        (rng.random(n) < 0.03) * rng.exponential(1.0, n) * feather * 2, (0.3, 0.7, 1.0, 0.7, 0.3), "same"
    )
    return np.clip(reach + spikes, 0.05, 2.0)


def grow(
    rng: Rng, groove: Groove, part: slice, stroke: np.ndarray, side: int, cover: float, *,
    lobes: float, feather: float, root: float, pixel_size_um: float, sag_um: float, thickness_um: float, tone: float,
    streaky: float,
) -> Sheet:  # fmt: skip
    """Grow a sheet from one rim of a part of a groove along the stroke over a share ``cover`` of the chord."""
    finer = 3
    n = (part.stop - part.start) * finer
    at = np.linspace(part.start, part.stop - 1, n)
    index = np.arange(len(groove.centre))
    centre = np.stack([np.interp(at, index, groove.centre[:, k]) for k in (0, 1)], 1)
    half = np.interp(at, index, groove.half_px)
    lean = float(groove.across @ stroke)
    lean = np.copysign(max(abs(lean), 0.2), lean)
    move = stroke * np.sign(lean) * side
    chord = 2 * half / abs(lean)
    rim = centre - side * groove.across * half[:, None]
    ahead, astern = rng.uniform(0.08, 0.45, 2) * n
    ends = np.clip(np.arange(n) / ahead, 0, 1) ** 0.7 * np.clip(np.arange(n)[::-1] / astern, 0, 1) ** 0.7
    fringe = front_line(rng, n, lobes=lobes, feather=feather * min(1.0, 40 / float(chord.mean())))
    reach = cover * chord * fringe * np.clip(ends * (1 + 0.25 * curve(rng, n, 4)), 0, 1)
    behind = (root / pixel_size_um) * np.clip(1 + 0.6 * curve(rng, n, 6), 0.1, None) * ends**0.5
    front = rim + move * reach[:, None]
    back = rim - move * behind[:, None]
    return Sheet(
        outline=np.concatenate([back, front[::-1]]), front=front, sag_um=sag_um, thickness_um=thickness_um, tone=tone,
        streaky=streaky,
    )  # fmt: skip


def points_along(length_um: float, pixel_size_um: float) -> int:
    """Return how many points of a groove's line a length takes, at least 3."""
    return max(3, int(length_um / pixel_size_um / STEP_PX))


def fill(target: np.ndarray, outline: np.ndarray, value: float) -> None:
    """Fill an outline given in px to an eighth of a pixel."""
    cv2.fillPoly(target, [np.round(outline * 8).astype(np.int32)], value, cv2.LINE_8, 3)
