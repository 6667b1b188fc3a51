"""What is drawn in a field: its stroke, how it was honed, and what the ring did to it."""

from dataclasses import dataclass

import numpy as np

from .noise import between

CLOSURES = ("cap", "bridge", "lip", "flush", "fold", "plug", "long", "band")


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Angles in degrees from the picture's x axis; truncation_um: what the ring wore off the plateau; severity 0–1:
    how much of the closable length was closed; border: worn on one side only."""

    stroke_deg: float
    hone_angle_deg: float
    worn: bool
    border: bool
    truncation_um: float
    closures: tuple[str, ...]
    severity: float
    scuff: float

    @property
    def lays_deg(self) -> tuple[float, float]:
        """The circumference, across the stroke, bisects the included angle."""
        across = self.stroke_deg + 90
        return across - self.hone_angle_deg / 2, across + self.hone_angle_deg / 2


def draw_plan(rng: np.random.Generator) -> Plan:
    upright = float(rng.choice([0, 90, 180, 270])) + rng.normal(0, 4)
    stroke = upright if rng.random() < 0.7 else rng.uniform(0, 360)
    worn = rng.random() < 0.6
    closures: tuple[str, ...] = ()
    severity = scuff = 0.0
    if worn and rng.random() < 0.75:
        main = str(rng.choice(CLOSURES))
        others = rng.choice(CLOSURES[:7], size=rng.integers(0, 3), replace=False)
        closures = (main, main, *(str(other) for other in others))
        severity = between(rng, 0.12, 1.0)
    if worn and rng.random() < 0.27:
        scuff = between(rng, 0.04, 0.5)
    return Plan(
        stroke_deg=stroke,
        hone_angle_deg=rng.uniform(20, 150),
        worn=worn,
        border=worn and rng.random() < 0.25,
        truncation_um=between(rng, 0.03, 1.2) if worn else 0.0,
        closures=closures,
        severity=severity,
        scuff=scuff,
    )
