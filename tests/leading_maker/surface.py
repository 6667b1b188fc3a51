"""The surface as it stands: depths of grooves and heights, from grooves, closures, relief and scuffing."""

from dataclasses import dataclass

import numpy as np

from tests.leading_maker.kept import Kept
from tests.leading_maker.layers import Layers
from tests.leading_maker.noise import F
from tests.leading_maker.relief import Relief
from tests.leading_maker.scuffing import Scuffing
from tests.leading_maker.section import Track


@dataclass(frozen=True, kw_only=True)
class Surface:
    """(rows, cols) float: depth of open grooves and height above the local plateau, µm; opened, closed, flush, scuffed: 0-1
    amounts of each state; seam 0-1."""

    depth: np.ndarray
    height: np.ndarray
    opened: np.ndarray
    closed: np.ndarray
    flush: np.ndarray
    scuffed: np.ndarray
    seam: np.ndarray

    @property
    def level(self) -> np.ndarray:
        """Where neither an open groove nor scuffing lies, 0-1."""
        return (1 - self.opened) * (1 - self.scuffed)


def stand(kept: Kept, layers: Layers, relief: Relief, scuffing: Scuffing, track: Track) -> Surface:
    """Put the layers together; scuffing leaves a little of the grooves under it."""
    opened, closed, scuffed = layers.opened.astype(F), layers.closed.astype(F), scuffing.soft
    left = kept("grooves under scuffing").uniform(0.0, 0.25)
    depth = layers.now * (1 - (1 - left) * scuffed)
    burr = layers.burr * (1 - 0.8 * track.soft) * (1 - opened) * (1 - closed)
    height = -depth + burr + relief.plateau * (1 - opened) * (1 - scuffed)
    height += (layers.cover + layers.flush * (0.07 * relief.moved - 0.05)) - 0.6 * layers.seam * (1 - scuffed)
    height += opened * (1 - scuffed) * (0.12 * relief.floor + 0.10 * layers.striae) + scuffed * scuffing.height
    return Surface(
        depth=depth, height=height.astype(F), opened=opened, closed=closed, flush=layers.flush, scuffed=scuffed,
        seam=layers.seam,
    )  # fmt: skip
