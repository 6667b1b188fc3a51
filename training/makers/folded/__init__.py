"""Fields drawn from their smear: grooves are laid so that metal can close them in every form it takes, each with its own marks."""

import cv2
import numpy as np

from ..made import Made
from . import closures, grooves, lookalikes, picture, track
from .ground import Frame, frame, log_uniform, wander

VALLEY_UM = 0.5
"""Depth below the plateau from which ground is valley (semwear.terms)."""


def states(honed: np.ndarray, truncation: np.ndarray, cover: np.ndarray, recut: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Codes 0, 1, 2 and what depth (um) is left, from depths as honed, worn off, of the moved metal's top, and of later cuts.

    What truncation alone made shallow is plateau: the footprint that metal can close is the groove as worn.
    """
    before = np.maximum(honed - truncation, 0)
    left = np.maximum(np.minimum(before, cover), np.minimum(recut, before))
    codes = np.zeros(honed.shape, np.uint8)
    codes[before >= VALLEY_UM] = 2
    codes[left >= VALLEY_UM] = 1
    return codes, left


def finishing_marks(rng: np.random.Generator, field: Frame, lays: tuple[float, float]) -> np.ndarray:
    """Height (um) of the fine scratches of the last honing step along both lays: too shallow to be valleys."""
    marks = np.zeros(field.shape, np.float32)
    for lay in lays:
        _, across = field.turned(lay)
        fine = wander(rng, across, log_uniform(rng, 1.0, 4) * field.pixel_um, field.span_um)
        marks += fine * np.clip(0.5 + field.noise(rng, lay, 150 * field.pixel_um, 4 * field.pixel_um), 0, 1.5)
    return np.clip(marks * np.float32(log_uniform(rng, 0.006, 0.07) * min(1.0, 2 * field.pixel_um)), -0.3, 0.3)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One simulated micrograph; pixel_size_um is the side of a pixel, shape is (rows, columns)."""
    field = frame(rng, pixel_size_um, shape)
    detector = float(rng.uniform(0, 2 * np.pi))
    bands = grooves.draw(rng, field)
    ran = track.draw(rng, field)
    nothing = closures.none(shape)
    moved = closures.draw(rng, field, bands, ran.truncation, ran.worn & (bands.depth > 0)) if ran.smeared else nothing
    codes, left = states(bands.depth, ran.truncation, moved.cover, moved.recut)
    others = lookalikes.draw(rng, field, detector)

    finishing = finishing_marks(rng, field, bands.lays)
    polish = np.where(ran.worn, np.float32(ran.polish), 0)
    below = np.clip(left / 0.2, 0, 1)
    glazed = ran.glazed * (1 - below)
    kept = (1 - polish * (1 - below)) * (1 - moved.smooth) * (1 - 0.8 * glazed)
    height = -left + bands.rim * (1 - polish) * (1 - moved.smooth) + finishing * kept
    height += ran.marks * (1 - 0.8 * below) - others.pit
    raised = np.where(np.isfinite(moved.cover) & (moved.cover < 0), -moved.cover, 0)
    height += raised + 0.15 * moved.rough * (left < 2) * field.noise(rng, field.stroke, 3 * pixel_size_um, 2 * pixel_size_um)
    height += cv2.blur(others.debris.astype(np.float32), (3, 3)) * np.float32(rng.uniform(0.3, 2) * pixel_size_um)
    # A torn streak drags over grooves and plateau alike and half fills what it crosses.
    height = np.where(ran.torn, 0.4 * height + ran.torn_height, height)

    # Moved metal carries no old floor: no carbon, no ruled texture.
    bare = np.where(np.isfinite(moved.cover) & (left < VALLEY_UM), 0.4 * left, left)
    fine, floor = log_uniform(rng, 0.01, 0.06), log_uniform(rng, 0.02, 0.22)
    rough = fine * kept + floor * np.minimum(bare, 1) + 0.15 * moved.rough + 0.12 * ran.torn + 0.12 * others.debris + 0.1 * (others.pit > 0.2)
    yields = (1 + moved.tone) * (1 - others.film) * (1 - others.shade) * (1 - 0.6 * others.carbon)
    yields *= np.where(ran.torn, np.float32(rng.uniform(0.95, 1.25)), 1) * np.where(ran.worn, np.float32(rng.uniform(0.97, 1.05)), 1)
    yields = np.where(others.debris, np.float32(rng.uniform(1.1, 1.7)), yields)
    yields *= 1 + np.float32(rng.normal(0, 0.06)) * glazed
    calm = ~(ran.torn | others.debris)
    relief = picture.Relief(
        height.astype(np.float32), rough.astype(np.float32), yields.astype(np.float32), moved.edge * calm, moved.crack * calm, bare * calm
    )
    image = picture.record(rng, picture.signal(rng, field, relief, detector), others.glow)
    codes[ran.torn] = 3
    codes[others.hidden] = 255
    return Made(image=image, codes=codes, worn=ran.worn.copy(), kind=ran.name)
