"""One field's surface on the picture's grid: heights, mask codes and materials.

The surface is made with the stroke along its columns, then turned and, at a tilt, foreshortened into the picture. Angles
are degrees anticlockwise from the picture's rows, as they lie in the picture.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from .ground import honed_ground
from .matrix import graphite, pullouts
from .noise import without_specks
from .running_in import truncate
from .scuffing import scuffing
from .specimen import Specimen, Wear
from .transport import transport

VALLEY_DEPTH_UM = 0.5  # the contract's limit of open valley


@dataclass
class Surface:
    """Maps on the picture's grid, data bar excluded; covers lie in 0 to 1."""

    height_um: np.ndarray
    codes: np.ndarray
    was_groove: np.ndarray
    graphite: np.ndarray
    deposit: np.ndarray
    crack: np.ndarray
    scuff: np.ndarray


def field_surface(specimen: Specimen, worn: bool, rng: np.random.Generator) -> Surface:
    """Return one field of a specimen."""
    setting, finish = specimen.setting, specimen.finish
    pixel = setting.pixel_um
    shape = _stroke_grid(specimen)
    varied = replace(
        finish,
        valley_share=float(np.clip(finish.valley_share * np.exp(rng.normal(0, 0.07)), 0.15, 0.3)),
        rvk_um=finish.rvk_um * float(np.exp(rng.normal(0, 0.05))),
    )
    ground = honed_ground(shape, pixel, varied, rng)
    flakes = graphite(shape, pixel, finish.graphite_per_mm2, rng)
    holes = pullouts(shape, pixel, finish.pullouts_per_mm2, rng)
    zero = np.zeros(shape, np.float32)
    plane, height, cover, crack, scuff = zero, ground.height_um, zero, zero, zero
    if worn:
        wear = _varied(specimen.wear, rng)
        run = truncate(height, pixel, wear, rng)
        deposit = transport(run, pixel, wear, rng)
        torn = scuffing(run.load, pixel, wear.scuff, wear.scuff_strength, rng)
        plane, cover, crack, scuff = run.plane_um, deposit.cover, deposit.crack, torn.cover
        over = np.maximum(deposit.height_um, plane - 0.9 - 0.15 * np.clip(plane - deposit.height_um, 0, 6))
        height = deposit.height_um * (1 - scuff) + (0.35 * (over - plane) + plane + torn.relief_um) * scuff
        flakes = flakes * (1 - 0.8 * np.maximum(cover, scuff))
        holes = holes * (1 - 0.85 * np.maximum(cover, scuff))
    codes, was = _codes(ground.height_um, height, plane, cover, scuff, pixel, finish.width_um)
    height = height - np.maximum(holes, 0.3 * flakes)
    maps = [height, flakes, cover, crack, scuff]
    matrix = _turn(specimen, shape)
    size = (setting.width_px, setting.height_px)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid = [
        cv2.warpAffine(m.astype(np.float32), matrix, size, flags=flags, borderMode=cv2.BORDER_REFLECT) for m in maps
    ]
    flags = cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    marks = [cv2.warpAffine(m, matrix, size, flags=flags, borderMode=cv2.BORDER_REFLECT) for m in (codes, was)]
    return Surface(laid[0], marks[0], marks[1], *laid[1:])


def _varied(wear: Wear, rng: np.random.Generator) -> Wear:
    """Return the wear of one field: the specimen's, with a small scatter."""
    scatter = np.exp(rng.normal(0, 0.2, 3))
    return replace(
        wear,
        cut_um=wear.cut_um * scatter[0],
        smear=min(1.0, wear.smear * scatter[1]),
        scuff=min(0.28, wear.scuff * scatter[2]),
    )


def _codes(before, height, plane, cover, scuff, pixel: float, width_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return mask codes, and where a groove at least 0.5 µm deep lay before wear."""
    sigma = 0.6 / pixel + 0.3
    was = _groove(cv2.GaussianBlur(before, (0, 0), sigma), pixel, max(15.0, 0.8 * width_um**2))
    level = cv2.GaussianBlur(height - plane, (0, 0), sigma)
    codes = _groove(level, pixel, 15.0) & was
    closed = was.astype(bool) & (cover > 0.5) & (codes == 0)
    codes = np.where(without_specks(closed, max(9, 4 / pixel**2)), 2, codes)
    codes = np.where(scuff > 0.5, 3, codes)
    return codes.astype(np.uint8), was


def _groove(height_um: np.ndarray, pixel: float, least_um2: float) -> np.ndarray:
    """Return 1 where a smoothed surface lies at least the limit below its plateau, parts under an area left out."""
    return without_specks(height_um <= -VALLEY_DEPTH_UM, max(9, least_um2 / pixel**2))


def _stroke_grid(specimen: Specimen) -> tuple[int, int]:
    """Return the rows and columns that hold the turned picture."""
    setting = specimen.setting
    turn = np.deg2rad(setting.stroke_deg - 90)
    width, height = setting.width_px, setting.height_px / np.cos(np.deg2rad(setting.tilt_deg))
    c, s = abs(np.cos(turn)), abs(np.sin(turn))
    return int(width * s + height * c) + 4, int(width * c + height * s) + 4


def _turn(specimen: Specimen, shape: tuple[int, int]) -> np.ndarray:
    """Return the affine map from the picture's pixels to the stroke's grid."""
    setting = specimen.setting
    turn = np.deg2rad(setting.stroke_deg - 90)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    matrix = matrix @ np.diag([1, 1 / np.cos(np.deg2rad(setting.tilt_deg))])
    centre = np.array([setting.width_px / 2, setting.height_px / 2])
    return np.column_stack([matrix, np.array([shape[1] / 2, shape[0] / 2]) - matrix @ centre])


def pictured(angle_deg: float, tilt_deg: float) -> float:
    """Return a direction of the specimen as it lies in the picture, tilted about the picture's rows."""
    angle = np.deg2rad(angle_deg)
    return float(np.rad2deg(np.arctan2(np.sin(angle) * np.cos(np.deg2rad(tilt_deg)), np.cos(angle))) % 180)


def directions(specimen: Specimen) -> tuple[list[float], float, float]:
    """Return the lays, the stroke and the included hone angle as they lie in the picture (nan with a single lay)."""
    setting = specimen.setting
    turn = setting.stroke_deg - 90
    lays = [pictured(lay + turn, setting.tilt_deg) for lay in specimen.finish.lays_deg]
    stroke = pictured(setting.stroke_deg, setting.tilt_deg)
    if len(lays) == 1:
        return lays, stroke, float("nan")
    # The included angle is the one that the circumference bisects.
    offsets = [(lay - (stroke - 90) + 90) % 180 - 90 for lay in lays]
    return lays, stroke, float(abs(offsets[0] - offsets[1]))
