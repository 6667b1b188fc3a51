"""Metal carried along the stroke and dropped into grooves: a cellular sweep, row by row, with cohesion.

Each column of the grid carries metal. Where it comes to a groove's upstream rim, a tongue starts if the load and a random
field correlated along and across the stroke say so; columns beside a tongue are drawn with it, so deposits are coherent.
A tongue runs on by its kind: bridges to the far wall, lips part of the way, folds part of the way with a crack line at
the tip. Flush fills close a stretch of a groove altogether and are burnished. Folded metal that interrupts grooves:
Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548. One sweep down and one up stand for the reciprocating stroke.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .noise import smooth_noise, soft_step
from .running_in import Worn
from .specimen import Wear

BRIDGE, LIP, FOLD, FLUSH = range(4)


@dataclass
class Deposit:
    """Surface after transport, how far deposits cover it (0 to 1), where they are cracked, and the kind of each."""

    height_um: np.ndarray
    cover: np.ndarray
    crack: np.ndarray
    kind: np.ndarray


def transport(worn: Worn, pixel_um: float, wear: Wear, rng: np.random.Generator) -> Deposit:
    """Return the run ground with its closures."""
    shape = worn.height_um.shape
    depth = np.clip(worn.plane_um - worn.height_um, 0, None)
    low = cv2.GaussianBlur(depth, (0, 0), 0.5 / pixel_um + 0.3) > 0.3
    kind = _kinds(shape, pixel_um, wear, rng)
    drive = _drive(shape, pixel_um, wear, worn.load, rng)
    limit = np.quantile(drive, 1 - np.clip(wear.smear, 0.003, 0.999) ** 0.75)
    ease = drive - limit - 0.12 * np.clip(depth - 1.5, 0, 4)
    reach = _reach(shape, pixel_um, kind, wear, rng)
    half = rng.random() * 0.4 + 0.3
    turns = smooth_noise(shape, 60 / pixel_um, 30 / pixel_um, rng) > 1.2 * (0.5 - half)
    down = _sweep(low, np.where(turns, ease, -9), reach)
    up = _sweep(low[::-1], np.where(turns, -9, ease)[::-1], reach[::-1])[::-1]
    flush = (kind == FLUSH) & low & (ease > 0)
    covered = np.where(kind == FLUSH, flush, down | up).astype(np.uint8)
    covered = _wander(covered, pixel_um, wear, rng)
    size = max(1, round(0.8 / pixel_um)) * 2 + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    covered = cv2.morphologyEx(cv2.morphologyEx(covered, cv2.MORPH_CLOSE, disc), cv2.MORPH_OPEN, disc) & low
    return _laid(worn, depth, covered.astype(np.float32), kind, pixel_um, wear, rng)


def _kinds(shape, pixel_um: float, wear: Wear, rng) -> np.ndarray:
    """Return which kind of closure is at home where, in patches of some tens of µm."""
    votes = [smooth_noise(shape, 22 / pixel_um, 22 / pixel_um, rng) + np.log(p + 0.02) for p in wear.kinds]
    return np.argmax(votes, 0).astype(np.uint8)


def _drive(shape, pixel_um: float, wear: Wear, load: np.ndarray, rng) -> np.ndarray:
    """Return the readiness to close a groove: load and tongue-wide noise, longer along the stroke."""
    wide = wear.tongue_um / pixel_um
    tongues = smooth_noise(shape, 2.2 * wide, 0.55 * wide + 0.5, rng)
    edge = smooth_noise(shape, 0.5 * wide + 0.5, 0.12 * wide + 0.5, rng)
    broad = smooth_noise(shape, 4 * wide, 3 * wide, rng)
    return tongues + 0.2 * edge + 0.6 * broad + 0.9 * (load - 1)


def _reach(shape, pixel_um: float, kind: np.ndarray, wear: Wear, rng) -> np.ndarray:
    """Return how far a tongue that starts here runs on, px."""
    swing = smooth_noise(shape, 12 / pixel_um, 0.35 * wear.tongue_um / pixel_um + 0.5, rng)
    lip = wear.tongue_um * 0.55 * np.exp(0.5 * swing)
    fold = wear.tongue_um * 0.9 * np.exp(0.5 * swing)
    bridge = wear.tongue_um * 6 * np.exp(0.4 * swing)
    return (np.choose(np.minimum(kind, FOLD), [bridge, lip, fold]) / pixel_um).astype(np.float32)


def _sweep(low: np.ndarray, ease: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """Return where tongues lie after metal moved down the rows."""
    rows, cols = low.shape
    laid = np.zeros(low.shape, bool)
    left = np.zeros(cols, np.float32)
    metal = np.full(cols, 30.0, np.float32)
    before = np.zeros(cols, bool)
    for row in range(rows):
        here = low[row]
        start = here & ~before & (ease[row] > 0) & (metal > 1)
        left = np.where(start, reach[row], left - 1)
        drawn = np.minimum(np.roll(left, 1), np.roll(left, -1)) - 1
        left = np.where(here, np.maximum(left, drawn), 0)
        flows = here & (left > 0) & (metal > 0)
        laid[row] = flows
        metal = np.clip(metal + np.where(flows, -0.25, 0.3), 0, 60)
        left = np.where(flows, left, 0)
        before = here
    return laid


def _wander(covered: np.ndarray, pixel_um: float, wear: Wear, rng) -> np.ndarray:
    """Return the cover with its edges drawn to and fro, as flowing metal leaves them."""
    shape = covered.shape
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    for size in (0.5 * wear.tongue_um, 0.22 * wear.tongue_um, 0.7):
        reach, scale = 0.4 * size / pixel_um, size / pixel_um + 0.4
        x += reach * smooth_noise(shape, scale, scale, rng)
        y += reach * smooth_noise(shape, scale, scale, rng)
    return (cv2.remap(covered.astype(np.float32), x, y, cv2.INTER_LINEAR) > 0.5).astype(np.uint8)


def _laid(worn: Worn, depth, covered, kind, pixel_um: float, wear: Wear, rng) -> Deposit:
    """Return the surface with the deposits laid in, each with its step, stroke lines, rim and cracks."""
    shape = depth.shape
    cover = cv2.GaussianBlur(covered, (0, 0), 0.35 / pixel_um + 0.3)
    cover = soft_step(cover, 0.25, 0.75)
    lines = smooth_noise(shape, 45 / pixel_um, 0.45 / pixel_um + 0.4, rng)
    swell = smooth_noise(shape, 7 / pixel_um, 2.5 / pixel_um + 0.5, rng)
    flush = kind == FLUSH
    sag = np.where(flush, 0.06, 0.17) * (1 + 0.5 * swell)
    laid = (
        worn.plane_um
        - np.clip(sag, 0.0, 0.4)
        + np.where(flush, 0.04, 0.12) * lines
        + np.where(flush, 0.02, 0.05) * swell
    )
    inner = cv2.erode(covered, np.ones((3, 3), np.uint8), iterations=max(1, round(0.5 / pixel_um)))
    rim = cv2.GaussianBlur(np.clip(covered - inner, 0, 1), (0, 0), 0.25 / pixel_um + 0.35)
    broken = soft_step(smooth_noise(shape, 4 / pixel_um + 0.5, 4 / pixel_um + 0.5, rng), -0.9, 0.3)
    crack = np.clip(rim * broken * 1.4, 0, 1)
    step = np.where(kind == FOLD, 0.35, np.where(flush, 0.18, 0.22))
    torn = (kind == FOLD) * cover * soft_step(
        np.abs(smooth_noise(shape, 2.2 / pixel_um + 0.5, 7 / pixel_um, rng)), 0.12, 0.03
    )  # fmt: skip
    height = worn.height_um * (1 - cover) + (laid - step * crack - 0.3 * torn) * cover
    crack = np.maximum(crack * np.where(flush, 0.7, 1.0), torn) * cover
    return Deposit(height_um=height.astype(np.float32), cover=cover, crack=crack.astype(np.float32), kind=kind)
