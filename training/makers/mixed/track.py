"""Where the ring ran."""

import numpy as np

from makers.mixed.scene import Scene


def track(scene: Scene, worn: bool) -> tuple[np.ndarray, bool]:
    """Bool (rows, cols), True where the ring ran; and whether a border of the track crosses the field."""
    rng, (rows, cols) = scene.rng, scene.shape
    ran = np.full(scene.shape, worn)
    border = worn and rng.random() < 0.18
    if border:
        if rng.random() < 0.6:  # the side of the track, along the stroke
            lean = np.tan(np.radians(90 - scene.stroke)) * (np.arange(rows) - rows / 2)
            edge = cols * rng.uniform(0.25, 0.75) + lean + scene.wave(rows, 25) * 2 / scene.px
            ran = np.arange(cols)[None, :] > edge[:, None]
        else:  # the end of the stroke
            edge = rows * rng.uniform(0.25, 0.75) + scene.wave(cols, 6) * 5 / scene.px
            ran = np.arange(rows)[:, None] > edge[None, :]
        if rng.random() < 0.5:
            ran = ~ran
    return ran, border
