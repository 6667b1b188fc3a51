"""Scuffing: furrows, torn plates and smeared-up ridges in streaks along the stroke."""

import numpy as np

from tests.microscope_maker.frame import Frame


def scuff(f: Frame, z: np.ndarray, before: np.ndarray, weight: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the heights with scuffing, µm, and how far each pixel is torn, 0-1, (rows, cols) each.

    z: heights; before: depth of the grooves, of which deep ones can outlast it; weight: the track, 0-1.
    """
    field = _streaks(f)
    r = f.rng
    outlast = f.own["outlasting depth"].uniform(2.0, 8)
    field -= 12 * (weight < 0.5)
    field -= 2.5 * np.clip((before - outlast) / 0.8, 0, 1) * (field > -3)
    torn = np.clip(0.5 + 1.6 * field, 0, 1)
    furrows = f.own["ploughing"].uniform(0.3, 0.75) * (
        0.5 * f.noise(1.4, 90) + f.noise(3.5, 140) + 0.8 * f.noise(9, 220)
    )
    h = f.noise(5, 13) + 0.6 * f.noise(2.2, 6) + 0.35 * f.noise(1.1, 2.2)
    patches = np.clip(0.5 + 1.2 * (f.noise(10, 60) + r.uniform(-0.3, 1.0)), 0, 1)
    tear = f.own["tearing"].uniform(0.45, 1.2) * np.tanh(2.2 * h) * patches
    steps = r.uniform(0.0, 0.4) * np.tanh(5 * f.noise(14, 30))
    torn_z = furrows + tear + steps - r.uniform(0.0, 0.8) - 0.12 * np.minimum(before, 3)
    return z * (1 - torn) + torn_z * torn, torn


def _streaks(f: Frame) -> np.ndarray:
    """Return where streaks lie, (rows, cols): above 0 within them, ragged, -9 far off."""
    r = f.rng
    u, v = f.across, f.along
    size = min(f.width, f.height)
    field = np.full(f.shape, -9.0, np.float32)
    ragged = 0.32 * f.noise(3.5, 45) + 0.6 * f.noise(9, 110)
    fray = 0.12 * f.noise(2, 9)
    heavy = f.own["heavy scuffing"].random() < 0.2
    want, got = (r.uniform(0.6, 1.3) if heavy else r.uniform(0.06, 0.55)) * f.width, 0.0
    for _ in range(12):
        if got > want:
            break
        w = float(np.clip(r.lognormal(np.log(36), 0.6), 10, 160))
        w = min(w, 0.45 * size, max(want - got, 8))
        u0 = r.uniform(float(u.min()), float(u.max()))
        length = r.uniform(0.5, 2.5) * size
        v0 = r.uniform(0, f.height)
        bend = 2.0 * f.line(v, 150)
        c = (w / 2 - np.abs(u - u0 - bend)) / max(4.0, 0.2 * w) + 1.1 * ragged + fray
        end = (length / 2 - np.abs(v - v0)) / 25 + ragged
        field = np.maximum(field, np.minimum(c, end))
        got += w * min(1.0, length / size)
    return np.clip(field, -9, 3)
