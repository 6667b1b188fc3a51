"""A maker as plain as a referee's: a height map in µm is cut, closed and torn, and its truth is read off before and after."""

import math

import cv2
import numpy as np

from ..made import Made
from . import microscope, scuff, smear, strangers, truth
from .grooves import band, ground, rims
from .relief import Frame, log_uniform, noise, smooth_line


def track(rng: np.random.Generator, frame: Frame, state: str) -> np.ndarray:
    """Where the ring ran; a border lies along the stroke, the rows of the frame."""
    if state != "border":
        return np.full(frame.shape, state == "worn")
    rows = np.arange(frame.size, dtype=np.float32)[:, None]
    line = frame.size * rng.uniform(0.38, 0.62) + rng.uniform(0, 4) * smooth_line(rng, frame.size, 25)[None]
    return frame.to_field((rng.choice([-1, 1]) * (rows - line)).astype(np.float32), sharp=True) > 0


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    state = str(rng.choice(["unworn", "border", "worn"], p=[0.4, 0.12, 0.48]))
    stroke_deg = rng.uniform(0, 180) if rng.random() < 0.2 else rng.choice([0, 90]) + rng.normal(0, 5)
    included_deg = rng.uniform(20, 150)
    stroke = Frame(shape, stroke_deg)
    worn = track(rng, stroke, state)
    smeared = state != "unworn" and rng.random() < 0.6
    scuffed = state != "unworn" and rng.random() < 0.25
    severity = float(rng.beta(1.0, 0.9))

    coverage, depth_um = log_uniform(rng, 0.07, 0.33), log_uniform(rng, 0.9, 4.5)
    weaker = log_uniform(rng, 0.15, 1.0)
    rim_um, floor_slope = log_uniform(rng, 0.03, 0.5), log_uniform(rng, 0.04, 0.5)
    hone, burrs = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    fill, fine = np.full(shape, smear.EMPTY_UM, np.float32), np.zeros(shape, np.float32)
    floors = np.zeros(shape, np.float32)
    for side, strength in zip(rng.permutation([-1, 1]), (1.0, weaker), strict=True):
        # The two lays are bisected by the circumference, which lies across the stroke.
        frame = Frame(shape, stroke_deg + 90 + side * included_deg / 2)
        grooves = band(rng, frame.size, pixel_size_um, coverage * strength, depth_um * strength**0.3)
        cut = np.minimum(frame.to_field(ground(grooves, frame.size)), 0)
        streaky = noise(rng, (frame.size, frame.size), max(0.5 / pixel_size_um, 1), max(6 / pixel_size_um, 6))
        floors = np.where(cut < hone, frame.to_field(streaky), floors)
        burrs = np.maximum(burrs, frame.to_field(rims(rng, grooves, frame.size, pixel_size_um, rim_um)))
        hone = np.minimum(hone, cut)
        fine += strangers.marks(rng, frame, pixel_size_um, log_uniform(rng, 0.02, 0.5), log_uniform(rng, 0.02, 0.25))
        if smeared:
            fill = np.maximum(fill, frame.to_field(smear.fill(rng, grooves, frame.size, pixel_size_um, severity), sharp=True))
    burrs *= hone > -0.3
    grain_um = max(log_uniform(rng, 0.4, 2.5), pixel_size_um)
    rough = log_uniform(rng, 0.005, 0.07) * grain_um * noise(rng, shape, grain_um / pixel_size_um, grain_um / pixel_size_um)
    fine = np.maximum(fine + np.clip(rough, -0.3, 0.3), -0.49)

    # Running-in: everything above the cut is gone; heights from here on are above the plateau of each place.
    cut_um = log_uniform(rng, 0.02, 1.2)
    wear_um = cv2.GaussianBlur(np.where(worn, cut_um, 0).astype(np.float32), (0, 0), max(1.5 / pixel_size_um, 1.0))
    before = truth.cut(hone, wear_um)
    peaks = np.clip(fine + burrs + wear_um, None, np.where(worn, rng.uniform(0.01, 0.08), 3.0))
    fine = np.where(worn, np.minimum(peaks, fine + burrs + wear_um) * math.exp(-2 * cut_um), peaks)
    if worn.any():
        fine += worn * strangers.marks(rng, stroke, pixel_size_um, log_uniform(rng, 0.02, 0.9), log_uniform(rng, 0.02, 0.2))
    fill[~worn] = smear.EMPTY_UM
    after = np.maximum(before, np.where(before < -0.02, fill, smear.EMPTY_UM))
    # A lip hangs over with a rounded edge, no cliff.
    lift = cv2.GaussianBlur(after - before, (0, 0), max(log_uniform(rng, 0.2, 0.8) / pixel_size_um, 0.5))
    after = np.where(worn, np.minimum(before + lift, np.maximum(after, -0.02)), before)
    closed = after - before > 0.05
    fine = np.where(closed, fine * rng.uniform(0.15, 0.8), fine)
    if smeared:
        # What was wiped into a groove bears the marks of wiping: wrinkles across the stroke or streaks along it.
        wiped_um = [log_uniform(rng, 0.6, 6), log_uniform(rng, 0.6, 12)]
        wiped = noise(rng, (stroke.size, stroke.size), *(max(um / pixel_size_um, 1.2) for um in wiped_um))
        relief_um = min(log_uniform(rng, 0.03, 0.2) * max(min(wiped_um), pixel_size_um), 0.18)
        fine = fine + closed * relief_um * stroke.to_field(wiped)
    floor_grain_um = max(0.5, pixel_size_um)
    fine = fine + floors * floor_slope * floor_grain_um * np.clip(-after, 0, 1)

    torn = np.zeros(shape, np.float32)
    if scuffed:
        seized = scuff.streaks(rng, stroke.size, pixel_size_um, float(rng.choice([log_uniform(rng, 0.03, 0.2), rng.uniform(0.2, 0.6)])))
        # Streaks stop a few µm short of the border, so that what is torn lies inside the track at the truth's resolution.
        inner = cv2.erode(worn.astype(np.float32), np.ones((3, 3)), iterations=max(math.ceil(3.6 / pixel_size_um), 3))
        seized = np.clip(stroke.to_field(seized), 0, 1) * inner
        torn = seized * stroke.to_field(scuff.torn(rng, stroke.size, pixel_size_um))
        # Torn metal is dragged into the grooves it crosses.
        after = after * (1 - rng.uniform(0.6, 1.0) * seized)
        fine = fine * (1 - seized)
    dirt = strangers.debris(rng, shape, pixel_size_um) if rng.random() < 0.3 else np.zeros(shape, np.float32)
    carbon, pits = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    grey_iron = rng.random() < 0.55
    if grey_iron:
        carbon, pits = strangers.flakes(rng, shape, pixel_size_um)
        hidden = closed | (torn != 0)
        carbon, pits = carbon * (1 - 0.8 * hidden), pits * (1 - 0.8 * hidden)
    if rng.random() < 0.5:
        carbon = np.maximum(carbon, rng.uniform(0.1, 0.9) * microscope.film_of_soot(rng, -after))
    height = (after + fine + torn + pits - wear_um + dirt).astype(np.float32)
    seen = microscope.signal(rng, height, carbon, pixel_size_um)
    if rng.random() < 0.35:
        seen = seen * strangers.film(rng, shape)
    if dirt.any():
        # Particles hold charge: bright themselves, and they draw electrons off the ground beside them.
        size_px = max(4 / pixel_size_um, 2.0)
        seen = seen * (1 - rng.uniform(0.1, 0.5) * np.clip(microscope.blurred(dirt, size_px), 0, 1)) + rng.uniform(0.1, 0.9) * (dirt > 0.3)
    codes = truth.codes(before, after, torn, dirt, pixel_size_um)
    kind = "-".join([state, *["smear"] * smeared, *["scuff"] * scuffed, *["grey-iron"] * grey_iron])
    return Made(image=microscope.picture(rng, seen.astype(np.float32)), codes=codes, worn=worn, kind=f"refereed {kind}")
