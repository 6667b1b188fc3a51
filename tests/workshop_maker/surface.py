"""One field's surface: honed, run, and turned under the picture."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from . import iron, running_in
from .frames import lay_under, rows_seen, sheet_shape
from .honing import hone_lay
from .metal_flow import FOOTPRINT_UM, Flow, flow_over
from .recipe import Specimen
from .roughness import roughness
from .scuffing import scuff

VALLEY_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Surface:
    """On the picture's grid: height_um, tone (relative yield), groove_um (open groove depth), codes and honed_um.

    honed_um: groove depth as honed; lay_lengths: groove length per area of each lay; lays_deg: the lays against the stroke.
    """

    height_um: np.ndarray
    tone: np.ndarray
    groove_um: np.ndarray
    codes: np.ndarray
    honed_um: np.ndarray
    lay_lengths: tuple[float, ...]
    lays_deg: tuple[float, ...]


def lay_angles(specimen: Specimen) -> list[float]:
    """Return the lays' directions against the stroke, degrees: the circumference bisects them."""
    half = specimen.finish.hone_angle_deg / 2
    return [90 + half] if specimen.finish.single_lay else [90 + half, 90 - half]


def _honed(rng: np.random.Generator, specimen: Specimen, shape: tuple[int, int]) -> tuple:
    """Return groove depth, honed relief without grooves, the lays' groove length per area and their angles."""
    finish, pixel = specimen.finish, specimen.pixel_size_um
    share = float(np.clip(finish.valley_share * np.exp(rng.normal(0, 0.04)), 0.05, 0.38))
    shares = [share * 1.02]
    if not finish.single_lay:
        weaker = share * finish.balance / (1 + finish.balance)
        shares = [1 - (1 - share) / (1 - weaker), weaker]
    depth, rim, marks = (np.zeros(shape, np.float32) for _ in range(3))
    lengths, lays = [], []
    squeeze = float(np.cos(np.radians(specimen.tilt_deg)))
    for angle, part in zip(lay_angles(specimen), shares, strict=True):
        turned = angle + rng.normal(0, 0.25)
        sheet = sheet_shape(shape, turned)
        seen = rows_seen(specimen.shape, sheet[0], specimen.stroke_deg + turned, squeeze)
        cut, torn, fine, length = hone_lay(rng, sheet, finish, part, seen, pixel)
        cut, torn, fine = (lay_under(sheet, shape, turned) for sheet in (cut, torn, fine))
        rim = np.maximum(rim * np.clip(1 - cut / 0.4, 0, 1), torn * np.clip(1 - depth / 1.5, 0, 1))
        depth = np.maximum(depth, cut)
        marks += fine * 0.7
        lengths.append(length)
        lays.append(turned)
    return depth, marks + rim * np.clip(1 - depth / 0.5, 0, 1), tuple(lengths), tuple(lays)


def _codes(depth: np.ndarray, worn_um: np.ndarray, flow: Flow, scuffed: np.ndarray) -> np.ndarray:
    codes = (depth - worn_um >= VALLEY_UM).astype(np.uint8)
    codes = cv2.medianBlur(codes, 3)
    codes[flow.covered] = 2
    codes[scuffed] = 3
    return codes


def make_surface(rng: np.random.Generator, specimen: Specimen, in_track: bool) -> Surface:
    """Return the surface of one field."""
    pixel, squeeze = specimen.pixel_size_um, float(np.cos(np.radians(specimen.tilt_deg)))
    stroke = specimen.stroke_deg
    shape = sheet_shape(specimen.shape, stroke, squeeze)
    depth, relief, lengths, lays = _honed(rng, specimen, shape)
    flake = iron.graphite(rng, shape, specimen.finish, pixel)
    pits = iron.pull_outs(rng, shape, specimen.finish, pixel)
    hard = iron.steadite(rng, shape, specimen.finish, pixel)
    wear = specimen.wear
    if in_track:
        wear = replace(
            wear, closed=wear.closed * rng.uniform(0.8, 1.2), scuffed=min(wear.scuffed * rng.uniform(0.75, 1.2), 0.26)
        )
        load = running_in.load_map(rng, shape, pixel)
        worn = running_in.truncation(wear, load)
        flow = flow_over(rng, depth, load, wear, pixel)
        torn = scuff(rng, load, wear, pixel)
        marks = running_in.stroke_marks(rng, shape, wear, pixel)
        open_um = depth * (1 - flow.covered) * np.where(torn.inside, torn.keeps, 1)
        land = np.minimum(relief, -worn + 0.04) + marks * (1 - torn.inside)
        height = np.where(open_um > 0.05, np.minimum(land, relief - open_um), land)
        # The metal came over the slope beside the groove too: little of that slope is left beside a cover.
        beside = cv2.blur(
            cv2.dilate(flow.covered.astype(np.uint8), np.ones((3, 2 * int(2.5 / pixel) + 3))).astype("f4"), (3, 3)
        )
        beside *= (depth < FOOTPRINT_UM) & (depth > 0.02)
        height = height + beside * (0.9 - 0.5 * flow.gutter) * np.clip(-worn - 0.04 - height, 0, None)
        height = np.where(flow.covered, -worn + flow.level_um + 0.8 * marks, height)
        height = height + torn.relief_um + 0.15 * hard * (1 - np.clip(open_um / 0.5, 0, 1))
        tone = 1 + flow.tone + torn.tone - running_in.film(rng, shape, wear, pixel) * np.clip(1 - open_um, 0, 1)
        hidden = np.where(flow.covered | torn.inside, 0.15, 0.85)
        codes = _codes(depth, worn, flow, torn.inside)
        open_um = np.clip(open_um - worn, 0, None)
    else:
        height, open_um, tone, hidden = relief - depth, depth, np.ones(shape, np.float32), 1.0
        empty = np.zeros(shape, bool)
        codes = _codes(depth, np.float32(0), Flow(covered=empty, level_um=depth, tone=depth, gutter=depth), empty)
    height = height - flake * hidden * 0.5 - pits * np.where(codes == 1, 0.3, 1) * hidden
    tone = tone * (1 - 0.42 * flake * hidden - 0.12 * np.clip(pits, 0, 1) * hidden) * (1 + 0.05 * hard)
    height = height + 0.25 * roughness(rng, shape, 400 / pixel, 400 / pixel)
    specks = roughness(rng, shape, max(0.8, 0.6 / pixel), max(0.8, 0.6 / pixel))
    height = height - specimen.finish.micro_um * (np.clip(np.abs(specks) - 1.6, 0, 3) * 3 + 0.35 * specks)
    height = height + specimen.finish.micro_um * 0.8 * roughness(rng, shape, max(1.5, 2 / pixel), max(1.5, 2 / pixel))

    def seen(sheet: np.ndarray, labels: bool = False) -> np.ndarray:
        return lay_under(sheet, specimen.shape, stroke, squeeze, labels=labels)

    return Surface(
        height_um=seen(height.astype(np.float32)), tone=seen(tone.astype(np.float32)),
        groove_um=seen(np.asarray(open_um, np.float32)), codes=seen(codes, True),
        honed_um=seen(depth, True), lay_lengths=lengths, lays_deg=lays,
    )  # fmt: skip
