"""Fine relief: finishing marks, running-in marks, and the textures of floors and of moved metal."""

from dataclasses import dataclass

import numpy as np

from tests.leading_maker.kept import Kept
from tests.leading_maker.noise import F, noise
from tests.leading_maker.section import Section, Track


@dataclass(frozen=True, kw_only=True)
class Relief:
    """(rows, cols): plateau µm; unit noises marks (finishing), run (running-in), floor and moved; unpolished: 0-1, what is
    left of the finishing marks."""

    plateau: np.ndarray
    marks: np.ndarray
    run: np.ndarray
    floor: np.ndarray
    moved: np.ndarray
    unpolished: np.ndarray


def draw_relief(rng: np.random.Generator, kept: Kept, s: Section, track: Track) -> Relief:
    """Draw the relief; wear polishes the finishing marks away and leaves its own along the stroke."""
    px, shape = s.px, s.shape
    width = kept("marks' width").uniform(0.5, 1.4)
    marks = sum(
        noise(rng, shape, s.phi + lay * s.half * rng.uniform(0.8, 1.1), rng.uniform(60, 200) / px, max(width / px, 1.1))
        for lay in (-1, 1)
    ) * F(0.7)
    run = noise(rng, shape, s.stroke, 150 / px, max(rng.uniform(0.5, 1.2) / px, 1.1))
    run = run + F(0.6) * noise(rng, shape, s.stroke, 300 / px, 4 / px)
    level = {"plateau-honed": 0.06, "single-stage": 0.12, "helical-slide": 0.08}[s.family]
    level = level * kept("marks' height").uniform(0.6, 1.4)
    run_um = kept("running-in marks' height").uniform(0.03, 0.09)
    polish = np.clip(track.wear_um / 0.8, 0.3, 0.95) if s.is_worn else 0
    unpolished = 1 - polish * track.soft
    floor = noise(rng, shape, 0, max(1.2 / px, 1.2), max(1.2 / px, 1.2))
    moved = F(0.8) * noise(rng, shape, s.stroke, max(14 / px, 5), max(1.2 / px, 1.3))
    moved = moved + F(0.6) * noise(rng, shape, s.stroke, max(5 / px, 2), max(3 / px, 2))
    return Relief(
        plateau=marks * level * unpolished + run * run_um * track.soft,
        marks=marks, run=run, floor=floor, moved=moved, unpolished=unpolished,
    )  # fmt: skip
