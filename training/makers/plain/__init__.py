"""Fields drawn with plain means: stroked grooves, patches painted over them, stretched noise for torn metal."""

import math

import numpy as np

from ..made import Made
from . import moved, strangers, tones
from .draws import between, chance, ragged, wander
from .grooves import bands, ground_um, lays_deg
from .instrument import picture


def track(rng: np.random.Generator, shape: tuple[int, int], stroke_deg: float) -> tuple[np.ndarray, str]:
    """Where the ring ran, bool, and the case's name; a border runs along the stroke and wavers a little."""
    case = str(rng.choice(["unworn", "border", "worn"], p=[0.22, 0.14, 0.64]))
    if case != "border":
        return np.full(shape, case == "worn"), case
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    c, s = math.cos(math.radians(stroke_deg)), math.sin(math.radians(stroke_deg))
    across = -s * (x - shape[1] / 2) + c * (y - shape[0] / 2)
    along = c * (x - shape[1] / 2) + s * (y - shape[0] / 2)
    course = wander(rng, 200, between(rng, 10, 80)) * between(rng, 0.3, 5)
    edge = rng.uniform(-0.3, 0.3) * min(shape) + np.interp(along, np.linspace(along.min(), along.max(), 200), course)
    return (across > edge) == chance(rng, 0.5), case


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of `shape` pixels, a pixel `pixel_size_um` µm a side."""
    stroke = rng.uniform(0, 180) if chance(rng, 0.2) else rng.choice([0, 90]) + rng.normal(0, 4)
    included = rng.uniform(20, 150)
    worn, case = track(rng, shape, stroke)
    backscatter = chance(rng, 0.25)
    names = [case]

    grooves = bands(rng, shape=shape, pixel_size_um=pixel_size_um, stroke_deg=stroke, included_deg=included)
    cut_um = between(rng, 0.02, 1) if chance(rng, 0.6) else 0.0
    cut_ground = ragged(rng, ground_um(grooves, shape, pixel_size_um), between(rng, 1.5, 12), between(rng, 0.1, 2))
    before = np.maximum(cut_ground - cut_um * worn, 0).astype(np.float32)
    cover, torn = np.zeros(shape, np.float32), np.zeros(shape, bool)
    if worn.any() and chance(rng, 0.8):
        share = between(rng, 0.1, 1.2)
        cover = worn * moved.covers(rng, shape=shape, grooves=grooves, pixel_size_um=pixel_size_um, stroke_deg=stroke, share=share)
        names.append("smeared")
    if worn.any() and chance(rng, 0.4):
        torn = worn & moved.scuffs(rng, shape=shape, stroke_deg=stroke, share=between(rng, 0.05, 0.75))
        names.append("scuffed")
    after = moved.close(before, cover, rng.uniform(0, 0.4)).astype(np.float32)
    codes = moved.codes_of(before, after, cover, torn)

    grey = tones.plateau(rng, shape, stroke, lays_deg(stroke, included), worn)
    for lay in lays_deg(stroke, included):
        grey = strangers.scratches(rng, grey, lay, 2, int(between(rng, 1, 60)), between(rng, 0.03, 0.3))
    if chance(rng, 0.6):
        grey = strangers.scratches(rng, grey, stroke, 2, int(between(rng, 1, 50)), between(rng, 0.05, 0.5))
    if chance(rng, 0.35):
        bare = np.clip(1 - before / 0.5, 0, 1) * (1 - cover)
        grey = strangers.graphite(rng, grey, pixel_size_um, bare, backscatter)
    # texture of the plateau goes on into a groove only faintly
    grey = 1 + (grey - 1) * (1 - rng.uniform(0.4, 1) * np.clip(after / 0.6, 0, 1))
    added, look = tones.valleys(rng, after, pixel_size_um, backscatter)
    grey = grey + added
    names.append(look)
    if (cover > 0).any():
        grey = tones.smear(rng, grey, cover, before, stroke)
    if torn.any():
        grey = tones.scuff(rng, grey, torn, stroke)
    if chance(rng, 0.3):
        grey = strangers.stains(rng, grey)
    if chance(rng, 0.35):
        grey = strangers.debris(rng, grey, codes, pixel_size_um)
    return Made(image=picture(rng, grey), codes=codes, worn=worn, kind="plain " + " ".join(names))
