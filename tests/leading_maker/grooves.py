"""Hone grooves, laid strip by strip at random along two lays; closures go into each as it is laid."""

from dataclasses import dataclass

import numpy as np

from tests.leading_maker.closures import Closing, close, draw_closing
from tests.leading_maker.kept import Kept
from tests.leading_maker.layers import Layers, Strip, turned
from tests.leading_maker.noise import F, line_noise, noise, smooth
from tests.leading_maker.section import Section, Track


@dataclass(frozen=True, kw_only=True)
class Hone:
    """The grooves' figures: share of the area; w_med: median width, µm; spread: of ln width; balance: share of the weaker
    lay; strong: sign of the stronger; depth_k: depth over width; wave_um: waviness; flat: exponent of the section's form;
    burr_um, rag_um, chip_um: µm of rims; shallow: number of grooves that never were 0.5 µm deep."""

    share: float
    w_med: float
    spread: float
    balance: float
    strong: int
    depth_k: float
    wave_um: float
    flat: float
    burr_um: float
    rag_um: float
    chip_um: float
    shallow: int


@dataclass(frozen=True, kw_only=True)
class Ragged:
    """Unit noises (rows, cols): rag of the rims; torn: short and long along the stroke."""

    rag: np.ndarray
    torn: np.ndarray


def lay_grooves(rng: np.random.Generator, kept: Kept, s: Section, track: Track) -> tuple[Layers, Ragged]:
    """Lay all grooves of a field; returns the layers and the noises of their rims."""
    px = s.px
    share = kept("share").uniform(0.07, 0.30) if s.family != "single-stage" else kept("share").uniform(0.15, 0.36)
    w_med = float(np.clip(kept("width").lognormal(np.log(12), 0.4), max(5, 5.5 * px), min(38, 0.14 * s.ext)))
    spread, balance = kept("spread").uniform(0.25, 0.5), kept("balance").uniform(0.25, 0.5)
    strong, depth_k = kept("stronger lay").choice([-1, 1]), kept("depth").uniform(0.09, 0.28)
    wave_um, flat = kept("waviness").uniform(0, 0.6), kept("form").uniform(1.6, 4.0)
    burr_um = kept("burr").uniform(0.1, 0.5) if s.family == "single-stage" else kept("burr").uniform(0, 0.2)
    rag = 0.6 * noise(rng, s.shape, 0, 3.0 / px, 3.0 / px) + 0.5 * noise(rng, s.shape, 0, 1.1 / px, 1.1 / px)
    ragged = Ragged(rag=rag.astype(F), torn=noise(rng, s.shape, s.stroke, 7.0 / px, 2.2 / px))
    hone = Hone(
        share=share, w_med=w_med, spread=spread, balance=balance, strong=strong, depth_k=depth_k, wave_um=wave_um, flat=flat,
        burr_um=burr_um, rag_um=kept("ragged rims").uniform(0.15, 0.7), chip_um=kept("chips").uniform(0.2, 1.0),
        shallow=int(rng.integers(0, 10)) if rng.random() < 0.6 else 0,
    )  # fmt: skip
    closing = draw_closing(kept, s.is_worn) if s.smears else None
    trace = kept("trace of flush strips").uniform(0.5, 0.8)
    layers = Layers.empty(s.shape)
    area, tried, shallow_left = 0.0, 0, hone.shallow
    while (area < hone.share and tried < 110) or shallow_left > 0:
        tried += 1
        shallow = area >= hone.share or tried > 110
        shallow_left -= shallow
        strip = _strip(rng, s, hone, ragged, track, shallow)
        if strip is None:
            continue
        area += strip.foot.sum() / (s.shape[0] * s.shape[1]) * 0.9
        if closing is not None and not shallow:
            _closed(rng, s, track, ragged, hone, closing, trace, strip, layers)
        layers.add(strip)
    return layers.settled(), ragged


def _closed(rng: np.random.Generator, s: Section, track: Track, ragged: Ragged, hone: Hone, closing: Closing, trace: float,
            strip: Strip, layers: Layers) -> None:  # fmt: skip
    rows = turned(track.bands, strip.steep).shape[0]
    at = np.clip(strip.base, 0, rows - 1), strip.xs
    banded = turned(track.bands, strip.steep)[at]
    ran = turned(track.soft, strip.steep)[at] if s.is_worn else np.ones(len(strip.xs))
    close(rng, closing, strip, layers, banded, ran, turned(ragged.torn, strip.steep), hone.w_med, trace, s.px)


def _strip(rng: np.random.Generator, s: Section, hone: Hone, ragged: Ragged, track: Track, shallow: bool) -> Strip | None:
    """Lay one groove: its width, course, depth and rims; None where it hardly touches the field.

    Grooves are 1-10 µm deep and 5-50 µm wide [M, tests/SOURCES.md]; depths 1.1-9 µm here.
    """
    px, (rows, cols) = s.px, s.shape
    w = float(np.clip(hone.w_med * np.exp(hone.spread * rng.standard_normal()), 4.8 * px, 0.25 * s.ext))
    lay = hone.strong if rng.random() > hone.balance else -hone.strong
    th = s.phi + lay * s.half + np.deg2rad(rng.normal(0, 1.3))
    th = (th + np.pi / 2) % np.pi - np.pi / 2
    steep = abs(th) > np.pi / 4
    nr, nc = (cols, rows) if steep else (rows, cols)
    tt = np.tan(np.pi / 2 - th) if steep else np.tan(th)
    ct = 1 / np.sqrt(1 + tt * tt)
    xs = np.arange(nc)
    span = abs(tt) * nc
    mid = rng.uniform(-span / 2, nr + span / 2)
    yc = mid + tt * (xs - nc / 2) + hone.wave_um / px * line_noise(rng, nc, 60 / px)
    inside = (yc > -w / px) & (yc < nr + w / px)
    if inside.sum() < 8:
        return None
    xs, yc = xs[inside], yc[inside]
    m = len(xs)
    a = w / 2 * np.clip(1 + 0.10 * line_noise(rng, m, 25 / px) + 0.05 * line_noise(rng, m, 4 / px), 0.6, 1.5)
    dep = float(np.clip(hone.depth_k * w * np.exp(0.3 * rng.standard_normal()), 1.1, 9.0))
    dep = float(rng.uniform(0.18, 0.38)) if shallow else dep
    deep = dep * np.clip(1 + 0.15 * line_noise(rng, m, 50 / px), 0.5, 1.6)
    if rng.random() < 0.25:  # a grain that left the surface
        e = rng.uniform(0.15, 0.85) * m
        sgn = rng.choice([-1, 1])
        g = smooth(sgn * (xs - xs[0] - e) * px / ct, -rng.uniform(15, 120), 5)
        deep, a = deep * g, np.maximum(a * (0.2 + 0.8 * np.sqrt(g)), 0.3)
    reach = int(np.ceil(1.45 * w / 2 / px / ct * 1.35)) + 2
    base = np.round(yc).astype(int)
    across = base[:, None] + np.arange(-reach, reach + 1)[None, :]
    ri, ci = np.nonzero((across >= 0) & (across < nr))
    rr, cc = across[ri, ci], xs[ri]
    d = ((rr - yc[ri]) * (ct * px)).astype(F)
    rg = turned(ragged.rag, steep)[rr, cc]
    d = d + F(min(hone.rag_um, 0.12 * w)) * rg
    # Chips out of the rims, longer along the groove than across.
    ch = 0.7 * line_noise(rng, m, 4.0 / px * ct)[ri] * (d > 0) + 0.7 * line_noise(rng, m, 4.0 / px * ct)[ri] * (d <= 0)
    d = (d - np.sign(d) * min(hone.chip_um, 0.07 * w) * np.clip(ch, -0.5, 2.2)).astype(F)
    skew = rng.uniform(-0.25, 0.25)
    t = np.where(d > 0, d / (1 + skew), -d / (1 - skew)) / a[ri].astype(F)
    dd = (deep[ri] * np.clip(1 - t ** F(hone.flat * np.exp(rng.normal(0, 0.15))), 0, None)).astype(F)
    tab = rng.standard_normal(64).astype(F)
    pos = (d / max(0.9, 1.1 * px, 0.06 * w) + 32).clip(0, 62.9)
    lo = pos.astype(int)
    striae = (tab[lo] + (pos - lo) * (tab[lo + 1] - tab[lo])) * (dd > 0)
    left = np.clip(dd - turned(track.wear, steep)[rr, cc], 0, None)
    burr = (hone.burr_um * np.exp(-(((t - 1.12) / 0.14) ** 2)) * np.clip(deep[ri] / dep, 0, 1)).astype(F)
    foot = (dd > 0.5) & (left > 0.3)
    return Strip(
        w=w, steep=steep, ct=ct, xs=xs, base=base, a=a, deep=deep, ri=ri, rr=rr, cc=cc, d=d, rag=rg, depth=dd, left=left,
        striae=striae, burr=burr, foot=foot,
    )  # fmt: skip
