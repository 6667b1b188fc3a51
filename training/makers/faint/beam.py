"""Electrons from slopes, edges, depth and matter: the signal before the instrument, where level bare iron gives 1."""

from dataclasses import dataclass

import numpy as np

from .ground import Ground

IRON_BSE, CARBON_BSE = 0.28, 0.06
"""Backscatter coefficients (Reuter)."""


@dataclass(frozen=True)
class View:
    """backscattered or secondary; side_deg: azimuth of the detector; one_sided: signal gained per unit slope turned to it;
    edge: gain at convex rims; starving: how fast escape falls with depth over width; carbon: share of carbon on deep floors."""

    backscattered: bool
    side_deg: float
    one_sided: float
    edge: float
    starving: float
    carbon: float


def signal(
    view: View, ground: Ground, col_slope: np.ndarray, row_slope: np.ndarray, *, carbon: np.ndarray, bright: np.ndarray
) -> np.ndarray:
    """Signal from slopes (µm/µm, height to the right and downwards), carbon cover (0 to 1) and other brightness (added)."""
    tilt = np.sqrt(1 + col_slope**2 + row_slope**2)  # sec of the tilt in closed form
    turned = -(col_slope * np.float32(np.cos(np.radians(view.side_deg))) + row_slope * np.float32(np.sin(np.radians(view.side_deg)))) / tilt
    escape = np.exp(-view.starving * ground.narrow)
    if view.backscattered:
        base = 1 / np.sqrt(tilt) + view.one_sided * turned
        matter = 1 - carbon * (1 - CARBON_BSE / IRON_BSE)
    else:
        base = tilt + view.one_sided * turned + view.edge * ground.edge
        matter = 1 - 0.55 * carbon
    return (base * escape * matter + bright).astype(np.float32)
