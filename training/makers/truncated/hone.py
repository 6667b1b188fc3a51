"""Honed ground: two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503), each the grit's
shape sunk to a depth that wanders along the groove. Where grooves cross, the deeper cut stays."""

from dataclasses import dataclass

import numpy as np

from .frame import Frame, line_noise, noise
from .recipe import Recipe
from .section import Section

SCRATCH_DEPTH_UM = 0.48
"""No finishing scratch goes deeper below the plateau it lies on: scratches are plateau, grooves from 0.5 µm are valley."""


@dataclass(frozen=True, kw_only=True)
class Groove:
    """Centre line (row of its frame at each column) and depth (µm, at each column) of one groove."""

    section: Section
    centre: np.ndarray
    depth_um: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Lay:
    frame: Frame
    grooves: list[Groove]


@dataclass(frozen=True, kw_only=True)
class Honed:
    """Depth of hone grooves below the top (µm, at least 0), burrs above it, faint marks of the last
    stones on the top, and striae of the grit along each groove's floor (too fine to count as depth)."""

    lays: list[Lay]
    groove_um: np.ndarray
    burr_um: np.ndarray
    texture_um: np.ndarray
    striae_um: np.ndarray


def reach(groove: Groove, height: int, margin_um: float, pixel_size_um: float) -> tuple[int, int]:
    """First and last-plus-one row of the frame that a groove can touch."""
    half = (
        float(groove.section.half_width_um(groove.depth_um.max())) / (1 - groove.section.skew) + margin_um
    ) / pixel_size_um
    return max(int(groove.centre.min() - half - 1), 0), min(int(groove.centre.max() + half + 2), height)


def cut(depth_map: np.ndarray, groove: Groove, pixel_size_um: float) -> None:
    """Sink a groove's grit into the ground; what is deeper already stays."""
    first, last = reach(groove, depth_map.shape[0], 0.0, pixel_size_um)
    if first >= last:
        return
    across = (np.arange(first, last, dtype=np.float32)[:, None] - groove.centre[None]) * np.float32(pixel_size_um)
    ground = depth_map[first:last]
    np.maximum(ground, groove.depth_um[None] - groove.section.rise(across), out=ground)


def _raise_burr(burr_map: np.ndarray, groove: Groove, burr_um: float, pixel_size_um: float) -> None:
    width = max(1.2 * pixel_size_um, 0.12 * float(groove.section.half_width_um(groove.depth_um.max())))
    first, last = reach(groove, burr_map.shape[0], 2 * width, pixel_size_um)
    if first >= last:
        return
    across = (np.arange(first, last, dtype=np.float32)[:, None] - groove.centre[None]) * np.float32(pixel_size_um)
    rim = groove.section.half_width_um(groove.depth_um).astype(np.float32)[None] + np.float32(0.7 * width)
    ridge = np.maximum(1 - ((np.abs(across) - rim) / np.float32(width)) ** 2, 0)
    ground = burr_map[first:last]
    np.maximum(ground, ridge * (burr_um * np.minimum(groove.depth_um, 1.0))[None], out=ground)


def draw_groove(
    rng: np.random.Generator, frame: Frame, section: Section, drift: float, wander: float, ending: float
) -> Groove:
    """A groove somewhere in the frame; a share (ending) of them start or run out inside it."""
    height, length = frame.size
    along = np.arange(length, dtype=np.float32)
    centre = rng.uniform(-0.02, 1.02) * height + np.tan(np.radians(drift * rng.standard_normal())) * (
        along - length / 2
    )
    depth = section.depth_um * (1 + wander * line_noise(rng, length, length / rng.uniform(3, 14)))
    if rng.random() < ending:
        start, taper = rng.uniform(0, length), rng.uniform(0.1, 0.4) * length
        gone = (along - start) / taper if rng.random() < 0.5 else (start - along) / taper
        depth = depth * np.clip(1 - gone, 0, 1)
    return Groove(section=section, centre=centre.astype(np.float32), depth_um=np.clip(depth, 0, 6).astype(np.float32))


def _section(rng: np.random.Generator, recipe: Recipe, depth_um: float) -> Section:
    wall = float(
        np.clip(recipe.wall * np.exp(0.12 * rng.standard_normal()), np.tan(np.radians(6)), np.tan(np.radians(27)))
    )
    wide_enough = wall if recipe.section != "arc" else wall / 2
    depth_um = max(depth_um, 1.5 * recipe.pixel_size_um * wide_enough)
    widest_um = 0.17 * min(recipe.shape) * recipe.pixel_size_um
    depth_um = min(depth_um, max(widest_um * wide_enough / 2, 0.5))
    floor_um = min(rng.uniform(0.4, 1.4) * depth_um / wall, widest_um / 2) if recipe.section == "floor" else 0.0
    return Section(kind=recipe.section, wall=wall, depth_um=depth_um, floor_um=floor_um, skew=rng.uniform(-0.25, 0.25))


def _draw_lay(rng: np.random.Generator, recipe: Recipe, frame: Frame, share: float) -> Lay:
    height_um = frame.size[0] * recipe.pixel_size_um
    drift, wander, ending = rng.uniform(0.2, 1.4), rng.uniform(0.05, 0.2), rng.uniform(0, 0.25)
    grooves, covered = [], 0.0
    while (covered < share * height_um and len(grooves) < 90) or len(grooves) < 4:
        depth = recipe.depth_um * np.exp(recipe.depth_spread * rng.standard_normal())
        if rng.random() < recipe.deep_share:
            depth = recipe.depth_um * rng.uniform(1.5, 4)
        section = _section(rng, recipe, float(np.clip(depth, 0.2, 6)))
        grooves.append(draw_groove(rng, frame, section, drift, wander, ending))
        covered += section.width_um(section.depth_um)
    return Lay(frame=frame, grooves=grooves)


def _scratches(rng: np.random.Generator, recipe: Recipe, frame: Frame, deepest_um: float, count: int) -> list[Groove]:
    """Marks of the finishing stones along a lay, none deeper than the given depth."""
    scratches, drift = [], rng.uniform(0.3, 2.0)
    for _ in range(count):
        depth = deepest_um * rng.uniform(0.45, 0.99)
        wall = float(np.clip(recipe.wall * rng.uniform(0.8, 1.2), np.tan(np.radians(6)), np.tan(np.radians(27))))
        groove = draw_groove(rng, frame, Section(kind="vee", wall=wall, depth_um=depth), drift, 0.15, 0.5)
        scratches.append(
            Groove(section=groove.section, centre=groove.centre, depth_um=np.minimum(groove.depth_um, deepest_um))
        )
    return scratches


def draw_hone(rng: np.random.Generator, recipe: Recipe) -> Honed:
    """The ground as honed. Dense finishing scratches of a specimen that is to be worn are cut as deep as truncation can
    leave within SCRATCH_DEPTH_UM of its plateau."""
    pixel = recipe.pixel_size_um
    groove = np.zeros(recipe.shape, np.float32)
    burr = np.zeros(recipe.shape, np.float32)
    texture = np.zeros(recipe.shape, np.float32)
    striae = np.zeros(recipe.shape, np.float32)
    lays = []
    uneven = rng.uniform(0.5, 1.0)
    deepest = SCRATCH_DEPTH_UM + recipe.cut_um * (1 - recipe.load_waviness) * (0 if recipe.border else 1)
    for angle, balance in zip(recipe.lay_angles_deg, (1.0, uneven), strict=False):
        frame = Frame(angle, recipe.shape)
        lay = _draw_lay(rng, recipe, frame, recipe.cover * balance * (1.5 if recipe.lays == 1 else 1.0))
        ground = np.zeros(frame.size, np.float32)
        count = int(rng.uniform(0.25, 0.6) * frame.size[0] * pixel * recipe.wall / deepest) if recipe.dense else 6
        for each in lay.grooves + _scratches(rng, recipe, frame, deepest, min(count, 160)):
            cut(ground, each, pixel)
        if recipe.burr_um:
            ridges = np.zeros(frame.size, np.float32)
            for each in lay.grooves:
                _raise_burr(ridges, each, recipe.burr_um, pixel)
            np.maximum(burr, frame.to_screen(ridges), out=burr)
        fine = noise(rng, frame.size, (rng.uniform(1.5, 3.5), frame.size[1] / rng.uniform(3, 12)))
        slope = recipe.roughness * recipe.wall * 2.5 * pixel
        texture += frame.to_screen(fine) * min(slope, 0.12)
        turned = frame.to_screen(ground)
        grit = noise(rng, frame.size, (rng.uniform(1.5, 4), rng.uniform(8, 90)))
        striae = np.where(
            turned >= groove, frame.to_screen(grit) * min(rng.uniform(0.1, 0.8) * recipe.wall * pixel, 0.2), striae
        )
        np.maximum(groove, turned, out=groove)
        lays.append(lay)
    burr[groove > 0.02] = 0
    return Honed(lays=lays, groove_um=groove, burr_um=burr, texture_um=texture, striae_um=striae)
