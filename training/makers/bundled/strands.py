"""The cross-sections of single strands, laid side by side: where two meet below the plateau a sharp ridge stays.

A grit that ploughs through ground already cut removes only what stands higher than its own tip, so depths combine by
their maximum and never add up. A lay is drawn in its own frame, several samples a pixel across and one every two
pixels along, then averaged over a pixel: a pixel's depth is the mean over its side, as the beam sees it.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame

SAMPLES_A_PIXEL = 3
PIXELS_A_STEP = 2
SHARPNESS = {"vee": 1.0, "bowl": 2.0, "trough": 1.7}
"""Steepest wall slope times half width over depth, by the kind of cross-section."""


@dataclass(frozen=True, kw_only=True)
class Strand:
    """One grit's path: place across the lay, half width at the plateau and run along it in px, depth and rim in µm."""

    centre: float
    half_width: float
    depth: float
    form: str
    skew: float = 0.0
    drift: float = 0.0
    start: float = -1e9
    stop: float = 1e9
    fade: float = 20.0
    rim: float = 0.0
    closed: tuple[float, float] | None = None

    def width_at(self, depth_um: float) -> float:
        """Full width in px at this depth below the plateau, from the cross-section."""
        left = max(1 - depth_um / self.depth, 0.0)
        return (
            2
            * self.half_width
            * {"vee": left, "bowl": left**0.5, "trough": 1 - (1 - left) / 1.7}[self.form]
            * (left > 0)
        )


@dataclass
class Lay:
    """Depth below the plateau and rim height in µm, and 0–1 how surely a strand is rolled shut, on the screen."""

    depth: np.ndarray
    rim: np.ndarray
    shut: np.ndarray


def section(form: str, t: np.ndarray) -> np.ndarray:
    """Depth over greatest depth at |t| half widths from the middle; below zero outside."""
    if form == "vee":
        return 1 - t
    if form == "bowl":
        return 1 - t * t
    return np.minimum(1, (1 - t) * 1.7)


def wander(rng: np.random.Generator, count: int) -> np.ndarray:
    """Smooth unevenness along a path, of about unit spread."""
    knots = rng.standard_normal((1, 24), dtype=np.float32)
    return cv2.resize(knots, (count, 1), interpolation=cv2.INTER_CUBIC)[0].clip(-2, 2)


def drawn(rng: np.random.Generator, strands: list[Strand], frame: Frame) -> Lay:
    fine = SAMPLES_A_PIXEL
    rows, cols = int(2 * frame.reach * fine) + 2, int(2 * frame.reach / PIXELS_A_STEP) + 3
    depth, rim, shut = (np.zeros((rows, cols), np.float32) for _ in range(3))
    along = ((np.arange(cols) * PIXELS_A_STEP) - frame.reach).astype(np.float32)
    for strand in strands:
        first, last = (int((place + frame.reach) / PIXELS_A_STEP) for place in (strand.start, strand.stop))
        first, last = max(first, 0), min(last + 1, cols)
        if last - first < 3:
            continue
        v = along[first:last]
        centre = strand.centre + strand.drift * v + 0.05 * strand.half_width * wander(rng, cols)[first:last]
        uneven = 1 + 0.12 * wander(rng, cols)[first:last]
        ends = np.minimum(v - strand.start, strand.stop - v) / strand.fade
        run = (strand.depth * np.minimum(uneven, 1.0) * ends.clip(0, 1)).astype(np.float32)
        spread = strand.half_width * (1.6 if strand.rim else 1.05)
        top = max(int((centre.min() - spread + frame.reach) * fine), 0)
        bottom = min(int((centre.max() + spread + frame.reach) * fine) + 2, rows)
        if bottom - top < 2:
            continue
        u = ((np.arange(top, bottom) / fine) - frame.reach).astype(np.float32)
        half = (strand.half_width * (0.25 + 0.75 * ends.clip(0, 1))).astype(np.float32)
        signed = (u[:, None] - centre[None, :].astype(np.float32)) / half
        t = np.abs(signed)
        cut = section(strand.form, t / (1 + strand.skew * np.sign(signed)) if strand.skew else t) * run
        here = depth[top:bottom, first:last]
        deeper = cut > here
        np.copyto(here, cut, where=deeper)
        if strand.rim:
            high = (0.4 + 0.5 * wander(rng, cols)[first:last]).clip(0, 1) * strand.rim * ends.clip(0, 1)
            pile = np.maximum(1 - np.abs(t - 1.15) / 0.3, 0) * high.astype(np.float32)
            np.maximum(rim[top:bottom, first:last], pile, out=rim[top:bottom, first:last])
        if strand.depth > 0.5:
            closed = np.zeros(v.size, np.float32)
            if strand.closed:
                closed = (np.minimum(v - strand.closed[0], strand.closed[1] - v) / 60).clip(0, 1).astype(np.float32)
            np.copyto(shut[top:bottom, first:last], np.broadcast_to(closed, cut.shape), where=deeper)
    map_x = (frame.along + frame.reach) / PIXELS_A_STEP
    map_y = (frame.across + frame.reach) * fine
    maps = [cv2.remap(cv2.blur(values, (1, fine)), map_x, map_y, cv2.INTER_LINEAR) for values in (depth, rim, shut)]
    return Lay(*maps)
