"""Grooves as strips about a line, and the covers that closed them.

A strip lists the pixels near a line with s (µm along it) and d (µm from it). All maps of a field are flat inside `Sheet`.
"""

from dataclasses import dataclass, field

import numpy as np

from makers.collaged_texture import log_uniform, stretched

COVERS = (
    "cap",
    "bridge",
    "lip",
    "slit",
    "fold",
    "feather",
    "flush",
    "tongue",
    "porous",
    "cracked",
    "fill",
    "fade",
    "shallow",
)


@dataclass
class Sheet:
    """Maps of one field: strength of groove look, depth, floor tone, edge lines, cover share, tone, look and trace."""

    shape: tuple[int, int]
    px: float
    stroke: float
    maps: dict = field(default_factory=dict)

    def __post_init__(self):
        self.clear()

    def clear(self):
        size = self.shape[0] * self.shape[1]
        for name in ("open", "depth", "floor", "rim", "closed", "residue", "tone", "look", "trace", "lonely"):
            self.maps[name] = np.zeros(size, np.float32)

    def __getitem__(self, name):
        return self.maps[name]


@dataclass
class Strip:
    """Pixels near a line: flat index, s and d in µm; pq: µm along and across the stroke."""

    index: np.ndarray
    s: np.ndarray
    d: np.ndarray
    length: float


def strip(sheet, origin, angle, half, bend=(0.0, 1.0, 0.0)):
    """Pixels within `half` µm of the line through origin (x, y in px); bend = amplitude µm, wave length µm, phase."""
    rows, cols = sheet.shape
    c, s = np.cos(angle), np.sin(angle)
    swap = abs(c) < abs(s)
    n, m = (rows, cols) if swap else (cols, rows)
    lead, rest = (s, c) if swap else (c, s)
    a0, b0 = (origin[1], origin[0]) if swap else origin
    a = np.arange(n, dtype=np.float32) - np.float32(a0)
    wave = bend[0] / sheet.px / abs(lead) * np.sin(2 * np.pi * a * sheet.px / lead / bend[1] + bend[2])
    centre = b0 + a * (rest / lead) + wave
    reach = int(np.ceil(half / sheet.px / abs(lead))) + 2
    keep = (centre > -reach) & (centre < m + reach)
    if not keep.any():
        return None
    at = np.flatnonzero(keep)
    b = np.floor(centre[at]).astype(np.int32)[:, None] + np.arange(-reach, reach + 1, dtype=np.int32)
    off = (b - centre[at, None]).astype(np.float32)
    along = (a[at, None] * lead + (b - np.float32(b0)) * rest).astype(np.float32) * np.float32(sheet.px)
    inside = (b >= 0) & (b < m)
    line = np.broadcast_to(at[:, None].astype(np.int32), b.shape)
    index = (line * cols + b if swap else b * cols + line)[inside]
    d = off[inside] * np.float32(lead * sheet.px * (-1 if swap else 1))
    along = along[inside]
    if along.size == 0:
        return None
    start = float(along.min())
    return Strip(index, along - np.float32(start), d, float(along.max()) - start)


def wander(rng, at, grain, length):
    """One-dimensional noise of spread 1 with knots `grain` apart."""
    knots = rng.standard_normal(int(min(length / grain, 4000)) + 4).astype(np.float32)
    place = np.clip(at / np.float32(max(grain, length / 4000)), 0, len(knots) - 1.001)
    low = place.astype(np.int32)
    part = place - low
    part = part * part * (3 - 2 * part)
    return knots[low] * (1 - part) + knots[low + 1] * part


@dataclass
class Wear:
    """How a field's grooves were closed: habits, share of length, where, and the noise its fronts follow."""

    covers: list
    share: float
    where: str
    lay: int
    ragged: np.ndarray
    holes: np.ndarray
    patch: np.ndarray
    stops: list
    scale: float
    stealth: float
    worn: np.ndarray
    tones: tuple


def draw_wear(rng, sheet, worn, across):
    """across: flat map of µm across the stroke."""
    px = sheet.px
    count = int(rng.choice([1, 2, 3, 5], p=[0.35, 0.3, 0.2, 0.15]))
    where = str(rng.choice(["runs", "whole", "band", "lay", "patch"], p=[0.4, 0.17, 0.15, 0.08, 0.2]))
    share = log_uniform(rng, 0.2, 0.8)
    fine = log_uniform(rng, 0.4, 4) / px
    ragged = stretched(rng, sheet.shape, max(fine, 1.5) * log_uniform(rng, 2, 12), max(fine, 1.5), sheet.stroke).ravel()
    hole = max(log_uniform(rng, 1.5, 8) / px, 5)
    holes = stretched(rng, sheet.shape, hole * log_uniform(rng, 1, 3), hole, sheet.stroke).ravel()
    broad = log_uniform(rng, 0.04, 0.4) * min(sheet.shape)
    patch = stretched(rng, sheet.shape, broad * log_uniform(rng, 1, 8), broad, sheet.stroke).ravel()
    stops, span = [], float(across.max() - across.min())
    for _ in range(rng.integers(1, 5)):
        wide = span * share * rng.uniform(0.4, 1) / 2
        low = rng.uniform(across.min() - wide / 2, across.max() - wide / 2)
        stops.append((low, low + wide))
    covers = [str(k) for k in rng.choice(COVERS, count)]
    if covers == ["shallow"]:
        covers.append("cap")
    return Wear(
        covers,
        share,
        where,
        int(rng.integers(2)),
        ragged,
        holes,
        patch,
        stops,
        log_uniform(rng, 0.5, 30),
        rng.beta(0.7, 1.0),
        worn.ravel(),
        (rng.normal(0, 0.6) if rng.random() < 0.65 else 0.0, rng.uniform(0.1, 1.0) * (rng.random() < 0.6)),
    )


def runs_of(rng, wear, lay, width, length):
    """Closed runs (start, end) in µm along a groove."""
    if wear.where == "lay" and lay != wear.lay:
        return []
    if wear.where == "whole":
        return [(-9e3, 9e3)] if rng.random() < wear.share else []
    share = float(np.clip(wear.share * rng.uniform(0.4, 1.6), 0.05, 0.95))
    if wear.where == "lay":
        share = min(1.0, share * 1.6)
    mean = float(np.clip(width * wear.scale, width * 0.5, length))
    total, runs = 0.0, []
    for _ in range(60):
        if total > share * length:
            break
        part = mean * log_uniform(rng, 0.4, 2.5)
        part = min(part, max(share * length * 1.1, width * 0.5))
        start = rng.uniform(-part * 0.5, length - part * 0.5)
        runs.append((start, start + part))
        total += part
    return runs


def cover(rng, sheet, wear, st, t, half, kind, sd):
    """Cover share 0–1 for pixels with sd > 0 inside a run; residue of groove look; extra line; all flat."""
    px = np.float32(sheet.px)
    soft = np.clip(sd / px + 0.5, 0, 1)
    residue = np.zeros_like(sd)
    line = np.zeros_like(sd)
    side = np.float32(rng.choice([-1, 1]))
    run = (t * side + 1) / 2
    size = max(float(half.max()), sheet.px)
    if kind in ("lip", "tongue", "fold"):
        grain = size * log_uniform(rng, 0.2, 3) if kind == "tongue" else size * log_uniform(rng, 1, 12)
        spread = rng.uniform(0.2, 0.45) if kind == "tongue" else rng.uniform(0.03, 0.2)
        middle = rng.uniform(0.45, 0.9) if kind != "fold" else rng.uniform(0.25, 0.75)
        grain = max(grain, 3 * sheet.px)
        reach = middle + spread * wander(rng, st.s, grain, st.length)
        gap = (reach - run) * 2 * half
        if kind == "fold":
            width = max(0.7 * sheet.px, log_uniform(rng, 0.15, 0.8))
            line = rng.choice([-1, 1], p=[0.75, 0.25]) * np.exp(-((gap / width) ** 2)) * rng.uniform(0.5, 1.6)
        else:
            soft = np.minimum(soft, np.clip(np.where(reach > 0.93, 9, gap) / px + 0.5, 0, 1))
    elif kind == "slit":
        left = rng.uniform(0.08, 0.4) + 0.1 * wander(rng, st.s, size * 3, st.length)
        left = np.maximum(left, 1.2 * px / half) if rng.random() < 0.8 else left
        soft = np.minimum(soft, np.clip((np.abs(t - side * rng.uniform(0, 0.5)) - left) * half / px + 0.5, 0, 1))
    elif kind == "bridge":
        gaps = wander(rng, st.s, max(size * log_uniform(rng, 0.4, 2), 3 * sheet.px), st.length) - rng.uniform(-0.4, 0.5)
        soft = np.minimum(soft, np.clip(gaps * half / px + 0.5, 0, 1))
    elif kind == "porous":
        level = rng.uniform(0.8, 1.8)
        soft = np.minimum(soft, np.clip((level - wear.holes[st.index]) * 3 + 0.5, 0, 1))
    elif kind == "cracked":
        crack = np.abs(wear.holes[st.index] + 0.4 * wear.ragged[st.index])
        soft = np.minimum(soft, np.clip((crack - rng.uniform(0.08, 0.25)) * 5 + 0.5, 0, 1))
    elif kind == "shallow":  # filled in part, still deeper than 0.5 µm
        soft = np.zeros_like(soft)
        residue += np.clip(sd / (size * rng.uniform(0.1, 2)) + 0.5, 0, 1) * np.float32(rng.uniform(0.15, 0.45))
    elif kind == "fill":
        residue += np.float32(rng.uniform(0.05, 0.25))
    elif kind == "fade":
        ramp = size * log_uniform(rng, 0.5, 4)
        left = np.clip(1 - sd / ramp, 0, 1)
        residue += 0.35 * left
    return soft, residue, line


def lay_groove(rng, sheet, look, wear, lay, angle, origin, width, depth, style):
    """Draw one groove into the sheet's maps, with its closed runs where wear is given."""
    half, px = width / 2, sheet.px
    flank = half * 0.15 + 1.5 * px
    bend = (0.0, 1.0, 0.0)
    if style["bend"] > 0:
        bend = (style["bend"] * rng.uniform(0.3, 1), style["wave"] * rng.uniform(0.7, 1.4), rng.uniform(0, 6.3))
    st = strip(sheet, origin, angle, half * 1.3 + flank + 1.0, bend)
    if st is None or st.length < 2 * width:
        return
    local = half * np.clip(1 + style["uneven"] * wander(rng, st.s, max(width * 3, 6 * px), st.length), 0.6, 1.3)
    if rng.random() < style["ends"]:
        cut = rng.uniform(0.1, 0.9) * st.length
        ahead = (st.s - np.float32(cut)) * np.float32(rng.choice([-1, 1]))
        local = local * np.clip(ahead / (width * rng.uniform(1, 8)), 0, 1) ** 0.6
    local = np.maximum(local.astype(np.float32), 1e-3)
    edge = local - np.abs(st.d)
    ragged = style["ragged"]
    if ragged > 0:
        edge = edge + np.float32(ragged) * look["edge_noise"][st.index] * (local > 2e-3)
    t = np.clip(st.d / local, -1.6, 1.6)
    groove = np.clip(edge / np.float32(px + style["soft"] * half) + 0.5, 0, 1)
    groove[local < 0.6 * px] = 0
    strength = groove.copy()
    weak = depth < 0.5
    rim_width = np.float32(max(0.8 * px, style["rim_um"]))
    rim = np.exp(-((np.maximum(-edge, edge * style["rim_in"]) / rim_width) ** 2))
    rim = rim * (1 + np.float32(style["rim_side"]) * np.sign(st.d)) * (local > px)
    if style["rim_noise"] > 0:
        rim = rim * np.clip(1 + style["rim_noise"] * look["edge_noise"][st.index], 0, 2.5)
    closed = np.zeros_like(groove)
    residue, tone, trace, which, lift, lonely = (np.zeros_like(groove) for _ in range(6))
    if wear is not None and not weak:
        closed, residue, tone, trace, which, lift, lonely = close(rng, sheet, wear, st, t, local, half, angle, lay, rim)
    pale = -np.sign(look["contrast"])  # from floor towards plateau
    tone_floor = style["floor_spread"] * rng.normal() + pale * np.clip(0.35 * (2.5 - depth) / 2, -0.1, 0.35)
    bottom = tone_floor + style["wall"] * t + style["bowl"] * (1 - t * t) + pale * lift
    if style["lines"] > 0:
        bottom = bottom + style["lines"] * wander(
            rng, (t + 1.6) * np.float32(half), max(1.3 * px, half * style["line_grain"]), 3.2 * half
        )
    i = st.index
    if weak:
        faint = np.float32(depth / 0.5 * style["faint"])
        mark = groove * faint
        sheet["residue"][i] = np.maximum(sheet["residue"][i], np.where(sheet["open"][i] > 0, 0, mark))
        sheet["floor"][i] = np.where(sheet["open"][i] > 0.05, sheet["floor"][i], bottom)
        sheet["depth"][i] = np.maximum(sheet["depth"][i], mark)
        return
    opened = strength * (1 - closed)
    shut = np.minimum(strength, closed)
    newer = style["newer"]
    cut = opened > (0.5 if newer else np.maximum(sheet["open"][i], 0.5))
    sheet["floor"][i] = np.where(cut | (sheet["open"][i] < 0.05), bottom, sheet["floor"][i])
    body = np.clip(edge / (half * style["slope"]), 0, 1)
    sheet["depth"][i] = np.maximum(sheet["depth"][i], (0.5 + depth * body) * opened + residue * shut)
    own = rim * (1 - closed)
    sheet["rim"][i] = np.where(cut & newer, own, np.maximum(sheet["rim"][i], own))
    sheet["open"][i] = np.maximum(sheet["open"][i], opened)
    sheet["residue"][i] = np.maximum(sheet["residue"][i], residue * shut)
    more = shut > np.maximum(sheet["closed"][i], 0.02)
    for name, value in (("tone", tone), ("look", which), ("trace", trace), ("lonely", lonely)):
        sheet[name][i] = np.where(
            more | ((name == "trace") & (np.abs(value) > np.abs(sheet[name][i]))), value, sheet[name][i]
        )
    sheet["closed"][i] = np.maximum(sheet["closed"][i], shut)


def close(rng, sheet, wear, st, t, local, half, angle, lay, rim):
    """Cover share, residue, tone, trace, look number, lift of the open floor, and whether no open ground is left."""
    px = np.float32(sheet.px)
    zero = np.zeros_like(st.s)
    share, residue, tone, trace, which, lift = (zero.copy() for _ in range(6))
    tilt = angle - sheet.stroke
    cot = np.cos(tilt) / (np.sin(tilt) if abs(np.sin(tilt)) > 0.2 else 0.2)
    lean = rng.choice([0.0, 1.0, -1.0], p=[0.35, 0.45, 0.2])
    place = st.s - np.float32(np.clip(cot, -3, 3)) * st.d if lean > 0 else st.s
    if lean < 0:
        place = place + rng.choice([-1, 1]) * 0.7 * half * np.minimum(t * t, 1)
    whole = False
    if wear.where == "band":
        centre = sheet.maps["across"][st.index]
        parts = [np.minimum(centre - a, b - centre) for a, b in wear.stops]
    elif wear.where == "patch":
        level = np.float32(np.interp(wear.share, [0, 0.16, 0.5, 0.84, 1], [2.2, 1, 0, -1, -2.2]))
        parts = [(wear.patch[st.index] - level) * np.float32(half * 2)]
    else:
        runs = runs_of(rng, wear, lay, 2 * half, st.length)
        whole = bool(runs) and max(b - a for a, b in runs) > 0.85 * st.length
        parts = [np.minimum(place - np.float32(a), np.float32(b) - place) for a, b in runs]
    worn = wear.worn[st.index]
    for part in parts:
        kind = wear.covers[rng.integers(len(wear.covers))]
        rough = half * (rng.uniform(0.4, 1.5) if kind == "feather" else log_uniform(rng, 0.02, 0.5))
        sd = part + np.float32(rough) * wear.ragged[st.index] * (kind != "flush")
        near = np.flatnonzero((sd > -2 * px) & worn)
        if near.size == 0:
            continue
        sub = type(st)(st.index[near], st.s[near], st.d[near], st.length)
        soft, left, line = cover(rng, sheet, wear, sub, t[near], local[near], kind, sd[near])
        if kind == "shallow":
            lift[near] = np.maximum(lift[near], left)
            continue
        quiet = wear.stealth if kind != "flush" else min(1.0, wear.stealth + 0.3)
        loud = max(1 - quiet * rng.uniform(0.5, 1.2), 0.0)
        if whole:
            loud = max(loud, 0.45)
        hue = (wear.tones[0] + wear.tones[1] * rng.normal()) * min(1.0, loud + 0.3)
        if whole:
            hue = float(np.clip(hue, -0.3, 0.3))
        mine = soft >= share[near]
        spot = near[mine]
        share[spot] = soft[mine]
        residue[spot] = left[mine]
        tone[spot] = hue
        rimmed = rng.choice([0.0, 0.35, 0.8], p=[0.35, 0.4, 0.25]) * loud
        if whole:
            rimmed = float(np.clip(rimmed, 0.3, 0.6))
        sign = rng.choice([-1, 1], p=[0.4, 0.6])
        trace[spot] = (line * soft)[mine] + sign * rimmed * (rim[near] * soft)[mine]
        which[spot] = float(rng.random() < 0.5)
    core = np.abs(t) < 0.8
    alone = bool(core.any()) and share[core].mean() > 0.8
    if alone and not whole:  # hardly any open ground tells of the groove: leave a trace
        trace += np.float32(rng.choice([-1, 1]) * rng.uniform(0.3, 0.8)) * rim * share
        tone = np.clip(tone, -0.3, 0.3)
    return share, residue, tone, trace, which, lift, np.full_like(share, whole or alone)
