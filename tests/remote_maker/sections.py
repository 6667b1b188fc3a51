"""Cross-sections of grooves: relative depth over the groove's half width, with the slope known in closed form.

One family covers the sections seen on profiles of honed bores: 1 - |u|^p is a V for p near 1, a U for p near 2 and
flat-bottomed for p of 4 and more; unequal half widths make it lopsided, and a ridge left between two cutting edges of one
grain makes it double. The choice of family is this maker's own.
"""

import numpy as np

RIDGE_WIDTH = 0.22


def section(u: np.ndarray, power: float, ridge: float, ridge_at: float) -> tuple[np.ndarray, np.ndarray]:
    """Return relative depth (0 at the rims, up to 1) and its derivative by u; both are 0 outside [-1, 1].

    >>> depth, slope = section(np.array([-1.0, 0.0, 0.5, 2.0]), 2.0, 0.0, 0.0)
    >>> depth.tolist(), slope.tolist()
    ([0.0, 1.0, 0.75, 0.0], [2.0, -0.0, -1.0, -0.0])
    """
    size = np.minimum(np.abs(u), 1)
    inside = np.abs(u) <= 1
    lower = size ** (power - 1)
    depth = 1 - lower * size
    slope = -power * lower * np.sign(u) * inside
    if ridge > 0:
        bump = ridge * np.exp(-(((u - ridge_at) / RIDGE_WIDTH) ** 2))
        slope = slope * (1 - bump) + depth * bump * 2 * (u - ridge_at) / RIDGE_WIDTH**2
        depth = depth * (1 - bump)
    return depth, slope


def rim_place(removed: np.ndarray, depth: np.ndarray, power: float) -> np.ndarray:
    """Return |u| of the rims once the plateau has been worn down by ``removed``: where the section is as deep as that.

    >>> rim_place(np.array([0.0, 1.0, 5.0]), np.array([4.0, 4.0, 4.0]), 2.0).round(3).tolist()
    [1.0, 0.866, 0.0]
    """
    return np.maximum(1 - removed / np.maximum(depth, 1e-3), 0) ** (1 / power)
