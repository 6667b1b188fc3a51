"""Metal moved over a groove: caps, bridges, lips from one rim and flush strips."""

from dataclasses import dataclass

import numpy as np

from tests.leading_maker.kept import Kept
from tests.leading_maker.layers import Layers, Strip, turned
from tests.leading_maker.noise import F, line_noise

CAP, BRIDGES, LIP, FLUSH = range(4)


@dataclass(frozen=True, kw_only=True)
class Closing:
    """How a specimen's grooves close: limit that the contact must pass; mix: (4,) shares of the kinds; run_um: length a
    closure keeps, µm; band: share of the contact's bands in it."""

    limit: float
    mix: np.ndarray
    run_um: float
    band: float


def draw_closing(kept: Kept, is_worn: bool) -> Closing:
    """Draw how grooves close; the honing alone closes few of them."""
    return Closing(
        limit=kept("closing").uniform(-0.5, 0.55) if is_worn else kept("closing").uniform(1.0, 1.5),
        mix=kept("kinds of closures").dirichlet([1.3, 1.1, 1.1, 1.0]),
        run_um=kept("run of closures").uniform(10, 45),
        band=kept("bands of closures").uniform(0.3, 1.0),
    )


def close(
    rng: np.random.Generator, closing: Closing, strip: Strip, layers: Layers, bands: np.ndarray, ran: np.ndarray,
    torn: np.ndarray, w_med: float, trace: float, px: float,
) -> None:  # fmt: skip
    """Close stretches of a groove: ``strip.left`` goes to 0 under them, ``layers`` get what lies there.

    bands, ran: (m,) contact's bands and 0-1 where the ring ran, along the groove; torn: noise turned as the strip is.
    """
    w, ct, m = strip.w, strip.ct, len(strip.xs)
    own = np.sqrt(1 - 0.5 * closing.band**2) * line_noise(rng, m, closing.run_um / 2.5 / px * ct)
    pot = own + 0.7 * closing.band * bands - 0.35 * np.log(w / w_med)
    on = (pot > closing.limit) & (ran > 0.5)
    cut = np.flatnonzero(np.diff(np.r_[0, on.astype(int), 0]))
    for first, last in zip(cut[::2], cut[1::2], strict=True):
        if (last - first) * px / ct < max(4.0, 5 * px):
            continue
        kind = rng.choice(4, p=closing.mix)
        if kind == LIP and w < 8 * px:
            kind = CAP
        pieces = _bridges(rng, first, last, w, ct, px) if kind == BRIDGES else [(first, last)]
        side = rng.choice([-1, 1])
        reach = rng.uniform(-0.35, 0.55) + 0.25 * line_noise(rng, last - first + 2, 6 / px)
        hole = rng.uniform(1.3, 3.0)
        lift = rng.uniform(0.05, 0.4)
        for begin, end in pieces:
            bow = rng.normal(0, 0.18, 2)
            q = (strip.ri >= begin - 3) & (strip.ri < end + 3)
            rq, dq = strip.ri[q], (strip.d / strip.a[strip.ri])[q]
            tq = torn[strip.rr[q], strip.cc[q]]
            # µm from the piece's ends, ragged
            ends = np.minimum(rq - begin, end - rq) * px / ct
            bowed = np.where(rq - begin < end - rq, bow[0], bow[1]) * w * (0.35 - dq * dq)
            inn = ends + max(0.9, 0.06 * w) * tq + 0.5 * strip.rag[q] + bowed
            cov = inn > 0
            lip = None
            if kind == LIP:
                lip = reach[np.clip(rq - first, 0, last - first)] + 0.12 * tq - side * dq
                cov &= lip > 0
            elif kind != FLUSH:
                cov &= tq < hole
            idx = np.flatnonzero(q)[cov]
            kept = strip.foot[idx]
            idx = idx[kept]
            far = None if lip is None else lip[cov][kept]
            _cover(strip, layers, torn, idx, inn[cov][kept], far, kind, side, lift, trace)


def _bridges(
    rng: np.random.Generator, first: int, last: int, w: float, ct: float, px: float
) -> list[tuple[float, float]]:  # fmt: skip
    """Return short pieces with gaps between them, px along the groove."""
    at, pieces = first, []
    while at < last:
        length = max(rng.uniform(0.4, 1.3) * w, 6 * px) * ct / px
        pieces.append((at, min(at + length, last)))
        at += length + max(rng.uniform(0.4, 1.5) * w, 6 * px) * ct / px
    return pieces


def _cover(
    strip: Strip, layers: Layers, torn: np.ndarray, idx: np.ndarray, inn: np.ndarray, far: np.ndarray | None, kind: int,
    side: int, lift: float, trace: float,
) -> None:  # fmt: skip
    """Lay one piece on the strip's pixels ``idx``; inn: µm from its ends, far: from a lip's edge in half widths."""
    strip.left[idx] = 0
    amount = trace if kind == FLUSH else 1.0
    rel = lift * np.exp(-np.clip(inn, 0, 3) / 0.9)
    if far is not None:
        rel = np.maximum(rel, lift * np.exp(-np.clip(far, 0, 2) * strip.w / 2 / 0.9))
    at = strip.rr[idx], strip.cc[idx]
    flush, cover, seams = (turned(layer, strip.steep) for layer in (layers.flush, layers.cover, layers.seam))
    flush[at] = np.maximum(flush[at], amount)
    cover[at] = np.maximum(cover[at], F(amount) * rel.astype(F))
    # What is left of the rim: a broken seam.
    rim = np.exp(-(((strip.depth[idx] - 0.5) / (0.10 * strip.deep[strip.ri[idx]] + 0.25)) ** 2))
    rim = rim * np.clip(0.45 + 0.6 * torn[at], 0, 1)
    if far is not None:
        rim = rim * (side * strip.d[idx] < 0) * 0.8
    seams[at] = np.maximum(seams[at], (rim * (0.45 if kind == FLUSH else 0.9)).astype(F))
