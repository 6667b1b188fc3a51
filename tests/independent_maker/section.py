"""Style ``section``: grooves are drawn strokes with profiles from a library; closures are discrete; all is painted.

There is no height field to light. Every groove is a slightly bent stroke with a width that swells and shrinks, a depth
profile (for the truth) and a tone profile (for the picture). In the track, parts of it are closed by one of four kinds:
a flap from one side, a bridge, a thin cap cracked along both rims, or a strip burnished flush that leaves a faint trace.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d

from .scene import (
    VALLEY_DEPTH_UM,
    FieldFacts,
    Picture,
    band,
    blobs,
    codes_from_depths,
    debris,
    flakes,
    fractal,
    irregular_spots,
    pits,
    reach_px,
    scuff_map,
    spread_places,
    stains,
    streaks,
)

KNOTS = np.array([-1.5, -1.2, -1.05, -0.95, -0.8, -0.5, 0.0, 0.5, 0.8, 0.95, 1.05, 1.2, 1.5])

# Tone over the plateau's, across a groove (knots above): walls, floors and rims of different make.
TONES = {
    "dark floor, two bright rims": [0, 0.05, 0.32, 0.18, -0.22, -0.42, -0.46, -0.42, -0.22, 0.18, 0.32, 0.05, 0],
    "one lit wall": [0, 0.0, -0.12, -0.34, -0.40, -0.32, -0.16, 0.06, 0.30, 0.42, 0.22, 0.04, 0],
    "bright rough floor": [0, -0.03, -0.10, -0.22, -0.16, 0.04, 0.14, 0.04, -0.16, -0.22, -0.10, -0.03, 0],
    "shallow, one rim": [0, 0.02, 0.16, 0.05, -0.10, -0.18, -0.20, -0.18, -0.15, -0.10, -0.04, 0, 0],
    "stepped": [0, 0.04, 0.22, 0.05, -0.30, -0.34, -0.18, -0.14, -0.34, -0.10, 0.18, 0.04, 0],
    "black slit": [0, 0.0, 0.10, -0.10, -0.30, -0.50, -0.60, -0.50, -0.30, -0.10, 0.10, 0.0, 0],
}

# Relative depth across a groove for |u| < 1.
DEPTHS = {
    "vee": lambda u: 1 - np.abs(u),
    "round": lambda u: 1 - u**2,
    "trough": lambda u: 1 - u**6,
    "double": lambda u: np.clip(1 - u**4, 0, 1) * (0.75 + 0.25 * np.cos(2 * np.pi * u)),
}


@dataclass(frozen=True, kw_only=True)
class Stroke:
    """One drawn groove, lengths in µm."""

    lay: int
    direction_deg: float
    offset_um: float
    width_um: float
    depth_um: float
    tone: str
    depth_shape: str
    strength: float
    flip: int
    seed: int


def draw_strokes(field: FieldFacts, rng) -> list[Stroke]:
    """Draw grooves in bundles, as cutting edges sit together on a stone."""
    finish = field.finish
    if field.without_valleys:
        return []
    reach = reach_px(field.shape) * field.pixel_size_um
    places = spread_places(-np.log(1 - finish.valley_target) / (finish.groove_width_um * 1.2) * 2 * reach, reach, rng)
    liked = rng.choice(list(TONES), 3, replace=False)
    strokes, bundle = [], None
    for number, place in enumerate(rng.permutation(places)):
        if bundle is None or rng.random() < 0.65:
            lay = number % 2 if rng.random() < 0.6 else int(rng.random() > finish.balance)
            bundle = (lay, float(place))
        lay, middle = bundle
        width = float(np.clip(finish.groove_width_um * np.exp(rng.normal(0.1, 0.5)), 3, 50))
        strokes.append(Stroke(
            lay=lay, direction_deg=finish.lays_deg[lay] + rng.normal(0, 0.9),
            offset_um=middle + rng.normal(0, 2.5) * finish.groove_width_um, width_um=width,
            depth_um=float(np.clip(width * rng.uniform(0.06, 0.25), 0.8, 9)), tone=str(rng.choice(liked)),
            depth_shape=str(rng.choice(list(DEPTHS))), strength=float(rng.uniform(0.55, 1.15)), flip=int(rng.choice([-1, 1])),
            seed=int(rng.integers(2**31)),
        ))
    return strokes


def _smooth_walk(rng, count: int, sigma: float) -> np.ndarray:
    """Smooth random course of about unit spread over ``count`` knots; ``sigma`` in knots."""
    return gaussian_filter1d(rng.standard_normal(count), sigma) * np.sqrt(2 * np.sqrt(np.pi) * sigma)


def _lay_on(stroke: Stroke, field: FieldFacts, rag):
    """Pixels near a stroke: flat index, u (1 = rim), along (µm), local half width (µm)."""
    pixel = field.pixel_size_um
    rng = np.random.default_rng(stroke.seed)
    index, across, along = band(
        field.shape, direction_deg=stroke.direction_deg, offset_px=stroke.offset_um / pixel,
        half_width_px=stroke.width_um * 1.25 / pixel + 2,
    )
    across, along = across * pixel, along * pixel
    reach = reach_px(field.shape) * pixel * 1.05
    knots = np.arange(-reach - 40, reach + 40, 10)
    bend = gaussian_filter1d(np.cumsum(rng.normal(0, 0.15, knots.size)), 3)
    swell = 1 + 0.13 * _smooth_walk(rng, knots.size, 30) + 0.05 * _smooth_walk(rng, knots.size, 4)
    if rng.random() < 0.25:  # a stroke that ends in the field
        ends = rng.uniform(-reach, reach)
        swell = swell * np.clip((knots - ends) * rng.choice([-1, 1]) / 150 + 0.5, 0, 1)
    half = stroke.width_um / 2 * np.clip(np.interp(along, knots, swell), 0.02, 1.7)
    ragged = rag[index] * min(0.35, 0.08 * stroke.width_um)
    u = (across + ragged - np.interp(along, knots, bend - bend.mean())) / half
    return index, u * stroke.flip, along, half


def _plan_closures(stroke: Stroke, field: FieldFacts, rng):
    """Intervals along a stroke (µm) that are closed, each with its kind, covering about the closed share."""
    reach = reach_px(field.shape) * field.pixel_size_um * 1.1
    share = np.clip(field.closed_share * rng.uniform(0.5, 1.4), 0, 1) if field.closed_share < 0.9 else field.closed_share
    closures, at = [], -reach
    mean_length = stroke.width_um * rng.uniform(1.2, 6)
    while at < reach and share > 0:
        length = mean_length * rng.gamma(2.0, 0.5)
        if share < 1:
            at += length * (1 - share) / share * rng.exponential(1.0)
        closures.append((at, at + length, str(rng.choice(["flap", "bridge", "cap", "burnish"], p=[0.25, 0.2, 0.3, 0.25]))))
        at += length
    return closures


def _paint_closure(kind, u, inner, from_end, strip, edge_um, pixel):
    """Tone over the plateau's of closed metal; ``from_end`` is µm from the nearer end, ``strip`` a stroke-wise texture."""
    thin = max(edge_um, 1.2 * pixel)
    lines = 0.05 * strip
    if kind == "flap":
        crack = np.exp(-(((u - 0.72) * inner / thin) ** 2))
        lip = np.exp(-(((u - 0.72) * inner / thin + 2.2) ** 2))
        return 0.05 - 0.05 * u + lines - 0.42 * crack + 0.22 * lip
    if kind == "bridge":
        return 0.03 + lines - 0.38 * np.exp(-((from_end / thin) ** 2)) + 0.18 * np.exp(-((from_end / thin - 2.2) ** 2))
    if kind == "cap":
        crack = np.exp(-(((np.abs(u) - 0.88) * inner / thin) ** 2)) * (strip > -0.9)
        return -0.05 + 0.7 * lines - 0.34 * crack + 0.06 * np.exp(-((from_end / thin) ** 2))
    trace = np.exp(-(((np.abs(u) - 0.95) * inner / thin) ** 2))
    return 0.02 + 1.2 * lines - 0.07 * trace - 0.03 * (1 - np.clip(np.abs(u), 0, 1))


def _land(field: FieldFacts, rng) -> np.ndarray:
    """Tone of the land between grooves: fractal, directional and blobby fields in shares of their own."""
    finish, shape, pixel = field.finish, field.shape, field.pixel_size_um
    tone = 0.035 * rng.uniform(0.4, 1.4) * fractal(shape, rng, slope=rng.uniform(0.9, 1.5), longest_px=60 / pixel)
    tone += 0.02 * rng.uniform(0.2, 1.5) * blobs(shape, rng, size_px=max(5 / pixel, 3))
    marks = rng.uniform(0.02, 0.06) * (0.5 if field.worn else 1)
    for lay in finish.lays_deg:
        for width in (1.5, 5.0):
            line = streaks(shape, rng, direction_deg=lay + rng.normal(0, 0.5), length_px=500 / pixel, width_px=max(width / pixel, 1))
            tone += marks * 0.6 * np.sign(line) * np.abs(line) ** 1.3
    if field.worn:
        for length, width in ((250, 1.2), (80, 4.0)):
            line = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=length / pixel, width_px=max(width / pixel, 1))
            tone += rng.uniform(0.015, 0.045) * line
    return tone


def make_section(field: FieldFacts, rng: np.random.Generator) -> Picture:
    """Make one field of style ``section``."""
    finish, shape, pixel = field.finish, field.shape, field.pixel_size_um
    composition = finish.detector == "BSE"
    relief = 0.45 if composition else 1.0
    tone = (0.5 + _land(field, rng) * (0.7 if composition else 1)).ravel().astype(np.float32)
    size = tone.size
    before, depth = np.zeros(size, np.float32), np.zeros(size, np.float32)
    areas = [0.0, 0.0]
    grain = 0.45 * blobs(shape, rng, size_px=max(rng.uniform(1.5, 5) / pixel, 2.5)) + 0.6 * fractal(shape, rng, slope=0.9, longest_px=6 / pixel)
    for lay in finish.lays_deg:
        grain += 0.35 * streaks(shape, rng, direction_deg=lay, length_px=max(25 / pixel, 4), width_px=max(1.2 / pixel, 1))
    grain = grain.ravel()
    rag = fractal(shape, rng, slope=1.2, longest_px=25 / pixel).ravel()
    strip = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=40 / pixel, width_px=max(3 / pixel, 1.5)).ravel()
    torn_end = fractal(shape, rng, slope=2.0, longest_px=30 / pixel).ravel()
    soot = np.clip(0.6 + 0.5 * fractal(shape, rng, slope=1.3, longest_px=40 / pixel), 0, 1.2).ravel() * finish.residue
    strokes = draw_strokes(field, rng)
    laid = []
    for stroke in strokes:
        index, u, along, half = _lay_on(stroke, field, rag)
        shape_of = DEPTHS[stroke.depth_shape](np.clip(u, -1, 1))
        here = np.where(np.abs(u) < 1, np.clip(stroke.depth_um * shape_of * np.clip(half / (stroke.width_um / 2), 0, 1.2), 0, None), 0)
        here = np.clip(here - field.wear_um, 0, None)
        rim = max(field.wear_um, 1e-3)
        laid.append((stroke, index, u, along, half))
        if stroke.depth_um <= field.wear_um + 0.25:
            continue
        narrowed = u / np.sqrt(np.clip(1 - rim / stroke.depth_um, 0.1, 1)) if field.worn else u
        local = stroke.strength * np.interp(narrowed, KNOTS, TONES[stroke.tone])
        local = np.where(local > 0, local * relief, local)
        inside = np.clip((1.05 - np.abs(narrowed)) * 4, 0, 1)
        rough = 0.12 * finish.floor_roughness * grain[index] * inside
        dirty = -0.30 * soot[index] * np.clip((here - 0.6) / 1.0, 0, 1)
        cover = np.clip((1.45 - np.abs(narrowed)) * 3, 0, 1)
        tone[index] = tone[index] * (1 - 0.8 * inside) + 0.5 * 0.8 * inside + cover * (local + rough + dirty)
        before[index] = np.maximum(before[index], here)
        areas[stroke.lay] += float((here >= VALLEY_DEPTH_UM).sum())
    depth[:] = before
    moved = np.zeros(size, bool)
    crack_um = rng.uniform(0.15, 0.4)
    for stroke, index, u, along, half in laid:
        for start, end, kind in _plan_closures(stroke, field, rng) if field.closed_share > 0 else ():
            lean = np.tan(np.radians(90 - (stroke.direction_deg - finish.stroke_deg)))
            lean = float(np.clip(lean, -2.5, 2.5)) * stroke.flip
            shifted = along - lean * u * half + 0.2 * stroke.width_um * torn_end[index] + 0.15 * stroke.width_um * strip[index]
            closing = (shifted > start) & (shifted < end) & (np.abs(u) < 1.12)
            if not closing.any():
                continue
            chosen = index[closing]
            fresh = before[chosen] >= VALLEY_DEPTH_UM
            from_end = np.minimum(shifted - start, end - shifted)[closing]
            painted = 0.5 + _paint_closure(kind, u[closing], half[closing], from_end, strip[chosen], crack_um, pixel) * (0.6 + 0.4 * relief)
            painted += 0.03 * rag[chosen]
            edge = np.clip((1.12 - np.abs(u[closing])) * 8, 0, 1)
            tone[chosen] = np.where(fresh | (before[chosen] > 0.05), tone[chosen] * (1 - edge) + painted * edge, tone[chosen])
            residual = {"burnish": 0.06, "cap": 0.22, "bridge": 0.3, "flap": 0.18}[kind]
            depth[chosen] = np.minimum(depth[chosen], residual)
            moved[chosen] |= fresh
    tone, before, depth, moved = (layer.reshape(shape) for layer in (tone, before, depth, moved))
    codes, tone = _add_blemishes(field, rng, tone, before, depth, moved, composition)
    return Picture(signal=tone.astype(np.float32), codes=codes, lay_areas_px=tuple(areas), facts={})


def _add_blemishes(field, rng, tone, before, depth, moved, composition):
    """Paint flakes, pull-outs, stroke scratches, scuffing, stains and debris; return codes and tone."""
    finish, shape, pixel = field.finish, field.shape, field.pixel_size_um
    lamellae = flakes(field, rng) * ~moved
    tone = tone * (1 - lamellae) + lamellae * (0.12 if composition else 0.2)
    if not composition:
        halo = cv2.GaussianBlur(lamellae, (0, 0), max(0.8 / pixel, 0.8))
        tone = tone + 0.25 * np.clip(halo - lamellae, 0, None)
    holes = pits(field, rng).astype(np.float32)
    soft = cv2.GaussianBlur(holes, (0, 0), max(0.5 / pixel, 0.6))
    lit = np.clip(soft - cv2.warpAffine(soft, np.float32([[1, 0, 1.5 / pixel], [0, 1, 1.0 / pixel]]), shape[::-1]), -1, 1)
    tone = tone - 0.35 * soft + 0.4 * lit * (0.3 if composition else 1)
    flat = np.ascontiguousarray(tone).ravel()
    reach = reach_px(shape)
    for _ in range(field.stroke_scratches):
        start, half = rng.uniform(-reach, reach * 0.5), max(rng.uniform(0.7, 3.0) / pixel, 0.8)
        end = start + rng.uniform(0.4, 2) * reach
        index, across, along = band(
            shape, direction_deg=finish.stroke_deg + rng.normal(0, 0.7), offset_px=rng.uniform(-0.8, 0.8) * reach,
            half_width_px=half * 1.6, span_px=(start, end),
        )
        taper = np.clip(np.minimum(along - start, end - along) / (0.25 * reach), 0, 1)
        u = across / (half * (0.4 + 0.6 * taper))
        flat[index] += rng.uniform(0.5, 1.1) * taper * (-0.3 * np.exp(-(u**2)) + 0.2 * np.exp(-(((np.abs(u) - 1.1) / 0.3) ** 2)))
    tone = flat.reshape(shape)
    torn = scuff_map(field, rng)
    if torn.any():
        tear = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=22 / pixel, width_px=max(3 / pixel, 1.2))
        scales = irregular_spots(shape, rng, int(torn.sum() * pixel**2 / 350), (2 / pixel, 7 / pixel))
        soft_edge = cv2.GaussianBlur(torn.astype(np.float32), (0, 0), max(0.8 / pixel, 0.7))
        torn_tone = 0.5 + 0.14 * tear + 0.10 * fractal(shape, rng, slope=0.9, longest_px=12 / pixel) + 0.14 * scales
        tone = tone * (1 - soft_edge) + torn_tone * soft_edge
    tone = tone - stains(field, rng) * 0.16
    loose = debris(field, rng)
    if loose.any():
        body = cv2.GaussianBlur(loose.astype(np.float32), (0, 0), max(1.5 / pixel, 1))
        shadow = np.clip(cv2.GaussianBlur(body, (0, 0), max(2 / pixel, 1.5)) - body, 0, 1)
        tone = np.where(loose, 0.75 + 0.12 * fractal(shape, rng, slope=1, longest_px=15 / pixel), tone - 0.5 * shadow)
    hidden = cv2.dilate(loose.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=max(1, int(1.5 / pixel))) > 0
    return codes_from_depths(before, depth, moved, torn, hidden), tone
