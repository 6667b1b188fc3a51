"""One field's surface on the picture's grid: honed, with its iron, and run where the ring ran."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.reserve_maker.finish import Specimen
from tests.reserve_maker.frames import StrokeFrame, parallax
from tests.reserve_maker.honing import honed_surface
from tests.reserve_maker.iron import graphite, pull_outs
from tests.reserve_maker.random_fields import fractal_noise, ramp, smooth_noise
from tests.reserve_maker.running import Run, run_in, stroke_marks
from tests.reserve_maker.scuffing import scuff
from tests.reserve_maker.states import SCUFFED, SMEARED, classify, plateau_level, without_specks

MARGIN_UM = 40.0


@dataclass(frozen=True, kw_only=True)
class Surface:
    """One field on the picture's grid. height_um: all of the surface, (rows, cols) float32; material: secondary-electron
    yield of what lies there over that of clean iron; ground: 0 to 1, how deep in a groove; codes: mask codes uint8;
    lays_deg: lays in the picture, the one with more groove length first.
    """

    height_um: np.ndarray
    material: np.ndarray
    ground: np.ndarray
    codes: np.ndarray
    lays_deg: tuple[float, ...]


def make_surface(
    specimen: Specimen, *, worn: bool, tilt_deg: float, deposit: float, rng: np.random.Generator
) -> Surface:
    """Return one field. deposit: yield step of what gathers on groove grounds (dark carbon below 0, bright oxide above)."""
    pixel, wear = specimen.pixel_size_um, specimen.wear
    frame = StrokeFrame(
        picture=specimen.picture, stroke_deg=specimen.stroke_deg, margin_px=int(min(120, max(8, MARGIN_UM / pixel)))
    )
    honed, lengths = honed_surface(frame, specimen.lays_deg, specimen.finish, pixel, rng)
    shape = frame.shape
    flakes = graphite(shape, specimen.matrix, pixel, rng)
    pits = pull_outs(shape, specimen.matrix, pixel, rng)
    none = np.zeros(shape, np.float32)
    run = Run(height_um=honed, bare_um=honed, covered=none > 0, crack_um=none)
    torn, footprint, marks = none, none > 0, none
    if worn:
        run = run_in(honed, wear, pixel, rng)
        marks = stroke_marks(shape, wear, pixel, rng)
    level = plateau_level(run.height_um, pixel)
    hone = run.height_um
    if worn:
        seized = scuff(hone, level, wear, pixel, rng)
        hone, torn, footprint = seized.height_um, seized.torn, seized.footprint
    codes = classify(hone, honed, run.covered, footprint, pixel)
    lying = run.covered.astype(np.float32)
    bare = (1 - cv2.GaussianBlur(lying, (0, 0), 0.7)) * (1 - np.minimum(1, 4 * torn))
    below = np.maximum(level - hone, 0)
    ground = ramp(below, 0.25, 1.2) * (1 - lying)
    grain = fractal_noise(shape, max(2.0, 3 / pixel), rng, octaves=4, hurst=0.6)
    height = hone + bare * (pits - 0.35 * flakes) - run.crack_um * (1 - np.minimum(1, 3 * torn))
    height += marks * ramp(-below, -0.35, -0.15)
    height += grain * (0.012 + (0.05 + 0.12 * specimen.finish.striae_um) * ground)
    drawn = smooth_noise(shape, (max(1.0, 1.5 / pixel), max(2.0, 10 / pixel)), rng)
    height += lying * 0.028 * (1.4 - wear.flush) * (drawn + grain)
    material = (1 - specimen.matrix.flake_grey * flakes * bare) * (1 + wear.fresh * lying)
    patchy = ramp(fractal_noise(shape, 25 / pixel, rng, octaves=4), -1.6, 1.8)
    material *= 1 + deposit * ground * (0.3 + 0.7 * patchy)
    if worn:
        film = ramp(fractal_noise(shape, 60 / pixel, rng, octaves=6, stretch=1.5, hurst=0.5), -0.9, 1.9)
        material *= 1 - wear.film * film * (1 - 0.7 * ground) * (1 - torn)
        material *= 1 + 0.10 * torn
    fields = [frame.to_picture(np.ascontiguousarray(field, np.float32)) for field in (height, material, ground)]
    codes = frame.to_picture(codes, nearest=True)
    shift = parallax(fields[0], pixel, tilt_deg)
    if shift is not None:
        fields = [cv2.remap(field, *shift, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT) for field in fields]
        codes = cv2.remap(codes, *shift, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REFLECT)
    codes = without_specks(codes, max(10, int(3.0 / pixel**2)))
    if not worn and np.isin(codes, (SMEARED, SCUFFED)).any():
        raise AssertionError("an untouched field holds neither smeared nor scuffed metal")
    lays = tuple(sorted(lengths, key=lengths.get, reverse=True))
    return Surface(height_um=fields[0], material=fields[1], ground=fields[2], codes=codes, lays_deg=lays)
