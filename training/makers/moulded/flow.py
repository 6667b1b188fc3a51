"""Metal flows along the stroke and keeps its volume: what the ring takes off the land lies in the grooves or in the oil.

Each stroke line (a row) has its own account. The supply of a line is the metal cut from its lands less the share lost to
the oil; it closes the line's grooves, the readiest ground first, until it is spent. Ready is the ground next to the
upstream wall, where metal rolls over the land's edge as an exit burr (Gillespie, Blotter, J. Eng. Ind. 98 (1976) 66, from
memory), so a closure grows as lip, tongue, bridge and strip. A bridge is a skin of some tenths of a µm over a void; a
filled groove takes the whole depth. Folds smear and interrupt grooves (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548).
"""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.moulded.noise import blurred, chance, grain, log_uniform

VALLEY_DEPTH_UM = 0.5
BINS = 96


@dataclass(frozen=True, kw_only=True)
class Flow:
    """Depths below the worn land, before and after metal moved, metal laid and taken off (all µm, (rows, cols) float32),
    closed (bool), burr and seam (µm above and below), share of the metal lost to the oil."""

    truncated_um: np.ndarray
    depth_um: np.ndarray
    laid_um: np.ndarray
    removed_um: np.ndarray
    closed: np.ndarray
    burr_um: np.ndarray
    seam_um: np.ndarray
    lost_share: float


def flow(rng: np.random.Generator, groove_um: np.ndarray, wear_um: np.ndarray, pixel_size_um: float) -> Flow:
    """wear_um (rows, 1): depth the ring took off each stroke line's land; metal flows towards growing columns."""
    shape = groove_um.shape
    truncated = np.maximum(groove_um - wear_um, 0).astype(np.float32)
    removed = np.maximum(wear_um - groove_um, 0).astype(np.float32)
    valley = (truncated >= VALLEY_DEPTH_UM) & (wear_um > 0)
    since, until = _runs(valley)
    dip = np.clip(rng.uniform(-0.08, 0.3) + 0.12 * grain(rng, shape, 14, 40), -0.12, 0.45)
    skin_um = log_uniform(rng, 0.1, 0.5) if chance(rng, 0.75) else 20.0
    skin = skin_um * np.exp(0.4 * grain(rng, shape, 40, 40))
    cost = np.minimum(truncated - dip, skin) * valley
    wanted = rng.uniform(
        *((0.0, 0.01), (0.02, 0.15), (0.15, 0.5), (0.5, 1.0))[rng.choice(4, p=[0.18, 0.18, 0.32, 0.32])]
    )
    lost_share = float(np.clip(1 - wanted * cost.sum() / max(removed.sum(), 1e-6), 0.02, 1))
    ready = _readiness(rng, truncated, since, until)
    closed = _spend(ready, cost, valley, removed.sum(1) * (1 - lost_share))
    closed = (cv2.medianBlur(closed.astype(np.uint8), 5) > 0) & valley
    closed = _without_crumbs(_without_slivers(closed, valley), pixel_size_um)
    if chance(rng, 0.3):  # later passes tear the skins open again
        closed &= grain(rng, shape, rng.uniform(4, 10), rng.uniform(8, 30)) < rng.uniform(1.2, 2.2)
    seam = _seams(rng, closed, ready, since, until) if closed.any() else np.zeros(shape, np.float32)
    before_groove = _runs(~valley)[1]
    burr_px = max(rng.uniform(0.5, 1.6) / pixel_size_um, 1.3)
    burr = (
        np.clip(grain(rng, shape, 5, 9) + 0.6, 0, 2.5) * rng.uniform(0, 0.28) * (~valley & (before_groove <= burr_px))
    )
    return Flow(
        truncated_um=truncated,
        depth_um=np.where(closed, dip, truncated).astype(np.float32),
        laid_um=np.where(closed, cost, 0).astype(np.float32),
        removed_um=removed,
        closed=closed,
        burr_um=(burr * (wear_um > 0)).astype(np.float32),
        seam_um=seam,
        lost_share=lost_share,
    )


def _runs(inside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Steps since the run's upstream wall and until its downstream one, 1 beside the wall."""
    cols = np.arange(inside.shape[1], dtype=np.int32)
    since = cols - np.maximum.accumulate(np.where(inside, -1, cols), axis=1)
    last = np.int32(inside.shape[1])
    until = np.minimum.accumulate(np.where(inside, last, cols)[:, ::-1], axis=1)[:, ::-1] - cols
    return since.astype(np.float32), until.astype(np.float32)


def _readiness(rng: np.random.Generator, truncated: np.ndarray, since: np.ndarray, until: np.ndarray) -> np.ndarray:
    """Greater closes sooner: patches, straight lanes or ragged fronts, the upstream wall, shallow or deep grooves."""
    shape = truncated.shape
    ready = grain(rng, shape, rng.uniform(15, 60), rng.uniform(25, 120))
    width = since + until
    nearer = np.minimum(since, until) * 2 if chance(rng, 0.3) else since  # both walls where both strokes bite alike
    ready -= rng.uniform(0.6, 3.5) * nearer / np.maximum(width, 1)
    if chance(rng, 0.45):  # sharp ends along the stroke
        edges = np.cumsum(rng.gamma(2.0, rng.uniform(4, 14), shape[0] // 4 + 2)).astype(int)
        lane = np.searchsorted(edges, np.arange(shape[0]))
        lanes = rng.standard_normal(len(edges) + 1).astype(np.float32)[lane][:, None]
        ready += rng.uniform(0.8, 2.0) * lanes + 0.15 * grain(rng, shape, 3, 20)
    else:
        ready += rng.uniform(0.2, 0.7) * grain(rng, shape, rng.uniform(3, 6), rng.uniform(6, 25))
    return ready + rng.uniform(-0.5, 0.5) * np.log(np.maximum(truncated, 0.1))


def _spend(ready: np.ndarray, cost: np.ndarray, valley: np.ndarray, supply: np.ndarray) -> np.ndarray:
    """Ground that each line's supply closes; lines share with their neighbours within some ten rows."""
    low, high = float(ready.min()), float(ready.max()) + 1e-3
    level = ((ready - low) * (BINS / (high - low))).astype(np.int32).clip(0, BINS - 1)
    cell = (level + BINS * np.arange(len(ready), dtype=np.int32)[:, None])[valley]
    spent = np.bincount(cell, weights=cost[valley], minlength=BINS * len(ready)).reshape(-1, BINS)
    spent = np.cumsum(_shared(spent)[:, ::-1], axis=1)
    affordable = (spent <= _shared(supply[:, None])).sum(axis=1)
    return valley & (level >= BINS - affordable[:, None])


def _shared(account: np.ndarray) -> np.ndarray:
    return cv2.GaussianBlur(np.ascontiguousarray(account, np.float64), (1, 41), sigmaX=0.1, sigmaY=8.0).reshape(
        account.shape
    )


def _without_slivers(closed: np.ndarray, valley: np.ndarray) -> np.ndarray:
    """Gaps of a pixel or two beside a closure press shut."""
    gap = (valley & ~closed).astype(np.uint8)
    wide = cv2.morphologyEx(gap, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    beside = cv2.dilate(closed.astype(np.uint8), np.ones((5, 5), np.uint8))
    return closed | ((gap > wide) & (beside > 0))


def _without_crumbs(closed: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Metal that hangs on no wall is carried off."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(closed.astype(np.uint8), connectivity=4)
    kept = stats[:, cv2.CC_STAT_AREA] >= np.clip((4 / pixel_size_um) ** 2, 25, 250)
    kept[0] = False
    return kept[labels]


def _seams(
    rng: np.random.Generator, closed: np.ndarray, ready: np.ndarray, since: np.ndarray, until: np.ndarray
) -> np.ndarray:
    """Depth of the lines a closure leaves: cracks at the far wall, the fold at the near one, laps between tongues."""
    shape = closed.shape
    place = grain(rng, shape, 12, 30)
    crack = (until <= 1.6) * rng.uniform(0.1, 0.9) * np.clip(place + rng.uniform(-0.3, 1.2), 0, 1)
    fold = (since <= 1.3) * rng.uniform(0.0, 0.5) * np.clip(0.7 - place, 0, 1)
    lap = (np.mod(ready * rng.uniform(0.8, 2.2), 1) < 0.06) * rng.uniform(0, 0.35) * (grain(rng, shape, 20, 20) > 0.3)
    return (blurred(np.maximum(np.maximum(crack, fold), lap).astype(np.float32), 0.6) * closed).astype(np.float32)
