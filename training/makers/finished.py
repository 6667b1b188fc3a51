"""Fields of plateau-honed ground: deep grooves of a base hone, shallow scratches of a finishing stone, worn or not.

Everything is a height map in µm: tracks of up to two tools, what the ring took off, metal that it moved; the truth is read
off the heights and the picture is a secondary-electron signal of the same heights. Scratches less deep than the limit of
0.5 µm are plateau, however plainly they are seen; grooves deeper than it are valley, however bright their floors.
"""

import numpy as np

from .finished_camera import photograph
from .finished_lays import cut_surface, draw_lays, draw_tracks
from .finished_matter import debris, film, graphite
from .finished_noise import grown, smooth_field
from .finished_picture import Surface, electron_signal
from .finished_scuff import scuff
from .finished_smear import close_grooves, closed_depth
from .finished_tools import draw_tools
from .finished_wear import (
    VALLEY_DEPTH_UM,
    draw_track_ground,
    overlay,
    plateau_level,
    stroke_marks,
    wear_off,
    without_specks,
)
from .made import Made

PLATEAU, OPEN_VALLEY, SMEARED, SCUFFED, NOT_ASSESSED = 0, 1, 2, 3, 255
SMEAR_SHARE, SCUFF_SHARE, MARKED_SHARE = 0.68, 0.3, 0.75
"""Shares of worn fields with smear, with scuffing and with marks along the stroke (own choice)."""


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Draw one field; everything follows from the generator's state."""
    lays, shares, stroke_deg = draw_lays(rng)
    finish, tools = draw_tools(rng, lays, shares, stroke_deg, pixel_size_um)
    tracks = draw_tracks(rng, tools[0], shape, pixel_size_um)
    cut = cut_surface(tracks, shape, pixel_size_um)
    relief = np.zeros(shape, np.float32)
    if len(tools) > 1:
        cut.raised *= rng.uniform(0, 0.5)  # the finishing stone takes the rims first
        fine = cut_surface(draw_tracks(rng, tools[1], shape, pixel_size_um), shape, pixel_size_um)
        relief = overlay(cut, fine, float(rng.uniform(0, 1)))
    ground, worn, bearing = draw_track_ground(rng, shape, stroke_deg, pixel_size_um)
    tone, smooth = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    smear = scuffed = np.zeros(shape, bool)
    if worn.any():
        scratched_only = finish == "finishing stone"  # where all else is worn off, something must still be seen
        lost = wear_off(rng, cut, bearing, pixel_size_um, most_um=0.15 if scratched_only else 0.7)
        smooth = np.clip(lost / 0.2, 0, 1)
        if scratched_only or rng.random() < MARKED_SHARE:
            relief += overlay(cut, stroke_marks(rng, bearing, stroke_deg, pixel_size_um), float(rng.uniform(0, 0.3)))
    depth = cut.depth - plateau_level(cut.depth, pixel_size_um)
    if worn.any() and rng.random() < SMEAR_SHARE:
        closures = close_grooves(rng, tracks, depth, bearing, stroke_deg, pixel_size_um)
        closed = closed_depth(rng, closures, depth, stroke_deg, pixel_size_um)
        smear = (depth >= VALLEY_DEPTH_UM) & (closed < VALLEY_DEPTH_UM) & worn
        relief = relief * (1 - closures.cover) + closures.seam * np.minimum(0.5 * depth.clip(0), 0.8)
        tone += closures.tone - 0.35 * closures.seam
        cut.tone *= 1 - closures.cover
        smooth = np.maximum(smooth, closures.cover)
        depth = closed
    if worn.any() and rng.random() < SCUFF_SHARE:
        scuffed, depth, torn, torn_tone = scuff(rng, worn, bearing, depth, stroke_deg, pixel_size_um)
        relief = relief - torn
        tone += torn_tone
    flakes, outs = graphite(rng, shape, pixel_size_um) if rng.random() < 0.4 else (np.float32(0), np.float32(0))
    waves = rng.uniform(0, 0.15) * smooth_field(rng, shape, rng.uniform(20, 120), pixel_size_um)
    surface = Surface(
        heights=waves - depth - relief - outs + cut.raised, depth=depth, tone=cut.tone, moved_tone=tone, smooth=smooth,
        lay=cut.lay,
    )  # fmt: skip
    floors, signal = electron_signal(rng, surface, tools[0].lays_deg, pixel_size_um)
    signal = signal + film(rng, shape, bearing, pixel_size_um)
    signal *= 1 - rng.uniform(0.25, 0.7) * np.clip(flakes + 0.6 * np.minimum(outs, 1), 0, 1)
    hidden, bright = debris(rng, shape, pixel_size_um)
    signal = np.where(hidden, 1 + bright, signal * (1 + bright)).astype(np.float32)
    codes = np.zeros(shape, np.uint8)
    codes[without_specks(depth >= VALLEY_DEPTH_UM, pixel_size_um)] = OPEN_VALLEY
    codes[without_specks(smear, pixel_size_um) & (codes == PLATEAU)] = SMEARED
    codes[scuffed] = SCUFFED
    codes[hidden] = NOT_ASSESSED
    image = photograph(rng, grown(signal, 0.2, 1.0), hidden, pixel_size_um)
    return Made(image=image, codes=codes, worn=worn, kind=f"{finish}, {floors} floors, {ground}")
