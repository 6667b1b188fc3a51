"""Fields engraved from stylus-like traces: deep grooves may be narrow and steep, and closures are gaps along them."""

import cv2
import numpy as np

from makers.made import Made

from .beam import expose, setting, specks, wormlike
from .moved import closures, streaks, woven
from .trough import VALLEY_DEPTH_UM, Groove, cut, scratch, trace


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Draw one field; everything follows from rng."""
    seen = setting(rng)
    stroke = rng.uniform(0, np.pi)
    rows, columns = np.indices(shape, np.float32) * pixel_size_um
    rows /= np.float32(np.cos(np.radians(seen.tilt_deg)))
    along = columns * np.float32(np.cos(stroke)) + rows * np.float32(np.sin(stroke))
    across = rows * np.float32(np.cos(stroke)) - columns * np.float32(np.sin(stroke))
    worn = np.zeros(shape, bool)
    case = rng.random()
    if case < 0.57:
        worn[:] = True
    elif case < 0.62:
        worn = (across > np.median(across) + rng.uniform(-60, 60) * pixel_size_um) ^ (rng.random() < 0.5)
    run = bool(worn.any())
    most_um = 0.25 + 0.6 * pixel_size_um
    worn_um = float(min(most_um, rng.choice((rng.uniform(0, 0.3), rng.uniform(0.2, 1.0))))) if run else 0.0
    much = (0.0 if rng.random() < 0.2 else rng.choice((0.15, 0.45, 0.9)) * rng.uniform(0.6, 1.3)) if run else 0.0

    surface = engrave(rng, (columns, rows), across, worn, (stroke, pixel_size_um, worn_um, much))
    open_depth, closed, dark, rim, side, cover = surface
    mask, force, relief = (
        streaks(rng, along, across, pixel_size_um) if run and rng.random() < 0.33 else (None, None, None)
    )
    codes = np.where(open_depth >= VALLEY_DEPTH_UM, 1, np.where(closed, 2, 0)).astype(np.uint8)

    px = pixel_size_um
    signal = np.full(shape, seen.grey, np.float32)
    signal += woven(rng, columns, rows, (3 * px, 3 * px)) * rng.uniform(0.5, 5)
    signal += woven(rng, columns, rows, (28 * px, 28 * px)) * rng.uniform(0, 5)
    if run:
        marks = woven(rng, along, across, (300 * px, 1.6 * px)) + woven(rng, along, across, (120 * px, 4 * px))
        signal += marks * worn * rng.uniform(1, 6)
    if rng.random() < 0.45:
        count = int(min(70, rng.uniform(0.2, 1) * 1.2e-3 * rows.size * px * px + 3))
        flakes = wormlike(rng, shape, np.clip(25 / px, 12, 120), np.clip(1.5 / px, 1, 9), count)
        flakes |= specks(rng, shape, np.clip(3 / px, 1.5, 12), int(rng.integers(0, 9)), 1.5)
        mottle = 1 + 0.25 * woven(rng, columns, rows, (4 * px, 4 * px))
        signal -= cv2.GaussianBlur(flakes * mottle, (0, 0), 0.8).astype(np.float32) * rng.uniform(25, 60)
    if mask is not None:
        mask = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8)) > 0
        mask &= worn
        force = np.where(mask, np.maximum(force, 0.6 * force.max()), 0).astype(np.float32)
    keep = 1.0 if mask is None else 1 - np.minimum(force, 1) * 0.85
    signal += (-seen.dark * dark + seen.rim * rim * (1 - np.clip(dark, 0, 0.8)) + seen.side * side) * keep
    signal += cover * np.float32(max(abs(seen.dark), 38) / 50) * keep
    if mask is not None:
        codes[mask] = 3
        soft = cv2.GaussianBlur(mask * force, (0, 0), 1.0)
        signal += soft * (relief * rng.uniform(13, 26) + rng.uniform(-22, 26))
    if rng.random() < 0.2:
        signal -= np.clip(woven(rng, columns, rows, (90 * px, 90 * px)) - 0.5, 0, 2) * rng.uniform(6, 18)
    if rng.random() < 0.3:
        litter = specks(rng, shape, rng.uniform(3, 9), int(rng.integers(1, 7)), 2.0)
        codes[litter > 0] = 255
        shade = cv2.GaussianBlur(np.roll(litter, (3, 2), (0, 1)).astype(np.float32), (0, 0), 2)
        lit = litter * (55 + 22 * woven(rng, columns, rows, (3 * px, 3 * px)))
        signal = np.where(litter > 0, seen.grey + lit, signal - 30 * shade)
    if rng.random() < 0.05:
        charged = cv2.GaussianBlur(
            specks(rng, shape, 0.05 * shape[0], 2, 3.0).astype(np.float32),
            (0, 0),
            0.04 * shape[1],
            None,
            0.02 * shape[0],
        )
        signal += charged * 240
        codes[charged > 0.25] = 255
    kind = (
        f"engraved {'worn' if run else 'unworn'}{' closed' if closed.any() else ''}{' scuffed' if 3 in codes else ''}"
    )
    return Made(image=expose(rng, signal, seen), codes=codes, worn=worn, kind=kind)


def hone_angle(rng: np.random.Generator) -> float:
    """Included hone angle: 30–60° is usual, 140–150° in helical slide honing (from memory)."""
    return rng.uniform(30, 60) if rng.random() < 0.82 else rng.uniform(140, 150)


def population(
    rng: np.random.Generator, span_um, px: float, share: float, narrow: bool, worn_um: float
) -> list[Groove]:
    """Grooves until those still open cover share of the trace; narrow ones are some 2–4 px wide and steep.

    Few are left that wear has brought so near to the limit of a valley that nobody could tell.
    """
    extent = span_um[1] - span_um[0]
    steep = (30, 60) if narrow else tuple(sorted(rng.uniform(10, 60, 2)))
    typical = np.clip(np.exp(rng.uniform(np.log(5 * px), np.log(0.05 * extent))), 1.5, 40)
    grooves, covered, cut_um = [], 0.0, 0.0
    for _ in range(150):
        width = px * rng.uniform(3, 5.5) if narrow and rng.random() < 0.85 else typical * rng.lognormal(0, 0.45)
        width = float(np.clip(width, max(1.5, 3 * px), min(60, 0.16 * extent)))
        groove = cut(rng, width, rng.uniform(*span_um), steep)
        open_um = groove.width_at(VALLEY_DEPTH_UM + worn_um)
        doubtful = 0.35 < groove.depth_um - worn_um < 0.75 or 0 < open_um < 1.5 * px
        if doubtful and rng.random() < 0.85:
            continue
        grooves.append(groove)
        covered += open_um
        cut_um += groove.width_at(VALLEY_DEPTH_UM)
        if covered > share * extent or cut_um > 1.5 * share * extent:
            break
    return grooves


def engrave(rng: np.random.Generator, place, across, worn, session) -> tuple[np.ndarray, ...]:
    """Cut the lays and close their grooves: open depth, closed footprints, then the three signals and the covers' grey."""
    stroke, px, worn_um, much = session
    shape = across.shape
    open_depth, dark, rim, side, cover = (np.zeros(shape, np.float32) for _ in range(5))
    covered = np.zeros(shape, bool)
    half = np.radians(hone_angle(rng)) / 2
    signs = (-1, 1) if rng.random() < 0.9 else (1,)
    narrow, fine = rng.random() < 0.55, rng.random() < 0.33
    share = rng.uniform(0.05, 0.19) if narrow else rng.uniform(0.08, 0.32)
    rough, faint = rng.normal(size=997) * rng.uniform(0, 0.35), rng.uniform(0.03, 0.2)
    column = ((across - across.min()) / px).astype(np.int32)
    jagged = column + np.round(woven(rng, place[0], place[1], (5 * px, 5 * px)) * 1.3).astype(np.int32)
    width_px = int(column.max()) + 1
    jagged = np.clip(jagged, 0, width_px - 1)
    flow = woven(rng, across, place[0] * np.cos(stroke) + place[1] * np.sin(stroke), (2.2 * px, 30 * px))
    lift = rng.uniform(9, 24) * rng.choice((-0.8, 1, 1))
    ragged = np.float32(rng.uniform(0.05, 0.6) * px)
    bed = rng.uniform(0.04, 0.3)
    gape, seam = rng.uniform(15, 45), rng.uniform(15, 45) * rng.choice((-1, 1))
    lights = np.cos(stroke - rng.uniform(0, 2 * np.pi))
    for sign in signs:
        for twist in rng.normal(0, 0.012, 2):
            lay = stroke + np.pi / 2 + sign * half + twist
            over = place[1] * np.float32(np.cos(lay)) - place[0] * np.float32(np.sin(lay))
            length = place[0] * np.float32(np.cos(lay)) + place[1] * np.float32(np.sin(lay))
            span = (float(over.min()) - px, float(over.max()) + px)
            grooves = population(rng, span, px, share / 2, narrow, worn_um)
            if fine:
                many = int((span[1] - span[0]) / px * rng.uniform(0.01, 0.09))
                grooves += [scratch(rng, px * rng.uniform(1.5, 3), rng.uniform(*span)) for _ in range(many)]
            made = trace(grooves, span, px, worn_um, rough)
            new = made if worn.all() or not worn.any() else trace(grooves, span, px, 0.0, rough)
            torn = woven(rng, length, over, (9 * px, 4 * px)) + woven(rng, length, over, (160 * px, 60 * px))
            at = ((over + torn * ragged - made.start_um) / made.step_um + 0.5).astype(np.int32)
            at = np.clip(at, 0, made.depth.size - 1)
            owner = made.owner[at]
            reach = np.ones((len(grooves) + 1, 64), np.float32)
            for number in np.flatnonzero(rng.random(len(grooves)) < 0.15):
                end = rng.uniform(5, 59)
                reach[number] = np.clip((np.arange(64) - end) * rng.choice((-1, 1)) / 4 + 0.5, 0, 1)
            stretch = (length - length.min()) * np.float32(63.9 / np.ptp(length))
            sway = 1 + 0.07 * woven(rng, length, over, (60 * px, 8 * px)).clip(-2, 2)
            deep = reach[owner, stretch.astype(np.int32)] * sway
            signals = [np.where(worn, a[at], b[at]) * deep for a, b in ((made.dark, new.dark), (made.rim, new.rim))]
            flank = np.where(worn, made.side[at], new.side[at]) * deep * np.float32(lights * sign)
            floor = woven(rng, length, over, (25 * px, 1.8 * px)) + woven(rng, length, over, (3 * px, 2.2 * px))
            signals[0] = signals[0] * (1 + bed * np.maximum(floor, -2) * (made.depth[at] > VALLEY_DEPTH_UM))
            own = np.maximum(made.depth[at] * deep - worn_um * worn, 0)
            if much:
                shut = closures(rng, grooves, width_px, px, much, float(abs(np.cos(half))), faint)
                kind, part, force = shut.kind[owner, jagged], shut.share[owner, jagged], shut.strength[owner, jagged]
                where = made.place[at] * np.sign(part)
                closed = (kind > 0) & worn & (own > 0) & ((kind != 2) | (where < 2 * np.abs(part) - 1))
                soft = cv2.GaussianBlur(closed.astype(np.float32), (0, 0), 0.7)
                bare = np.where(kind == 4, 0.32, 0.2) * np.minimum(force, 1)
                edge = np.abs(cv2.Laplacian(soft, cv2.CV_32F))
                half_um = np.array([g.width_um / 2 for g in grooves] + [1.0], np.float32)[owner]
                bent = np.clip(0.35 * woven(rng, length, over, (30 * px, 200 * px)), -0.7, 0.7)
                crack = closed & (kind == 3) & (np.abs(where - bent) * half_um < 0.8 * px)
                grey = np.where(kind == 4, 0.6, 1) * (lift + 9 * flow) * soft + seam * edge * (kind != 4) - gape * crack
                cover += grey * force
                signals = [s * (1 - soft * (1 - bare)) for s in signals]
                flank = flank * (1 - soft)
                covered |= closed & (own >= VALLEY_DEPTH_UM)
                own = np.where(closed, np.minimum(own, 0.2), own)
            open_depth = np.maximum(open_depth, own)
            dark, rim, side = np.maximum(dark, signals[0]), np.maximum(rim, signals[1]), side + flank
    return open_depth, covered & (open_depth < VALLEY_DEPTH_UM), dark, rim, side, cover
