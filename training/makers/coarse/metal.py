"""Metal that moved: folds, bridges and caps over grooves, and streaks torn by adhesion along the stroke."""

import cv2
import numpy as np

from .buffers import fill, fixed
from .grooves import Groove, ragged


def closures(rng, grooves: list[Groove], shape, *, share: float, worn_off_um: float):
    """Draw closed stretches until about `share` of the groove length has one. Returns covered (bool), lips (float, bright where
    a fold's front stands up), cracks (float, dark lines where a fold doesn't quite meet the metal opposite)."""
    covered = np.zeros(shape, np.uint8)
    lips, cracks = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    typical = 10 ** rng.uniform(0.0, 1.3)
    habit_partly = rng.uniform(0, 0.45)
    seam = rng.uniform(0.1, 0.9)
    for groove in grooves:
        n = len(groove.points)
        step_um = float(np.hypot(*(groove.points[1] - groove.points[0]))) * groove.canvas_um
        width_um = float(2 * groove.rims.mean())
        own_share = np.clip(share * rng.choice([0.3, 1, 1, 1.4]), 0, 0.97)
        place = -typical * width_um / step_um * rng.uniform(0, 1.5)
        while place < n:
            long_um = width_um * np.clip(typical * np.exp(rng.normal(0, 0.7)), 0.6, 60)
            closed = max(3.0, long_um / step_um)
            place += closed * (1 - own_share) / max(own_share, 1e-3) * rng.exponential()
            start, stop = max(0, int(place)), min(n, int(place + closed) + 1)
            place += closed
            if stop - start < 3:
                continue
            _one(rng, groove, slice(start, stop), rng.random() < habit_partly, seam, worn_off_um, covered, lips, cracks)
    soft = [cv2.GaussianBlur(line, (3, 3), 0).astype(np.float32) / 255 for line in (lips, cracks)]
    return covered > 127, soft[0], soft[1]


def _one(rng, groove, run, partly, seam, worn_off_um, covered, lips, cracks) -> None:
    """One tongue of metal that came in from one rim; a full one ends beyond the other rim."""
    first, second = groove.offsets(worn_off_um)
    near, far = (first[run], -second[run]) if rng.random() < 0.5 else (-second[run], first[run])
    count = len(near)
    fine = np.linspace(0, count - 1, max(6, 3 * count))
    across = np.linspace(0, 1, len(fine))
    ends = np.clip(np.minimum(across, 1 - across) / rng.uniform(0.08, 0.4), 0, 1) ** rng.uniform(0.4, 1)
    reach = (rng.uniform(0.35, 0.85) if partly else 1.12) * ends + 0.09 * ragged(rng, len(fine), 5) * (ends > 0)
    base = np.stack([np.interp(fine, np.arange(count), groove.points[run][:, k]) for k in (0, 1)], axis=1)
    near, far = (np.interp(fine, np.arange(count), side) for side in (near, far))
    back = base + ((near - 0.06 * (far - near)) / groove.canvas_um)[:, None] * groove.normal
    front = base + ((near + reach * (far - near)) / groove.canvas_um)[:, None] * groove.normal
    fill(covered, [np.vstack([back, front[::-1]])], 255, smooth=False)
    thick = int(np.clip(0.04 * abs(far - near).mean() / groove.canvas_um, 1, 4))
    _broken(rng, lips, front, thick, 0.85)
    inward = front + (np.sign(far - near) * 1.3 * thick)[:, None] * groove.normal
    _broken(rng, cracks, inward, thick + 1, 0.8)
    if rng.random() < seam:
        _broken(rng, cracks, base + (far / groove.canvas_um)[:, None] * groove.normal, 1, 0.7)
        _broken(rng, cracks, base + (near / groove.canvas_um)[:, None] * groove.normal, 1, 0.3)


def _broken(rng, canvas, line, thick, kept) -> None:
    """A line drawn in pieces, each as strong as chance has it."""
    for piece in range(0, len(line) - 1, 4):
        if rng.random() < kept:
            grey = float(rng.uniform(90, 255))
            cv2.polylines(canvas, [fixed(line[piece : piece + 5])], False, grey, thick, cv2.LINE_AA, 4)


def smeared(before: np.ndarray, covered: np.ndarray) -> np.ndarray:
    """Covered ground counts as smeared where it lay 0.5 µm or deeper once wear had taken its share, never elsewhere."""
    return before & covered


def scuffed(rng, shape, *, canvas_um: float, stroke_deg: float, heavy: bool) -> np.ndarray:
    """Streaks along the stroke, each a bundle of ragged lens-shaped polygons: bool."""
    rows, cols = shape
    canvas = np.zeros(shape, np.uint8)
    along = np.array([np.cos(np.radians(stroke_deg)), np.sin(np.radians(stroke_deg))])
    across = np.array([-along[1], along[0]])
    widest = 0.3 * min(shape)
    for _ in range(rng.integers(3, 8) if heavy else rng.integers(1, 4)):
        middle = np.array([rng.uniform(0.1, 0.9) * cols, rng.uniform(0.1, 0.9) * rows])
        wide = float(np.clip(10 ** rng.uniform(0.7, 1.9) / canvas_um, 36, widest))
        for _ in range(rng.integers(2, 7)):
            half_long = wide * rng.uniform(1.8, 9)
            at = np.linspace(-1, 1, 60)
            shape_of = np.sqrt(1 - at**2) * wide * rng.uniform(0.15, 0.5)
            sides = [shape_of * (1 + 0.15 * ragged(rng, 60, 2) + 0.25 * ragged(rng, 60, 9)).clip(0) for _ in range(2)]
            spine = middle + rng.normal(0, 0.35) * wide * across + (at + rng.normal(0, 0.3))[:, None] * half_long * along
            fill(canvas, [np.vstack([spine + sides[0][:, None] * across, (spine - sides[1][:, None] * across)[::-1]])], 255, False)
    return canvas > 0
