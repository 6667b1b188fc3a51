"""What is no open valley and may look like one: graphite, pull-outs, scratches along the stroke, stains."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.leading_maker.grooves import Ragged
from tests.leading_maker.kept import Kept
from tests.leading_maker.noise import F, noise, smooth
from tests.leading_maker.section import Section, Track
from tests.leading_maker.surface import Surface


@dataclass(frozen=True, kw_only=True)
class LookAlikes:
    """(rows, cols) float: graphite, pits and scratches 0-1; stain, signed; height: the surface with pits and scratches, µm."""

    graphite: np.ndarray
    pits: np.ndarray
    scratches: np.ndarray
    stain: np.ndarray
    height: np.ndarray


def draw_look_alikes(
    rng: np.random.Generator, kept: Kept, s: Section, track: Track, ragged: Ragged, surface: Surface
) -> LookAlikes:  # fmt: skip
    """Draw them on the plateau; a specimen of grey iron shows its flakes in every field."""
    px = s.px
    flaky = kept("flakes").random() < 0.75
    dark = _flakes(rng, kept, s) if flaky else np.zeros(s.shape, np.uint8)
    pits = _pits(rng, s)
    if flaky:
        dark = cv2.remap(dark, s.xx + 0.5 / px * ragged.rag, s.yy + 0.3 / px * ragged.torn, cv2.INTER_LINEAR)
    pits = cv2.remap(pits, s.xx + 0.8 / px * ragged.rag, s.yy + 0.5 / px * ragged.torn, cv2.INTER_LINEAR).astype(F) / 255
    opened, scuffed = surface.opened, surface.scuffed
    dragged = 1 - 0.5 * track.soft * smooth(track.bands, 0, 1.5)
    graphite = dark.astype(F) / 255 * (1 - opened) * (1 - scuffed) * (1 - surface.flush * 0.9) * dragged
    pits = pits * (1 - opened) * (1 - scuffed) * (1 - surface.closed)
    scratches = _scratches(rng, s).astype(F) / 255 * np.clip(0.7 + 0.3 * ragged.torn, 0, 1) * (1 - opened) * (1 - scuffed)
    height = (surface.height - 0.35 * scratches - 1.2 * pits).astype(F)
    return LookAlikes(graphite=graphite, pits=pits, scratches=scratches, stain=_stain(rng, s), height=height)


def _flakes(rng: np.random.Generator, kept: Kept, s: Section) -> np.ndarray:
    (rows, cols), px = s.shape, s.px
    dark = np.zeros(s.shape, np.uint8)
    many = min(int(kept("flakes' number").uniform(15, 160) * rows * cols * px * px / 1e5) + 1, 260)
    thick = kept("flakes' thickness").uniform(0.8, 2.2)
    for _ in range(many):
        p = rng.uniform(0, 1, 2) * [cols, rows]
        ang, bend = rng.uniform(0, 2 * np.pi), rng.normal(0, 0.35)
        length = rng.lognormal(np.log(16), 0.5) / px
        pts = [p]
        for _ in range(6):
            pts.append(pts[-1] + length / 6 * np.array([np.cos(ang), np.sin(ang)]))
            ang += bend + rng.normal(0, 0.25)
        course = np.round(np.array(pts) * 8).astype(np.int32)
        grey, pen = int(rng.integers(150, 255)), max(1, int(round(thick * rng.uniform(0.6, 1.5) / px)))
        cv2.polylines(dark, [course], False, grey, pen, cv2.LINE_AA, 3)
    return dark


def _pits(rng: np.random.Generator, s: Section) -> np.ndarray:
    rows, cols = s.shape
    pits = np.zeros(s.shape, np.uint8)
    if rng.random() < 0.5:
        for _ in range(int(rng.integers(2, 18))):
            r = rng.lognormal(np.log(3.0), 0.5) / s.px
            middle = tuple(int(x) for x in rng.uniform(0, 1, 2) * [cols, rows])
            axes = (max(1, int(r)), max(1, int(r * rng.uniform(0.4, 1))))
            cv2.ellipse(pits, middle, axes, rng.uniform(0, 180), 0, 360, 255, -1, cv2.LINE_AA)
    return pits


def _scratches(rng: np.random.Generator, s: Section) -> np.ndarray:
    rows, cols = s.shape
    drawn = np.zeros(s.shape, np.uint8)
    if rng.random() < (0.65 if s.is_worn else 0.25):
        for _ in range(int(rng.integers(2, 16))):
            c = rng.uniform(0, 1, 2) * [cols, rows]
            length = rng.uniform(0.2, 1.3) * rows
            angle = s.stroke + rng.normal(0, 0.012)
            e = np.array([np.cos(angle), np.sin(angle)]) * length / 2
            one, other = (tuple(np.round(p * 8).astype(int).tolist()) for p in (c - e, c + e))
            grey, pen = int(rng.integers(70, 255)), max(1, int(round(rng.uniform(0.4, 1.7) / s.px)))
            cv2.line(drawn, one, other, grey, pen, cv2.LINE_AA, 3)
    return drawn


def _stain(rng: np.random.Generator, s: Section) -> np.ndarray:
    if rng.random() >= 0.4:
        return np.zeros(s.shape, F)
    large, small = s.ext * 0.22 / s.px, s.ext * 0.03 / s.px
    z = noise(rng, s.shape, 0, large, large) + 0.15 * noise(rng, s.shape, 0, small, small)
    limit = rng.uniform(0.7, 1.5)
    stain = smooth(z, limit, limit + rng.uniform(0.05, 0.5))
    rim = np.exp(-(((z - limit) / 0.06) ** 2))
    return (stain * rng.choice([-1, -1, 1]) + rng.uniform(0, 0.6) * rim * rng.choice([-1, 1])).astype(F)
