"""One secondary-electron picture of a surface, and what is hidden in it."""

import cv2
import numpy as np

from tests.sheet_maker.camera import (
    Faults,
    add_debris,
    charge,
    contaminate,
    count,
    focus,
    grey,
    scan,
)
from tests.sheet_maker.emission import edge_glow, emitted, starved
from tests.sheet_maker.noise import Rng, blotches
from tests.sheet_maker.setting import Specimen
from tests.sheet_maker.sky import collected
from tests.sheet_maker.surface import Surface


def signal_of(surface: Surface, specimen: Specimen, uneven: np.ndarray | float = 0.0) -> np.ndarray:
    """Return the signal without noise, 1 on a level land; ``uneven`` makes edges glow here more, there less."""
    pixel = specimen.pixel_size_um
    height_um = cv2.GaussianBlur(surface.height_um, (0, 0), max(0.5, 0.22 / pixel))
    height_px = height_um * np.float32(specimen.relief / pixel)
    light = collected(height_px, specimen.detector_deg, specimen.one_sided)
    yields = emitted(height_px, specimen.tilt_deg, specimen.kv)
    glow = edge_glow(height_um, pixel, specimen.kv)
    glow *= np.clip(1 + 0.5 * uneven, 0.1, 2)
    signal = light * yields * surface.tone * starved(height_um, pixel) * (1 + specimen.glow * glow)
    return (signal / np.median(signal)).astype(np.float32)


def take(rng: Rng, surface: Surface, specimen: Specimen, faults: Faults) -> tuple[np.ndarray, np.ndarray]:
    """Return grey values from 0 to 1 and the mask codes with 255 where the surface is hidden."""
    signal = signal_of(surface, specimen, blotches(rng, surface.codes.shape, max(4 / specimen.pixel_size_um, 6)))
    hidden = np.zeros(signal.shape, bool)
    signal = add_debris(rng, signal, hidden, faults.debris, specimen.pixel_size_um)
    if faults.contamination:
        signal = contaminate(rng, signal)
    signal = focus(signal, specimen.blur_px + faults.defocus_px, specimen.tilt_deg, specimen.pixel_size_um)
    if faults.charging:
        signal = charge(rng, signal, hidden)
    signal = count(rng, scan(rng, signal, faults), specimen.electrons, specimen.electronic_noise)
    codes = surface.codes.copy()
    codes[hidden] = 255
    return grey(signal, specimen), codes
