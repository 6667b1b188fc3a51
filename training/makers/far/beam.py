"""The electron picture of a ground: 0 to 1, by a tone for what the beam meets plus four effects of relief."""

import math

import cv2
import numpy as np

from .chance import blur, cloth, line, ramp
from .recipe import LIMIT_UM


def _shading(height, pixel, azimuth):
    """Slope towards the detector, as an angle: walls at 6-27 degrees do not saturate."""
    down, right = np.gradient(height, pixel)
    slope = right * math.cos(math.radians(azimuth)) - down * math.sin(math.radians(azimuth))
    side = right * math.sin(math.radians(azimuth)) + down * math.cos(math.radians(azimuth))
    # The specimen chamber scatters some signal from beside, so that no groove direction goes unseen.
    return np.arctan(1.5 * (slope + 0.3 * side))


def electron_picture(rng, ground, specimen):
    beam, pixel = specimen.beam, specimen.pixel
    shape = ground.height.shape
    height = ground.height.copy()
    if ground.debris.any():
        body = blur(ground.debris.astype(np.float32), max(0.8, 0.5 / pixel))
        height += body * 2.0
    openness = ramp(ground.depth, LIMIT_UM - 0.12, LIMIT_UM + 0.12)
    floor = openness * (0.8 + 0.2 * ramp(ground.depth, 0.6, 3.0))
    # Floors keep grinding debris and carbon: mottled, apart from the clean plateau.
    mottle = cloth(rng, shape, max(1.0, 0.7 / pixel)) * 0.6 + cloth(rng, shape, max(1.4, 2.5 / pixel)) * 0.6
    picture = beam.floor * floor + beam.floor_grain * 0.5 * openness * mottle
    shallow = np.maximum(ground.marks, np.where(ground.states == 0, ground.depth, 0))
    picture += beam.faint * np.clip(shallow / 0.35, 0, 1.2) * (1 - openness)
    picture += ground.tone
    seen = blur(height, max(0.5, 0.2 / pixel))
    picture += beam.shading * _shading(seen, pixel, beam.azimuth)
    near = max(1.1, 0.6 / pixel)
    convex = seen - blur(seen, near)
    picture += beam.rims * np.clip(convex, -0.05, 0.45) * 0.9
    sunk = blur(seen, max(4, 6 / pixel)) - seen
    picture -= beam.starving * np.tanh(np.clip(sunk, 0, None) / 1.2)
    picture += beam.grain * (cloth(rng, shape, max(1.0, 0.5 / pixel)) + 0.35 * cloth(rng, shape, max(2, 12 / pixel)))
    picture += 0.03 * ground.rough * cloth(rng, shape, max(1.0, 0.9 / pixel))
    # Carbon gives few electrons in either mode (backscatter 0.06 against 0.28 of iron: Reuter's formula).
    dark = -0.42 if beam.detector == "BSE" else -0.3
    picture += dark * ground.graphite
    if ground.debris.any():
        lump = 0.22 if beam.detector == "SE" else -0.2
        picture += lump * body
        shift = np.float32(
            [[1, 0, -3.0 * math.cos(math.radians(beam.azimuth))], [0, 1, 3.0 * math.sin(math.radians(beam.azimuth))]]
        )
        shade = cv2.warpAffine(body, shift, shape[::-1])
        picture -= 0.15 * np.clip(shade - body, 0, 1)
    return _recorded(rng, picture, beam, shape)


def _recorded(rng, picture, beam, shape):
    picture = blur(picture.astype(np.float32), beam.blur)
    if beam.jitter:
        rows, columns = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
        columns += (beam.jitter * rng.normal(size=shape[0]).astype(np.float32))[:, None]
        picture = cv2.remap(picture, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    spread = np.std(picture[::3, ::3])
    picture = (picture - np.mean(picture[::3, ::3])) / max(spread, 0.02)
    picture += beam.drift * 6 * cloth(rng, shape, shape[0] / 1.5) / 2
    picture += 0.1 * line(rng, shape[0], 2)[:, None] * beam.drift * 5
    grey = np.clip(beam.mean + beam.spread * picture, 0.0, None)
    noise = beam.noise * np.sqrt(np.clip(grey, 0.03, None) / 0.5)
    grey = grey + noise * rng.standard_normal(shape, dtype=np.float32)
    grey = np.clip(grey, 0.001, None) ** beam.gamma
    # A detector's amplifier bends over rather than clips.
    return np.where(grey > 0.8, 0.8 + 0.2 * np.tanh((grey - 0.8) / 0.2), np.clip(grey, 0, 1))
