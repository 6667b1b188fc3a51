"""What hides the surface and is not assessed: debris with its shadow, and the specimen's edge."""

import numpy as np

from tests.leading_maker.grooves import Ragged
from tests.leading_maker.noise import noise
from tests.leading_maker.relief import Relief
from tests.leading_maker.section import Section
from tests.leading_maker.signals import Seen


def hide(
    rng: np.random.Generator, s: Section, seen: Seen, ragged: Ragged, relief: Relief
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Return the signal with what hides it, and where it does, (rows, cols) bool."""
    (rows, cols), px, xx, yy, img = s.shape, s.px, s.xx, s.yy, seen.signal
    ex, ey = np.cos(seen.azimuth), np.sin(seen.azimuth)
    hidden = np.zeros(s.shape, bool)
    if rng.random() < 0.3:
        for _ in range(int(rng.integers(1, 6))):
            c, r = rng.uniform(0, 1, 2) * [cols, rows], rng.lognormal(np.log(0.014 * s.ext), 0.4) / px + 2.5
            dist = np.hypot((xx - c[0]) * rng.uniform(0.8, 1.2), (yy - c[1]) * rng.uniform(0.8, 1.2))
            dist = dist + 0.22 * r * noise(rng, s.shape, 0, 0.6 * r, 0.6 * r)
            off = np.hypot(xx - c[0] - 0.9 * r * ex, yy - c[1] - 0.9 * r * ey)
            img -= 0.5 * np.exp(-(np.clip(off / r - 0.4, 0, None) ** 2) * 3)
            on = dist < r
            img = np.where(on, 0.25 + 0.55 * np.clip(dist / r, 0, 1) ** 3 + 0.12 * relief.floor, img)
            hidden |= on
    if rng.random() < 0.04:
        side = yy if rng.random() < 0.5 else xx
        e = side - 0.04 * min(rows, cols) * rng.uniform(0.5, 2.5) + 1.5 / px * ragged.rag
        img = np.where(e < 0, -1.3 + 0.05 * seen.patch, img + 0.7 * np.exp(-np.clip(e, 0, None) * px / 2.5))
        hidden |= e < 0
    return img, hidden
