"""What the surface is made of: graphite, oil's carbon, films, moved and torn metal; each changes the electrons' number.

Graphite is dark in either mode, backscatter coefficient 0.06 against 0.28 of iron [D, tests/SOURCES.md]; the other amounts
are common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

from tests.microscope_maker.electrons import Beam
from tests.microscope_maker.frame import Frame
from tests.microscope_maker.look_alikes import Matter


@dataclass(frozen=True, kw_only=True)
class States:
    """(rows, cols) float: after, depth of open grooves, µm; closed and torn, 0-1; weight: the track, 0-1."""

    after: np.ndarray
    closed: np.ndarray
    torn: np.ndarray
    weight: np.ndarray


def coloured(f: Frame, beam: Beam, y: np.ndarray, states: States, matter: Matter) -> np.ndarray:
    """Return the electrons ``y`` (rows, cols) as the materials change them; a thin film matters less at a high voltage."""
    own = f.own
    thin = float(np.clip(1.3 - beam.kv / 22, 0.45, 1.2))
    oil = np.clip(0.5 + 0.45 * f.noise(10, 10) + 0.3 * f.noise(3, 3), 0, 1) * np.clip(states.after / 1.2, 0, 1)
    thick = own["oil's thickness"].uniform(0.05, 0.45)
    film = matter.film + own["oily"].choice([0.0, thick], p=[0.35, 0.65]) * oil
    y = y * np.exp(-thin * film)
    y = y * (1 - own["graphite"].uniform(0.5, 0.8) * matter.graphite)
    y = y * (1 - own["pull-outs"].uniform(0.1, 0.45) * matter.pull)
    sign = own["closures' sign"].choice([-1, 1])
    y = y * (1 + sign * own["closures"].uniform(0.04, 0.14) * states.closed * np.clip(1 + 0.4 * f.noise(4, 15), 0, 2))
    y = y * (1 + own["torn metal"].uniform(-0.12, 0.14) * states.torn)
    y = y * (1 + own["track"].uniform(-0.06, 0.06) * states.weight)
    if beam.back:  # grains of the matrix
        y = y * (1 + own["grains"].uniform(0.0, 0.03) * np.tanh(3 * f.noise(9, 9)))
    return y
