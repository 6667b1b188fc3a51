"""What a field went through: its hone, its ring and its microscope, drawn before anything is laid down."""

from dataclasses import dataclass

import numpy as np

from .grain import log_uniform


@dataclass(frozen=True, kw_only=True)
class Story:
    """Angles in degrees from the picture's row; lengths in µm; shares from 0 to 1."""

    stroke_deg: float
    included_deg: float
    weak_band: float
    width_um: float
    depth_um: float
    wall_deg: float
    valley_share: float
    wear: str
    border_px: float
    truncation_um: float
    smear: float
    closure: str
    strips: int
    scuff: float
    scene: str

    @property
    def lays_deg(self) -> tuple[float, float]:
        """The circumference bisects the included angle, so both lays lie half of it from the direction across the stroke."""
        return self.stroke_deg + 90 - self.included_deg / 2, self.stroke_deg + 90 + self.included_deg / 2


CLOSURES = ("short", "long", "lips", "whole", "mixed")


def tell(rng: np.random.Generator, field_um: float, pixel_size_um: float, size_px: int) -> Story:
    """A story that a field of this side in µm can show: its grooves are some pixels wide and fit several times into it."""
    stroke = rng.choice((0.0, 90.0)) + rng.normal(0, 4) if rng.random() < 0.8 else rng.uniform(0, 180)
    low = max(1.5, 3.0 * pixel_size_um)
    width = log_uniform(rng, low, max(low * 1.5, min(45.0, field_um / 5)))
    # Narrow grooves have steep walls, or they would be finishing marks.
    wall = log_uniform(rng, max(9.0, min(60.0, np.degrees(np.arctan(2.8 / width)))), 70)
    # A groove can't be deeper than its two walls allow before they meet.
    depth = min(log_uniform(rng, 1.0, 7.0), 0.45 * width * np.tan(np.radians(wall)))
    wear = rng.choice(("unworn", "border", "worn"), p=(0.17, 0.15, 0.68))
    worn = wear != "unworn"
    smear = 0.0 if not worn or rng.random() < 0.13 else rng.beta(1.8, 1.3)
    scuff = 0.0 if not worn or rng.random() < 0.6 else log_uniform(rng, 0.03, 0.65)
    return Story(
        stroke_deg=float(stroke),
        included_deg=float(rng.uniform(20, 150)),
        weak_band=float(rng.choice((rng.uniform(0.5, 1), rng.uniform(0.03, 0.4)))),
        width_um=width,
        depth_um=float(max(depth, 0.8)),
        wall_deg=wall,
        valley_share=log_uniform(rng, 0.2, 0.85),
        wear=str(wear),
        border_px=float(rng.uniform(-0.3, 0.3) * size_px),
        truncation_um=min(log_uniform(rng, 0.02, 0.6), 0.2 * depth) * worn,
        smear=float(smear),
        closure=str(rng.choice(CLOSURES)),
        strips=int(rng.integers(1, 5)) if smear > 0 and rng.random() < 0.4 else 0,
        scuff=float(scuff),
        scene=str(rng.choice(("clean", "graphite", "stained", "littered"), p=(0.35, 0.3, 0.2, 0.15))),
    )
