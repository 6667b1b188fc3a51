"""Micrographs by a short reckoning of electron transport: relief and matter first, then what leaves the surface and is caught."""

import cv2
import numpy as np

from ..made import Made
from .band import draw_band
from .emission import draw_detector, emit
from .frame import Frame, log_uniform
from .instrument import record
from .matter import draw_matter
from .moved import codes_of, draw_closing, draw_marks, draw_scuffing, draw_track, truncate_and_close
from .surface import floors, form, lips, plateau_marks


def _lays(rng: np.random.Generator) -> tuple[float, tuple[float, float]]:
    """Direction of the stroke and of the two lays, degrees from the rows' direction; the across-stroke direction bisects the lays."""
    draw = rng.random()
    stroke = rng.uniform(0, 180) if draw > 0.8 else (90.0 if draw < 0.5 else 0.0) + rng.normal(0, 5)
    half = log_uniform(rng, 20, 150) / 2
    return stroke, (stroke + 90 - half + rng.normal(0, 1), stroke + 90 + half + rng.normal(0, 1))


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field, everything from rng; pixel_size_um µm a pixel, shape (rows, cols) px."""
    stroke_deg, lays = _lays(rng)
    stroke = Frame(angle_deg=stroke_deg, shape=shape, pixel_um=pixel_size_um)
    worn_kind = str(rng.choice(["none", "border", "all"], p=[0.4, 0.15, 0.45]))
    track = draw_track(rng, stroke, worn_kind)
    smear = worn_kind != "none" and rng.random() < 0.6
    scuff = worn_kind != "none" and rng.random() < 0.25

    reach = min(shape) * pixel_size_um
    width = float(np.clip(log_uniform(rng, 3, 32), 3 * pixel_size_um, max(0.15 * reach, 3)))
    coverage, scale, weaker = log_uniform(rng, 0.15, 1.1), log_uniform(rng, 0.7, 1.6), log_uniform(rng, 0.15, 1)
    closing = draw_closing(rng, pixel_size_um) if smear else None
    bands = []
    for lay, share in zip(lays, rng.permutation([1.0, weaker]), strict=True):
        frame = Frame(angle_deg=lay, shape=shape, pixel_um=pixel_size_um)
        own_width = width * log_uniform(rng, 0.7, 1.4)
        own_scale = scale * (share**0.3)
        bands.append(
            draw_band(rng, frame, coverage=coverage * share, width_um=own_width, scale=own_scale, closing=closing)
        )

    inside = (
        cv2.GaussianBlur(track.astype(np.float32), (0, 0), max(3 / pixel_size_um, 1))
        if worn_kind == "border"
        else track.astype(np.float32)
    )
    truncated = inside * log_uniform(rng, 0.03, 1.2) * (1 + 0.2 * stroke.noise(rng, 60, 600))
    residue = np.clip(rng.uniform(0, 0.38) + 0.08 * stroke.noise(rng, 8, 30), 0, 0.45).astype(np.float32)
    ground = truncate_and_close(bands, np.maximum(truncated, 0), residue, track)
    matter = draw_matter(rng, stroke, ground.after_um, stroke)

    height = form(rng, stroke) - ground.after_um + floors(rng, stroke, ground.after_um)
    height += plateau_marks(bands, stroke, log_uniform(rng, 0.02, 0.4), inside * rng.uniform(0.2, 1)) - truncated
    marks = draw_marks(rng, stroke) * (inside if worn_kind != "none" else rng.choice([0, 0, 0.3]))
    height -= marks * np.clip(1 - ground.after_um / 0.5, 0, 1)
    if smear:
        height += lips(rng, stroke, ground) * track
    torn = np.zeros(shape, bool)
    if scuff:
        torn, relief = draw_scuffing(rng, stroke, track)
        height = np.where(torn, 0.3 * (height + truncated) - truncated + relief, height)
    carbon = np.where(torn, matter.carbon * 0.4, matter.carbon)
    # Moved metal is fresh: bare of films in some machines, burnt to oxide or varnish in others.
    fresh = np.clip(ground.cover, 0, 1) * (ground.before_um >= 0.5) * rng.uniform(-0.1, 0.5) * smear
    oxide = np.clip(matter.oxide + fresh + torn * rng.uniform(-0.2, 0.3), 0, 1)

    detector = draw_detector(rng)
    signal = emit(
        rng,
        (height + matter.height_um).astype(np.float32),
        carbon.astype(np.float32),
        oxide.astype(np.float32),
        detector,
        pixel_size_um,
    )
    codes = codes_of(ground, torn, matter.hidden)
    names = [worn_kind, *(["smear"] if smear else []), *(["scuff"] if scuff else []), detector.kind]
    return Made(
        image=record(rng, signal, matter.charge, pixel_size_um),
        codes=codes,
        worn=track,
        kind=f"diffused {' '.join(names)}",
    )
