"""Grooves of one lay on a canvas whose rows run along the lay, and metal that advances over them from their rims."""

import math
from dataclasses import dataclass, fields

import numpy as np
from scipy.special import ndtri

from .chance import blur, canvas_side, cloth, line, ramp, turned
from .recipe import LIMIT_UM, log_uniform


@dataclass
class Lay:
    """Maps of one lay. first, left: groove depth before and after metal moved (µm). lift: height of moved metal (µm)."""

    first: np.ndarray
    left: np.ndarray
    lift: np.ndarray
    tone: np.ndarray
    rough: np.ndarray  # 0 smooth .. 1 rough cover
    marked: np.ndarray  # share of the plateau's marks that a cover shows


def _places(rng, hone, count, side):
    """Centre rows: at random, some gathered where a stone cut more."""
    rows = rng.uniform(0, side, count)
    if hone.clumped:
        hosts = rng.uniform(0, side, max(2, count // 6))
        gathered = rng.random(count) < 0.6 * hone.clumped
        rows[gathered] = rng.choice(hosts, gathered.sum()) + rng.normal(0, side / 22, gathered.sum())
    return rows


def _grooves(rng, hone, cover, side, pixel, worn_by):
    """List of (row, width px, depth µm); worn ground has narrower and shallower grooves, depths keep clear of the limit."""
    widths, total = [], 0.0
    while total < cover * side:
        width = np.clip(hone.width * math.exp(rng.normal(0, hone.spread)), 3.5 * pixel, min(56, 0.13 * side * pixel))
        widths.append(width)
        total += width / pixel
    widths = np.array(widths)
    depths = np.clip(widths * hone.slope * np.exp(rng.normal(0, 0.35, widths.size)), 0.85, 9) - worn_by
    widths = widths * (1 - 0.35 * worn_by / (depths + worn_by))
    depths = np.where(depths < LIMIT_UM, 0.4 * depths, np.maximum(depths, 0.75))
    return zip(_places(rng, hone, widths.size, side), widths / pixel, depths, strict=True)


def _section(rng, hone, offset, half, depth, shape, pixel):
    """Depth over a strip: a steep upper wall that crosses the limit at `half`, then a floor with strands."""
    across = np.abs(offset) / half
    wall = np.clip(LIMIT_UM * (1 + (half - np.abs(offset)) * pixel / hone.wall), 0, LIMIT_UM)
    if depth < LIMIT_UM:
        return np.maximum(depth * (1 - across**2), 0)
    strand = np.clip(across, 0, 1) ** hone.power
    floor = (depth - LIMIT_UM) * (1 - strand)
    if hone.strands:
        rib = np.interp(offset.ravel(), np.arange(-90, 91), line(rng, 181, max(1.0, 0.9 / pixel))).reshape(shape)
        floor = floor * (1 - np.clip(hone.strands * np.abs(rib), 0, 0.85))
    return np.where(across < 1, LIMIT_UM + 0.06 + floor, wall)


def _advance(rng, wear, side, half, loaded, pull):
    """How far metal has moved over the groove along its length: 0 open, 1 closed from rim to rim."""
    reach = 2 * half * wear.reach
    push = line(rng, side, reach) + 0.6 * line(rng, side, max(2, reach / 4)) + 0.2 * line(rng, side, max(1.5, half / 2))
    push = push / 0.95 + wear.whole * rng.normal() * 1.2 + loaded + pull
    scale = math.sqrt(1 + 1.44 * wear.whole**2 + wear.bands**2 + wear.one_lay**2)
    # Share of closed length by the normal law of the push.
    limit = -scale * float(ndtri(wear.closed))
    return (push - limit) * wear.gain + 0.8


def _kind(rng, name):
    """Tone, roughness, marks shown, depth left (µm), outline height (µm), share of holes."""
    looks = {
        "flush": (rng.normal(0, 0.012), 0.1, 1.0, 0.06, 0.05, 0.0),
        "burnished": (rng.uniform(0.04, 0.1), 0.0, 0.25, 0.03, 0.06, 0.0),
        "dark": (rng.uniform(-0.12, -0.05), 0.25, 0.6, 0.1, 0.06, 0.0),
        "scaly": (rng.normal(0, 0.03), 1.0, 0.3, 0.0, 0.2, 0.03),
        "porous": (rng.normal(0, 0.03), 0.55, 0.5, 0.1, 0.1, 0.16),
        "sunken": (rng.uniform(-0.05, 0.01), 0.3, 0.35, 0.3, 0.02, 0.0),
        "outlined": (rng.normal(0, 0.02), 0.15, 0.8, 0.05, 0.28, 0.0),
        "streaked": (rng.normal(0.02, 0.03), 0.4, 1.6, 0.05, 0.1, 0.01),
    }
    return looks[name]


def _held(tone, floor):
    """A cover's tone, kept from passing for that of an open floor."""
    most = max(0.03, 0.5 * abs(floor))
    return np.clip(tone, -most, 0.09) if floor < 0 else np.clip(tone, -0.09, most)


def _close(rng, wear, lay, strip, offset, half, slant, advance, pixel, floor):
    """Lay metal over one groove's strip."""
    side = lay.first.shape[1]
    along = np.arange(side)[None, :] + offset * slant
    spot = np.clip(along, 0, side - 1).astype(np.int32)
    size = float(np.median(half))
    front = cloth(rng, offset.shape, max(1.5, size / 3), max(2.0, size * 0.8)) + cloth(
        rng, offset.shape, max(1.5, 0.8 / pixel)
    )
    ragged = advance[spot] + wear.ragged * 0.5 * front * np.clip(wear.gain, 0.7, 2.5)
    depth = lay.first[strip].copy()
    across = offset / half
    choice = rng.choice(3, p=wear.sides)
    # From one rim, from the other, or from both at once, which leaves a seam.
    distance = ((1 + across) / 2, (1 - across) / 2, 1 - np.abs(across))[choice]
    covered = (ragged > distance) & (np.abs(across) < 1 + 1.2 / half)
    # Lips narrower than two pixels of metal, and what is left of slits, can't be told apart from the rim.
    covered &= (ragged > 2 / half) | (ragged > 1)
    covered |= (ragged > 1 - 0.75 / half) & (np.abs(across) < 1 + 1.2 / half)
    tone, rough, marked, left, outline, holes = _kind(rng, wear.kinds[rng.integers(len(wear.kinds))])
    trace = rng.uniform(0, 0.05)
    within = np.abs(across) < 0.8
    if np.sum(covered & within) > 0.8 * np.sum(within):
        # Little of this groove stays open to tell where it ran: its cover shows by tone and by its rims.
        trace = rng.uniform(0.06, 0.1)
        tone = float(np.copysign(max(abs(tone), 0.035), tone))
        marked = min(marked, 0.5)
    trace *= (1 if tone > 0.02 else -1) * min(1, size / 5)
    rims = np.exp(-(((np.abs(offset) - half + 0.7) / max(0.8, 0.3 / pixel)) ** 2))
    remain = np.full(depth.shape, left, np.float32)
    if choice == 2:
        remain = np.where(np.abs(offset) < max(0.8, 0.3 / pixel), min(left + 0.25, 0.4), remain)
    if holes:
        cell = max(2.6, log_uniform(rng, 0.15, 0.6) * size)
        sown = _pits(rng, depth.shape, cell, holes * rng.uniform(0.4, 1.4))
        covered &= ~sown
    covered &= depth > remain
    solid = blur(covered.astype(np.float32), max(0.7, 0.35 / pixel))
    lay.left[strip] = np.where(covered, np.minimum(lay.left[strip], remain), lay.left[strip])
    edge = 4 * solid * (1 - solid) * (depth > 0.2)
    lay.lift[strip] = np.maximum(lay.lift[strip], outline * edge * covered)
    weight = np.clip(solid * 1.2, 0, 1) * covered
    lay.tone[strip] = lay.tone[strip] * (1 - weight) + _held(tone + trace * rims, floor) * weight
    lay.rough[strip] = np.maximum(lay.rough[strip], rough * weight)
    lay.marked[strip] = np.where(covered, marked, lay.marked[strip])


def _pits(rng, shape, cell, share):
    sown = cloth(rng, shape, cell, cell * 1.4)
    return sown > np.quantile(sown[::3, ::3], 1 - min(share, 0.4))


def cut_lay(rng, specimen, degrees, cover, stroke, band, worn):
    """Draw a lay and, on worn ground, close its grooves. band: load over positions across the stroke."""
    hone, wear, pixel = specimen.hone, specimen.wear, specimen.pixel
    side = canvas_side(specimen.shape)
    blank = [np.zeros((side, side), np.float32) for _ in range(5)]
    lay = Lay(*blank, marked=np.ones((side, side), np.float32))
    turn = math.radians(stroke - degrees)
    sine = math.sin(turn) if abs(math.sin(turn)) > 0.05 else 0.05
    slant = float(np.clip(math.cos(turn) / sine, -2.4, 2.4))
    pull = wear.one_lay * rng.normal()
    worn_by = wear.depth if worn else 0.0
    sway_cell = side * rng.uniform(0.3, 1.2)
    for row, width, depth in _grooves(rng, hone, cover, side, pixel, worn_by):
        half0 = width / 2
        sway = hone.meander * half0 * line(rng, side, sway_cell) if hone.meander else np.zeros(side)
        half = half0 * np.clip(
            1
            + 0.1 * line(rng, side, 8 * width)
            + hone.torn * (line(rng, side, 1.1 / pixel) + line(rng, side, 3.7 / pixel)) * 0.7,
            0.6,
            1.4,
        )
        present = np.ones(side)
        if rng.random() < hone.stopped:
            end, sense = rng.uniform(0, side), rng.choice([-1, 1])
            present = ramp((np.arange(side) - end) * sense / width, 0, rng.uniform(1, 8))
        half = np.maximum(half * np.sqrt(present), 1e-3)
        reach = int(width * (0.8 + hone.meander * 1.6) + 4)
        top, bottom = max(int(row) - reach, 0), min(int(row) + reach, side)
        if bottom - top < 3:
            continue
        strip = slice(top, bottom)
        offset = np.arange(top, bottom)[:, None] - (row + sway)[None, :]
        cut = _section(rng, hone, offset, half[None, :], depth, offset.shape, pixel).astype(np.float32)
        cut *= present[None, :] > 0.02
        lay.first[strip] = np.maximum(lay.first[strip], cut)
        newly = cut > lay.left[strip]
        lay.left[strip] = np.where(newly, cut, lay.left[strip])
        if not worn or depth < LIMIT_UM:
            continue
        # Position across the stroke of each point of the groove picks the load of its band.
        reach_along = np.arange(side) - side / 2
        position = reach_along * math.sin(turn) + (row - side / 2) * math.cos(turn)
        loaded = band[np.clip(position + side / 2, 0, side - 1).astype(int)]
        advance = _advance(rng, wear, side, half0, loaded, pull)
        if advance.max() > 0.1:
            _close(rng, wear, lay, strip, offset, half[None, :], slant, advance, pixel, specimen.beam.floor)
    return lay


def faint_marks(rng, specimen, degrees, cover, worn):
    """Height of finishing marks of a lay (µm, negative), none deeper than 0.4 µm: plateau."""
    hone, pixel = specimen.hone, specimen.pixel
    side = canvas_side(specimen.shape)
    profile = hone.finish * line(rng, side, max(1.0, 0.5 / pixel)) + hone.finish * line(rng, side, 2.5 / pixel)
    count = int(cover * side * pixel / hone.width * hone.faint)
    fade = 0.45 if worn else 1.0
    canvas = np.repeat(profile[:, None] * fade * 0.6, side, axis=1).astype(np.float32)
    canvas *= 0.6 + 0.4 * blur(rng.standard_normal((side, side), dtype=np.float32), 12 / pixel**0.5) * 12
    for _ in range(min(count, 150)):
        half = max(0.6, log_uniform(rng, 0.4, 2.2) / pixel / 2)
        row, depth = rng.uniform(0, side), rng.uniform(0.1, 0.4) * fade
        start, stop = sorted(rng.uniform(-0.3, 1.3, 2) * side)
        rows = np.arange(max(int(row - 3 * half), 0), min(int(row + 3 * half) + 2, side))
        columns = slice(max(int(start), 0), max(int(stop), 1))
        dip = depth * np.exp(-(((rows - row) / half) ** 2))
        canvas[rows, columns] = np.minimum(canvas[rows, columns], -dip[:, None])
    return turned(canvas, degrees, specimen.shape)


def lay_in_field(lay, degrees, shape):
    return Lay(*(turned(getattr(lay, part.name), degrees, shape) for part in fields(lay)))
