"""Truth of a field: a code for every pixel, and the shares of the assessed area.

Codes: 0 plateau, 1 open valley (a hone groove's ground at least 0.5 µm below the local plateau), 2 smeared (ground that would
be so deep if displaced metal didn't lie within 0.5 µm of the plateau above it), 3 scuffed, 255 not assessed.
"""

import numpy as np

from .surface import Surface

VALLEY_UM = 0.5
PLATEAU, VALLEY, SMEARED, SCUFFED, HIDDEN = 0, 1, 2, 3, 255


def codes(surface: Surface) -> np.ndarray:
    """Return the code of every pixel, uint8. A groove that stays open through faint scuffing is open valley."""
    deep = surface.depth >= VALLEY_UM
    closed = surface.covered & (surface.sag < VALLEY_UM)
    found = np.zeros(surface.shape, np.uint8)
    found[deep] = VALLEY
    found[deep & closed] = SMEARED
    scuffed = surface.scuff > 0
    found[scuffed & (found != VALLEY)] = SCUFFED
    found[surface.hidden] = HIDDEN
    return found


def shares(found: np.ndarray) -> dict[str, float]:
    """Return the share of the assessed pixels in each state.

    >>> shares(np.array([[0, 1], [2, 255]], np.uint8))["valley"]
    0.3333333333333333
    """
    total = max(int((found != HIDDEN).sum()), 1)
    names = {"valley": VALLEY, "smeared": SMEARED, "scuffed": SCUFFED, "plateau": PLATEAU}
    return {name: float((found == code).sum() / total) for name, code in names.items()}
