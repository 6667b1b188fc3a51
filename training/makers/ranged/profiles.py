"""Cross sections of a hone groove: depth over its deepest, against the place between the rims."""

import numpy as np

KNOTS = 257
FAMILY = ("v", "u", "w", "flat", "stepped", "double")
WALL_SHARE = {"v": 1.0, "u": 0.75, "w": 0.55, "flat": 0.35, "stepped": 0.8, "double": 0.45}
"""Share of the half width over which the wall falls, on the mean, to the full depth."""


def section(family: str) -> np.ndarray:
    """Depth share 0–1 at KNOTS places from rim (−1) to rim (+1)."""
    u = np.abs(np.linspace(-1, 1, KNOTS))
    fall = (1 - u) / WALL_SHARE[family]
    if family == "u":
        return 1 - u**2.7
    if family == "w":
        return np.minimum(fall, 1) - 0.35 * np.clip(1 - u / 0.4, 0, 1)
    if family == "stepped":
        return np.interp(1 - u, [0, 0.3, 0.5, 0.8, 1], [0, 0.45, 0.5, 1, 1])
    if family == "double":
        return np.minimum(fall, 1) - 0.75 * np.clip(1 - u / 0.5, 0, 1)
    return np.clip(fall, 0, 1)


def worked(rng: np.random.Generator, family: str) -> np.ndarray:
    """The section with one wall steeper than the other and the micro-grooves that single grits cut in it."""
    u = np.linspace(-1, 1, KNOTS)
    lean = rng.uniform(-0.35, 0.35)
    leaning = np.interp(u, [-1, lean, 1], [-1, 0, 1])
    base = np.interp(leaning, u, section(family))
    count = int(rng.integers(5, 60))
    grits = np.interp(u, np.linspace(-1, 1, count), rng.standard_normal(count))
    return np.clip(base * (1 + rng.uniform(0.02, 0.16) * grits), 0, None).astype(np.float32)


def depth_um(width_um: float, slope_deg: float, family: str) -> float:
    """Depth of a groove of that width whose walls slope so, kept to 0.2–10 µm."""
    return float(np.clip(WALL_SHARE[family] * width_um / 2 * np.tan(np.deg2rad(slope_deg)), 0.2, 10.0))
