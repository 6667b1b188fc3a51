"""A liner's life, stage by stage: each step takes the surface that the step before it left.

Running-in takes the peaks first, then the core, the valleys last (common practice). Truncation lowers the plateau, so it
narrows grooves by the slope of their walls; a groove so lost is plateau. Plastic flow along the stroke then folds metal
over the grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548), and adhesion at last tears
the surface in streaks along the stroke.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np

from .liner import Frame, Groove, Liner, wave

STAGES = ("as honed", "run in", "polished", "deformed", "mildly scuffed", "scuffed")
VALLEY_DEPTH_UM = 0.5
KINDS = ("cap", "bridge", "lip", "flap", "flush")


@dataclass
class Surface:
    """One field's surface: depth below the local plateau before metal moved and now, µm; how much moved metal shows
    (`cover`), its cracks, scuffing and its strength, stroke marks, and what the ring left of the peaks."""

    liner: Liner
    worn: np.ndarray
    before: np.ndarray
    now: np.ndarray
    cover: np.ndarray
    crack: np.ndarray
    scuff: np.ndarray
    marks: np.ndarray
    peaks: np.ndarray
    shine: float = 0.0
    torn: float = 0.0
    codes: np.ndarray = field(init=False)

    def settle(self) -> "Surface":
        """Writes the truth from the depths."""
        codes = (self.now >= VALLEY_DEPTH_UM).astype(np.uint8)
        codes[(self.before >= VALLEY_DEPTH_UM) & (self.now < VALLEY_DEPTH_UM) & (self.cover > 0) & self.worn] = 2
        codes[self.scuff > 0.5] = 3
        self.codes = codes
        return self


def live(liner: Liner, stage: str, worn: np.ndarray, seeds: np.ndarray) -> Surface:
    """The surface at `stage`; each step has its own seed, so that a later stage of the same seeds goes on from an
    earlier one."""
    frame, last = liner.frame, STAGES.index(stage)
    steps = [np.random.default_rng(seed) for seed in seeds]
    wear = worn.astype(np.float32)
    lost_um = 0.0
    if last >= 1:
        lost_um += steps[1].uniform(0.03, 0.2)
    if last >= 2:
        lost_um += steps[2].uniform(0.06, 0.25) * np.median(
            [groove.depth_um for band in liner.grooves for groove in band]
        )
    moved = _Moved(steps[3], last >= 3)
    zero = np.zeros(frame.shape, np.float32)
    before, now, cover, crack = zero.copy(), zero.copy(), zero.copy(), zero.copy()
    for lay, band in zip(liner.lays, liner.grooves, strict=True):
        depth, closed, shown, line = cv2.split(frame.turn(_lay(frame, lay, band, moved), lay))
        depth = np.maximum(depth - lost_um * wear, 0)
        before = np.maximum(before, depth)
        now = np.maximum(now, depth * (1 - closed * wear))
        cover = np.maximum(cover, shown * wear)
        crack = np.maximum(crack, line * wear * (depth > 0))
    rng = steps[1]
    fine = 0.6 * frame.streaks(rng, frame.stroke, long_px=150, wide_px=1.3)
    coarse = np.maximum(frame.streaks(rng, frame.stroke, long_px=260, wide_px=rng.uniform(2, 5)) - 1.2, 0)
    marks = wear * (fine - coarse) * rng.lognormal(-0.4, 0.6) * (last >= 1)
    peaks = 1 - wear * (0.0, 0.55, 0.85, 0.85, 0.85, 0.85)[last]
    surface = Surface(liner, worn, before, now, cover, crack, zero, marks, peaks, shine=0.2 * min(last, 2))
    if last >= 4:
        _scuff(steps[4], surface, mild=last == 4)
    return surface.settle()


class _Moved:
    """How a specimen's metal flowed: the share of groove length closed, the kinds of closure, which rim it left, and the
    tracks of the ring's hard spots, which close the grooves one after the other."""

    def __init__(self, rng: np.random.Generator, flows: bool) -> None:
        self.flows = flows
        self.share = 10 ** rng.uniform(-2, -1) if rng.random() < 0.2 else rng.uniform(0.15, 0.97)
        self.kinds = rng.dirichlet((0.9, 0.6, 1.0, 0.7, 0.6))
        self.side = rng.choice((-1, 1))
        self.tracks = rng.standard_normal(2000)
        self.track_px = rng.uniform(12, 60)

    def close(self, frame: Frame, groove: Groove, place: np.ndarray, across_px: np.ndarray) -> tuple[np.ndarray, ...]:
        """Closed share of the depth, how much of it shows, and cracks; edges of moved metal run along the stroke."""
        rng = np.random.default_rng(groove.seed + 1)
        kind = KINDS[rng.choice(5, p=self.kinds)]
        width_px = groove.width_um / frame.pixel_size_um
        length = max(13.0, width_px * {"bridge": 0.5}.get(kind, 1.2) * rng.lognormal(0.2, 0.6))
        knots = rng.standard_normal(int(2 * frame.side / length) + 4)
        knots = 0.8 * knots + 0.8 * np.repeat(rng.standard_normal(len(knots) // 4 + 1), 4)[: len(knots)]
        line = np.arange(-frame.side, frame.side, 1.0)
        level = np.interp((line + frame.side) / length, np.arange(len(knots)), 0.75 * knots)
        level += 0.65 * np.interp((line + frame.side) / self.track_px, np.arange(len(self.tracks)), self.tracks)
        share = np.clip(self.share * rng.lognormal(0, 0.3), 0, 0.97)
        level = level - np.quantile(level, 1 - share)
        jag = 0.25 * wave(rng, 2 * frame.side, 2.5)
        bow = wave(rng, len(place), max(2.0, width_px / 4)) * rng.uniform(0.03, 0.18) * length
        tongue = rng.uniform(0, 0.9) * (np.abs(place) - 0.5) + rng.normal(0, 0.3) * place
        inside = np.interp(across_px + bow[:, None], line, level + 0.3 * jag) + np.clip(tongue, -0.6, 0.6)
        at = np.clip(inside * length / 2.0 + 0.5, 0, 1).astype(np.float32)
        if kind == "lip":
            reach = rng.uniform(-0.35, 0.65) + 0.25 * wave(rng, 2 * frame.side, length) + 0.5 * jag
            edge = np.interp(across_px, line, reach) - self.side * place
            at = at * np.clip(edge * width_px / 3 + 0.5, 0, 1)
        sag = rng.uniform(0.0, 0.12) if kind == "flush" else rng.uniform(0.05, 0.4)
        closed = at * (1 - min(sag / groove.depth_um, 0.5))
        shows = rng.uniform(0.25, 0.9) if kind == "flush" else rng.uniform(0.6, 1.2)
        crack = np.zeros_like(at)
        if kind == "flap" or (kind == "cap" and rng.random() < 0.4):
            away = np.abs(place * self.side - rng.uniform(0.1, 0.6) - np.interp(across_px, line, 0.5 * jag))
            crack = at * np.clip(1.3 - away * width_px / 2, 0, 1) * rng.uniform(0.4, 1.0)
        return closed, (at > 0.3) * shows, crack


def _lay(frame: Frame, lay: float, band: tuple[Groove, ...], moved: _Moved) -> np.ndarray:
    """Canvas of a lay: depth, closed share, showing cover, cracks."""
    side = frame.side
    canvas = np.zeros((side, side, 4), np.float32)
    skew = lay - frame.stroke - np.pi / 2
    along = np.arange(side, dtype=np.float32) - side / 2
    for groove in band:
        reach = groove.width_um / frame.pixel_size_um / 2 * 1.8 + 2
        top, end = max(0, int(groove.place_px - reach)), min(side, int(groove.place_px + reach) + 1)
        rows = np.arange(top, end, dtype=np.float32)
        depth, place = groove.depth(frame, rows)
        strip = canvas[top:end]
        deeper = depth > strip[..., 0]
        layers = [depth]
        if moved.flows:
            across_px = along[None] * np.cos(skew) - (rows - side / 2)[:, None] * np.sin(skew)
            layers += moved.close(frame, groove, place, across_px)
        for channel, layer in enumerate(layers):
            np.copyto(strip[..., channel], layer, where=deeper, casting="same_kind")
    return canvas


def _scuff(rng: np.random.Generator, surface: Surface, *, mild: bool) -> None:
    """Tears the surface: isolated streaks, or bands that run through."""
    frame = surface.liner.frame
    wide = max(10.0, min(frame.shape) * (rng.uniform(0.02, 0.06) if mild else rng.uniform(0.06, 0.2)))
    area = rng.uniform(0.01, 0.1) if mild else rng.uniform(0.06, 0.32)
    long = min(frame.shape) * (rng.uniform(0.25, 0.7) if mild else rng.uniform(0.7, 3.0))
    level = frame.streaks(rng, frame.stroke, long_px=long, wide_px=wide)
    level += 0.5 * frame.streaks(rng, frame.stroke, long_px=0.4 * long, wide_px=1.7 * wide)
    level += 0.3 * frame.streaks(rng, frame.stroke, long_px=70, wide_px=3) + 0.4 * frame.streaks(
        rng, frame.stroke, long_px=150, wide_px=7
    )
    level = cv2.GaussianBlur(np.where(surface.worn, level, -9), (0, 0), 1.0)
    limit = np.quantile(level[surface.worn], 1 - area)
    mask = ((level > limit) & surface.worn).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7)))
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)) * surface.worn
    mask = mask.astype(np.float32)
    surface.scuff = mask * np.clip(0.55 + 0.6 * (level - limit), 0.55, 1).astype(np.float32)
    surface.now = surface.now * (1 - mask * rng.uniform(0.6, 0.98))
    surface.cover = surface.cover * (1 - 0.8 * mask)
    surface.torn = rng.uniform(0.3, 1.0) if mild else rng.uniform(0.6, 1.6)
