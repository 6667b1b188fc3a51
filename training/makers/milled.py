"""A maker that mills a height map in micrometres, wears it, and looks at it with a model of secondary electrons.

The idea. Abrasive grits of two lays cut cross-sections (vee, round, trapezoid, double, skew) into a flat, each with piled-up
shoulders; finer grits leave marks under 0.5 µm. The ring then acts on the heights: a rough counter-body takes the surface
down (grooves get shallower and narrower), and metal flows along the stroke into grooves from their rims. One rule makes
all kinds of closing: a *reach* of the flow across the groove as a function of the place across the stroke. A reach past
the far rim caps the groove, a short pulse bridges it, a partial one is a lip, a ragged fading one feathers out. Scuffing
ploughs and tears. Truth follows from heights (0.5 µm under the local plateau) and from what was moved.

The picture of the heights is made in milled_picture.py.

All lengths are drawn in µm and rasterised last. Directions are degrees anticlockwise on the screen, 0 along a row.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.made import Made
from makers.milled_picture import drop_unseen, electrons, instrument, look_alikes, smooth_field

DEEP_UM = 0.5
"""Depth under the local plateau from which ground is open valley, µm."""

_FINISHES = {  # weight; log-mean width µm; its spread; share of area cut by both lays; depth / width; included angle, deg
    "plateaued": (0.30, 14.0, 0.45, (0.08, 0.32), (0.08, 0.32), (30, 70)),
    "one_stage": (0.22, 8.0, 0.5, (0.2, 0.65), (0.10, 0.35), (25, 80)),
    "helical": (0.16, 11.0, 0.5, (0.08, 0.5), (0.08, 0.3), (120, 150)),
    "open_angle": (0.14, 11.0, 0.5, (0.08, 0.5), (0.08, 0.3), (70, 125)),
    "sparse": (0.10, 18.0, 0.5, (0.02, 0.10), (0.08, 0.25), (20, 140)),
    "bare": (0.08, 10.0, 0.4, (0.0, 0.0), (0.1, 0.2), (20, 150)),
}


@dataclass(frozen=True, kw_only=True)
class _Frame:
    """Square strip whose columns run along a direction and whose rows run across it, centred on the picture."""

    direction_deg: float
    shape: tuple[int, int]

    @property
    def radius(self) -> int:
        return int(np.hypot(*self.shape) / 2) + 3

    def to_picture(self, strip: np.ndarray, *, nearest: bool = False) -> np.ndarray:
        """The strip (2·radius, 2·radius) seen on the picture's grid."""
        rows, cols = self.shape
        cosine, sine = np.cos(np.radians(self.direction_deg)), np.sin(np.radians(self.direction_deg))
        row, col, radius = (rows - 1) / 2, (cols - 1) / 2, self.radius
        matrix = np.array(
            [[cosine, -sine, radius - cosine * col + sine * row], [sine, cosine, radius - sine * col - cosine * row]]
        )
        flags = (cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR) | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(strip, matrix, (cols, rows), flags=flags, borderMode=cv2.BORDER_CONSTANT)


@dataclass(frozen=True, kw_only=True)
class _Run:
    """What the ring did, as tables over the place across the stroke (one entry a pixel of the stroke's strip)."""

    worn: np.ndarray  # 0..1
    taken_um: np.ndarray  # height worn off
    closing: np.ndarray  # 0..1, where closing prefers to be
    severity: float  # 0 for a surface that was never run
    styles: tuple[str, ...]
    trace: float  # strength of what a closed groove leaves to see


def _wave(rng: np.random.Generator, count: int, scale_px: float) -> np.ndarray:
    """Smooth noise of unit spread along a line, (count,) float32, features of about scale_px."""
    scale_px = max(scale_px, 1.0)
    knots = rng.standard_normal(int(count / scale_px) + 4).astype(np.float32)
    places = np.arange(count, dtype=np.float32) / np.float32(scale_px) + np.float32(rng.random())
    return np.interp(places, np.arange(knots.size), knots).astype(np.float32)


def _profiles() -> dict[str, np.ndarray]:
    """Cross-sections on a table over x in [-2, 2] (rims at ±1), depth 0..1."""
    x = np.linspace(-2, 2, 257)
    a = np.abs(x)
    skew = np.where(x < 0.45, (x + 1) / 1.45, (1 - x) / 0.55)
    double = np.maximum(1 - ((x + 0.42) / 0.58) ** 2, 0.75 * (1 - ((x - 0.5) / 0.5) ** 2))
    raw = {
        "vee": 1 - a,
        "round": 1 - a**2,
        "trapezoid": (1 - a) / 0.28,
        "steep": (1 - a) / 0.14,
        "double": double,
        "skew": skew,
        "skew_back": skew[::-1],
    }
    return {name: np.clip(shape, 0, 1).astype(np.float32) for name, shape in raw.items()}


_PROFILES = _profiles()
_SHOULDER = np.exp(-(((np.abs(np.linspace(-2, 2, 257)) - 1.12) / 0.16) ** 2)).astype(np.float32)


def _draw_run(rng: np.random.Generator, stroke: _Frame, px: float) -> _Run:
    """Draw how the field ran: never, wholly, or with an edge of the track across it."""
    count = 2 * stroke.radius
    side = min(stroke.shape)
    how = rng.choice(["unworn", "whole", "edge"], p=[0.27, 0.55, 0.18])
    if how == "unworn":
        nothing = np.zeros(count, np.float32)
        return _Run(worn=nothing, taken_um=nothing, closing=nothing, severity=0.0, styles=(), trace=0.0)
    worn = np.ones(count, np.float32)
    if how == "edge":
        edge = stroke.radius + rng.uniform(-0.3, 0.3) * side
        soft = rng.uniform(0.5, 6.0) / px
        worn = np.clip((np.arange(count) - edge) / soft + 0.5, 0, 1).astype(np.float32)
        worn = worn[::-1].copy() if rng.random() < 0.5 else worn
    taken = rng.uniform(0.05, 0.5) if rng.random() < 0.65 else rng.uniform(0.5, 2.2)
    bands = 1 + rng.uniform(0, 0.5) * _wave(rng, count, rng.uniform(15, 120) / px)
    bands += rng.uniform(0, 0.3) * _wave(rng, count, rng.uniform(1.5, 5) / px)
    closing = np.clip(rng.uniform(0.4, 1.4) + rng.uniform(0, 1.2) * _wave(rng, count, rng.uniform(20, 150) / px), 0, 1)
    severity = 0.0 if rng.random() < 0.12 else rng.beta(1.5, 1.1)
    styles = rng.permutation(["caps", "bridges", "lips", "stretches", "feathers"])[: rng.integers(1, 6)]
    return _Run(
        worn=worn,
        taken_um=(worn * taken * np.clip(bands, 0, 2.5)).astype(np.float32),
        closing=(closing * (worn > 0.9)).astype(np.float32),
        severity=float(severity),
        styles=tuple(styles),
        trace=float(rng.uniform(0.5, 1.5)),
    )


def _draw_reach(rng: np.random.Generator, run: _Run, width_px: float, px: float) -> np.ndarray:
    """Reach of the flow across one groove, in widths, over the place across the stroke; (count,) float32."""
    count = run.closing.size
    reach = np.full(count, -1.0, np.float32)
    share = np.clip(run.severity * rng.uniform(0.2, 1.8), 0, 0.98)
    weight = np.cumsum(run.closing + 1e-6)
    places = np.arange(count, dtype=np.float32)
    filled, wanted = 0.0, share * run.closing.sum()
    for _ in range(10):
        if filled >= wanted:
            break
        style = run.styles[rng.integers(len(run.styles))]
        low, high, front = {
            "caps": (0.8, 4.0, 0.5),
            "bridges": (0.3, 1.0, 0.3),
            "lips": (2.0, 14.0, 1.0),
            "stretches": (5.0, 30.0, 0.8),
            "feathers": (3.0, 14.0, 3.0),
        }[style]
        length = max(rng.uniform(low, high) * width_px, 5.0, wanted * rng.uniform(0.03, 0.3))
        front = max(front * rng.uniform(0.4, 1.8) * width_px, 1.5)
        height = rng.uniform(0.3, 0.7) if style == "lips" else 1.6
        ragged = rng.uniform(0.2, 0.6) if style == "feathers" else rng.uniform(0.02, 0.22)
        centre = np.searchsorted(weight, rng.random() * weight[-1])
        first, last = int(max(centre - length / 2 - front, 0)), int(min(centre + length / 2 + front, count))
        rise = np.clip((length / 2 + front - np.abs(places[first:last] - centre)) / front, 0, 1) * height
        rise += ragged * _wave(rng, last - first, rng.uniform(0.6, 3.0) / px)
        reach[first:last] = np.maximum(reach[first:last], rise)
        filled += length
    reach[run.closing <= 0] = -1.0
    return reach


def _mill_lay(
    rng: np.random.Generator, lay: _Frame, stroke_deg: float, px: float, finish: str, share: float, run: _Run
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Cut, wear and close the grooves of one lay on its strip and bring it onto the picture.

    Returns heights under the worn plateau (µm, <= 0), shoulders (µm, >= 0), tone (fraction), ground of fine marks (µm)
    and the closed footprint (uint8), all (rows, cols).
    """
    _, width_um, spread, _, steepness, _ = _FINISHES[finish]
    size, radius = 2 * lay.radius, lay.radius
    ground = np.zeros((size, size), np.float32)
    pile, tone = np.zeros_like(ground), np.zeros_like(ground)
    closed_map = np.zeros((size, size), np.uint8)
    turn = np.radians(stroke_deg - lay.direction_deg)
    cosine, sine = np.float32(np.cos(turn)), np.float32(np.sin(turn))
    bow = rng.normal(0, 1.0) * 0.01 / radius if rng.random() < 0.4 else 0.0
    width_um *= np.exp(rng.normal(0, 0.3))
    floor_gain, floor_depth = rng.uniform(0.5, 1.0), rng.uniform(0.4, 2.5)
    torn = rng.uniform(0, 0.12) if rng.random() < 0.45 else 0.015
    names = list(rng.permutation(list(_PROFILES))[: rng.integers(2, 7)])
    half_rows, half_cols = lay.shape[0] / 2, lay.shape[1] / 2
    turn_cos, turn_sin = np.cos(np.radians(lay.direction_deg)), np.sin(np.radians(lay.direction_deg))
    reach_px = half_cols * abs(turn_sin) + half_rows * abs(turn_cos) + 10 / px
    cut_um, wanted_um = 0.0, share * 2 * reach_px * px
    upstream = rng.random() < 0.5
    for _ in range(42):
        if cut_um >= wanted_um:
            break
        width = float(np.clip(width_um * np.exp(rng.normal(0, spread)), max(2.0, 2.4 * px), 50.0))
        depth = float(np.clip(width * rng.uniform(*steepness), 0.5, 10.0))
        depth = max(depth, 0.9) if rng.random() < 0.8 else depth
        cut_um += width
        half_px = width / px / 2
        offset = rng.uniform(-1, 1) * min(reach_px, radius - 2)
        slope = np.tan(np.radians(rng.normal(0, 0.7)))
        # The part of the groove over the picture: a line cut by the two pairs of sides.
        margin = 1.6 * half_px + abs(slope) * radius + 4
        span = [-radius + 1.0, radius - 1.0]
        for away, per_along, limit in (
            (offset * turn_sin, turn_cos, half_cols),
            (offset * turn_cos, -turn_sin, half_rows),
        ):
            if abs(per_along) > 0.02:
                ends = sorted(((-limit - margin - away) / per_along, (limit + margin - away) / per_along))
                span = [max(span[0], ends[0]), min(span[1], ends[1])]
        first, last = int(span[0]) + radius, int(span[1]) + radius
        if last - first < 6:
            continue
        along = np.arange(first - radius, last - radius, dtype=np.float32)
        count = along.size
        centre = (offset + slope * along + bow * along**2).astype(np.float32)
        centre += np.float32(0.04 * half_px) * _wave(rng, count, 40 / px)
        half = half_px * np.clip(
            1
            + 0.1 * _wave(rng, count, 30 / px)
            + torn * (_wave(rng, count, rng.uniform(0.6, 2) / px) + _wave(rng, count, rng.uniform(2, 6) / px)),
            0.4,
            1.5,
        )
        bottom = depth * np.clip(1 + 0.15 * _wave(rng, count, 60 / px), 0.5, 1.5)
        if rng.random() < 0.35:  # the grit left or entered the surface inside the field
            end, ramp = rng.uniform(along[0], along[-1]), rng.uniform(0.5, 6) * 2 * half_px
            gone = np.clip((along - end) / ramp * (1 if rng.random() < 0.5 else -1) + 0.5, 0, 1)
            bottom, half = bottom * gone, half * np.sqrt(0.15 + 0.85 * gone)
        margin = 1.7 * half.max() + 1
        low, high = max(int(centre.min() - margin) + radius, 0), min(int(centre.max() + margin) + radius + 1, size)
        if high - low < 2:
            continue
        across = np.arange(low - radius, high - radius, dtype=np.float32)[:, None]
        x = (across - centre) * (1 / half).astype(np.float32)
        index = ((np.clip(x, -1.99, 1.99) + 2) * 64).astype(np.int32)
        height = -np.take(_PROFILES[names[rng.integers(len(names))]], index) * bottom.astype(np.float32)
        window = (slice(low, high), slice(first, last))
        shoulder_um = rng.uniform(0, 0.5) * min(depth, 2) * np.clip(0.6 + 0.6 * _wave(rng, count, 4 / px), 0, 2)
        shoulder = np.take(_SHOULDER, index) * (shoulder_um * np.minimum(bottom, 1)).astype(np.float32)
        if run.worn.any():
            place = np.clip(along * sine + across * cosine + radius, 0, size - 1).astype(np.int32)
            height = np.minimum(height + run.taken_um[place], 0)
            shoulder *= 1 - np.float32(0.95) * run.worn[place]
        height *= np.minimum(
            np.square(height * np.float32(1 / DEEP_UM)), 1
        )  # what is shallower than 0.5 µm fades quickly
        gain = np.float32(floor_gain * rng.uniform(0.65, 1.35))
        shade = gain * np.clip((-height - np.float32(0.25)) * np.float32(1 / floor_depth), 0, 1)
        if run.severity > 0 and rng.random() < 0.92:
            reach = _draw_reach(rng, run, width / px, px)[place]
            fraction = (x + 1) / 2 if (upstream if rng.random() < 0.8 else not upstream) else (1 - x) / 2
            footprint = height < -DEEP_UM
            closed = footprint & (fraction < reach)
            if rng.random() < 0.25:
                closed |= footprint & (1 - fraction < _draw_reach(rng, run, width / px, px)[place])
            if closed.any():
                residual = rng.uniform(0.08, 0.42) * np.clip(1 + 0.35 * _wave(rng, count, 6 / px), 0.2, 1.1)
                seam = closed & (height > -(DEEP_UM + rng.uniform(0.1, 0.5) * depth)) & (fraction > 0.75)
                seam &= (_wave(rng, count, rng.uniform(3, 30) / px) > rng.uniform(-1.8, 1.0))[None, :]
                flush = np.broadcast_to(-residual.astype(np.float32), height.shape)
                height = np.where(closed, np.where(seam, np.float32(-0.47), flush), height)
                trace = run.trace * rng.uniform(0.06, 0.22) * (1 if rng.random() < 0.7 else -1)
                shade = np.where(closed, np.float32(trace) + seam * np.float32(0.25 * run.trace), shade)
                closed_map[window] |= closed
        deeper = height < ground[window]
        tone[window] = np.where(deeper, shade, tone[window])
        pile[window] = np.where(height < -0.05, 0, np.maximum(pile[window], shoulder))
        ground[window] = np.minimum(ground[window], height)
    marks = smooth_field(rng, size, size, rng.uniform(0.35, 1.8) / px, rng.uniform(40, 300) / px)
    closed_picture = lay.to_picture(closed_map, nearest=True)
    return *(lay.to_picture(part) for part in (ground, pile, tone, marks)), closed_picture


def _scuff(rng: np.random.Generator, stroke: _Frame, worn: np.ndarray, px: float) -> tuple[np.ndarray, np.ndarray]:
    """Torn, ploughed streaks along the stroke: where (bool) and heights (µm), both (rows, cols)."""
    size = 2 * stroke.radius
    length, breadth = rng.uniform(60, 400) / px, max(rng.uniform(6, 45) / px, 7)
    envelope = smooth_field(rng, size, size, breadth, length) + 0.2 * smooth_field(rng, size, size, 2 / px, 25 / px)
    level = np.quantile(envelope[::8, ::8], 1 - rng.uniform(0.03, 0.5))
    ploughed = smooth_field(rng, size, size, max(rng.uniform(0.8, 3) / px, 1.4), rng.uniform(15, 80) / px)
    torn = smooth_field(rng, size, size, max(rng.uniform(1.5, 5) / px, 1.6), max(rng.uniform(2, 9) / px, 2.5))
    rough = (
        rng.uniform(0.3, 1.0) * max(px, 1.0) * (rng.uniform(0.3, 1.1) * ploughed + rng.uniform(0.3, 1.2) * np.abs(torn))
    )
    rough = rough + rng.uniform(0.05, 0.3) * smooth_field(rng, size, size, 0.7 / px, 1.4 / px)
    where = (stroke.to_picture(envelope - np.float32(level)) > 0) & worn
    return where, stroke.to_picture(rough.astype(np.float32))


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One milled surface, run or not, as a micrograph with its truth.

    pixel_size_um: side of a pixel, about 0.12–2.2 µm. shape: (rows, cols). All else is drawn from rng, so the same
    generator state gives the same sample. Smear and scuffing occur only where the ring ran.
    """
    px, (rows, cols) = pixel_size_um, shape
    names = list(_FINISHES)
    finish = names[rng.choice(len(names), p=[_FINISHES[name][0] for name in names])]
    _, _, _, shares, _, angles = _FINISHES[finish]
    stroke_deg = rng.choice([90.0, 0.0, rng.uniform(0, 180)], p=[0.45, 0.3, 0.25]) + rng.normal(0, 2.5)
    half_angle = rng.uniform(*angles) / 2
    stroke = _Frame(direction_deg=stroke_deg, shape=shape)
    run = _draw_run(rng, stroke, px)
    size = 2 * stroke.radius
    lengths = np.broadcast_to(run.worn[:, None], (size, size))
    worn_soft = stroke.to_picture(np.ascontiguousarray(lengths)) if run.worn.any() else np.zeros(shape, np.float32)
    worn = worn_soft > 0.5
    balance = np.clip(rng.normal(0.5, 0.12), 0.08, 0.92) if rng.random() < 0.85 else rng.uniform(0.02, 0.2)
    share = rng.uniform(*shares)
    ground, pile, floor = np.zeros(shape, np.float32), np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    marks, footprint = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    mark_um = rng.uniform(0.01, 0.14)
    one_lay = rng.random() < 0.15  # closing prefers one lay
    for sign, part in ((1, balance), (-1, 1 - balance)):
        lay = _Frame(direction_deg=stroke_deg + 90 + sign * half_angle, shape=shape)
        here = _Run(**{**run.__dict__, "severity": run.severity * (0.15 if one_lay and sign > 0 else 1.0)})
        cut, rim, shade, fine, closed = _mill_lay(rng, lay, stroke_deg, px, finish, share * part, here)
        deeper = cut < ground
        floor = np.where(deeper, shade, floor)
        pile = np.where(cut < -0.05, 0, np.maximum(pile * (ground > -0.05), rim * (ground > -DEEP_UM)))
        ground = np.minimum(ground, cut)
        footprint |= closed
        marks += fine * np.float32(mark_um * rng.uniform(0.4, 1))
    codes = (ground < -DEEP_UM).astype(np.uint8)
    codes[(codes == 0) & (footprint > 0) & worn] = 2
    polish = np.float32(rng.uniform(0.5, 0.97))
    marks *= 1 - polish * worn_soft
    stroke_marks = stroke.to_picture(
        smooth_field(rng, size, size, rng.uniform(0.4, 2.0) / px, rng.uniform(60, 400) / px)
    )
    closed_soft = cv2.blur((codes == 2).astype(np.float32), (3, 3))
    marks += (
        stroke_marks
        * worn_soft
        * np.float32(rng.uniform(0.03, 0.13))
        * (1 + np.float32(rng.uniform(0, 1.5)) * closed_soft)
    )
    if (codes == 2).any() and rng.random() < 0.6:  # folds: crumpled metal that was pushed over
        folds = stroke.to_picture(smooth_field(rng, size, size, rng.uniform(0.8, 3) / px, rng.uniform(3, 20) / px))
        marks += np.float32(rng.uniform(0.03, 0.2)) * np.maximum(folds, -0.5) * closed_soft
    inside = (codes == 1).astype(np.float32)
    bed = smooth_field(rng, rows, cols, rng.uniform(0.5, 2.5) / px, rng.uniform(0.5, 2.5) / px)
    marks += bed * (np.float32(rng.uniform(0.005, 0.03)) + np.float32(rng.uniform(0.02, 0.3)) * inside)
    kind = finish if not worn.any() else f"{finish}_run"
    height = ground + pile + marks
    material = np.float32(rng.uniform(0.02, 0.1) * rng.choice([-1, 1])) * worn_soft
    if run.worn.any() and rng.random() < 0.28:
        where, rough = _scuff(rng, stroke, worn, px)
        bury = rng.uniform(0.5, 1.0)
        height = np.where(where, height * np.float32(1 - bury) + rough, height)
        floor = np.where(where, floor * np.float32(1 - bury), floor)
        material = material + where * np.float32(rng.uniform(0.04, 0.15) * rng.choice([-1, 1]))
        codes[where] = 3
        kind += "_scuffed"
    relief, tone, debris = look_alikes(rng, shape, px, stroke, bool(worn.any()))
    signal = electrons(rng, height + relief, floor, material + tone, px)
    plain = signal[codes == 0]
    signal -= np.float32(np.median(plain[::7])) if plain.size > 50 else np.float32(signal.mean())
    deep = signal[codes == 1]
    contrast = max(
        float(np.abs(deep[::5]).mean()) if deep.size > 50 else 0.25, float(signal[::6, ::6].std()) * 0.6, 0.05
    )
    hard = rng.random() < 0.13
    drop_unseen(signal, codes, contrast * (2 if hard else 1), px)
    codes[debris > 0] = 255
    return Made(image=instrument(rng, signal, contrast, hard=hard), codes=codes, worn=worn, kind=kind)
