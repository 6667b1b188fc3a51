"""Grooves with steep walls, drawn section by section; their grey follows the place in the cross-section."""

import cv2
import numpy as np

from ..made import Made
from . import ground, instrument
from .closing import close
from .sections import VALLEY_DEPTH_UM, band, truncate
from .texture import grain, log_uniform
from .tone import Canvas, Look, draw


def _look(rng: np.random.Generator, pixel_size_um: float, backscattered: bool) -> Look:
    """Secondaries show rims and starved floors, backscattered electrons the detector's side and carbon."""
    way = rng.choice(["dark", "bright", "relief"], p=[0.6, 0.12, 0.28])
    floor = {"dark": rng.uniform(-0.45, -0.12), "bright": rng.uniform(0.08, 0.3), "relief": rng.uniform(-0.1, 0.05)}[way]
    return Look(
        detector_rad=rng.uniform(0, 2 * np.pi),
        wall=rng.uniform(0.25, 0.7) if way == "relief" or backscattered else rng.uniform(0.05, 0.5),
        tilt=0.02 if backscattered else log_uniform(rng, 0.03, 0.25),
        rim=rng.uniform(0, 0.08) if backscattered else rng.uniform(0.05, 0.5),
        rim_um=max(log_uniform(rng, 0.15, 0.9), 0.7 * pixel_size_um),
        floor=floor,
        starved=0.0 if way == "bright" else rng.uniform(0.1, 0.7),
        rough=log_uniform(rng, 0.03, 0.18),
        carbon=rng.uniform(0.15, 0.5),
        burnish=rng.uniform(0.04, 0.2) * rng.choice([-1, 1], p=[0.35, 0.65]),
        plug=rng.uniform(-0.22, 0.08),
        seam=rng.uniform(0.1, 0.5),
        lip=rng.uniform(0.05, 0.4),
        dragged=log_uniform(rng, 0.02, 0.12),
        outline=rng.uniform(-0.35, 0.15),
    )


def _track(rng: np.random.Generator, shape, stroke_rad: float) -> np.ndarray:
    """Where the ring ran: nowhere, everywhere, or to one side of a border along the stroke."""
    drawn = rng.random()
    if drawn < 0.27:
        return np.zeros(shape, bool)
    if drawn > 0.42:
        return np.ones(shape, bool)
    y, x = np.mgrid[: shape[0], : shape[1]]
    across = (y - shape[0] / 2) * np.cos(stroke_rad) - (x - shape[1] / 2) * np.sin(stroke_rad)
    return rng.choice([-1, 1]) * (across - rng.uniform(-0.3, 0.3) * min(shape)) > 0


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """A field of rows and columns shape, pixel_size_um a pixel."""
    stroke = rng.choice([0, np.pi / 2]) + np.radians(rng.normal(0, 4)) if rng.random() < 0.8 else rng.uniform(0, np.pi)
    worn = _track(rng, shape, stroke)
    backscattered = rng.random() < 0.3
    look = _look(rng, pixel_size_um, backscattered)
    field_um = (shape[0] * pixel_size_um, shape[1] * pixel_size_um)
    half = np.radians(rng.uniform(20, 150)) / 2
    share = log_uniform(rng, 0.15, 0.8)
    shares = share * np.array([0.5, rng.uniform(0.3, 0.5) if rng.random() < 0.75 else rng.uniform(0, 0.1)])
    lays = [stroke + np.pi / 2 + side * half for side in rng.permutation([-1, 1])]
    grooves = [
        groove
        for lay, part in zip(lays, shares, strict=True)
        for groove in band(rng, angle_rad=lay, field_um=field_um, pixel_size_um=pixel_size_um, share=part)
    ]
    grooves = [grooves[i] for i in rng.permutation(len(grooves))]
    smear = rng.uniform(0.1, 1.0) if worn.any() and rng.random() < 0.88 else 0.0
    weights = rng.dirichlet(np.full(6, 0.7))
    wear = log_uniform(rng, 0.05, 1.5) if rng.random() < 0.6 else 0.0

    tone = np.zeros(shape, np.float32)
    rough = log_uniform(rng, 0.008, 0.06)
    for lay in lays:
        tone += ground.marks(rng, shape, pixel_size_um, lay, rng.uniform(0.2, 1.6) * rough)
    if worn.any():
        # Wear polishes the finishing marks off and leaves marks along the stroke instead.
        tone[worn] *= rng.uniform(0.1, 0.9)
        tone += np.where(worn, ground.marks(rng, shape, pixel_size_um, stroke, rng.uniform(0.1, 2) * rough), 0)
    flat = shape[0] * shape[1]
    canvas = Canvas(
        shape, pixel_size_um, stroke, np.zeros(flat, np.float32), np.zeros(flat, np.float32),
        np.zeros(flat, bool), np.zeros(flat, bool), np.zeros(flat, np.float32),
        grain(rng, shape, 1.2, 1.2).ravel(),
        grain(rng, shape, *[max(log_uniform(rng, 0.8, 4) / pixel_size_um, 1.5)] * 2).ravel(),
        grain(rng, shape, log_uniform(rng, 10, 60) / pixel_size_um, log_uniform(rng, 0.5, 2) / pixel_size_um, stroke).ravel(),
    )  # fmt: skip
    for groove in grooves:
        if wear and worn.any():
            truncate(groove, wear * _worn_at(groove, worn, pixel_size_um))
        if smear and rng.random() < 0.3 + 0.7 * smear:
            close(rng, groove, share=smear * rng.uniform(0.3, 1.0), weights=weights)
        draw(canvas, groove, look, worn.ravel())
    opened, closed = canvas.open.reshape(shape), canvas.closed.reshape(shape)
    codes = np.where(opened, 1, np.where(closed & worn, 2, 0)).astype(np.uint8)
    below = np.clip(canvas.deepest_um.reshape(shape) / VALLEY_DEPTH_UM, 0, 1)
    tone = tone * (1 - 0.7 * np.maximum(canvas.smooth.reshape(shape), below)) + canvas.tone.reshape(shape)

    said = ["bse" if backscattered else "se", "unworn" if not worn.any() else "worn" if worn.all() else "border"]
    if smear:
        said.append("smeared")
    if rng.random() < 0.45:
        said.append("graphite")
        hold = np.where(closed & ~opened, 0.2, 0.9)
        cover = ground.graphite(rng, shape, pixel_size_um) * hold
        tone = tone * (1 - cover) - rng.uniform(0.15, 0.55) * cover
    if rng.random() < 0.4:
        ground.scratches(rng, tone, pixel_size_um, stroke)
    if rng.random() < 0.3:
        tone += ground.films(rng, shape, pixel_size_um, stroke)
    if worn.any() and rng.random() < 0.45:
        heavy = rng.random() < 0.4
        said.append("heavily scuffed" if heavy else "scuffed")
        torn = ground.torn_streaks(rng, shape, pixel_size_um, stroke, heavy) & worn
        codes[torn] = 3
        soft = cv2.GaussianBlur(torn.astype(np.float32), (0, 0), 0.8)
        tone = tone * (1 - rng.uniform(0.75, 1) * soft) + soft * ground.torn_grey(
            rng, shape, pixel_size_um, stroke, look.detector_rad
        )
    if rng.random() < 0.25:
        said.append("debris")
        grey, hidden = ground.debris(rng, shape, pixel_size_um, look.detector_rad)
        tone = np.where(hidden, grey, tone + grey)
        codes[hidden] = 255
    signal = np.clip(1 + tone, 0.08, 2.6)
    return Made(image=instrument.taken(rng, signal, pixel_size_um), codes=codes, worn=worn, kind="steep " + " ".join(said))


def _worn_at(groove, worn: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """1 at the groove's sections that lie in the track, 0 at the others."""
    along = (np.arange(len(groove.depth_um)) - (len(groove.depth_um) - 1) / 2) * groove.step_um
    column = np.clip((groove.x_um + along * np.cos(groove.angle_rad)) / pixel_size_um, 0, worn.shape[1] - 1).astype(int)
    row = np.clip((groove.y_um + along * np.sin(groove.angle_rad)) / pixel_size_um, 0, worn.shape[0] - 1).astype(int)
    return worn[row, column].astype(float)
