"""Settings of the microscope, drawn once a specimen: column, recording, and how files are written."""

from dataclasses import dataclass

import numpy as np

from tests.reserve_maker.camera import Camera
from tests.reserve_maker.electrons import Column
from tests.reserve_maker.random_fields import log_uniform


@dataclass(frozen=True, kw_only=True)
class Setting:
    """column and camera; contrast: share of the grey range that a first field's signal takes; suffix and bits: file."""

    column: Column
    camera: Camera
    contrast: float
    suffix: str
    bits: int


def draw_column(rng: np.random.Generator) -> Column:
    """Return a column: most detectors stand at one side, some collect through the lens from all sides alike."""
    through_lens = rng.random() < 0.28
    bright_ground = rng.random() < 0.2
    tilt = float(rng.choice([0.0, rng.uniform(2, 12), rng.uniform(12, 30)], p=[0.72, 0.16, 0.12]))
    return Column(
        kv=float(rng.choice([2, 3, 5, 8, 10, 15, 20], p=[0.05, 0.08, 0.2, 0.07, 0.25, 0.25, 0.1])),
        tilt_deg=round(tilt, 1),
        detector=str(rng.choice(["axial SE", "column SE"]) if through_lens else rng.choice(["SE", "side SE", "SE-B"])),
        detector_deg=90.0 if tilt else float(rng.choice([90, rng.uniform(0, 360)])),
        sidedness=float(rng.uniform(0, 0.1) if through_lens else rng.uniform(0.35, 1.0)),
        sky=float(rng.uniform(0.15, 0.5) if bright_ground else rng.uniform(0.5, 1.5)),
        edge=float(rng.uniform(0.3, 0.8) if through_lens else rng.uniform(0.08, 0.6)),
        incline=float(rng.uniform(0.6, 1.5)),
        deposit=float(rng.uniform(0.08, 0.26) if bright_ground else rng.uniform(-0.22, 0.05)),
    )


def draw_setting(rng: np.random.Generator) -> Setting:
    """Return the setting for all fields of a specimen; the gain is set on its first field."""
    soft = rng.random() < 0.12
    camera = Camera(
        electrons=log_uniform(150, 4000, rng),
        blur_px=float(rng.uniform(1.3, 2.0) if soft else rng.uniform(0.4, 1.1)),
        stretch=float(rng.uniform(0.85, 1.2)),
        jitter_px=float(rng.choice([0.0, rng.uniform(0.1, 0.45)], p=[0.75, 0.25])),
        brightness=float(rng.uniform(0.36, 0.62)),
        gain=1.0,
        gamma=float(rng.uniform(0.8, 1.25)),
        shade=float(rng.choice([0.0, rng.uniform(0.01, 0.05)])),
        raster=False,
        hum=float(rng.choice([0.0, rng.uniform(0.002, 0.008)], p=[0.8, 0.2])),
    )
    kinds = [(".tif", 8), (".tif", 16), (".png", 8), (".png", 16), (".jpg", 8)]
    suffix, bits = kinds[int(rng.choice(5, p=[0.3, 0.15, 0.2, 0.1, 0.25]))]
    return Setting(
        column=draw_column(rng), camera=camera, contrast=float(rng.uniform(0.45, 0.95)), suffix=suffix, bits=bits
    )
