"""The honing head's motion. Turning and travelling at once, its grits draw two lays, one on each travel;
tan(angle/2) = axial speed / peripheral speed, the angle bisected by the circumference (the direction across the stroke).
Included angles of some 30–60° are usual and 140–150° for helical slide honing (from memory)."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Head:
    """Speeds of the honing head over the bore wall (m/min)."""

    axial_speed: float
    peripheral_speed: float


def hone_angle(head: Head) -> float:
    """Included angle between the two lays (radians)."""
    return 2 * np.arctan2(head.axial_speed, head.peripheral_speed)


def draw_head(rng: np.random.Generator) -> Head:
    """A shop's choice: mostly the usual angles, some flat and some steep ones, a few helical."""
    kind = rng.random()
    if kind < 0.7:
        angle = rng.uniform(30, 60)
    elif kind < 0.88:
        angle = rng.uniform(60, 100) if rng.random() < 0.6 else rng.uniform(22, 30)
    else:
        angle = rng.uniform(140, 150)
    peripheral = rng.uniform(20, 80)
    return Head(axial_speed=peripheral * np.tan(np.radians(angle) / 2), peripheral_speed=peripheral)


def lay_directions(head: Head) -> tuple[float, float]:
    """Of the up and the down travel, from the stroke (radians)."""
    half = hone_angle(head) / 2
    return np.pi / 2 - half, np.pi / 2 + half
