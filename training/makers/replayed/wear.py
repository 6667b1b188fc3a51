"""The run replayed: passes of the ring, each a handful of events in loaded patches, then perhaps scuffing."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from .grain import grain
from .scuffs import scuff
from .smears import Chords, Grains, chords, flake, fold, lip, loaded, rub, strip, tear_open
from .surface import COVERED, TORN, VALLEY_DEPTH_UM, Surface, plane

PASSES = 4


@dataclass(frozen=True, kw_only=True)
class Run:
    """What happens to a specimen: planing (over the usual groove depth), share of groove area to be smeared, share of
    area scuffed, strength of scuffing, odds of lips, folds, strips and flakes, marks of the stroke (µm)."""

    planed: float
    smeared: float
    scuffed: float
    strength: float
    kinds: tuple[float, float, float, float]
    marks_um: float


def draw_run(rng: np.random.Generator) -> Run:
    """From hardly run in to much smeared and scuffed."""
    smeared = rng.choice([rng.uniform(0, 0.03), rng.uniform(0.05, 0.35), rng.uniform(0.35, 0.9)], p=[0.22, 0.38, 0.4])
    scuffed = rng.choice([0, rng.uniform(0.01, 0.1), rng.uniform(0.1, 0.24)], p=[0.68, 0.17, 0.15])
    return Run(
        planed=float(rng.choice([rng.uniform(0, 0.2), rng.uniform(0.2, 0.6)], p=[0.6, 0.4])),
        smeared=float(smeared),
        scuffed=float(scuffed),
        strength=float(rng.choice([rng.uniform(0.22, 0.5), rng.uniform(0.5, 1.3)], p=[0.35, 0.65])),
        kinds=tuple(rng.dirichlet([0.8, 0.8, 0.8, 0.8])),
        marks_um=float(rng.choice([rng.uniform(0.01, 0.06), rng.uniform(0.06, 0.22)])),
    )


def draw_grains(rng: np.random.Generator, size: int, pixel_size_um: float) -> Grains:
    """At a scale of their own, never finer than the pixels."""
    scale = max(1.0, 0.8 / pixel_size_um * rng.uniform(0.5, 1.2))
    return Grains(
        fine=grain(rng, (size, size), 1.2 * scale, 1.0 * scale),
        lump=grain(rng, (size, size), rng.uniform(7, 22) * scale, rng.uniform(2.5, 6) * scale),
        streak=grain(rng, (size, size), 110 * scale, 1.6 * scale),
    )


def smear_once(
    rng: np.random.Generator, surface: Surface, grains: Grains, edges: Chords, run: Run, at: tuple[int, int]
) -> None:
    """One smearing event at a groove's pixel, sized by the groove's chord there."""
    chord = float(np.clip(edges.behind[at] + edges.ahead[at], 5, 90))
    wide = max(3.0, chord * rng.uniform(0.3, 1.8))
    size = (chord * rng.uniform(0.8, 2.0), wide)
    glow = float(rng.uniform(0.5, 1.1))
    rough = float(rng.uniform(0.05, 0.26))
    kind = rng.choice(4, p=run.kinds)
    if kind == 0:
        share, forward = rng.uniform(0.25, 0.8), bool(rng.random() < 0.5)
        lip(surface, grains, edges, at, (size[0], 1.6 * wide), share, forward, glow, rough)
    elif kind == 1:
        share = rng.choice([rng.uniform(0.25, 0.75), 0.97, 0.03])
        fold(surface, grains, edges, at, size, share, glow, rough, float(rng.uniform(0.2, 1)))
    elif kind == 2:
        wide = wide * rng.uniform(0.6, 1.5)
        strip(surface, grains, edges, at, (2.5 * size[0], wide), float(rng.uniform(0.04, 0.15)), glow, 0.6 * rough)
    else:
        size = (0.75 * chord + 3, max(3.0, min(wide, chord)))
        flake(rng, surface, grains, at, size, float(rng.uniform(0.2, 2)), glow, rough)


def smear(rng: np.random.Generator, surface: Surface, grains: Grains, run: Run) -> None:
    """Passes of the ring until the aimed share of the grooves is closed; each pass also rubs and tears some covers."""
    deep = surface.worn & (surface.groove >= VALLEY_DEPTH_UM)
    places = np.flatnonzero(deep)
    if run.smeared <= 0 or len(places) < 50:
        return
    edges = chords(surface.groove)
    weight = loaded(grains).ravel()[places]
    places = places[rng.random(len(places)) < 0.1 + weight**2]
    if len(places) == 0:
        return
    most = min(run.smeared * deep.sum(), 0.25 * surface.groove.size)
    for pass_ in range(1, PASSES + 1):
        for _ in range(25):
            closed = np.count_nonzero((surface.state == COVERED) & deep)
            if closed >= most * pass_ / PASSES:
                break
            for _ in range(4 if most > 4000 else 1):
                at = np.unravel_index(places[rng.integers(len(places))], surface.groove.shape)
                smear_once(rng, surface, grains, edges, run, (int(at[0]), int(at[1])))
        for event, chance in ((rub, 0.7), (tear_open, 0.5)):
            covered = np.flatnonzero(surface.state[::4, ::4] == COVERED)
            if len(covered) and rng.random() < chance:
                y, x = np.unravel_index(covered[rng.integers(len(covered))], surface.state[::4, ::4].shape)
                event(surface, grains, (int(4 * y), int(4 * x)), (rng.uniform(8, 45), rng.uniform(4, 18)))


def scuff_field(rng: np.random.Generator, surface: Surface, grains: Grains, run: Run) -> None:
    """Streaks and bands until the aimed share of the area is torn."""
    size = surface.groove.shape[0]
    rows = np.flatnonzero(surface.worn.any(axis=1))
    for _ in range(12):
        left = run.scuffed * surface.groove.size - np.count_nonzero(surface.state == TORN)
        if left < 150:
            return
        at = (int(rng.choice(rows)), int(rng.integers(0, size)))
        half_wide = float(np.exp(rng.uniform(np.log(5), np.log(max(12, 0.09 * size)))))
        half_long = max(5 * half_wide, size * rng.uniform(0.15, 0.9))
        half_wide = max(4.0, min(half_wide, 0.45 * left / half_long))
        kind = str(rng.choice(["ploughed", "torn", "picked up"]))
        scuff(rng, surface, grains, at, half_long, half_wide, kind, run.strength * rng.uniform(0.8, 1.2))


def replay(rng: np.random.Generator, surface: Surface, grains: Grains, run: Run) -> None:
    """Plane, mark, smear, scuff, and smear a little again."""
    size = surface.groove.shape[0]
    load = 1 + 0.3 * grain(rng, (size, size), 0.8 * size, 0.2 * size)
    deep = surface.groove[surface.groove >= VALLEY_DEPTH_UM]
    usual = float(np.median(deep)) if len(deep) else 1.0
    plane(surface, run.planed * usual * np.clip(load, 0.2, 2))
    marks = run.marks_um * (0.7 * grains.streak + 0.5 * grain(rng, (size, size), 3.0 * size, 1.4))
    kept = np.where(surface.land > 0, 0.3, max(0.15, 1 - 2 * run.planed)).astype(np.float32)
    flat = np.exp(-surface.groove / 0.3)
    surface.land = np.where(surface.worn, surface.land * kept + np.clip(marks, -0.35, 0.3) * flat, surface.land)
    smear(rng, surface, grains, run)
    if run.scuffed > 0:
        scuff_field(rng, surface, grains, run)
        smear(rng, surface, grains, replace(run, smeared=0.3 * run.smeared))


def draw_track(rng: np.random.Generator, size: int, reach: int, worn: bool) -> np.ndarray:
    """Where the ring ran: all, none, or one side of a border along the stroke within the middle of the frame."""
    track = np.full((size, size), worn)
    if worn and rng.random() < 0.08:
        border = size / 2 + rng.uniform(-0.35, 0.35) * reach
        track[:] = (np.arange(size) > border)[:, None]
        if rng.random() < 0.5:
            track = cv2.flip(track.astype(np.uint8), 0) > 0
    return track
