"""Scuffing as a marked cluster process: bands where the ring seized, each with patches and streaks torn along the stroke.

Band centres are placed at random across the stroke, patches cluster about them (a Neyman-Scott process; from memory), and
each patch carries marks: kind (ploughed, torn, pick-up), strength, length, width, and fibres that end raggedly in a tail.
"""

from dataclasses import dataclass

import numpy as np

from .directions import across_axis, diagonal, turned
from .flow_marks import add_slope, skin
from .randomness import Rng, log_uniform, mottle, wander
from .specimen import Specimen
from .surface import Surface

MOST_PATCHES, MOST_SHARE = 90, 0.30


@dataclass(frozen=True, kw_only=True)
class Patch:
    """One patch: centre (along and across the stroke, px), half length, half width (px), strength (0-1) and its make-up."""

    along: float
    across: float
    half_length: float
    half_width: float
    strength: float
    ploughed: float
    torn: float
    picked_up: float


def scuff(surface: Surface, specimen: Specimen, rng: Rng) -> None:
    """Tear patches into the surface until the share of area aimed at is reached."""
    aim = specimen.wear.scuffed_share
    if aim <= 0:
        return
    rows, cols = surface.shape
    cos, sin = across_axis(specimen.stroke_deg)
    down = (np.arange(rows, dtype=np.float32) - (rows - 1) / 2)[:, None]
    right = (np.arange(cols, dtype=np.float32) - (cols - 1) / 2)[None, :]
    along, across = right * cos - down * sin, right * sin + down * cos
    make = {name: np.zeros(surface.shape, np.float32) for name in ("ploughed", "torn", "picked_up")}
    reach = float(np.abs(across).max()), float(np.abs(along).max())
    bands = rng.uniform(-reach[0], reach[0], rng.integers(1, 4))
    spread = rng.uniform(15, 60) / surface.pixel_um
    for _ in range(MOST_PATCHES):
        if float((surface.scuff > 0).mean()) >= aim:
            break
        centre = rng.choice(bands) + rng.normal(0, spread) if rng.random() < 0.8 else rng.uniform(-reach[0], reach[0])
        patch = _draw_patch(rng, specimen, centre, rng.uniform(-reach[1], reach[1]))
        before = surface.scuff.copy()
        _tear(rng, surface, patch, along, across, make)
        if float((surface.scuff > 0).mean()) > min(1.35 * aim + 0.01, MOST_SHARE):
            surface.scuff = before
    _roughen(rng, surface, specimen, make)


def _draw_patch(rng: Rng, specimen: Specimen, across: float, along: float) -> Patch:
    width = log_uniform(rng, max(5, 5 * specimen.pixel_um), max(50, 24 * specimen.pixel_um))
    length = width * log_uniform(rng, 3, 18) + 30
    make = rng.dirichlet([1.4, 1.2, 0.6])
    return Patch(
        along=along, across=across, half_length=length / 2 / specimen.pixel_um, half_width=width / 2 / specimen.pixel_um,
        strength=float(np.clip(specimen.wear.scuff_strength * np.exp(rng.normal(0, 0.3)), 0.15, 1)),
        ploughed=float(make[0]), torn=float(make[1]), picked_up=float(make[2]),
    )  # fmt: skip


def _tear(
    rng: Rng, surface: Surface, patch: Patch, along: np.ndarray, across: np.ndarray, make: dict[str, np.ndarray]
) -> None:
    pixel, size = surface.pixel_um, diagonal(surface.shape)
    near = np.abs(across - patch.across) < patch.half_width * 1.15
    near &= np.abs(along - patch.along) < patch.half_length * 1.4
    flat = np.flatnonzero(near)
    if not flat.size:
        return
    a, v = along.reshape(-1)[flat] - patch.along, across.reshape(-1)[flat]
    entry = np.rint(v).astype(np.int32) + size // 2
    fibre = wander(rng, size, max(1.5 / pixel, 1.5)) * 0.08 + wander(rng, size, max(6 / pixel, 3)) * 0.16
    other = wander(rng, size, max(1.5 / pixel, 1.5)) * 0.08 + wander(rng, size, max(6 / pixel, 3)) * 0.16
    far = np.maximum(1 - ((v - patch.across) / (patch.half_width * 1.05)) ** 2, 0) ** 0.5
    end, start = (0.75 * far + fibre[entry]) * patch.half_length, (0.75 * far + other[entry]) * patch.half_length
    edge = wander(rng, size, max(20 / pixel, 8))
    lane = np.rint(a + patch.along).astype(np.int32) + size // 2
    side = np.abs(v - patch.across) < patch.half_width * (0.92 + 0.1 * edge[np.clip(lane, 0, size - 1)])
    inside = (a < end) & (a > -start) & side & (far > 0.05)
    hit = flat[inside]
    strength = patch.strength * np.clip(np.minimum(end - a, start + a)[inside] / (6 / pixel), 0.45, 1)
    target = surface.scuff.reshape(-1)
    target[hit] = np.maximum(target[hit], strength)
    for name, sheet in make.items():
        sheet.reshape(-1)[hit] = getattr(patch, name)


def _roughen(rng: Rng, surface: Surface, specimen: Specimen, make: dict[str, np.ndarray]) -> None:
    """Give scuffed ground its ridges, tears and lumps, and fill the grooves beneath it."""
    pixel, strength = surface.pixel_um, surface.scuff
    fill = 1 - np.clip(1.15 * strength, 0, 0.93)
    for name in ("depth", "inner", "slope_row", "slope_col", "edge", "texture", "crack", "lifted"):
        setattr(surface, name, getattr(surface, name) * fill)
    surface.gather += (1 - surface.gather) * (1 - fill)
    slope, tone = skin(rng, surface.shape, specimen.stroke_deg, pixel)
    fur, _ = skin(rng, surface.shape, specimen.stroke_deg, pixel / 2.5)
    size, coarse = diagonal(surface.shape), log_uniform(rng, 0.6, 2.2)
    sheets = 0.75 * mottle(rng, (size, size), max(2.6 * coarse / pixel, 2.2), max(9 * coarse / pixel, 5))
    sheets += 0.45 * mottle(rng, (size, size), max(1.3 / pixel, 1.5), max(2.5 / pixel, 2))
    scales = mottle(rng, (size, size), max(4.5 * coarse / pixel, 3), max(1.8 * coarse / pixel, 1.8))
    lumps, rips = (turned(sheet, surface.shape, specimen.stroke_deg) for sheet in (sheets, scales))
    fine = mottle(rng, surface.shape, max(0.8 / pixel, 1.2), max(0.8 / pixel, 1.2))
    add_slope(surface, slope * 2.2 + fur * 2.4, specimen.stroke_deg, strength * (0.4 + make["ploughed"]))
    rough = strength * (0.25 + 1.1 * make["torn"])
    surface.slope_row += 0.8 * rough * np.gradient(lumps, axis=0) + 0.22 * rough * fine
    surface.slope_col += 0.8 * rough * np.gradient(lumps, axis=1) - 0.22 * rough * np.roll(fine, 3, 0)
    tears = np.clip(1.4 * np.clip(-lumps - 0.6, 0, 1) * np.clip(rips + 0.4, 0, 1), 0, 1) * np.minimum(rough, 0.8)
    surface.crack[:] = np.maximum(surface.crack, np.clip(tears, 0, 0.65))
    raised = np.clip(lumps - 0.5, 0, 1.5) * strength * make["picked_up"]
    surface.edge += 0.25 * raised + 0.09 * rough * np.abs(fine) + 0.12 * rough * np.clip(rips, 0, 2)
    surface.tone *= 1 + strength * (1.6 * tone + 0.06 * (make["torn"] - make["ploughed"]) + rng.normal(-0.03, 0.09))
