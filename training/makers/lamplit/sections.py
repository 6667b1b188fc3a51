"""Cross-sections of grooves: depth share 0-1 over the distance from the middle, 1 at the rim."""

import numpy as np

NAMES = ("vee", "bowl", "box", "stepped", "round", "comb", "trapeze")


def section(name: str, t: np.ndarray, steep: float, teeth: float) -> np.ndarray:
    """Depth share at distance t (half widths); `steep` is the wall's share of the half width, `teeth` the comb's count."""
    inside = np.clip(1 - t, 0, 1)
    if name == "vee":
        return inside
    if name == "bowl":
        return inside * (2 - inside)
    if name == "box":
        return np.clip(inside / (0.4 * steep + 0.04), 0, 1)
    if name == "stepped":
        return 0.45 * np.clip(inside / (0.3 * steep + 0.03), 0, 1) + 0.55 * np.clip((0.55 - t) / (0.3 * steep + 0.03), 0, 1)
    if name == "round":
        return inside * inside * (3 - 2 * inside)
    if name == "comb":
        # Several grits of one stone cut side by side: teeth are left standing between them, deep below the rims.
        return np.clip(inside / (0.5 * steep + 0.05), 0, 1) * (0.75 + 0.25 * np.cos(teeth * t))
    return np.clip(inside / (0.9 * steep + 0.05), 0, 1)
