"""Smear: metal of the worn plateau flows along the stroke over a groove's rim and closes it (folds that interrupt grooves,
the deep ones most: Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548). Five kinds: caps and bridges over part of the groove's
length, lips from one rim, flaps that end in a crack, flush burnished strips, and thin webs of several tongues.

Drawn groove by groove in its lay's frame, as a front of metal that has come some part of the way from one rim to the other;
the front's edges run along the stroke, whatever the lay."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, line_noise, noise
from .hone import Groove, Lay, reach
from .recipe import Recipe
from .wear import VALLEY_DEPTH_UM, Cut

DEEPEST_SAG_UM = 0.42
"""Moved metal that sags further has not closed the groove."""
KINDS = ("cap", "lip", "flap", "flush", "tongues")


@dataclass(frozen=True, kw_only=True)
class Smear:
    """covered: where metal lies over a groove; sag_um: how far it lies below the plateau; crack: 0–1; gloss: its
    grey against the plateau's, about -1 to 1; wrinkle_um: its own relief; polish: how strongly stroke marks cross it;
    rim_px: width of a rim, from the edge of the valley up to the plateau; only grooves that are valley are closed."""

    covered: np.ndarray
    sag_um: np.ndarray
    crack: np.ndarray
    gloss: np.ndarray
    wrinkle_um: np.ndarray
    polish: float
    rim_px: float


@dataclass(frozen=True)
class _Sheets:
    covered: np.ndarray
    sag_um: np.ndarray
    crack: np.ndarray
    gloss: np.ndarray


def _front(rng: np.random.Generator, kind: str, length: int, tooth: float) -> np.ndarray:
    """How far across the groove (0 near rim, 1 far rim) metal has come, at each step along the groove."""
    along = np.linspace(-1, 1, length)
    swell = np.clip((1 - np.abs(along)) * rng.uniform(2.5, 6), 0, 1)
    far = {"cap": 1.25, "lip": rng.uniform(0.25, 0.65), "flap": rng.uniform(0.8, 1.0), "flush": 1.4, "tongues": 0.85}[
        kind
    ]
    rough = {"cap": 0.12, "lip": 0.1, "flap": 0.07, "flush": 0.08, "tongues": 0.5}[kind]
    steps = tooth * rng.uniform(0.6, 1.6) * np.array([4.0, 1.0, 0.35, 0.15])
    ragged = sum(part * line_noise(rng, length, step) for part, step in zip((0.8, 0.6, 0.4, 0.25), steps, strict=True))
    return swell * far + rough * ragged * np.minimum(swell * 2, 1) - 0.02


def _cover(
    rng: np.random.Generator, sheets: _Sheets, groove: Groove, kind: str, span: tuple[int, int], about: dict
) -> None:
    """Lay one piece of moved metal over a groove between two columns of the frame."""
    pixel, shear, gloss = about["pixel"], about["shear"], about["gloss"]
    first, last = reach(groove, sheets.sag_um.shape[0], 1.0, pixel)
    half = groove.section.half_width_um(groove.depth_um - about["cut"]) / (1 - abs(groove.section.skew)) / pixel
    slip = int(abs(shear) * float(half.max())) + 2
    left, right = max(span[0] - slip, 0), min(span[1] + slip, sheets.sag_um.shape[1])
    if first >= last or left >= right or half[left:right].max() < 0.8:
        return
    across = np.arange(first, last, dtype=np.float32)[:, None] - groove.centre[None, left:right]
    half = np.maximum(half[None, left:right], 0.5).astype(np.float32)
    side = about["side"] if rng.random() < 0.8 else -about["side"]
    way = (side * across / half + 1) / 2
    front = _front(rng, kind, max(span[1] - span[0], 4), about["tooth"])
    step = np.rint(np.arange(left, right)[None] - shear * across - span[0]).astype(np.int32)
    here = np.where((step >= 0) & (step < len(front)), front[np.clip(step, 0, len(front) - 1)], -1.0).astype(np.float32)
    covered = (way < here) & (way > -0.25) & (way < 1.1)
    level, dip = {
        "cap": (0.06, 0.2),
        "lip": (0.1, 0.15),
        "flap": (0.0, 0.1),
        "flush": (0.02, 0.08),
        "tongues": (0.1, 0.2),
    }[kind]
    level, dip = level * rng.uniform(0.3, 1.8), dip * rng.uniform(0.3, 1.6)
    sag = level + dip * (1 - (2 * np.clip(way, 0, 1) - 1) ** 2)
    if kind == "flap":
        sag = sag - rng.uniform(0.05, 0.3) * np.clip(way, 0, 1) ** 2
    thin = np.exp(-np.abs(here - way) * 2 * half / np.float32(about["lip"]))
    sag = np.minimum(sag, DEEPEST_SAG_UM) + (DEEPEST_SAG_UM - np.minimum(sag, DEEPEST_SAG_UM)) * thin
    box = np.s_[first:last, left:right]
    sheets.sag_um[box] = np.where(covered, np.minimum(sag, sheets.sag_um[box]), sheets.sag_um[box])
    shade = gloss * (0.7 if kind == "flush" else 1.0) * rng.uniform(0.4, 1.4)
    sheets.gloss[box] = np.where(covered & (way > 0), shade, sheets.gloss[box])
    np.maximum(sheets.covered[box], covered, out=sheets.covered[box])
    if kind == "flap" or (kind in ("cap", "flush") and rng.random() < 0.45):
        wide = max(about["crack"], 0.8)
        gap = np.abs(way - np.minimum(here, 0.97)) * 2 * half
        crack = np.clip(1.5 - gap / wide, 0, 1) * (here > 0.3) * covered
        np.maximum(sheets.crack[box], crack, out=sheets.crack[box])
    if rng.random() < 0.6:
        seam = np.minimum(np.abs(way), np.abs(way - 1)) * 2 * half < 0.8
        np.maximum(sheets.crack[box], rng.uniform(0.05, 0.3) * (seam & covered), out=sheets.crack[box])


def _smear_lay(rng: np.random.Generator, recipe: Recipe, lay: Lay, weights: np.ndarray, about: dict) -> _Sheets:
    size = lay.frame.size
    sheets = _Sheets(*(np.full(size, value, np.float32) for value in (0, DEEPEST_SAG_UM, 0, 0)))
    to_stroke = np.radians(recipe.stroke_deg - lay.frame.angle_deg)
    about["shear"] = float(np.clip(np.cos(to_stroke) / np.sin(to_stroke), -4, 4))
    about["side"] = about["run"] * (1 if np.sin(to_stroke) > 0 else -1)
    for groove in lay.grooves:
        if groove.depth_um.max() - recipe.cut_um < VALLEY_DEPTH_UM * 0.9:
            continue
        width = 2 * float(groove.section.half_width_um(groove.depth_um.max() - recipe.cut_um)) / recipe.pixel_size_um
        own = np.clip(recipe.smear * rng.uniform(0.3, 1.7), 0, 0.97)
        at = -rng.uniform(0, 0.2) * size[1]
        while at < size[1]:
            kind = str(rng.choice(KINDS, p=weights))
            longer = {"flush": rng.uniform(3, 14), "lip": rng.uniform(2, 12)}.get(kind, rng.uniform(0.8, 5))
            length = max(longer * width, 8.0)
            if rng.random() < 0.93 and own > 0.005:
                _cover(rng, sheets, groove, kind, (int(at), int(at + length)), about)
            at += length * (1 + rng.exponential((1 - own) / max(own, 0.01)))
    return sheets


def draw_smear(rng: np.random.Generator, recipe: Recipe, lays: list[Lay]) -> Smear:
    parts = [np.zeros(recipe.shape, np.float32) for _ in range(4)]
    parts[1] += DEEPEST_SAG_UM
    weights = rng.dirichlet(np.array([1.0, 0.7, 0.8, 0.9, 0.5]))
    about = {
        "pixel": recipe.pixel_size_um,
        "cut": recipe.cut_um,
        "gloss": rng.choice([-1, 1]) * rng.uniform(0.4, 1) * (0.2 if rng.random() < 0.12 else 1),
        "crack": rng.uniform(0.2, 0.6) / recipe.pixel_size_um,
        "lip": rng.uniform(0.8, 3.0),
        "tooth": rng.uniform(4, 14),
        "run": int(rng.choice([-1, 1])),
    }
    for lay in lays:
        sheets = _smear_lay(rng, recipe, lay, weights, about)
        for part, sheet in zip(parts, (sheets.covered, sheets.sag_um, sheets.crack, sheets.gloss), strict=True):
            turned = lay.frame.to_screen(sheet)
            if sheet is sheets.sag_um:
                np.minimum(part, turned, out=part)
            elif sheet is sheets.gloss:
                part += turned
            else:
                np.maximum(part, turned, out=part)
    folds = Frame(recipe.stroke_deg, recipe.shape)
    scale = (rng.uniform(2, 7), rng.uniform(4, 30))
    wrinkle = folds.to_screen(noise(rng, folds.size, scale)) * min(
        rng.uniform(0.12, 0.7) * recipe.wall * recipe.pixel_size_um, 0.15
    )
    return Smear(
        covered=parts[0] > 0.5,
        sag_um=parts[1],
        crack=parts[2],
        gloss=np.clip(parts[3], -1.5, 1.5),
        wrinkle_um=np.clip(wrinkle * scale[0] / 2, -0.07, 0.07),
        rim_px=VALLEY_DEPTH_UM / recipe.wall / recipe.pixel_size_um + 1,
        polish=float(rng.uniform(0, 0.4) if rng.random() < 0.6 else rng.uniform(0.8, 1.6)),
    )


def close_grooves(worn: Cut, smear: Smear) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Height with moved metal, cracks included; depth of hone grooves left below the plateau; where metal lies in a groove."""
    _, parts, stats, _ = cv2.connectedComponentsWithStats((worn.depth_um >= VALLEY_DEPTH_UM).astype(np.uint8))
    large = stats[:, cv2.CC_STAT_AREA] > 4 * smear.rim_px**2
    large[0] = False
    away = cv2.distanceTransform((~large[parts]).astype(np.uint8), cv2.DIST_L2, 3)
    metal = smear.covered & worn.worn & (away <= smear.rim_px)
    laid = metal & (worn.depth_um > smear.sag_um)
    sheet = worn.plateau_um - smear.sag_um - smear.wrinkle_um - smear.polish * worn.marks_um
    height = np.where(laid, sheet, worn.height_um)
    depth = np.where(laid, np.minimum(worn.depth_um, smear.sag_um), worn.depth_um)
    return height - 0.6 * smear.crack * metal * np.minimum(worn.depth_um, 1.0), depth, metal
