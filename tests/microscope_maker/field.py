"""One field, drawn from its specimen's figures and its own generator."""

from dataclasses import replace

import cv2
import numpy as np

from tests.microscope_maker.drawn import DrawnField
from tests.microscope_maker.electrons import draw_beam, emitted
from tests.microscope_maker.figures import Figures
from tests.microscope_maker.finish import draw_finish
from tests.microscope_maker.frame import Frame
from tests.microscope_maker.grooves import Grooves, lay_grooves
from tests.microscope_maker.look_alikes import draw_look_alikes
from tests.microscope_maker.materials import States, coloured
from tests.microscope_maker.plateau import draw_plateau
from tests.microscope_maker.recording import record
from tests.microscope_maker.scuffing import scuff
from tests.microscope_maker.track import Run, Track, draw_run, draw_track, whole_track

LIMIT_UM = 0.5
"""Depth below the local plateau from which a groove is a valley, as `semwear/terms.py` declares."""


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> DrawnField:
    """Draw a field that stands alone, finish and setting and all from ``rng``; its track may end within it."""
    f = Frame(rng, Figures(alone=rng), pixel_size_um, shape)
    run = draw_run(f.own, bool(rng.random() >= 0.4))
    return _draw(f, run, draw_track(f, run.worn))


def make_field(
    rng: np.random.Generator, own: Figures, *, pixel_size_um: float, shape: tuple[int, int], worn: bool
) -> DrawnField:  # fmt: skip
    """Draw one field of a specimen, in the track as a whole or out of it."""
    f = Frame(rng, own, pixel_size_um, shape)
    return _draw(f, draw_run(own, worn), whole_track(f, worn))


def _draw(f: Frame, run: Run, track: Track) -> DrawnField:
    finish = draw_finish(f.own)
    wear = float(f.own["wear"].uniform(0.05, 0.9)) * track.weight
    grooves = lay_grooves(f, finish, wear, track.weight, run.smears)
    z, closed = _heights(f, finish, grooves, track, run)
    torn = np.zeros(f.shape, np.float32)
    if run.scuffs:
        z, torn = scuff(f, z, grooves.before, track.weight)
    codes = _codes(grooves, torn, track)
    z, matter, debris = draw_look_alikes(f, z, codes, track.weight, run.worn)
    codes[debris] = 255
    whole = torn < 0.5
    seam = np.exp(-(((grooves.before - 0.55) / 0.4) ** 2)) * closed * whole
    oil = f.own["oil in seams"].uniform(0.1, 0.5) * np.clip(0.6 + 0.4 * f.noise(5, 5), 0, 1) * seam
    matter = replace(matter, film=matter.film + oil)
    beam = draw_beam(f.own)
    states = States(after=grooves.after * whole, closed=closed * whole, torn=torn, weight=track.weight)
    image = record(f, beam, coloured(f, beam, emitted(f, beam, z), states, matter))
    smeared, scuffed = (" " + name if (codes == code).any() else "" for name, code in (("smeared", 2), ("scuffed", 3)))
    kind = f"worn{smeared}{scuffed}" if run.worn else "unworn"
    return DrawnField(image=image, codes=codes, worn=track.where, kind=f"{kind} {finish}{' border' if track.ends else ''}")


def _heights(
    f: Frame, finish: str, grooves: Grooves, track: Track, run: Run
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Return the heights before scuffing, µm, and how far grooves are closed, 0-1."""
    before, after = grooves.before, grooves.after
    plateau = draw_plateau(f, finish, grooves.lays, track.weight, run.worn)
    z = plateau * np.clip(1 - before / 0.6, 0, 1) - after + grooves.rim * (1 - 0.9 * track.weight)
    closed = np.clip((before - after) / np.maximum(before, 0.3), 0, 1)
    closed[before < 0.25] = 0
    z += grooves.lump * closed
    z += grooves.floor * np.clip(after / 1.5, 0, 1)
    return z, closed


def _codes(grooves: Grooves, torn: np.ndarray, track: Track) -> np.ndarray:
    """Return the mask codes: the footprint of a groove is open or closed; nothing is closed or torn outside the track."""
    codes = np.zeros(grooves.before.shape, np.uint8)
    footprint = grooves.before >= LIMIT_UM
    codes[footprint] = 2
    codes[footprint & (grooves.after >= LIMIT_UM)] = 1
    codes[torn > 0.5] = 3
    codes = _settled(codes)
    codes[(codes == 2) & ~track.where] = 1
    codes[(codes == 3) & ~track.where] = 0
    return codes


def _settled(codes: np.ndarray) -> np.ndarray:
    """Return the codes with specks of a few pixels given to what lies around them."""
    votes = np.stack([cv2.blur((codes == c).astype(np.float32), (3, 3)) for c in range(4)])
    codes = votes.argmax(0).astype(np.uint8)
    around = np.stack([cv2.blur((codes == c).astype(np.float32), (9, 9)) for c in range(4)])
    for c in (1, 2, 3):
        _, label, stats, _ = cv2.connectedComponentsWithStats((codes == c).astype(np.uint8), connectivity=8)
        small = stats[:, cv2.CC_STAT_AREA] < (24 if c == 3 else 12)
        small[0] = False
        speck = small[label]
        if speck.any():
            other = around.copy()
            other[c] = -1
            codes[speck] = other.argmax(0)[speck]
    return codes
