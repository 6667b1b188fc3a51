"""The forms in which moved metal closes a groove; each has its own heights (um) and its own marks. Lengths in um."""

from dataclasses import dataclass

import cv2
import numpy as np

from .grooves import Bands, Groove
from .ground import Frame, log_uniform, wander

FORMS = ("lip", "meeting", "bridge", "flake", "cap", "crumbs", "half", "dashes", "plain")


@dataclass
class Covers:
    """cover: depth (um) of the moved metal's top, inf where none; recut: depth of later cuts through it; edge: share of bright lifted
    edges; crack: share of dark seams and shadow lines; smooth: share by which texture is wiped; tone: relative change of yield."""

    cover: np.ndarray
    recut: np.ndarray
    edge: np.ndarray
    crack: np.ndarray
    smooth: np.ndarray
    tone: np.ndarray
    rough: np.ndarray


def none(shape: tuple[int, int]) -> Covers:
    cover = np.full(shape, np.inf, np.float32)
    return Covers(cover, *(np.zeros(shape, np.float32) for _ in range(6)))


def line(distance: np.ndarray, width_um: float) -> np.ndarray:
    """1 on a line, falling to 0 within its width."""
    return np.exp(-((distance / width_um) ** 2)).astype(np.float32)


def stretches(rng: np.random.Generator, at: np.ndarray, share: float, pixel_um: float, long: bool) -> np.ndarray:
    """How deep within a closed stretch (um, negative outside) each position along a groove lies."""
    low, high = float(at.min()), float(at.max())
    inside, closed = np.full(at.shape, -np.inf, np.float32), 0.0
    for _ in range(40):
        length = log_uniform(rng, 60, 400) * pixel_um if long else log_uniform(rng, 3, 90) * pixel_um
        middle = rng.uniform(low, high)
        inside = np.maximum(inside, length / 2 - np.abs(at - np.float32(middle)))
        closed += length
        if closed > share * (high - low):
            break
    return inside


def draw(rng: np.random.Generator, frame: Frame, bands: Bands, truncation: np.ndarray, allowed: np.ndarray) -> Covers:
    """Covers over the grooves of both bands where allowed; truncation (um) is gone already. Fields differ in how much is closed and how."""
    out = none(frame.shape)
    grain = frame.noise(rng, frame.stroke, max(1.5, 3 * frame.pixel_um), max(1.0, 2 * frame.pixel_um)).ravel()
    lumps = frame.noise(rng, frame.stroke, max(5.0, 9 * frame.pixel_um), max(3.0, 6 * frame.pixel_um)).ravel()
    _, across = frame.turned(frame.stroke)
    marks = wander(rng, across, log_uniform(rng, 4, 14) * frame.pixel_um, frame.span_um).ravel()
    taste = rng.dirichlet(np.full(len(FORMS), 0.7))
    hit, share = rng.uniform(0.5, 1.5), log_uniform(rng, 0.4, 4)
    tone, burnish = rng.choice([-1, 1, 1]) * rng.uniform(0.05, 0.16), rng.uniform(0.5, 0.97)
    free = allowed.ravel()
    for grooves, other in zip(bands.grooves, bands.of_band[::-1], strict=True):
        reach = np.float32(rng.uniform(1.5, 6))
        crossing = cv2.blur((other > 0.5).astype(np.float32), (int(reach * 2) + 3,) * 2).ravel()
        for groove in grooves:
            # What wear left too shallow has nothing to be closed.
            if (groove.depth - truncation.ravel()[groove.pixels] > 0.5).mean() < 0.1:
                continue
            # Folds interrupt the deep grooves most.
            if rng.random() > hit * min(1, 0.55 + 0.2 * groove.deepest_um):
                continue
            form = FORMS[rng.choice(len(FORMS), p=taste)]
            _close(rng, frame, groove, form, share, out, grain, lumps, marks, crossing, free, tone, burnish)
    return out


def inside_of(rng, frame, groove: Groove, form: str, share, grain, lumps, marks, crossing) -> tuple[np.ndarray, np.ndarray]:
    """Distance (um) within the cover's outline, and of that the part to its free edge (where a lip ends)."""
    k, e, half, px = groove.pixels, groove.offset, groove.half_um, frame.pixel_um
    ragged = (0.5 * px + 0.06 * half) * grain[k] + 0.12 * half * lumps[k]
    # Metal is dragged along the stroke, so few ends lie square to the groove.
    at = groove.along + np.float32(rng.normal(0, 0.5) * half) * e
    ends = stretches(rng, at, share, px, form in ("half", "lip", "meeting") and rng.random() < 0.6) + ragged
    within = (1.08 - np.abs(e)) * half
    if form == "bridge":
        # Some reach across the crossing only, some are set beside it too.
        ends = np.maximum((crossing[k] - rng.uniform(0.25, 0.6)) * 8 * px + ragged, ends - rng.uniform(0, 40) * px)
    if form == "dashes":
        ends = (marks[k] - rng.uniform(-0.3, 0.9)) * 4 * px + ragged
    free = ends
    if form in ("lip", "half"):
        bank = rng.choice([-1.0, 1.0])
        tip = rng.uniform(-0.2, 0.35) if form == "half" else rng.uniform(-0.1, 1.0)
        free = np.minimum(ends, (tip - bank * e) * half + 0.6 * ragged + 0.15 * half * wander(rng, groove.along, 3 * half, frame.span_um))
    if form == "crumbs":
        free = np.minimum(ends, (lumps[k] + 0.5 * grain[k] + rng.uniform(-0.1, 0.8)) * 2 * px)
    if form == "flake":
        within = (rng.uniform(1.15, 1.5) - np.abs(e + 0.15 * rng.normal())) * half + ragged
        free = np.minimum(ends, within)
    return np.minimum(free, within), free


def _close(rng, frame, groove, form, share, out, grain, lumps, marks, crossing, allowed, tone, burnish):
    inside, free = inside_of(rng, frame, groove, form, share, grain, lumps, marks, crossing)
    k, px, half = groove.pixels, frame.pixel_um, groove.half_um
    covered = (inside > 0) & allowed[k]
    if not covered.any():
        return
    # Top of the metal: flush caps, sunk bridges, flakes that stand proud; all within 0.5 um of the plateau but crumbs and sagging lips.
    base, wave = {"flake": (-0.15, 0.08), "cap": (0.03, 0.03), "crumbs": (0.35, 0.35), "bridge": (0.2, 0.15)}.get(form, (0.14, 0.12))
    top = base + wave * lumps[k] + 0.1 * wave * grain[k] + rng.uniform(0, 0.1)
    if form in ("lip", "half"):
        top = top + rng.uniform(0, 0.25) * np.exp(-np.maximum(free, 0) / (0.3 * half + px))
    rim = np.minimum(0.3, 0.1 + 0.05 * half)
    edge_width = max(0.35, 0.9 * px)
    edge, crack = np.zeros_like(inside), np.zeros_like(inside)
    strength = rng.uniform(0.3, 1)
    if form == "meeting":
        seam = groove.offset * half - 0.25 * half * wander(rng, groove.along, 2 * half, frame.span_um)
        thin = line(seam, max(0.3, 0.8 * px)) * (wander(rng, groove.along, half, frame.span_um) > -0.8)
        top, crack, edge = top + 0.3 * thin, strength * thin, 0.5 * strength * line(np.abs(seam) - 2 * edge_width, edge_width)
    elif form == "flake":
        lifted = np.clip(0.5 + 0.9 * np.sign(rng.normal()) * groove.offset + 0.4 * lumps[k], 0, 1)
        edge, crack = strength * line(inside, edge_width) * lifted, strength * line(inside + 2 * px, 1.3 * px) * (1 - 0.5 * lifted)
        top = top - rim * edge
    elif form in ("cap", "plain"):
        # Seen only by texture, a step of tone and shadow lines at the ends; the old banks may show as fold lines.
        fold = line((np.abs(groove.offset) - 0.95) * half, edge_width) * (grain[k] > rng.uniform(-1, 1.5))
        crack = strength * ((0.7 * fold if form == "cap" else 0) + line(free + px, 1.2 * px))
        top = np.minimum(top, 0.3)
    elif form in ("lip", "half", "bridge", "dashes"):
        edge, crack = strength * line(free, edge_width), strength * line(free + 1.8 * px, 1.1 * px)
        top = top - rim * edge
    edge, crack = edge * (inside > -edge_width), crack * (np.abs(groove.offset) < 1.25)
    seen = allowed[k] & ((groove.depth > 0.3) | (np.abs(groove.offset) > 0.8))
    for target, value in ((out.edge, edge), (out.crack, crack)):
        target.ravel()[k] = np.maximum(target.ravel()[k], value * seen)
    c = k[covered]
    if form == "crumbs":
        out.rough.ravel()[c] = rng.uniform(0.3, 1)
        out.edge.ravel()[c] = np.maximum(out.edge.ravel()[c], 0.5 * strength * line(inside[covered] - px, px))
    else:
        # Only over the ground it closed does the metal differ; beside it the plateau is as it was.
        here = c if form == "flake" else k[covered & (groove.depth > 0.1)]
        out.smooth.ravel()[here] = burnish if form in ("cap", "flake", "meeting", "plain") else 0.6 * burnish
        out.tone.ravel()[here] = tone + rng.normal(0, 0.05)
    out.cover.ravel()[c] = np.minimum(out.cover.ravel()[c], top[covered])
    if rng.random() < 0.15:
        cut_half = max(0.8, 1.5 * px, rng.uniform(0.1, 0.3) * half)
        cut = cut_half - np.abs((groove.offset - rng.uniform(-0.5, 0.5)) * half)
        cut = np.minimum(groove.depth, np.minimum(np.maximum(cut, 0) * 0.45, log_uniform(rng, 0.6, 2.5))) * allowed[k]
        out.recut.ravel()[k] = np.maximum(out.recut.ravel()[k], cut)
