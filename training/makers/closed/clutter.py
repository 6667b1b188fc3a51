"""What lies on the ground or in the iron and is no valley: graphite, scratches, stains, debris, charging."""

from dataclasses import dataclass

import cv2
import numpy as np

from .noise import between, grain, streaks


@dataclass
class Clutter:
    """carbon 0–1 (graphite share), stain (factor on the signal), pit_um depth of pull-outs and scratches, all below
    what counts as a groove's; hidden True where debris or charging hides the ground; lump_um debris height;
    charge, extra signal."""

    carbon: np.ndarray
    stain: np.ndarray
    pit_um: np.ndarray
    hidden: np.ndarray
    lump_um: np.ndarray
    charge: np.ndarray


def draw_clutter(
    rng: np.random.Generator, along_px: np.ndarray, across_px: np.ndarray, worn: np.ndarray, px: float
) -> Clutter:
    shape = worn.shape
    zeros = [np.zeros(shape, np.float32) for _ in range(4)]
    clutter = Clutter(carbon=zeros[0], stain=np.ones(shape, np.float32), pit_um=zeros[1], hidden=np.zeros(shape, bool), lump_um=zeros[2], charge=zeros[3])
    if rng.random() < 0.5:
        _graphite(rng, clutter, px)
    # Finishing and running-in marks are shallower than half a micrometre, so they belong to the plateau.
    marks = np.clip(streaks(rng, along_px, across_px, max(shape), between(rng, 1.5, 5)) - rng.uniform(0.8, 2), 0, 2)
    clutter.pit_um += marks * between(rng, 0.03, 0.24) * np.where(worn, 1.0, 0.3 * (rng.random() < 0.3))
    if rng.random() < 0.45:
        patch = grain(rng, shape, between(rng, 20, 0.5 * min(shape)))
        if rng.random() < 0.5:
            patch = patch + streaks(rng, along_px, across_px, 0.8 * max(shape), between(rng, 10, 60))
        edge = 0.5 + 0.5 * np.tanh((patch - rng.uniform(0.6, 1.5)) * between(rng, 0.8, 12))
        clutter.stain *= 1 + rng.choice([-1, -1, 1]) * between(rng, 0.04, 0.35) * edge
    if rng.random() < 0.4:
        _debris(rng, clutter, px)
    if rng.random() < 0.06:
        row, column = (int(rng.integers(0, size)) for size in shape)
        glare = np.zeros(shape, np.uint8)
        cv2.ellipse(glare, (column, row), (int(rng.integers(12, 60)), int(rng.integers(5, 16))), 0, 0, 360, 1, -1)
        clutter.hidden |= glare > 0
        clutter.charge += cv2.GaussianBlur(glare.astype(np.float32), (0, 0), 3) * rng.uniform(0.5, 0.9)
    return clutter


def _graphite(rng: np.random.Generator, clutter: Clutter, px: float) -> None:
    """Flakes of grey iron: short curved lines any way about; some have fallen out or are smeared half shut."""
    shape = clutter.carbon.shape
    length_px, width_px = between(rng, 12, 90) / px, between(rng, 0.6, 4) / px
    count = int(np.clip(shape[0] * shape[1] * between(rng, 0.005, 0.05) / (length_px * max(width_px, 1)), 2, 160))
    flakes = np.zeros(shape, np.uint8)
    for _ in range(count):
        at, heading = rng.uniform(0, 1, 2) * shape[::-1], rng.uniform(0, 2 * np.pi)
        bend, steps = rng.normal(0, 0.25), 7
        size = length_px * between(rng, 0.4, 1.6)
        turns = heading + np.cumsum(rng.normal(bend, 0.2, steps))
        points = at + np.cumsum(np.stack([np.cos(turns), np.sin(turns)], 1) * size / steps, axis=0)
        thick = max(1, round(width_px * between(rng, 0.5, 1.6)))
        cv2.polylines(flakes, [np.round(points * 8).astype(np.int32)], False, 255, thick, cv2.LINE_AA, 3)
    soft = flakes.astype(np.float32) / 255
    clutter.carbon = soft * np.clip(0.8 + 0.4 * grain(rng, shape, 6), 0, 1)
    clutter.pit_um += rng.choice([0.05, rng.uniform(0.1, 1.5)]) * soft


def _debris(rng: np.random.Generator, clutter: Clutter, px: float) -> None:
    """Particles that lie on plateau and grooves alike."""
    shape = clutter.hidden.shape
    for _ in range(int(rng.integers(1, 12))):
        size = np.clip(between(rng, 1.5, 25) / px, 3, 0.08 * min(shape))
        turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
        radius = size * np.exp(rng.normal(0, 0.25, 12))
        at = rng.uniform(0, 1, 2) * shape[::-1]
        outline = at + np.stack([radius * np.cos(turn), radius * rng.uniform(0.4, 1) * np.sin(turn)], 1)
        lump = np.zeros(shape, np.uint8)
        cv2.fillPoly(lump, [np.round(outline).astype(np.int32)], 1)
        x, y, wide, high = cv2.boundingRect(np.round(outline).astype(np.int32))
        cut = np.s_[max(0, y - 6) : max(0, y + high + 6), max(0, x - 6) : max(0, x + wide + 6)]
        part = lump[cut]
        if part.size == 0 or not part.any():
            continue
        clutter.hidden[cut] |= part > 0
        bump = cv2.GaussianBlur(part.astype(np.float32), (0, 0), max(0.8, 0.2 * size)) * size * px * 0.5
        clutter.lump_um[cut] = np.maximum(clutter.lump_um[cut], bump * (1 + 0.15 * rng.standard_normal(part.shape)))
