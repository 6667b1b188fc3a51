"""The recorded picture: the electrons' spread, the probe, contrast and brightness, noise, the frame's filter and file."""

import cv2
import numpy as np

from tests.microscope_maker.blur import blur
from tests.microscope_maker.electrons import Beam
from tests.microscope_maker.frame import Frame


def record(f: Frame, beam: Beam, y: np.ndarray) -> np.ndarray:
    """Return the picture, (rows, cols) uint8, of the electrons ``y``; contrast and brightness are set on each field.

    Shot noise goes with the square root of the electrons counted [D, tests/SOURCES.md].
    """
    r, own = f.rng, f.own
    # The far electrons blur a part of the signal; then the probe and its astigmatism.
    share = float(np.clip(0.1 + beam.kv / 40, 0.1, 0.55))
    y = (1 - share) * y + share * blur(y, 0.5 * beam.range_um / f.px)
    probe = float(np.clip(own["probe"].lognormal(np.log(0.6), 0.5), 0, 2.0))
    if probe > 0.3:
        stretch = own["astigmatism"].uniform(0.75, 1.3)
        y = cv2.GaussianBlur(y, (0, 0), sigmaX=probe * stretch, sigmaY=probe / stretch)

    mid = float(np.median(y))
    sd = float(np.std(np.clip(y, *np.percentile(y[::4, ::4], [2, 98])))) + 1e-3
    gain = min(own["contrast"].uniform(15, 44) / sd, 520 / mid)
    level = own["brightness"].uniform(85, 150)
    sx, sy = own["shading"].normal(0, 9, 2)
    shading = (f.x / f.width - 0.5) * sx + (f.y / f.height - 0.5) * sy
    g = level + (y - mid) * gain + shading
    grain = own["grain"].uniform(2.5, 15)
    g = g + grain * np.sqrt(np.clip(y / mid, 0.1, 4)) * r.standard_normal(f.shape, dtype=np.float32)
    if own["lines"].random() < 0.25:
        g = g + own["lines' noise"].uniform(0.5, 2.5) * r.standard_normal((f.shape[0], 1), dtype=np.float32)
    if own["filtered"].random() < 0.25:  # frames averaged, or a filter on the grabber
        g = blur(g.astype(np.float32), own["filter"].uniform(0.45, 0.8))
    g = np.clip(g / 255, 0, 1) ** own["gamma"].uniform(0.85, 1.2)
    out = np.clip(g * 255 + 0.5, 0, 255).astype(np.uint8)
    if own["compressed"].random() < 0.2:
        quality = int(own["quality"].integers(75, 95))
        _, coded = cv2.imencode(".jpg", out, [cv2.IMWRITE_JPEG_QUALITY, quality])
        out = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return out
