"""Wear: the ring cuts the plateau off at its own smooth shape, and part of that metal is pushed along into the grooves."""

import numpy as np


def ring_shape(
    rng: np.random.Generator, across_um: np.ndarray, *, deepest_um: float, border_um: float | None, side: int
) -> tuple[np.ndarray, np.ndarray]:
    """Worn depth (µm) and track (bool) over the distance across the stroke; border_um None: worn all over."""
    bulge = 1 - 0.3 * rng.random() * (across_um / max(float(np.abs(across_um).max()), 1e-9)) ** 2
    if border_um is None:
        return (deepest_um * bulge).astype(np.float32), np.ones(across_um.shape, bool)
    inside = side * (across_um - border_um)
    soft = rng.uniform(2, 12)
    rise = np.clip(inside / soft, 0, 1)
    return (deepest_um * bulge * rise * rise * (3 - 2 * rise)).astype(np.float32), inside > 0


def truncate(height_um: np.ndarray, worn_um: np.ndarray, rounding_um: float = 0.02) -> np.ndarray:
    """The surface cut off at -worn_um, its edges rounded over rounding_um."""
    gap = -worn_um - height_um
    return -worn_um - 0.5 * (gap + np.sqrt(gap * gap + 4 * rounding_um * rounding_um))


def push(
    supply_um: np.ndarray, gap_um: np.ndarray, *, pixel_size_um: float, sheet_um: float, loss_um: float = 150.0
) -> tuple[np.ndarray, float, float]:
    """Metal pushed along the columns of a frame whose rows are stations along the stroke, first row first.

    supply_um: thickness of the metal cut loose at each place; gap_um: depth of the ground below the plateau there. What is
    carried lays a sheet of at most sheet_um over any gap deeper than 0.5 µm until it is spent; the rest wears away as
    debris over loss_um. Returns what share of each place is closed (0-1), and the metal cut and laid (µm³).
    """
    closed = np.zeros_like(gap_um)
    carried = np.zeros(gap_um.shape[1], np.float32)
    keep = np.float32(np.exp(-pixel_size_um / loss_um))
    open_ = gap_um >= 0.5
    cost = np.minimum(gap_um, np.float32(sheet_um)) * np.float32(pixel_size_um)
    gain = supply_um * np.float32(pixel_size_um)
    laid = 0.0
    for row in range(gap_um.shape[0]):
        carried = carried * keep + np.where(open_[row], 0, gain[row])
        spent = np.where(open_[row] & (carried >= cost[row]), cost[row], 0)
        # A sheet that has run out has torn off: it does not set in again before the next land.
        carried = np.where(open_[row] & (spent == 0), 0, carried - spent)
        closed[row] = spent > 0
        laid += float(spent.sum())
    cut = float(np.where(open_, 0, gain).sum())
    return closed, cut * pixel_size_um, laid * pixel_size_um
