"""One band of hone grooves on a canvas whose rows run along the lay: depth, rims, and the metal moved over each groove."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, knots, log_uniform
from .section import WIDTH_UM, draw_section


@dataclass(frozen=True, kw_only=True)
class Closing:
    """How metal closes grooves: share of grooves touched, bias of closing (0 half closed), length_um of closures along a groove,
    side (+1 or -1) the metal comes from, strength (1 closes in full)."""

    touched: float
    bias: float
    length_um: float
    side: int
    strength: float


@dataclass(frozen=True, kw_only=True)
class Band:
    """Maps on the picture: depth_um below the unworn plateau, rim_um above it, cover 0–1 closed by moved metal, scratch_um fine finish."""

    depth_um: np.ndarray
    rim_um: np.ndarray
    cover: np.ndarray
    scratch_um: np.ndarray


def _centres(rng: np.random.Generator, span_um: float, widths: np.ndarray, grouped: float) -> np.ndarray:
    """Places (µm) of grooves across the lay; grouped is the share that falls beside another, as grits of one stone do."""
    centres = rng.uniform(0, span_um, widths.size)
    for i in range(1, widths.size):
        if rng.random() < grouped:
            near = rng.integers(i)
            centres[i] = centres[near] + rng.choice([-1, 1]) * (widths[i] + widths[near]) * rng.uniform(0.3, 1.2)
    return centres


def _extent(rng: np.random.Generator, span: int, width_px: float, ending: float) -> np.ndarray:
    """Share of full depth along the groove: 1, with tapering ends or fades for some."""
    share = np.clip(1 + knots(rng, span, max(6 * width_px, 20)) * rng.uniform(0.02, 0.25), 0, 1.3)
    if rng.random() < ending:
        taper = width_px * log_uniform(rng, 1.5, 15) + 2
        along = (np.arange(span) - rng.uniform(0.15, 0.85) * span) * rng.choice([-1, 1])
        share = share * np.clip(along / taper, 0, 1) ** rng.uniform(0.5, 1.2)
    if rng.random() < ending:
        share = share * np.clip(0.7 + 0.8 * knots(rng, span, span / rng.uniform(1, 5)), 0, 1)
    return share.astype(np.float32)


def _covering(
    rng: np.random.Generator, closing: Closing, place: np.ndarray, ragged: np.ndarray, pixel_um: float
) -> np.ndarray:
    """0–1, metal pushed from one rim as far across as a slowly changing front; the front is jagged, since metal tears as it folds."""
    length_px = closing.length_um * rng.uniform(0.5, 2) / pixel_um
    front = closing.bias + rng.normal(0, 0.4) + 0.9 * knots(rng, place.shape[1], length_px)
    sharp = rng.uniform(6, 30)
    inside = (front[None, :] - closing.side * place + rng.uniform(0.03, 0.3) * ragged) * sharp
    return np.clip(inside + 0.5, 0, 1) * np.clip(closing.strength + rng.normal(0, 0.08), 0, 1)


def draw_band(
    rng: np.random.Generator, frame: Frame, *, coverage: float, width_um: float, scale: float, closing: Closing | None
) -> Band:
    """Grooves about width_um wide that take up a share coverage of the ground, depths scaled by scale; none closed without closing."""
    span, pixel = frame.span, frame.pixel_um
    forms = rng.choice(["v", "trapezoid", "u", "ragged"], size=4)
    spread, ending, grouped = rng.uniform(0.15, 0.8), rng.uniform(0, 0.6), rng.uniform(0, 0.6)
    number = int(np.clip(coverage * span * pixel / width_um + rng.random(), 1, 160))
    widths = np.clip(width_um * np.exp(rng.normal(0, spread, number)), *WIDTH_UM)
    centres = _centres(rng, span * pixel, widths, grouped) / pixel
    depth, rim, cover = (np.zeros((span, span), np.float32) for _ in range(3))
    ragged = cv2.resize(rng.standard_normal((span // 3 + 2, span // 5 + 2), dtype=np.float32), (span, span))
    wave, rims = rng.uniform(0, 0.5), rng.uniform(0, 0.5) * (rng.random() < 0.75)
    for width, centre in zip(widths, centres, strict=True):
        section = draw_section(rng, float(width), str(rng.choice(forms)))
        share = _extent(rng, span, width / pixel, ending)
        middle = centre + knots(rng, span, rng.uniform(3, 20) * width / pixel + 5) * min(
            wave * rng.uniform(0, 1) * width / pixel, 8
        )
        half = 0.9 * width / pixel + 2
        top, bottom = max(int(middle.min() - half), 0), min(int(middle.max() + half) + 1, span)
        if top >= bottom:
            continue
        rows = slice(top, bottom)
        place = (
            (np.arange(top, bottom, dtype=np.float32)[:, None] - middle[None, :]) * np.float32(pixel / width)
        ).astype(np.float32)
        torn = place + ragged[rows] * np.float32(rng.uniform(0, 0.06)) if width > 4 * pixel else place
        own = section.depth(torn) * (share * scale)[None, :]
        if section.form == "ragged":
            own *= np.clip(
                1 + 0.3 * ragged[rows] + 0.35 * np.sin(place * rng.uniform(8, 30) + rng.uniform(0, 6)), 0.15, 1.4
            )
        deeper = own > depth[rows]
        depth[rows] = np.where(deeper, own, depth[rows])
        if rims:
            ridge = np.clip(
                rims * section.depth_um * scale * share * (0.5 + knots(rng, span, 2 * width / pixel + 4)), 0, 0.45
            )
            rim[rows] = np.maximum(rim[rows], np.exp(-(((np.abs(place) - 0.57) * 11) ** 2)) * ridge[None, :])
        if closing and rng.random() < closing.touched:
            over = _covering(rng, closing, place, ragged[rows], pixel)
            cover[rows] = np.where(deeper, over, cover[rows])
    scratch = rng.standard_normal((span, 1), dtype=np.float32) * np.clip(0.4 + knots(rng, span, 30), 0.1, 2)[:, None]
    scratch = scratch * cv2.resize(rng.uniform(0.2, 1, (span // 12 + 2, 5)).astype(np.float32), (span, span))
    return Band(
        depth_um=frame.lay_down(depth),
        rim_um=frame.lay_down(rim),
        cover=frame.lay_down(cover),
        scratch_um=frame.lay_down(scratch),
    )
