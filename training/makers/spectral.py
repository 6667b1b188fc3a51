"""Fields without heights: states from thresholded random fields first, then a texture and an edge response for each.

No groove has a cross-section here. Where a state lies comes from thresholds; how it looks from a spectrum of its own.
"""

import cv2
import numpy as np

from makers.made import Made
from makers.spectral_closing import Closing, close_grooves, scuff_map
from makers.spectral_fields import above, blur, log_uniform, stretched, texture
from makers.spectral_network import draw_lays, faint_lines
from makers.spectral_picture import edge_response, expose, look_alikes, scatter_debris

UNIT = 1.0  # grey contrast of a clear groove; everything else is drawn relative to it


def _worn_map(rng: np.random.Generator, shape: tuple[int, int], stroke: float) -> np.ndarray:
    choice = rng.random()
    if choice < 0.29:
        return np.zeros(shape, bool)
    if choice < 0.8:
        return np.ones(shape, bool)
    rows, cols = shape
    t = np.deg2rad(stroke)
    y, x = np.mgrid[:rows, :cols].astype(np.float32)
    across = -np.sin(t) * (x - cols / 2) + np.cos(t) * (y - rows / 2)
    reach = abs(np.sin(t)) * cols / 2 + abs(np.cos(t)) * rows / 2
    edge = rng.uniform(-0.6, 0.6) * reach + 0.01 * reach * stretched(rng, shape, 0.6 * reach, 0.6 * reach, stroke)
    return across > edge if rng.random() < 0.5 else across <= edge


def _soft(mask: np.ndarray, sigma: float) -> np.ndarray:
    return blur(mask.astype(np.float32), sigma)


def _plateau(
    rng: np.random.Generator, shape: tuple[int, int], stroke: float, px: float, worn: np.ndarray
) -> np.ndarray:
    """Ground texture and finishing marks of the plateau; running softens the marks."""
    image = log_uniform(rng, 0.03, 0.45) * texture(
        rng, shape, rng.choice([stroke, stroke + 90]), streak=rng.choice([0, 0.6])
    )
    if rng.random() < 0.75:
        hone = rng.uniform(20, 150)
        strength = log_uniform(rng, 0.05, 0.3)
        marks = sum(faint_lines(rng, shape, stroke + 90 + side * hone / 2, px) for side in (-1, 1))
        image = image + rng.choice([-1, 1]) * strength * marks * np.where(worn, rng.uniform(0.1, 1.0), 1.0)
    return image.astype(np.float32)


def _smear_look(
    rng: np.random.Generator,
    plateau: np.ndarray,
    closing: Closing,
    floor: np.ndarray,
    stroke: float,
    lay: float,
    width: float,
) -> np.ndarray:
    """How closed metal looks, over the whole picture; only used where grooves closed."""
    shape = plateau.shape
    fade = float(np.clip(width / 6, 0.3, 1))  # rims of thin grooves would look like open ones
    kind = rng.choice(["plateau", "smooth", "rough", "streaked", "scaly"], p=[0.28, 0.25, 0.17, 0.18, 0.12])
    tone = 0.0 if rng.random() < 0.35 else rng.choice([-1, 1]) * log_uniform(rng, 0.08, 0.6)
    mean = float(floor.mean())
    if tone * mean > 0:  # closed metal must not look like the floor
        tone = np.sign(tone) * min(abs(tone), 0.25 * abs(mean))
    elif abs(mean) < 0.5:  # open grooves that show by their rims alone
        tone *= fade
    if kind == "plateau":
        look = plateau
    elif kind == "smooth":
        look = plateau * rng.uniform(0.0, 0.5)
    elif kind == "rough":
        look = 0.5 * plateau + log_uniform(rng, 0.15, 0.5) * texture(rng, shape, lay, streak=0)
    elif kind == "streaked":
        look = 0.4 * plateau + log_uniform(rng, 0.1, 0.45) * texture(rng, shape, stroke, streak=0.8)
    else:
        size = log_uniform(rng, 3, 25)
        scales = np.abs(stretched(rng, shape, size * rng.uniform(1, 3), size, stroke))
        look = 0.5 * plateau + log_uniform(rng, 0.15, 0.5) * (np.minimum(scales, 1.5) - 0.7)
    ghost = 0.0 if rng.random() < 0.5 else rng.uniform(0.0, 0.25)
    look = look + tone + ghost * floor
    rim = blur(
        cv2.morphologyEx(closing.footprint.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).astype(
            np.float32
        ),
        0.6,
    )
    trace = 0.0 if rng.random() < 0.4 else log_uniform(rng, 0.08, 0.8)
    needed = log_uniform(rng, 0.3, 0.8) if abs(tone) < 0.25 else 0.15
    sign = rng.choice([-1, 1], p=[0.6, 0.4])
    look = look + fade * sign * rim * np.where(closing.alone, max(trace, needed), trace)
    if rng.random() < 0.35:
        look = look - log_uniform(rng, 0.15, 1.0) * _soft(closing.seam, 0.6)
    return look.astype(np.float32)


def _scuff_look(rng: np.random.Generator, plateau: np.ndarray, stroke: float, px: float) -> np.ndarray:
    shape = plateau.shape
    tone = rng.choice([0, -1, 1], p=[0.4, 0.35, 0.25]) * log_uniform(rng, 0.15, 1.0)
    look = 0.4 * plateau + tone
    loud = log_uniform(rng, 0.4, 1.3) if abs(tone) < 0.35 else log_uniform(rng, 0.25, 1.2)
    kind = rng.choice(["ploughed", "torn", "scaly", "mixed"])
    if kind in ("ploughed", "mixed"):
        look = look + loud * texture(rng, shape, stroke, streak=0.9)
    if kind in ("torn", "mixed"):
        look = look + 0.8 * loud * texture(rng, shape, stroke, streak=0.25)
    if kind == "scaly":
        size = max(2.0, log_uniform(rng, 1.5, 15) / px)
        field = stretched(rng, shape, size * rng.uniform(1.5, 4), size, stroke)
        look = (
            look
            + loud
            * (np.abs(field) - 0.7 + 0.5 * np.maximum(field, stretched(rng, shape, 0.5 * size, 0.4 * size, stroke)))
            + 0.3 * loud * texture(rng, shape, stroke, streak=0.5)
        )
    if rng.random() < 0.35:  # transferred lumps
        size = max(2.0, log_uniform(rng, 2, 15) / px)
        lumps = _soft(above(stretched(rng, shape, 2 * size, size, stroke), log_uniform(rng, 0.01, 0.15)), 0.8)
        look = look + loud * (rng.choice([-1, 1]) * lumps + 2 * np.maximum(blur(lumps, 1.5) - lumps, 0))
    return look.astype(np.float32)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One picture with exact truth; `pixel_size_um` in µm, `shape` (rows, cols)."""
    px = float(pixel_size_um)
    stroke = float(rng.choice([0.0, 90.0]) + rng.normal(0, 6)) if rng.random() < 0.8 else float(rng.uniform(0, 180))
    light = float(rng.uniform(0, 360))
    worn = _worn_map(rng, shape, stroke)
    lays, finish = draw_lays(rng, shape, px, stroke)
    grooves = np.zeros(shape, bool)
    for lay in lays:
        grooves |= lay.grooves
    kinds = [finish]
    smeared = np.zeros(shape, bool)
    closing = None
    if worn.any() and lays and rng.random() < 0.88:
        closing = close_grooves(rng, lays, worn, stroke)
        smeared = closing.smeared
        kinds.append("smear")
    open_valley = grooves & ~smeared
    scuffed = np.zeros(shape, bool)
    if worn.any() and rng.random() < 0.31:
        scuffed = scuff_map(rng, worn, stroke, px)
        kinds.append("scuff")

    plateau = _plateau(rng, shape, stroke, px, worn)
    if lays and rng.random() < 0.45:  # grooves' shallow cousins: same directions, weak
        cousin = sum(faint_lines(rng, shape, lay.angle + rng.normal(0, 2), px) for lay in lays[:2])
        plateau -= log_uniform(rng, 0.05, 0.25) * cousin
    plateau += look_alikes(rng, shape, stroke, px, worn, UNIT * rng.uniform(0.4, 0.8))
    finest = min((lay.width for lay in lays), default=20.0)
    if finest < 4:  # thin grooves would drown
        plateau *= rng.uniform(0.3, 0.8)
    image = plateau.copy()

    bse = rng.random() < 0.2
    way = rng.choice(["dark", "bright", "rough", "rims"], p=[0.55, 0.13, 0.16, 0.16])
    mean = {"dark": -1.0, "bright": 0.9, "rough": rng.choice([-0.3, 0.3]), "rims": -0.25}[way] * rng.uniform(0.7, 1.4)
    rough = log_uniform(rng, 0.5, 1.0) if way == "rough" else log_uniform(rng, 0.08, 0.6)
    edge = log_uniform(rng, 0.9, 2.0) if way == "rims" else log_uniform(rng, 0.1, 1.5)
    if bse:
        edge *= 0.3
        mean = np.sign(mean) * max(abs(mean), 0.8)
    soft_edge = min(log_uniform(rng, 0.4, 1.6), max(0.4, 0.25 * finest))
    if lays:
        along = lays[int(rng.integers(len(lays)))].angle
        floor = np.full(shape, mean, np.float32)
        floor += rough * texture(rng, shape, along if rng.random() < 0.7 else stroke, streak=rng.choice([0, 0.4, 0.9]))
        if rng.random() < 0.5:  # deeper here than there
            scale = log_uniform(rng, 5, 100) * lays[0].width
            floor *= 1 + 0.2 * np.clip(stretched(rng, shape, scale, 3 * lays[0].width, along), -2, 2)
        if rng.random() < 0.2:  # partly filled, open still
            scale = log_uniform(rng, 1, 10) * lays[0].width
            floor *= 1 - rng.uniform(0.2, 0.45) * above(stretched(rng, shape, scale, scale), 0.3)
        if rng.random() < 0.35:  # starved or filled towards the middle
            depth = np.minimum(lays[0].inside, 8.0) / 8.0
            floor += rng.choice([-1, 1], p=[0.8, 0.2]) * rng.uniform(0.2, 0.8) * np.clip(depth, 0, 1)
        if rng.random() < 0.3:  # carbon in the floors
            scale = log_uniform(rng, 0.7, 10) * lays[0].width
            carbon = _soft(above(stretched(rng, shape, scale, scale), rng.uniform(0.1, 0.5)), 0.8)
            floor -= rng.uniform(0.3, 1.2) * carbon
        if edge < 0.5 and way in ("dark", "bright"):  # without rims the tone alone must tell
            floor = np.float32(np.sign(mean)) * np.maximum(np.sign(mean) * floor, np.float32(rng.uniform(0.25, 0.5)))
        if closing is not None and smeared.any():
            look = _smear_look(rng, plateau, closing, floor, stroke, along, finest)
            if rng.random() < 0.3:
                second = _smear_look(rng, plateau, closing, floor, stroke, along, finest)
                scale = log_uniform(rng, 30, 300)
                look = np.where(stretched(rng, shape, scale, scale) > 0, second, look)
            cover = _soft(smeared, rng.uniform(0.3, 1.2))
            image += cover * (look - image)
        opened = _soft(open_valley, soft_edge)
        image += opened * (floor - image)
        rims = edge_response(rng, opened, px, light, edge)
        if smeared.any():  # where a cover borders the opening, its edge may show or not
            rims *= 1 - rng.uniform(0, 1) * _soft(smeared, 1.0)
            rims += edge_response(rng, cover, px, light, 0.0 if rng.random() < 0.5 else log_uniform(rng, 0.1, 0.9))
        image += rims
    if scuffed.any():
        border = log_uniform(rng, 0.4, 3.0)
        torn = _soft(scuffed, border)
        image += torn * (_scuff_look(rng, plateau, stroke, px) - image)
        if rng.random() < 0.4:
            image += edge_response(rng, torn, px, light, log_uniform(rng, 0.1, 1.0))

    codes = np.zeros(shape, np.uint8)
    codes[open_valley] = 1
    codes[smeared] = 2
    codes[scuffed] = 3
    codes[scatter_debris(rng, image, px, UNIT, light)] = 255
    return Made(image=expose(rng, image, UNIT, finest), codes=codes, worn=worn, kind="spectral " + " ".join(kinds))
