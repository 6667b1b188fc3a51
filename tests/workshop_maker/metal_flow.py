"""Metal flows along the stroke over the grooves (folds smear and interrupt grooves: Dimkovski and others, Wear 271, 548).

The plateau metal is pushed over a groove's trailing edge and reaches as far into it as load and local softness let it:
first a lip along one side, then tongues, then bridges where tongues meet the far side, at last full closure. Running
both ways, lips grow from both sides. Where a tongue meets the far side a crack line often stays. Under polished strips
the metal lies nearly flush and only a faint trace of the groove is left.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .recipe import Wear
from .roughness import above_share, roughness

FOOTPRINT_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Flow:
    """covered: where metal lies over a groove; level_um: its level against the worn plateau; tone: change of its yield;
    gutter: where the slope beside it stays open."""

    covered: np.ndarray
    level_um: np.ndarray
    tone: np.ndarray
    gutter: np.ndarray


def _gap_from(foot: np.ndarray, reach: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return each cell's distance (cells) from the last edge in its row, and that edge's reach."""
    cols = np.arange(foot.shape[1], dtype=np.int32)
    edge = np.maximum.accumulate(np.where(foot, np.int32(-1), cols), axis=1)
    at_edge = np.take_along_axis(reach, np.maximum(edge, 0), axis=1)
    distance = np.where(edge < 0, cols + 400, cols - edge).astype(np.float32)
    return distance, at_edge


def _reach(rng: np.random.Generator, load: np.ndarray, wear: Wear, pixel_um: float) -> np.ndarray:
    tongue = wear.tongue_um / pixel_um
    soft = roughness(rng, load.shape, tongue * 1.2, tongue)
    soft += 0.8 * roughness(rng, load.shape, tongue * 5, tongue * 3)
    ragged = roughness(rng, load.shape, 2.5 / pixel_um, max(0.7, 0.9 / pixel_um))
    return np.exp(wear.unevenness * soft + 0.2 * ragged).astype(np.float32) * load**1.5


def _tidy(covered: np.ndarray, foot: np.ndarray, pixel_um: float) -> np.ndarray:
    """Drop specks that no one would call a fold, and slits too thin to be called open."""
    kernel = np.ones((3, 3), np.uint8)
    covered = cv2.morphologyEx(covered.astype(np.uint8), cv2.MORPH_OPEN, kernel)
    covered = cv2.morphologyEx(covered, cv2.MORPH_CLOSE, kernel) & foot
    count, marks, facts, _ = cv2.connectedComponentsWithStats(covered, connectivity=4)
    keep = facts[:, cv2.CC_STAT_AREA] >= max(24, 6.0 / pixel_um**2)
    keep[0] = False
    open_part = foot & ~keep[marks]
    count, marks_open, facts, _ = cv2.connectedComponentsWithStats(open_part.astype(np.uint8), connectivity=4)
    slit = facts[:, cv2.CC_STAT_AREA] < 12
    slit[0] = False
    return keep[marks] | (slit[marks_open] & cv2.dilate(keep[marks].astype(np.uint8), kernel).astype(bool))


def flow_over(rng: np.random.Generator, depth: np.ndarray, load: np.ndarray, wear: Wear, pixel_um: float) -> Flow:
    """Close part of the grooves; depth: as honed, below the honed plateau, um."""
    foot = depth >= FOOTPRINT_UM
    shape = depth.shape
    nothing = Flow(
        covered=np.zeros(shape, bool),
        level_um=np.zeros(shape, np.float32),
        tone=np.zeros(shape, np.float32),
        gutter=np.zeros(shape, np.float32),
    )
    if wear.closed <= 0.002 or not foot.any():
        return nothing
    left, pushed = _gap_from(foot, _reach(rng, load, wear, pixel_um))
    ratio = left / pushed
    right, pushed_back = _gap_from(foot[:, ::-1], _reach(rng, load, wear, pixel_um)[:, ::-1])
    right = right[:, ::-1]
    if wear.two_way:
        ratio = np.minimum(ratio, right / pushed_back[:, ::-1])
    strip = roughness(rng, shape, 140 / pixel_um, 9 / pixel_um) + 0.3 * roughness(
        rng, shape, 30 / pixel_um, 2.5 / pixel_um
    )
    strip += 0.2 * roughness(rng, shape, 4 / pixel_um, max(0.7, 1.0 / pixel_um))
    strip = np.clip((strip - above_share(strip, 0.35 * wear.flush)) * 4, 0, 1)
    ratio = ratio * (1 - 0.93 * strip)
    limit = float(np.quantile(ratio[foot], min(wear.closed, 0.24 / max(float(foot.mean()), 0.01))))
    covered = _tidy(foot & (ratio <= limit), foot, pixel_um)
    soft_lap = roughness(rng, shape, 9 / pixel_um, 6 / pixel_um)
    near = np.clip(ratio / max(limit, 1e-6), 0, 1)
    sag = (0.06 + 0.3 * near**2 * np.clip(depth / 2.0, 0.4, 1)) * (1 - 0.8 * strip)
    level = -sag
    root = max(1.0, 0.5 / pixel_um)
    level -= 0.16 * np.exp(-(((np.minimum(left, right) - root) / root) ** 2)) * (1 - 0.6 * strip)
    front = covered & ~cv2.erode(covered.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    level += 0.12 * (front & (near > 0.7))
    torn = roughness(rng, shape, 18 / pixel_um, max(0.8, 0.7 / pixel_um))
    scales = roughness(rng, shape, max(0.8, 1.4 / pixel_um), 4 / pixel_um)
    front_lines = (2.6 * near + 0.35 * soft_lap) % 1.0
    level -= 0.14 * front_lines**2 * wear.cracks * (1 - 0.8 * strip)
    sunk = roughness(rng, shape, 12 / pixel_um, 5 / pixel_um)
    level -= 0.09 * np.clip(sunk, 0, 2) * (1 - 0.5 * strip)
    level += (0.055 * torn - 0.05 * np.clip(scales - 0.8, 0, 2)) * (1 - 0.6 * strip)
    crack_width = max(1.0, 0.45 / pixel_um)
    here = roughness(rng, shape, 10 / pixel_um, 10 / pixel_um) < 2.4 * wear.cracks - 1.2
    gutter = np.clip(here * (left > right), 0, 1).astype(np.float32)
    crack = np.exp(-(((right - crack_width) / crack_width) ** 2)) * here * (1 - 0.7 * strip)
    level *= max(1.0, pixel_um / 0.5) ** 0.5
    level = np.clip(level, -0.48, 0.25) - 0.22 * crack * covered
    blotch = roughness(rng, shape, 30 / pixel_um, 5 / pixel_um)
    tone = (
        -0.4 * crack
        + wear.cover_tone
        * np.clip(0.6 + 0.3 * torn + 0.45 * blotch, -0.3, 1.8)
        * (0.55 + 0.45 * near)
        * (1 - 0.75 * strip)
        - 0.06 * np.clip(scales - 0.8, 0, 2)
    )
    return Flow(
        covered=covered, level_um=level.astype(np.float32), tone=(tone * covered).astype(np.float32), gutter=gutter
    )
