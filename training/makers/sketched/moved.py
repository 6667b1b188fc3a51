"""Metal that the ring moved: closures on the grooves, and scuffing in bands along the stroke.

Folds smear and interrupt grooves (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548). Every closure is a shape on one groove of a
lay's board: metal flows along the stroke, so the ends of caps, bridges and folds run along it; a lip grows from one rim; a
burnished strip lies flush and leaves a faint trace. Scuffed bands are ragged, tapered and parallel to the stroke."""

from dataclasses import dataclass

import numpy as np

from .frames import Frame, wander
from .grooves import VALLEY_DEPTH_UM, Groove

KINDS = ("cap", "bridge", "lip", "flush", "fold")


@dataclass(frozen=True, kw_only=True)
class Closed:
    """Boards of one lay: cover (1 where metal lies), sag_um (how far it lies below the plateau), contrast (0–1, how plainly it
    shows), crack (0–1, a fold's line)."""

    cover: np.ndarray
    sag_um: np.ndarray
    contrast: np.ndarray
    crack: np.ndarray


def empty(side: int) -> Closed:
    cover, sag, contrast, crack = np.zeros((4, side, side), np.float32)
    return Closed(cover=cover, sag_um=sag, contrast=contrast, crack=crack)


def close(
    rng: np.random.Generator,
    boards: Closed,
    groove: Groove,
    kind: str,
    middle: float,
    length_px: float,
    *,
    shear: float,
    ragged: float,
    contrast: float,
) -> None:
    """Draws one closure about a column; shear: columns a row that the stroke runs on the board."""
    side = boards.cover.shape[0]
    lean = abs(shear) * groove.width_px.max() + length_px
    first, last = (int(np.clip(middle + sign * lean, 0, side)) for sign in (-1, 1))
    if last - first < 2:
        return
    rows, q = groove.band(side)
    q = q[:, first:last]
    if not q.size:
        return
    half_width = groove.width_px[first:last] / 2
    along = (np.arange(first, last) - middle - shear * q * half_width) / (length_px / 2)
    torn = wander(rng, q.shape[0], rng.uniform(2.5, 8)) + 2 * wander(rng, q.shape[0], 7)
    jag = (ragged * torn * min(2.5, 0.1 * length_px) / (length_px / 2))[:, None]
    overhang = 1 + (0 if kind == "flush" else 0.09 * ragged)
    inside = (np.abs(along + jag) < 1) & (np.abs(q) < overhang)
    if kind == "lip":
        rim = 1 if rng.random() < 0.5 else -1
        swell = np.sqrt(np.clip(1 - along**2, 0, 1)) * rng.uniform(0.8, 1.7)
        inside &= q * rim > 1 - swell + 0.15 * ragged * wander(rng, q.shape[1], 5)
    elif kind == "fold":
        edge = rng.uniform(-0.6, 0.6) + 0.18 * wander(rng, q.shape[1], max(length_px / 5, 4))
        line = np.clip(1.4 - np.abs(q - edge) * half_width / max(0.06 * float(half_width.mean()), 0.7), 0, 1)
        spot = boards.crack[rows, first:last]
        np.maximum(spot, line * inside, out=spot)
    sag = rng.uniform(0, 0.3 if kind != "flush" else 0.2)
    for board, value in ((boards.cover, 1), (boards.sag_um, sag), (boards.contrast, contrast)):
        board[rows, first:last][inside] = value


def smear(
    rng: np.random.Generator,
    side: int,
    grooves: list[Groove],
    share: float,
    kinds: np.ndarray,
    shear: float,
    plain: float,
) -> Closed:
    """Closures over about that share of the grooves' length; deep and broad grooves are closed like the others."""
    boards = empty(side)
    ragged = rng.uniform(0.1, 1)
    lengths = {"cap": (0.8, 4), "bridge": (0.35, 1.2), "lip": (1.5, 7), "flush": (3, 14), "fold": (1, 5)}
    for one in grooves:
        width = float(one.width_px.mean())
        left = 1.25 * share * rng.uniform(0.4, 1.6) * side
        for _ in range(40):
            if left <= 0:
                break
            kind = str(rng.choice(KINDS, p=kinds))
            length = float(np.clip(rng.uniform(*lengths[kind]) * width, 5, 0.6 * side))
            if rng.random() > 1.5 * left / length:
                break
            contrast = rng.uniform(0.15, 0.45) if kind == "flush" else np.clip(rng.normal(plain, 0.15), 0.25, 1)
            middle = rng.uniform(0, side)
            close(rng, boards, one, kind, middle, length, shear=shear, ragged=ragged, contrast=float(contrast))
            left -= length
    return boards


def scuff(rng: np.random.Generator, frame: Frame, share: float, pixel_size_um: float) -> np.ndarray:
    """The stroke's board with bands over about that share of it, 1 inside."""
    side = frame.side
    board = np.zeros((side, side), np.float32)
    narrowest = max(8.0, 4 / pixel_size_um)
    columns = np.arange(side)
    left = 0.75 * share * side * side
    for _ in range(25):
        if left <= 0:
            break
        width = float(np.clip(rng.uniform(0.015, 0.16) * side, narrowest, max(narrowest, 0.5 * share * side)))
        length = rng.uniform(0.35, 2.2) * side
        middle, row = rng.uniform(0.1, 0.9) * side, rng.uniform(0.15, 0.85) * side
        taper = np.sqrt(np.clip(1 - ((columns - middle) / (length / 2)) ** 2, 0, 1)) ** rng.uniform(0.4, 1)
        rows = np.arange(side)[:, None]
        for sign in (-1, 1):  # the two edges are torn each in its own way
            torn = 1.6 * wander(rng, side, 14) + 1.6 * wander(rng, side, 40) + 0.07 * width * wander(rng, side, 110)
            edge = taper * width / 2 + torn * np.minimum(1, taper * 2)
            offset = sign * (rows - row)
            board[(offset >= 0) & (offset < edge)] = 1
        left -= width * float(taper.sum()) * 0.85
    return board


def truth(
    depth_um: np.ndarray, cover: np.ndarray, sag_um: np.ndarray, scuffed: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Mask codes, and the depth of the uncovered surface: what is left of the grooves once metal has moved."""
    covered = cover > 0.5
    left = np.where(covered, np.minimum(depth_um, sag_um), depth_um).astype(np.float32)
    was = depth_um >= VALLEY_DEPTH_UM
    codes = np.where(was, np.where(left >= VALLEY_DEPTH_UM, 1, 2), 0).astype(np.uint8)
    codes[scuffed] = 3
    return codes, left
