"""Distance comes first: how far off the ground is seen decides what grooves, wear and matter can be told in it."""

from dataclasses import dataclass

import numpy as np

from .draw import log_uniform


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Directions in degrees from +x towards +y (down); widths in µm."""

    pixel_um: float
    stroke_deg: float
    hone_angle_deg: float
    lays_deg: tuple[float, float]
    width_um: float
    cover: tuple[float, float]
    extent: str
    smear: float
    scuff: float
    truncation_um: float
    range_name: str


def lays(stroke_deg: float, hone_angle_deg: float) -> tuple[float, float]:
    """The hone angle is bisected by the circumference, which lies across the stroke."""
    across = stroke_deg + 90
    return across - hone_angle_deg / 2, across + hone_angle_deg / 2


def choose(rng: np.random.Generator, pixel_um: float, shape: tuple[int, int]) -> Setting:
    field_um = pixel_um * min(shape)
    upright = rng.random() < 0.8
    stroke = rng.choice([0.0, 90.0, 90.0]) + rng.normal(0, 5) if upright else rng.uniform(0, 180)
    angle = rng.uniform(25, 75) if rng.random() < 0.6 else rng.uniform(20, 150)
    finest, widest = max(4.0, 1.6 * pixel_um), min(55.0, 0.3 * field_um)
    # Half of the far views show grooves of few pixels, however wide a groove can be.
    width = log_uniform(rng, finest, widest if rng.random() < 0.5 else max(finest, min(widest, 8 * pixel_um)))
    cover = log_uniform(rng, 0.14, 0.5)
    weaker = rng.choice([1.0, rng.uniform(0.1, 0.9)])
    extent = str(rng.choice(["unworn", "border", "track"], p=[0.4, 0.2, 0.4]))
    worn = extent != "unworn"
    # Most wear leaves the grooves there to be seen; some doesn't.
    most_worn_um = 1.2 if rng.random() < 0.12 else min(1.2, max(0.08, 0.04 * width))
    return Setting(
        pixel_um=pixel_um,
        stroke_deg=float(stroke),
        hone_angle_deg=float(angle),
        lays_deg=lays(float(stroke), float(angle))[:: int(rng.choice([-1, 1]))],
        width_um=width,
        cover=(cover, cover * float(weaker)),
        extent=extent,
        smear=log_uniform(rng, 0.35, 1.8) if worn and rng.random() < 0.62 else 0.0,
        scuff=log_uniform(rng, 0.05, 0.7) if worn and rng.random() < 0.25 else 0.0,
        truncation_um=log_uniform(rng, 0.03, most_worn_um) if worn else 0.0,
        range_name="close" if width > 0.12 * field_um else "far" if width < 5 * pixel_um else "middle",
    )


def track(rng: np.random.Generator, setting: Setting, shape: tuple[int, int]) -> np.ndarray:
    """Where the ring ran; its border runs along the stroke and wavers a little."""
    if setting.extent != "border":
        return np.full(shape, setting.extent == "track")
    rows, cols = np.mgrid[: shape[0], : shape[1]]
    cos, sin = np.cos(np.deg2rad(setting.stroke_deg)), np.sin(np.deg2rad(setting.stroke_deg))
    across = (rows - shape[0] / 2) * cos - (cols - shape[1] / 2) * sin
    onward = (rows - shape[0] / 2) * sin + (cols - shape[1] / 2) * cos
    waver = rng.uniform(0, 4) * np.sin(onward / rng.uniform(15, 90) + rng.uniform(0, 6))
    return (across + waver > rng.uniform(-0.3, 0.3) * min(shape)) == bool(rng.random() < 0.5)
