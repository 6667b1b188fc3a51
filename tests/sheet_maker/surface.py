"""One field's surface: the honed ground, cut off by wear, with sheets and scuffing on it; and the state of each pixel.

A pixel is open valley where a hone groove's ground lies at least 0.5 µm below the local plateau; smeared where the groove
was that deep before wear and a sheet has closed it to within 0.5 µm; scuffed where the pile of torn sheets lies.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.sheet_maker.closing import Cover, close_grooves
from tests.sheet_maker.grooves import cut_lay, hone, random_lines
from tests.sheet_maker.ground import flakes, pull_outs, rough_skin
from tests.sheet_maker.noise import Rng, blotches, streaks
from tests.sheet_maker.scuffing import scuff
from tests.sheet_maker.setting import Specimen

VALLEY_DEPTH_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Surface:
    """Height in µm over the plateau, tone of the material (1 = land), depth of grooves before wear, and the states."""

    height_um: np.ndarray
    tone: np.ndarray
    honed_um: np.ndarray
    codes: np.ndarray


def stroke_marks(rng: Rng, specimen: Specimen) -> np.ndarray:
    """Return depth in µm of the fine running-in marks along the stroke; a few are deeper scratches."""
    pixel = specimen.pixel_size_um
    half = float(np.hypot(*specimen.shape) / 2)
    lines = [
        (offset, width, float(min(rng.lognormal(np.log(0.08), 0.7), 1.2)) * max(pixel, 0.4))
        for offset, width in random_lines(
            rng, half, 1 - np.exp(-specimen.stroke_marks), max(1.0 / pixel, 1.5), 0.45, (1.2, 5 / pixel + 2)
        )
    ]
    depth, _, _ = cut_lay(rng, specimen.shape, specimen.stroke_deg, lines, spread_deg=0.4, ends=0.75)
    return depth


def make_surface(rng: Rng, specimen: Specimen, worn: bool) -> Surface:
    """Make one field of a specimen."""
    depth, fine, ridge, grooves = hone(rng, specimen)
    graphite, pits = flakes(rng, specimen), pull_outs(rng, specimen)
    skin = rough_skin(rng, specimen, depth, worn)
    cut = specimen.cut_um * float(np.exp(rng.normal(0, 0.15))) if worn else 0.0
    left = np.maximum(depth - cut, 0)
    lands = np.maximum(fine - 0.5 * cut, 0) - ridge * np.exp(-cut / 0.05)
    if worn:
        lands = np.maximum(lands, stroke_marks(rng, specimen) * (left < 0.3))
    height = -np.maximum(left, lands) + skin
    tone = floor_tone(rng, specimen, left, skin) * (1 - 0.45 * np.clip(lands, -0.1, 0.35) * (left < 0.3))
    codes = deep_enough(left, specimen.pixel_size_um).astype(np.uint8)
    if worn:
        tone = tone + 0.018 * burnished(rng, specimen) * (left < 0.3)
        height, tone, closed = lay_sheets(
            rng, specimen, height, tone, left, depth, close_grooves(rng, specimen, grooves)
        )
        codes[closed >= 0] = 0
        codes[closed == 1] = 1
        codes[closed == 2] = 2
    open_pits = np.where(codes == 2, 0, pits)
    height = height - np.maximum(open_pits - left, 0) - 0.35 * graphite * (codes == 0)
    tone = tone * (1 - 0.45 * graphite * (codes != 2)) * (1 - 0.2 * np.clip(open_pits, 0, 1))
    if worn and specimen.scuffed:
        torn = scuff(rng, specimen, left * (codes == 1))
        height = np.where(torn.where, torn.height_um - 0.1, height)
        tone = np.where(torn.where, torn.tone, tone)
        codes[torn.where] = 3
    return Surface(height_um=height.astype(np.float32), tone=tone.astype(np.float32), honed_um=depth, codes=codes)


def deep_enough(depth_um: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return where a groove is 0.5 µm deep, by its form: roughness finer than a micrometre or a pixel is smoothed out."""
    return cv2.GaussianBlur(depth_um, (0, 0), max(0.7, 0.5 / pixel_size_um)) >= VALLEY_DEPTH_UM


def burnished(rng: Rng, specimen: Specimen) -> np.ndarray:
    """Return faint streaks of tone along the stroke, as sliding leaves them on the lands."""
    pixel = specimen.pixel_size_um
    fine = streaks(
        rng, specimen.shape, specimen.stroke_deg, along_px=max(90 / pixel, 80), across_px=max(2 / pixel, 1.6)
    )
    return fine + streaks(
        rng, specimen.shape, specimen.stroke_deg, along_px=max(250 / pixel, 150), across_px=max(9 / pixel, 7)
    )


def floor_tone(rng: Rng, specimen: Specimen, left: np.ndarray, skin: np.ndarray) -> np.ndarray:
    """Return the tone of lands and floors: floors hold carbon and tribofilm (darker) or bare rough metal (brighter)."""
    film = 1 + (specimen.floor_tone - 1) * np.clip(1 + specimen.floor_uneven * blotches(rng, left.shape, 60), 0.2, 1.8)
    film += 0.06 * np.clip(skin / (skin.std() + 1e-6), -2, 2)
    within = np.clip((left - 0.15) / 0.9, 0, 1)
    return (1 + 0.025 * blotches(rng, left.shape, 90)) * (1 - within) + film * within


def lay_sheets(
    rng: Rng,
    specimen: Specimen,
    height: np.ndarray,
    tone: np.ndarray,
    left: np.ndarray,
    depth: np.ndarray,
    cover: Cover,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return height and tone with the sheets on, and what they cover: -1 no sheet, else the state beneath the sheet."""
    on = cover.on_top >= 0
    closed = np.full(on.shape, -1, np.int8)
    if not on.any():
        return height, tone, closed
    pixel = specimen.pixel_size_um
    inside = cv2.distanceTransform(on.astype(np.uint8), cv2.DIST_L2, 3)
    outside = cv2.distanceTransform((~on).astype(np.uint8), cv2.DIST_L2, 3)
    sag, thick = cover.of("sag_um", 0), cover.of("thickness_um", 0)
    hang = np.clip(1.3 - inside * pixel / 2.5, 0.8, 1.3) * (1 + 0.15 * blotches(rng, on.shape, max(12 / pixel, 8)))
    form = -sag * np.clip(left / 0.9, 0, 1) * np.clip(hang, 0.2, 2)
    form += thick * (1 - np.clip(left / 0.6, 0, 1)) * 0.6 + 0.5 * thick * np.exp(-inside / 1.6)
    drawn = streaks(rng, on.shape, specimen.stroke_deg, along_px=max(18 / pixel, 12), across_px=max(1.2 / pixel, 1.4))
    streaky = cover.of("streaky", 0)
    top = form + drawn * streaky * 0.07 * max(pixel, 0.4) - 0.45 * cover.crack
    footprint = deep_enough(depth, pixel)
    still_open = on & deep_enough(left, pixel) & (form <= -VALLEY_DEPTH_UM)
    closed[on] = 0
    closed[on & footprint] = 2
    closed[still_open] = 1
    under = np.clip(left / 1.2, 0, 1) * np.exp(-outside * max(pixel, 0.35) / 0.9)
    own = cover.of("tone", 1) * (1 + 0.045 * streaky * drawn) * (1 - 0.45 * cover.crack)
    scar = cover.scar * ~on * np.exp(-outside * pixel / 2)
    bare = tone * (1 - 0.28 * under) * (1 + 0.12 * scar * blotches(rng, on.shape, max(1.5 / pixel, 1.5)))
    height = np.where(on, top, height + 0.1 * scar * blotches(rng, on.shape, max(1.5 / pixel, 1.5)))
    return height, np.where(on, own, bare), closed
