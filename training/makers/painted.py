"""A maker that paints what a microscopist sees: no height map, only ribbons, textures and lines of grey.

A groove is a ribbon along a path. It has a floor grey, floor texture, streaks along itself, rim lines, a gradient from
wall to wall and two edges that wander. Metal that moved closes the ribbon from one edge or both; the closed footprint
is painted over with the polished plateau, a cap tone, stroke marks, and what is left of the rims. Appearance is drawn
in steps: per picture, per lay, per groove, along the groove. Truth follows from the edges of the ribbons.

Sources, from memory: handbooks on honed bores (grooves 5–50 µm wide, 1–10 µm deep, hone angle 30–60°, 140–150° for
helical slide honing). The greys follow the look of secondary-electron pictures: bright rims, mostly darker floors.
"""

import math
from dataclasses import make_dataclass, replace

import cv2
import numpy as np

from makers.made import Made

FLOAT = np.float32
FINISHES = {"coarse": 0.22, "plateaued": 0.30, "fine": 0.14, "slide": 0.16, "unequal": 0.12, "bare": 0.06}

# How a groove looks: greys in units of the picture's contrast with plateau = 0, lengths in µm, wall and tear as shares.
Look = make_dataclass(
    "Look", ["floor", "gradient", "rim_left", "rim_right", "floor_texture", "streaks", "rim_um", "hollow", "wall_share",
             "torn"], frozen=True, kw_only=True,
)  # fmt: skip

KINDS = ("flush", "cap", "bridge", "lip", "taper", "fold")

# How moved metal closes grooves in one picture: shares 0–1, length µm, kinds as cumulative shares, the rest greys.
Smear = make_dataclass(
    "Smear", ["share", "length_um", "banding", "lay_bias", "kinds", "tone", "marks", "residue", "seam", "lip", "shadow",
              "whole_grooves"], frozen=True, kw_only=True,
)  # fmt: skip

# The picture while it is painted: layers (rows, cols) float32 (weight: 1 where the ring ran), codes uint8; px in µm.
Canvas = make_dataclass(
    "Canvas", ["shape", "px", "stroke_deg", "grey", "polished", "rough", "marks", "weight", "codes", "band"], kw_only=True
)


def _varied(rng, look, spread):
    """A look like another: its first four greys moved by about spread, the rest scaled by about spread."""
    draws = rng.normal(0, spread, 10).tolist()
    values = [float(value) for value in vars(look).values()]
    moved = [value + draw for value, draw in zip(values[:4], draws[:4], strict=True)]
    moved += [value * math.exp(draw) for value, draw in zip(values[4:], draws[4:], strict=True)]
    return Look(**dict(zip(vars(look), moved, strict=True)))


def _directed_noise(rng, shape, angle_deg, across_px, along_px):
    """Noise of about unit spread, drawn out along a direction (degrees anticlockwise from a row); (rows, cols)."""
    rows, cols = shape
    across_px, along_px = max(across_px, 1.25), max(along_px, 1.25)
    if across_px > 4:  # Nothing fine is lost at half the resolution.
        half = _directed_noise(rng, ((rows + 1) // 2, (cols + 1) // 2), angle_deg, across_px / 2, along_px / 2)
        return cv2.resize(half, (cols, rows), interpolation=cv2.INTER_LINEAR)
    cells = (int(np.hypot(rows, cols) / across_px) + 6, int(np.hypot(rows, cols) / along_px) + 6)
    small = rng.standard_normal(cells, dtype=FLOAT) * FLOAT(1.25)
    cos, sin, middle = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg)), ((cols - 1) / 2, (rows - 1) / 2)
    along, across = np.array([cos, -sin]) / along_px, np.array([sin, cos]) / across_px
    matrix = np.array([[*along, cells[1] / 2 - along @ middle], [*across, cells[0] / 2 - across @ middle]])
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(small, matrix, (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT)


def _cloud(rng, shape, cell_px):
    """Smooth isotropic noise of about unit spread with blobs of about cell_px."""
    cell_px = max(cell_px, 1.0)
    small = rng.standard_normal((int(shape[0] / cell_px) + 4, int(shape[1] / cell_px) + 4), dtype=FLOAT)
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC) * FLOAT(1.25)


def _pick(rng, *options):
    """One of the options, all alike in probability."""
    return options[int(rng.random() * len(options))]


def _wander(rng, count, step):
    """Smooth noise of about unit spread along a path, count samples, correlated over about step samples."""
    knots = rng.standard_normal((1, int(count / max(step, 1.0)) + 4), dtype=FLOAT)
    return cv2.resize(knots, (count, 1), interpolation=cv2.INTER_CUBIC)[0] * FLOAT(1.25)


def _across(shape, angle_deg):
    """Position across a direction from the picture's centre, pixels, (rows, cols) float32."""
    rows = (np.arange(shape[0], dtype=FLOAT) - (shape[0] - 1) / 2)[:, None] * FLOAT(np.cos(np.radians(angle_deg)))
    cols = (np.arange(shape[1], dtype=FLOAT) - (shape[1] - 1) / 2)[None, :] * FLOAT(np.sin(np.radians(angle_deg)))
    return rows + cols


def _line(distance, width):
    """A soft line of unit height at distance 0, half of it within ± 0.64 of width."""
    return 1.0 / (1.0 + np.square(distance / width)) ** 2


def _strokes(rng, shape, angle_deg, count, length_px, thickness, spread_deg):
    """Single fine lines near a direction, 0–1, (rows, cols) float32."""
    layer = np.zeros(shape, np.uint8)
    angles, halves = angle_deg + rng.normal(0, spread_deg, count), length_px * rng.lognormal(0, 0.7, count) / 2
    rows, cols, greys = rng.uniform(0, shape[0], count), rng.uniform(0, shape[1], count), rng.integers(60, 256, count)
    over, up = halves * np.cos(np.radians(angles)), halves * np.sin(np.radians(angles))
    ends = (np.clip([cols - over, rows + up, cols + over, rows - up], -4e3, 8e3) * 16).astype(int).T
    for (x0, y0, x1, y1), grey in zip(ends.tolist(), greys.tolist(), strict=True):
        cv2.line(layer, (x0, y0), (x1, y1), grey, thickness, cv2.LINE_AA, 4)
    return layer.astype(FLOAT) / 255


class _Ribbon:
    """Pixels of a ribbon: flat index, place along it (sample number), signed distance v across it (pixels)."""

    def __init__(self, rng, canvas, angle_deg, offset_px, reach_px, bend, stray_px):
        rows, cols = canvas.shape
        cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
        upright = abs(cos) < abs(sin)
        count, other, with_along, with_other = (rows, cols, cos, sin) if upright else (cols, rows, sin, cos)
        along = np.arange(count) - (count - 1) / 2
        curve = bend * along**2 / count + stray_px * _wander(rng, count, max(count * 0.35, 80 / canvas.px))
        centre = (other - 1) / 2 + (offset_px + curve - along * with_along) / with_other
        reach = int(reach_px / abs(with_other)) + 2
        hit = np.flatnonzero((centre > -reach) & (centre < other + reach))
        self.first, self.count = (int(hit[0]), int(hit[-1] - hit[0] + 1)) if hit.size else (0, 0)
        self.step_px = float(1 / abs(with_other))
        if self.count < 4:
            self.count = 0
            return
        centre = centre[self.first : self.first + self.count]
        place = np.floor(centre).astype(np.int32)[:, None] + np.arange(-reach, reach + 1, dtype=np.int32)
        sample, column = np.nonzero((place >= 0) & (place < other))
        place = place[sample, column]
        shift = (place - centre[sample]).astype(FLOAT)
        self.v = shift * FLOAT(with_other)
        self.flat = (sample + self.first) * cols + place if upright else place * cols + sample + self.first
        # Foot of each pixel on the centre line, and how far to go along to reach it down the stroke instead.
        self.foot = sample.astype(FLOAT) - shift * FLOAT(with_along * with_other)
        turn = np.radians(canvas.stroke_deg - angle_deg)
        per_sample = (-sin if upright else cos) * np.clip(np.cos(turn) / (np.sin(turn) + 1e-9), -2.5, 2.5)
        self.lean = FLOAT(per_sample) * self.v
        middle, places = np.clip(np.round(centre), 0, other - 1).astype(int), np.arange(self.count) + self.first
        self.centre_flat = places * cols + middle if upright else middle * cols + places


def _closing(rng, canvas, ribbon, smear, lay, half_px):
    """Closure along a groove: (10, count) rows left, right (shares of the width), tone, marks, residue left and right,
    seam, lip, shadow, crumple. All zero where nothing closed."""
    count, table = ribbon.count, np.zeros((10, ribbon.count), FLOAT)
    level = _wander(rng, count, max(smear.length_um / canvas.px / ribbon.step_px, 8.0)) * (1 - smear.banding)
    level += canvas.band.ravel()[ribbon.centre_flat] * smear.banding
    level /= np.hypot(1 - smear.banding, smear.banding)
    bias = smear.lay_bias[lay] + rng.normal(0, 0.5) + (4.0 if rng.random() < smear.whole_grooves else 0.0)
    # The share is a quantile of the normal distribution (logistic approximation, from memory).
    closed = level + bias > 0.68 * np.log((1 - smear.share) / smear.share)
    closed &= canvas.weight.ravel()[ribbon.centre_flat] > 0.5
    edges = np.flatnonzero(np.diff(np.concatenate([[0], closed.view(np.int8), [0]]))).tolist()
    width = max(2 * half_px / ribbon.step_px, 1.5)
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        kind = KINDS[min(int(np.searchsorted(smear.kinds, rng.random())), len(KINDS) - 1)]
        kind = "flush" if kind == "lip" and half_px < 2 else kind
        place = start if stop - start >= max(0.5 * width, 5) else stop
        while place < stop:
            end = min(place + int(width * rng.uniform(0.4, 1.6)) + 4, stop) if kind == "bridge" else stop
            _close_span(rng, table, place, end, kind, smear, width)
            place = end + int(width * rng.uniform(0.4, 3.0)) + 4
    table[[2, 4, 5]] *= np.clip(0.8 + 0.3 * _wander(rng, count, max(width, 4)), 0.35, 1.5)
    return table


def _close_span(rng, table, begin, end, kind, smear, width):
    """Write one closed stretch of a groove into the table of closures."""
    length, fold = end - begin, kind == "fold"
    place = np.arange(length, dtype=FLOAT)
    draw = rng.random(10).tolist()
    feather = width * (1.5 + 3.5 * draw[0] if kind == "taper" else 0.1 + 0.8 * draw[0])
    feather_end = feather if kind == "taper" else width * (0.1 + 0.8 * draw[1])
    rise = np.minimum(np.minimum((place + 1) / feather, (length - place) / feather_end), 1.0)
    ragged = rise * (1 + 0.25 * draw[2] * _wander(rng, length, max(width * 0.25, 2))) if length > 12 else rise.copy()
    meet = _pick(rng, 0.0, 1.0, 0.5, 0.15 + 0.7 * draw[3])
    left, right = meet, 1 - meet
    if kind == "lip":
        left, right = _pick(rng, (0.25 + 0.5 * draw[3], 0.0), (0.0, 0.25 + 0.5 * draw[3]))
    else:
        ragged[rise >= 0.999] = 1.12
    cover = np.minimum(np.maximum(ragged, 0), 1.25)
    table[:2, begin:end] = np.outer((left, right), cover)
    spread = rng.lognormal(0, 0.3, 3).tolist()
    residue_left, residue_right = _pick(rng, (1.0, 1.0), (1.0, 0.15), (0.15, 1.0), (0.6, -1.0))
    residue = _pick(rng, -1.0, 1.0) * smear.residue * spread[0]
    bare, flush, edge = 0.25 if kind in ("flush", "taper") else 1.0, kind == "flush", 1.6 if fold else 1.0
    looks = [
        smear.tone * spread[1] * bare, smear.marks * spread[2] * (0.4 if flush else 1.0),
        residue * residue_left, residue * residue_right, -smear.seam * (0.2 + draw[4]) * (not flush),
        smear.lip * (0.5 + 0.8 * draw[5]) * edge, smear.shadow * (0.4 + 0.8 * draw[6]) * edge,
        0.3 + 0.6 * draw[7] if fold else 0.15 * draw[7],
    ]  # fmt: skip
    table[2:, begin:end] = np.array(looks, FLOAT)[:, None]


def _paint_closed(canvas, shut, flat, from_left, from_right, base, rims, rim_px):
    """Grey beneath, rim grey and distance inside the open part (negative: closed), per pixel; shut from _closing."""
    px, total = canvas.px, shut[0] + shut[1]
    over_left, over_right = from_left - shut[0] * (from_left + from_right), from_right - shut[1] * (from_left + from_right)
    on_left, on_right = shut[0] > 0, shut[1] > 0
    footprint = np.minimum(from_left, from_right)
    cap = canvas.polished.ravel()[flat] + shut[2] + shut[3] * canvas.marks.ravel()[flat]
    cap += shut[9] * canvas.rough.ravel()[flat]
    cap += shut[6] * on_left * _line(over_left, max(0.4 / px, 0.8))
    base = base + np.clip(footprint / max(0.5 / px, 0.8) + 0.5, 0, 1) * (cap - base)
    whole = np.minimum(total * FLOAT(1.2), 1)
    thin = max(0.7 * rim_px, 0.8)
    base += whole * (shut[4] * _line(from_left, thin) + shut[5] * _line(from_right, thin))
    rim = (rims[0] * (1 - whole * on_left) + rims[1] * (1 - whole * on_right)) * np.where(total < 1, 1, 1 - whole)
    lip = on_left * _line(over_left + 0.7, 1.1) + on_right * _line(over_right + 0.7, 1.1)
    dark = on_left * _line(over_left - 1.2, 1.3) + on_right * _line(over_right - 1.2, 1.3)
    rim += (total < 1) * (footprint > 0) * (shut[7] * lip - shut[8] * dark)
    return base, rim, np.minimum(over_left, over_right)


def _paint_groove(
    rng, canvas, look, *, angle_deg, offset_px, width_um, depth_um, bend=0.0, smear=None, lay=0, loss_um=0.0, labelled=True
):
    """Paint one groove on the canvas and, if labelled, write its truth."""
    px, depth_um, loss_um = canvas.px, float(depth_um), float(loss_um)
    half_px = float(max(width_um / px, 1.7) / 2)
    rim_px = max(look.rim_um / px, 0.7)
    stray_px = rng.uniform(0, 0.35) * half_px
    ribbon = _Ribbon(rng, canvas, angle_deg, offset_px, half_px * 1.35 + 2 * rim_px + 1, bend, stray_px)
    if ribbon.count == 0:
        return
    count, step_um = ribbon.count, ribbon.step_px * px
    worn_along = canvas.weight.ravel()[ribbon.centre_flat]
    depth = depth_um * np.exp(0.18 * _wander(rng, count, 60 / step_um)) - loss_um * worn_along
    swell = np.exp(0.12 * _wander(rng, count, 40 / step_um)) * np.clip(depth / depth_um, 0.2, 1.2) ** 0.35
    for far in (False, True):
        if rng.random() < 0.15:
            away = (rng.uniform(0.1, 0.9) * count - np.arange(count, dtype=FLOAT)) * (1 if far else -1)
            swell = swell * np.sqrt(np.clip(away / (rng.uniform(2, 12) * half_px / ribbon.step_px), 0, 1))
    torn, fine = look.torn * min(1.0, 4.5 / half_px + 0.3), max(0.8 / step_um, 1.2)
    left, right = (
        np.maximum(half_px * (swell + torn * 0.5 * (_wander(rng, count, fine * 9) + _wander(rng, count, fine))), 0)
        * (swell > 0.05)
        for _ in range(2)
    )
    share = np.clip(0.6 + 0.5 * (depth - 0.5), 0, 1)
    share = np.where(depth < 0.5, 0.88 * np.square(np.clip(depth, 0, 1)), share)
    share = (share * np.clip(swell * half_px, 0, 1)).astype(FLOAT)
    floor = look.floor + 0.12 * _wander(rng, count, 25 / step_um)

    at = np.minimum(np.maximum(np.rint(ribbon.foot), 0), count - 1).astype(np.int32)
    v, flat = ribbon.v, ribbon.flat
    from_left, from_right = v + left.astype(FLOAT)[at], right.astype(FLOAT)[at] - v
    inner = footprint = np.minimum(from_left, from_right)
    codes, base, contrast = canvas.codes.ravel()[flat], canvas.grey.ravel()[flat], share[at]
    rims = look.rim_left * _line(from_left, rim_px), look.rim_right * _line(from_right, rim_px)
    rim, was_open, deep = rims[0] + rims[1], codes == 1, (depth >= 0.5)[at]
    if smear is not None and labelled:
        table = _closing(rng, canvas, ribbon, smear, lay, half_px)
        where = ribbon.foot + FLOAT(rng.uniform(0.2, 1.0)) * ribbon.lean
        where = np.minimum(np.maximum(np.rint(where), 0), count - 1).astype(np.int32)
        some = ((table[0] + table[1]) > 0)[where] & deep & ~was_open & (canvas.weight.ravel()[flat] > 0.5)
        some = np.flatnonzero(some) if table[:2].any() else []
        base[some], rim[some], over = _paint_closed(
            canvas, table[:, where[some]], flat[some], from_left[some], from_right[some], base[some],
            (rims[0][some], rims[1][some]), rim_px,
        )  # fmt: skip
        inner = footprint.copy()
        inner[some] = over
        codes[(footprint > 0) & (inner <= 0)] = 2
    wall_px = max(look.wall_share * half_px, 1.0)
    ground = np.clip((inner + min(0.42 * wall_px, 1.2 + 0.25 / px)) / wall_px, 0, 1) * contrast
    relative = np.minimum(np.maximum(v / FLOAT(half_px + 0.5), -1.2), 1.2)
    streak = look.streaks * _wander(rng, 64, _pick(rng, 2.5, 5.0, 10.0))
    profile = np.linspace(-1.2, 1.2, 64, dtype=FLOAT)
    streak += look.gradient * profile + look.hollow * (np.square(profile) - 0.6)
    tone = floor[at] + streak[(relative * 26 + 32).astype(np.int32)] + look.floor_texture * canvas.rough.ravel()[flat]
    visible = np.sqrt(contrast) * ((left + right) > 0.8)[at] * ~(was_open & (footprint < 0))
    canvas.grey.ravel()[flat] = base + ground * (tone - base) + rim * visible
    if labelled:
        codes[(inner > 0) & deep] = 1
        canvas.codes.ravel()[flat] = codes


def _first_look(rng):
    """The look of grooves in one picture, and a word for it."""
    word = rng.choice(["dark", "rims", "bright", "sidelit"], p=[0.66, 0.12, 0.09, 0.13])
    floor = {"dark": -rng.uniform(0.7, 1.6), "rims": rng.normal(0, 0.08), "bright": rng.uniform(0.3, 0.8),
             "sidelit": rng.uniform(-0.5, 0.0)}[str(word)]  # fmt: skip
    strength = rng.uniform(0.7, 1.6) if word in ("rims", "sidelit") else rng.uniform(0, 1.0)
    balance = rng.choice([1.0, 0.3, -0.3, -0.8]) if word != "rims" else rng.choice([1.0, 0.5, -0.7])
    return str(word), Look(
        floor=floor, floor_texture=rng.uniform(0.05, 0.45), streaks=rng.uniform(0.05, 0.45),
        rim_left=strength, rim_right=strength * balance, rim_um=rng.uniform(0.25, 1.3),
        gradient=rng.normal(0, 0.45 if word == "sidelit" else 0.15), hollow=rng.uniform(0, 0.4),
        wall_share=rng.uniform(0.1, 0.7), torn=rng.uniform(0.02, 0.15),
    )  # fmt: skip


def _first_smear(rng, severity, busy):
    """The smearing of one picture at a severity of 0–1; traces stand out of its busyness (noise and texture)."""
    return Smear(
        share=float(np.clip(severity, 0.02, 0.9)), length_um=float(rng.lognormal(np.log(28), 0.8)),
        banding=rng.choice([0.0, rng.uniform(0.2, 0.8)]), lay_bias=tuple(rng.normal(0, rng.choice([0.1, 0.8]), 2)),
        kinds=np.cumsum(rng.dirichlet(np.full(len(KINDS), 0.7))), tone=_pick(rng, -1, 1) * rng.uniform(0.1, 0.5),
        marks=rng.uniform(0.1, 0.6), residue=min(0.2 + 0.75 * busy, 1.0) * rng.lognormal(0, 0.35),
        seam=rng.uniform(0, 0.6), lip=rng.uniform(0.2, 1.1), shadow=rng.uniform(0, 0.8),
        whole_grooves=_pick(rng, 0.0, rng.uniform(0, 0.3)),
    )  # fmt: skip


def _plateau(rng, shape, px, stroke_deg, lays):
    """Plateau layers: fresh grey, polished grey, isotropic roughness, stroke marks; all (rows, cols) float32."""
    rough = rng.standard_normal(shape, dtype=FLOAT) * FLOAT(0.6)
    rough += _cloud(rng, shape, rng.uniform(0.6, 2.5) / px) * FLOAT(0.6)
    mottle = _cloud(rng, shape, rng.uniform(8, 60) / px) * FLOAT(rng.uniform(0, 0.12))
    mottle += rough * FLOAT(rng.uniform(0.02, 0.16))
    fine = np.zeros(shape, FLOAT)
    for lay in lays:
        noise = _directed_noise(rng, shape, lay, rng.uniform(0.5, 2.2) / px, rng.uniform(30, 250) / px)
        fine += noise * FLOAT(rng.uniform(0.03, 0.22))
        count = int(min(rng.uniform(0, 160), 160 * px * 4 + 10))
        lines = _strokes(rng, shape, lay, count, rng.uniform(30, 300) / px, max(1, round(0.8 / px)), rng.uniform(0.3, 3))
        fine += lines * FLOAT(rng.normal(0, 0.35))
    marks = _directed_noise(rng, shape, stroke_deg, rng.uniform(0.4, 1.5) / px, rng.uniform(30, 150) / px)
    marks += _directed_noise(rng, shape, stroke_deg, rng.uniform(2, 8) / px, rng.uniform(80, 400) / px) * FLOAT(0.5)
    marks *= FLOAT(0.25) + np.abs(marks) * FLOAT(rng.uniform(0.1, 0.5))
    polish = rng.uniform(0.1, 0.95)
    polished = mottle + fine * FLOAT(1 - polish) + marks * FLOAT(rng.uniform(0.08, 0.35)) + FLOAT(rng.normal(0, 0.15))
    return mottle + fine, polished, rough, marks


def _look_alikes(rng, canvas, worn_share):
    """Graphite flakes, pull-outs, stains, tribofilm and scratches: seen, but plateau in truth."""
    shape, px = canvas.shape, canvas.px
    if rng.random() < 0.45:
        layer = np.zeros(shape, np.uint8)
        for _ in range(min(int(rng.uniform(2e-5, 2.5e-4) * shape[0] * shape[1] * px**2) + rng.integers(0, 3), 90)):
            turns = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, 9))
            steps = rng.lognormal(np.log(25), 0.6) / px / 9 * np.stack([np.cos(turns), np.sin(turns)], 1)
            path = np.cumsum(steps, 0) + rng.uniform(0, 1, 2) * (shape[1], shape[0])
            thick = int(np.clip(rng.uniform(0.8, 3.5) / px, 1, 60))
            cv2.polylines(layer, [(path * 16).astype(np.int32)], False, int(rng.integers(120, 256)), thick, cv2.LINE_AA, 4)
        tone = FLOAT(-rng.uniform(0.5, 1.6) / 255)
        canvas.grey += tone * layer + FLOAT(rng.uniform(0, 0.4) / 255) * (cv2.blur(layer, (3, 3)) - layer.astype(FLOAT))
    if rng.random() < 0.35:
        for _ in range(rng.integers(1, 9)):
            _blob(rng, canvas, rng.lognormal(np.log(4), 0.6), -rng.uniform(0.4, 1.4), rng.uniform(0, 0.8), False)
    if rng.random() < 0.35:
        patch = _cloud(rng, shape, rng.uniform(20, 120) / px) - FLOAT(rng.uniform(0.6, 1.6))
        canvas.grey += np.clip(patch * FLOAT(rng.uniform(1, 6)), 0, 1) * FLOAT(rng.normal(0, 0.35))
    if worn_share and rng.random() < 0.35:
        film = _directed_noise(rng, shape, canvas.stroke_deg, rng.uniform(3, 20) / px, rng.uniform(15, 120) / px)
        film = np.clip((film - FLOAT(rng.uniform(0, 1))) * FLOAT(rng.uniform(1, 4)), 0, 1) * canvas.weight
        canvas.grey += film * FLOAT(rng.choice([-1, 1], p=[0.75, 0.25]) * rng.uniform(0.1, 0.5))
    span = np.hypot(*shape) / 2
    for _ in range(rng.poisson(3 if worn_share else 0.5)):
        look = replace(_first_look(rng)[1], floor=_pick(rng, -1, 1) * rng.uniform(0.2, 0.9), rim_left=0.3, rim_right=0.1)
        _paint_groove(
            rng, canvas, look, angle_deg=canvas.stroke_deg + rng.normal(0, 1.2), offset_px=rng.uniform(-span, span),
            width_um=rng.uniform(0.8, 6), depth_um=2.0, labelled=False,
        )  # fmt: skip


def _blob(rng, canvas, size_um, tone, rim, hides):
    """A ragged patch: a pull-out (dark, bright rim), or debris (bright, shadow beside it; truth 255)."""
    radius = np.clip(size_um / canvas.px, 1.5, min(canvas.shape) / 6)
    turns = np.linspace(0, 2 * np.pi, 14, endpoint=False)
    ragged = rng.standard_normal(14)
    reach = radius * np.exp(0.14 * (ragged + np.roll(ragged, 1))) * (1 + rng.uniform(0, 0.6) * np.cos(turns - ragged[0]))
    centre = rng.uniform(0, 1, 2) * (canvas.shape[1], canvas.shape[0])
    outline = np.stack([reach * np.cos(turns), reach * np.sin(turns)], 1) + centre
    low = np.maximum(np.floor(outline.min(0) - 6), 0).astype(int)
    high = np.minimum(np.ceil(outline.max(0) + 7), (canvas.shape[1], canvas.shape[0])).astype(int)
    if (high - low < 2).any():
        return
    window = (slice(low[1], high[1]), slice(low[0], high[0]))
    mask = np.zeros((high[1] - low[1], high[0] - low[0]), np.uint8)
    cv2.fillPoly(mask, [((outline - low) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    cover, grey = mask.astype(FLOAT) / 255, canvas.grey[window]
    shadow = np.roll(cv2.GaussianBlur(cover, (0, 0), 1.5), rng.integers(-3, 4, 2), (0, 1)) * (1 - cover)
    grey += shadow * FLOAT(-rng.uniform(0, 1) if hides else rim)
    grey += cover * (FLOAT(tone) + FLOAT(0.3) * canvas.rough[window] - grey)
    if hides:
        canvas.codes[window][mask > 127] = 255


def _scuff(rng, canvas, across):
    """Torn, ploughed streaks along the stroke, in bands, over everything beneath; truth 3."""
    px, shape = canvas.px, canvas.shape
    half_px = rng.uniform(0.04, 0.2) * max(shape) + rng.uniform(3, 15) / px
    band = np.maximum(1 - np.abs(across - FLOAT(rng.uniform(-0.4, 0.4) * max(shape))) / FLOAT(half_px), -1.5)
    streaks = _directed_noise(rng, shape, canvas.stroke_deg, max(rng.uniform(2.5, 12) / px, 5), rng.uniform(40, 250) / px)
    amount = band + streaks * FLOAT(rng.uniform(0.2, 0.8)) + canvas.rough * FLOAT(0.05)
    torn = cv2.GaussianBlur(amount, (0, 0), max(0.5, 0.5 / px)) > rng.uniform(0.1, 0.5)
    torn &= canvas.weight > 0.5
    torn = cv2.morphologyEx(torn.view(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)).view(bool)
    widths = np.clip(rng.uniform(0.8, 4, 2) / px, 1.3, 8)
    plough = _directed_noise(rng, shape, canvas.stroke_deg, widths[0], widths[0] * rng.uniform(10, 30))
    clods = _directed_noise(rng, shape, canvas.stroke_deg, widths[1], widths[1] * rng.uniform(1.3, 4))
    rags = plough * FLOAT(rng.uniform(0.35, 0.9)) + clods * FLOAT(rng.uniform(0.15, 0.8))
    rags += canvas.rough * FLOAT(rng.uniform(0.2, 0.6)) + FLOAT(rng.choice([-1, 1]) * rng.uniform(0.05, 0.6))
    rim = cv2.blur(torn.astype(FLOAT), (3, 3))
    canvas.grey += torn * FLOAT(rng.uniform(0.8, 1.0)) * (rags - canvas.grey) + (rim - rim * rim) * FLOAT(rng.uniform(0, 2.5))
    canvas.codes[torn] = 3


def _photograph(rng, canvas, hard, noise_share):
    """The instrument: beam blur, shading, shot noise, line noise, charging, gamma, 8 bits, now and then JPEG; uint8."""
    shape, grey = canvas.shape, canvas.grey
    beam = np.clip(rng.lognormal(np.log(0.10), 0.5) / canvas.px, 0.0, 1.2) + rng.uniform(0.3, 1.0) + 0.7 * hard
    grey = cv2.GaussianBlur(grey, (0, 0), sigmaX=beam * rng.uniform(0.8, 1.25), sigmaY=beam)
    contrast, level = rng.uniform(10, 20) if hard else rng.uniform(22, 75), rng.uniform(75, 175)
    grey = level + contrast * grey
    tilted = _across(shape, rng.uniform(0, 180)) / FLOAT(max(shape) / 2)
    grey += tilted * FLOAT(rng.normal(0, 9)) + np.square(tilted) * FLOAT(rng.normal(0, 6))
    if rng.random() < 0.15:
        grey += _cloud(rng, shape, max(shape) / 3) * FLOAT(rng.uniform(3, 15))
    if rng.random() < 0.12:
        grey += _wander(rng, shape[0], rng.uniform(2, 30))[:, None] * FLOAT(rng.uniform(2, 8))
    if rng.random() < 0.04:  # Charging that hides the surface.
        bloom = np.clip(_cloud(rng, shape, max(shape) / 4) - FLOAT(rng.uniform(1.0, 1.8)), 0, 1) * FLOAT(1500)
        canvas.codes[bloom > 100] = 255
        grey += bloom
    grey = np.clip(grey, 1, 400)
    grey = 255 * cv2.pow(grey / FLOAT(255), rng.uniform(0.7, 1.4)) if rng.random() < 0.4 else grey
    noise = rng.standard_normal(shape, dtype=FLOAT)
    noise = cv2.blur(noise, (3, 1)) * FLOAT(1.6) if rng.random() < 0.2 else noise
    grey += noise * np.sqrt(grey / FLOAT(level)) * FLOAT(noise_share * contrast)
    grey += rng.normal(0, _pick(rng, 0, 0, 0, 0, 0, rng.uniform(0.5, 3)), (shape[0], 1)).astype(FLOAT)
    image = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    if rng.random() < 0.12:
        coded = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 96))])[1]
        image = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return image


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Paint one picture with its truth; the same generator state gives the same picture.

    pixel_size_um 0.12–2.2 µm, shape (rows, cols) px. Everything else is drawn from rng. Returns Made: image (rows,
    cols) uint8, codes (rows, cols) uint8 in 0..3 and 255, worn (rows, cols) bool, kind "finish-look".
    """
    px = float(pixel_size_um)
    finish = str(rng.choice(list(FINISHES), p=list(FINISHES.values())))
    stroke = rng.choice([90.0, 0.0, rng.uniform(0, 180)], p=[0.42, 0.38, 0.2]) + rng.normal(0, 2.5)
    hone = rng.uniform(115, 150) if finish == "slide" else rng.choice([rng.uniform(20, 110), rng.uniform(30, 65)])
    lays = [(stroke + 90 + sign * hone / 2 + rng.normal(0, 1.5)) % 180 for sign in (1, -1)]
    across = _across(shape, stroke)
    worn_share = rng.choice([0.0, 1.0, 0.5], p=[0.3, 0.52, 0.18])
    severity = rng.beta(1.0, 1.1) * 0.9 if worn_share else 0.0
    weight = np.full(shape, worn_share > 0, FLOAT)
    if worn_share == 0.5:
        strayed = across * FLOAT(px) + _directed_noise(rng, shape, stroke, 5 / px, 150 / px) * FLOAT(rng.uniform(0, 3))
        strayed -= FLOAT(rng.uniform(-0.35, 0.35) * min(shape) * px)
        weight = 1 / (1 + np.exp(np.clip(strayed * FLOAT(_pick(rng, -1, 1) / rng.uniform(0.5, 4)), -30, 30)))
    fresh, polished, rough, marks = _plateau(rng, shape, px, stroke, lays)
    band = _directed_noise(rng, shape, stroke, rng.uniform(10, 60) / px, rng.uniform(300, 1500) / px)
    canvas = Canvas(
        shape=shape, px=px, stroke_deg=stroke, grey=fresh + weight * (polished - fresh), polished=polished,
        rough=rough, marks=marks, weight=weight, codes=np.zeros(shape, np.uint8), band=band,
    )  # fmt: skip
    word, look = _first_look(rng)
    hard = rng.random() < 0.17 and word in ("dark", "bright")
    noise_share = rng.uniform(0.4, 0.7) if hard else rng.uniform(0.04, 0.42)
    smear = _first_smear(rng, severity, float(np.hypot(noise_share, polished.std()))) if severity > 0.03 else None
    valley = {"coarse": rng.uniform(0.15, 0.42), "plateaued": rng.uniform(0.03, 0.2), "fine": rng.uniform(0.05, 0.3),
              "slide": rng.uniform(0.05, 0.35), "unequal": rng.uniform(0.05, 0.3), "bare": 0.0}[finish]  # fmt: skip
    middle_um = rng.uniform(2.2, 5) if finish == "fine" else rng.lognormal(np.log(10), 0.4)
    spread, depth_middle = rng.uniform(0.15, 0.6), rng.lognormal(np.log(2.5), 0.35)
    lesser = rng.uniform(0.0, 0.4) if finish == "unequal" else rng.uniform(0.35, 0.5)
    shares = rng.permutation([lesser, 1 - lesser])
    loss = rng.choice([0.0, rng.uniform(0.2, 1.4)]) * bool(worn_share)
    grooves = []
    for lay, (angle, share) in enumerate(zip(lays, shares, strict=True)):
        lay_look, bend = _varied(rng, look, 0.15), rng.normal(0, 0.03) * (rng.random() < 0.4)
        extent = shape[0] * abs(np.cos(np.radians(angle))) + shape[1] * abs(np.sin(np.radians(angle)))
        typical = max(middle_um * np.exp(spread**2 / 2), 1.7 * px)
        count = int(min(rng.poisson(valley * share * extent * px / typical * 1.25), 55 * max(shape) // 500))
        places = rng.uniform(-0.5, 0.5, count) * extent
        if rng.random() < 0.4 and count > 2:
            places = places * 0.35 + (np.arange(count) / count - 0.5) * extent * 0.9
        if rng.random() < 0.15:  # In bundles, as a coarse grit leaves them.
            places = np.round(places / extent * 5) * extent / 5 + rng.normal(0, 3 * typical / px, count)
        for place in places:
            width = np.clip(middle_um * rng.lognormal(0, spread), 2, 50)
            depth = np.clip(depth_middle * (width / middle_um) ** 0.5 * rng.lognormal(0, 0.3), 0.6, 10)
            grooves.append((lay, angle + rng.normal(0, 0.5), place, width, depth, bend, lay_look))
    order = rng.permutation(len(grooves)) if rng.random() < 0.6 else range(len(grooves))
    for lay, angle, place, width, depth, bend, lay_look in (grooves[index] for index in order):
        _paint_groove(
            rng, canvas, _varied(rng, lay_look, 0.18), angle_deg=angle, offset_px=place, width_um=width, depth_um=depth,
            bend=bend, smear=smear, lay=lay, loss_um=loss,
        )  # fmt: skip
    _look_alikes(rng, canvas, worn_share)
    if worn_share and rng.random() < 0.24:
        _scuff(rng, canvas, across)
    if rng.random() < 0.35:
        for _ in range(rng.integers(1, 7)):
            _blob(rng, canvas, rng.lognormal(np.log(3), 0.7), rng.uniform(0.6, 2.5), 0.0, True)
    image = _photograph(rng, canvas, hard, noise_share)  # Also marks what charging hides.
    return Made(image=image, codes=canvas.codes, worn=weight > 0.5, kind=f"{finish}-{word}")
