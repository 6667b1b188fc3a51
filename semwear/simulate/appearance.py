"""What a field looks like apart from its shape: the grey of floors, closures, tears, graphite, films and stains.

Groove walls slope by 6-27° only, so that tilt alone gives 0.5-12 % of contrast. The rest comes from bright rims,
starved escape out of deep grooves, rough or carbon-filled floors, torn edges, graphite, oil and reaction films. How
strong each of these is, and even its sign, differs from specimen to specimen and from setting to setting; here they
are drawn anew for every field and over wide ranges, so that nothing but the geometry stays the same.
"""

from dataclasses import dataclass

import numpy as np

from ..terms import VALLEY_DEPTH_UM
from .noise import fractal, patches, streaks
from .surface import Surface


@dataclass(frozen=True, kw_only=True)
class Look:
    """Weights of one field; grey offsets are in units of the plateau-to-full-contrast swing."""

    valley_tone: float  # floor against plateau
    valley_depth_um: float  # depth over which the floor's tone grows
    floor_texture: float
    floor_spread: float  # how differently the floors of single grooves look
    floor_blots: float  # patches of filled and clean floor
    rim: float  # bright (or dark) lines at convex edges
    starve: float  # darkening of deep places
    slope: float  # detector side
    detector_deg: float  # where the detector is seen in the picture, 0..360
    tilt: float  # sec(theta) term
    closure_tone: float  # multiplies every closure's own tone
    fresh_metal: float  # 1: a low closure has none of the floor's grey
    trace_tone: float
    scuff_tone: float
    graphite_tone: float
    pit_tone: float
    stain: float
    film: float
    worn_tone: float  # track against outside
    marks: float  # gain of the fine plateau texture


def draw_look(rng) -> Look:
    """Return the look of one field, drawn widely."""
    polarity = rng.random()
    if polarity < 0.62:
        valley = -float(np.exp(rng.uniform(np.log(0.15), np.log(1.6))))
    elif polarity < 0.82:
        valley = float(rng.uniform(-0.12, 0.12))
    else:
        valley = float(np.exp(rng.uniform(np.log(0.12), np.log(0.9))))
    return Look(
        valley_tone=valley,
        valley_depth_um=float(np.exp(rng.uniform(np.log(0.35), np.log(4.0)))),
        floor_texture=float(rng.choice([0.0, rng.uniform(0, 0.5)])),
        floor_spread=float(rng.choice([0.0, rng.uniform(0, 0.6)], p=[0.4, 0.6])),
        floor_blots=float(rng.choice([0.0, rng.uniform(0, 0.6)], p=[0.65, 0.35])),
        rim=float(rng.choice([rng.uniform(0, 0.3), rng.uniform(0.2, 1.5), -rng.uniform(0, 0.4)], p=[0.35, 0.55, 0.1])),
        starve=float(rng.choice([0.0, rng.uniform(0.1, 1.2)], p=[0.35, 0.65])),
        slope=float(np.exp(rng.uniform(np.log(0.04), np.log(1.0)))),
        detector_deg=float(rng.uniform(0, 360)),
        tilt=float(rng.uniform(0.0, 2.0)),
        closure_tone=float(rng.choice([0.0, rng.uniform(0, 0.4), rng.uniform(0.3, 1.2)], p=[0.3, 0.4, 0.3])),
        fresh_metal=float(rng.uniform(0.6, 1.0)),
        trace_tone=float(rng.choice([-rng.uniform(0.05, 0.8), rng.uniform(0.05, 0.8), 0.0], p=[0.55, 0.35, 0.1])),
        scuff_tone=float(rng.uniform(0, 1.2)),
        graphite_tone=-float(rng.uniform(0.2, 1.6)),
        pit_tone=-float(rng.uniform(0.0, 1.2)),
        stain=float(rng.choice([0.0, rng.uniform(0.1, 0.8)], p=[0.6, 0.4])),
        film=float(rng.choice([0.0, rng.uniform(-0.25, 0.2)], p=[0.72, 0.28])),
        worn_tone=float(rng.normal(0, 0.15)),
        marks=float(np.exp(rng.uniform(np.log(0.15), np.log(1.5)))),
    )


def stain_map(rng, surface: Surface) -> np.ndarray:
    """Return stains of oil or contamination, 0..1, (rows, cols) float32: soft spots, drops with rings, wipe marks."""
    shape, pixel = surface.frame.shape, surface.frame.pixel_size_um
    kind = int(rng.integers(3))
    size = max(rng.uniform(0.08, 0.4) * min(shape), 6)
    if kind == 0:
        return np.clip(fractal(rng, shape, size, octaves=4) - rng.uniform(0.0, 1.2), 0, 1)
    if kind == 1:
        spots = patches(rng, shape, size)
        level = rng.uniform(0.5, 1.5)
        inside = np.clip((spots - level) * rng.uniform(2, 12), 0, 1)
        ring = np.exp(-np.square((spots - level) / 0.12))
        return np.clip(rng.uniform(0.3, 1) * inside + rng.uniform(0, 0.8) * ring, 0, 1).astype(np.float32)
    wipe = streaks(rng, shape, rng.uniform(0, 180), rng.uniform(40, 400) / pixel, max(rng.uniform(4, 30) / pixel, 2))
    return np.clip(wipe - rng.uniform(0, 1.2), 0, 1).astype(np.float32)


def floor_share(depth_um: np.ndarray, scale_um: float) -> np.ndarray:
    """Return how much of a floor's look the ground has, 0..1, like depth_um (rows, cols) float32.

    It sets in around VALLEY_DEPTH_UM, where a mark becomes a groove whose ground was torn by the grit and holds its
    residue (common practice, no source), and grows over `scale_um`: a limit that nothing shows can't be learned or judged.
    """
    onset = np.clip((depth_um - np.float32(VALLEY_DEPTH_UM - 0.2)) * np.float32(1 / 0.3), 0, 1)
    onset *= onset * (3 - 2 * onset)
    return onset * (0.35 + 0.65 * (1 - np.exp(-depth_um * np.float32(1 / scale_um))))


def painted(rng, surface: Surface, look: Look) -> np.ndarray:
    """Return the grey that isn't shape, (rows, cols) float32, the clean plateau at 0."""
    shape, pixel = surface.frame.shape, surface.frame.pixel_size_um
    floor = floor_share(surface.depth_um, look.valley_depth_um)
    floor *= 1 - np.float32(look.fresh_metal) * surface.closed  # a closure is fresh metal, not a floor that lies high
    tone = np.float32(look.valley_tone) * floor * (1 + look.floor_spread * np.clip(surface.floor_tone, -1.5, 1.5))
    if look.floor_blots:
        blots = patches(rng, shape, max(float(np.exp(rng.uniform(np.log(5), np.log(60)))) / pixel, 4))
        tone *= np.clip(1 + look.floor_blots * blots, 0.2, 2)
    if look.floor_texture:
        grain = max(rng.uniform(0.5, 4) / pixel, 1.2)
        tone += look.floor_texture * floor * (0.6 * patches(rng, shape, grain) + 0.5 * surface.floor)
    if surface.closed.any():
        own = look.closure_tone * surface.tone
        # a closure may be darker or brighter than the plateau, but isn't taken for an open floor
        limit = np.float32(0.5 * abs(look.valley_tone) + 0.05)
        own = np.maximum(own, -limit) if look.valley_tone < 0 else np.clip(own, -0.5, limit)
        tone += own * surface.closed * np.clip(2 - 3 * surface.depth_um, 0, 1)
        tone += look.trace_tone * surface.trace
    if surface.burnish.any():
        tone += look.closure_tone * rng.normal(0, 0.4) * surface.burnish * (1 - floor)
    if surface.scuff.any():
        tone += look.scuff_tone * surface.scuff_tone
    tone += look.graphite_tone * surface.graphite * (1 - surface.scuff)
    tone += look.pit_tone * np.clip(surface.pit_um, 0, 1)
    tone += look.worn_tone * surface.worn
    if look.stain:
        tone += look.stain * rng.choice([-1.0, -1.0, 0.6]) * stain_map(rng, surface)
    if look.film and surface.worn.any():
        grain = max(rng.uniform(2, 20) / pixel, 2)
        pads = streaks(rng, shape, surface.stroke_deg, grain * rng.uniform(1, 8), grain)
        pads = 0.7 * pads + 0.7 * fractal(rng, shape, grain, octaves=4, gain=0.7)
        sharpness = float(np.exp(rng.uniform(np.log(0.5), np.log(3.0))))
        tone += look.film * surface.worn * np.clip((pads - rng.uniform(-0.5, 1)) * sharpness, 0, 1) * (1 - floor)
    return tone.astype(np.float32)
