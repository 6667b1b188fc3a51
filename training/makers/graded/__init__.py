"""Heights first, picture second: shaped spectra and groove profiles, cut off by a ring, seen through filters."""

import cv2
import numpy as np

from ..made import Made
from .instrument import recorded
from .lookalikes import debris, films, graphite
from .picture import signal
from .spectra import course
from .surface import field


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of honed ground, `shape` (rows, columns) pixels of pixel_size_um (µm) each."""
    state = str(rng.choice(["unworn", "border", "worn"], p=[0.4, 0.18, 0.42]))
    stroke_deg = float(rng.choice([90.0, 0.0, rng.uniform(0, 180)], p=[0.5, 0.25, 0.25]) + rng.normal(0, 3))
    surface = field(rng, pixel_size_um=pixel_size_um, shape=shape, stroke_deg=stroke_deg, state=state)
    codes, height = surface.codes.copy(), surface.height_um
    dark = film = np.zeros(shape, np.float32)
    # Metal dragged over graphite hides it.
    bare = 1 - np.maximum(surface.closed, surface.torn)
    if rng.random() < 0.5:
        dark, pits = graphite(rng, shape, pixel_size_um)
        dark, height = dark * bare, height - pits * bare
    if rng.random() < 0.45:
        film = films(rng, shape, stroke_deg=stroke_deg, pixel_size_um=pixel_size_um, worn=bool(surface.worn.any()))
    if rng.random() < 0.25:
        particles, hidden = debris(rng, shape, pixel_size_um)
        height = np.where(hidden, np.maximum(height, particles), height)
        codes[hidden] = 255
    seen, contrast = signal(
        rng,
        height.astype(np.float32),
        valley_um=surface.valley_um,
        burnished=surface.closed,
        torn=surface.torn,
        dark=dark,
        film=film,
        pixel_size_um=pixel_size_um,
    )
    if rng.random() < 0.06:
        seen, hidden = _charged(rng, seen)
        codes[hidden] = 255
    kind = "-".join(
        [state, *(word for code, word in ((2, "smeared"), (3, "scuffed")) if (codes == code).any()), contrast]
    )
    return Made(image=recorded(rng, seen), codes=codes, worn=surface.worn, kind=kind)


def _charged(rng: np.random.Generator, signal: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The signal with charging over some scan lines, and where it hides the surface: bright flares that begin at a point."""
    rows, columns = signal.shape
    top, tall = int(rng.uniform(0, 0.9) * rows), int(rng.uniform(3, 0.1 * rows))
    start = rng.uniform(-0.3, 0.6) * columns + 6 * course(rng, rows, 3)[:, None]
    flare = np.zeros(signal.shape, np.float32)
    flare[top : top + tall] = 1
    flare *= np.arange(columns)[None, :] > start
    hidden = flare > 0
    flare = cv2.GaussianBlur(flare, (0, 0), 1.5)
    return (signal * (1 - 0.8 * flare) + flare * rng.uniform(1.2, 1.5)).astype(np.float32), hidden
