"""What the ring did: where it ran, how far it truncated, and where it tore the metal."""

import numpy as np

from .fields import along, cloud, log_uniform, ramp, rough, streaks


def track(rng, shape, stroke):
    """Where the ring ran (bool over `shape` px) and the name of the case; a border runs along the stroke (radians)."""
    draw = rng.uniform()
    if draw < 0.4:
        return np.zeros(shape, bool), "unworn"
    if draw < 0.58:
        s, u = along(shape, stroke)
        edge = rng.uniform(-0.3, 0.3) * min(shape) + 0.01 * rng.uniform(0, 2) * s
        edge = edge + rng.uniform(0, 4) * np.sin(s / rng.uniform(15, 120))
        return (u - edge) * rng.choice((-1, 1)) > 0, "border"
    return np.ones(shape, bool), "worn"


def torn(rng, shape, pixel, stroke, worn, share):
    """0-1 where adhesion tore the metal (streaks along the stroke) over about `share`, and its height
    in µm; pixel in µm, stroke in radians."""
    width = log_uniform(rng, 4, 60) / pixel
    width = float(np.clip(width, 6, 0.3 * min(shape)))
    streak = streaks(rng, shape, stroke, width * log_uniform(rng, 5, 25), width)
    streak = streak + 0.35 * streaks(rng, shape, stroke, width * 1.5, width / 3)
    level = float(np.quantile(streak, 1 - share))
    mask = ramp(streak, level - 0.06, level + 0.06) * worn
    fine = max(width / rng.uniform(4, 9), 1.5)
    ridges = streaks(rng, shape, stroke, fine * log_uniform(rng, 3, 12), fine)
    height = log_uniform(rng, 0.4, 2) * (ridges - 0.4 * np.abs(rough(rng, shape, 2 * fine)) + 0.5 * rough(rng, shape, fine))
    return mask.astype(np.float32), height.astype(np.float32)


def marks(rng, shape, pixel, stroke):
    """Running-in marks along the stroke, height in µm, never deeper than 0.45 µm; pixel in µm, stroke in radians."""
    width = max(log_uniform(rng, 0.3, 3) / pixel, 1)
    lines = streaks(rng, shape, stroke, width * log_uniform(rng, 30, 300), width)
    deep = np.minimum(-(np.abs(lines) - rng.uniform(0.6, 2)), 0) * log_uniform(rng, 0.02, 0.25)
    return np.maximum(deep, -0.45) * ramp(cloud(rng, shape, 0.4 * min(shape)), -1.5, 0.3)
