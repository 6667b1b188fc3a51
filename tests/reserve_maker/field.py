"""One micrograph from surface to grey values, with its mask."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from tests.reserve_maker.camera import contrast_gain, record, stains
from tests.reserve_maker.dirt import charging, debris
from tests.reserve_maker.electrons import signal
from tests.reserve_maker.finish import Specimen
from tests.reserve_maker.setting import Setting
from tests.reserve_maker.states import NOT_ASSESSED
from tests.reserve_maker.surface import make_surface


@dataclass(frozen=True, kw_only=True)
class Field:
    """grey: (rows, cols) float32 from 0 to 1, without data bar; codes: its mask; gain: as used."""

    grey: np.ndarray
    codes: np.ndarray
    lays_deg: tuple[float, ...]
    gain: float


def make_field(
    specimen: Specimen, setting: Setting, *, worn: bool, gain: float | None, rng: np.random.Generator
) -> Field:
    """Return one field. gain: of the specimen's earlier fields; None sets it on this one."""
    column, pixel = setting.column, specimen.pixel_size_um
    surface = make_surface(specimen, worn=worn, tilt_deg=column.tilt_deg, deposit=column.deposit, rng=rng)
    count = int(rng.choice([0, rng.integers(1, 6)], p=[0.5, 0.5]))
    particles, lies = debris(surface.codes.shape, pixel, count, rng)
    material = surface.material
    if rng.random() < 0.3:
        material = material * stains(material.shape, pixel, rng)
    material = np.where(lies, 1.1, material).astype(np.float32)
    height = np.where(lies, np.maximum(surface.height_um, 0) + particles, surface.height_um).astype(np.float32)
    seen = signal(height, material, pixel, column)
    gain = contrast_gain(seen, setting.contrast, setting.camera.brightness) if gain is None else gain
    hidden = lies
    if rng.random() < 0.12:
        glow = charging(seen.shape, lies, rng)
        headroom = (1 - setting.camera.brightness) / gain
        hidden = lies | (cv2.GaussianBlur(glow, (0, 0), 4) > 0.7 * headroom)
        seen = np.maximum(seen + glow, 0)
    camera = replace(setting.camera, gain=gain * rng.uniform(0.93, 1.07), raster=bool(rng.random() < 0.1))
    camera = replace(camera, brightness=camera.brightness + rng.normal(0, 0.012))
    codes = np.where(hidden, NOT_ASSESSED, surface.codes).astype(np.uint8)
    return Field(grey=record(seen, camera, rng), codes=codes, lays_deg=surface.lays_deg, gain=gain)
