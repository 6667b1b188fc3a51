"""A maker of training fields after the metallurgist: metal cut off the land flows along the stroke and keeps its volume.

The order of the stages: hone the casting, run the ring over it (truncate, mark, move metal, scuff), scan it. All is done in
the stroke's frame, its columns along the stroke, and turned onto the screen at the end.
"""

import cv2
import numpy as np

from makers.made import Made
from makers.moulded.flow import VALLEY_DEPTH_UM, Flow, flow
from makers.moulded.hone import Hone, hone
from makers.moulded.noise import Shape, blurred, chance, grain, log_uniform
from makers.moulded.picture import beam, emission, recorded
from makers.moulded.transfer import scuff


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Draws one field; the metal flows towards the stroke's direction on the screen, any angle."""
    stroke_deg = rng.uniform(0, 360)
    frame = _frame(shape, stroke_deg)
    honed = hone(rng, frame, pixel_size_um)
    worn_rows = _worn_rows(rng, frame[0])
    wear_um = worn_rows * log_uniform(rng, 0.08, 0.5) * max(honed.typical_depth_um, 0.8)
    moved = flow(rng, honed.groove_um, wear_um[:, None].astype(np.float32), pixel_size_um)
    worn = np.repeat((worn_rows > 0)[:, None], frame[1], axis=1)
    signal, codes, scuffed = _surface(rng, honed, moved, worn, wear_um, pixel_size_um)
    signal = _turned(signal, shape, stroke_deg, cv2.INTER_CUBIC)
    codes = _turned(codes, shape, stroke_deg, cv2.INTER_NEAREST)
    worn = _turned(worn.astype(np.uint8), shape, stroke_deg, cv2.INTER_NEAREST) > 0
    if chance(rng, 0.15):
        _debris(rng, signal, codes, pixel_size_um)
    image, hidden = recorded(rng, signal)
    codes[hidden] = 255
    run = "unrun" if not worn.any() else "scuffed" if scuffed else "smeared" if moved.closed.mean() > 0.02 else "run"
    return Made(image=image, codes=codes, worn=worn, kind=f"moulded {honed.finish} {run}")


def _surface(
    rng: np.random.Generator, honed: Hone, moved: Flow, worn: np.ndarray, wear_um: np.ndarray, pixel_size_um: float
) -> tuple[np.ndarray, np.ndarray, bool]:
    """What the beam meets, in the stroke's frame: electrons, mask codes, whether any of it scuffed."""
    frame = worn.shape
    settings = beam(rng)
    fine = grain(rng, frame, 1, 1) * 0.3 + grain(rng, frame, 3, 3)
    marks = np.minimum(grain(rng, frame, rng.uniform(1, 2), 120) + 0.6 * grain(rng, frame, 4, 200), 1.2)
    marks_um = rng.uniform(0.02, 0.14) * np.clip(pixel_size_um, 0.3, 1.2) * marks * worn
    land_um = log_uniform(rng, 0.015, 0.09) * np.clip(pixel_size_um, 0.4, 1.5) * fine * np.where(worn, 0.6, 1.0)
    scratches_um = np.maximum(honed.marks_um - wear_um[:, None], 0)
    lips_um = rng.uniform(0, 0.25) * np.clip(blurred(honed.groove_um, 2.0) - honed.groove_um - 0.05, 0, 1) * ~worn
    skin = blurred(moved.closed.astype(np.float32), 0.7)
    texture = (land_um - scratches_um) * (1 - rng.uniform(0.5, 0.9) * skin) + marks_um
    codes = np.where(moved.closed, 2, moved.depth_um >= VALLEY_DEPTH_UM).astype(np.uint8)
    sag_px = rng.uniform(0.6, 2.2)
    front = blurred(moved.closed.astype(np.float32), sag_px)
    front = 4 * front * (1 - front)
    depth_um = moved.depth_um * (1 - front) + blurred(moved.depth_um, sag_px) * front
    height = texture - depth_um + moved.burr_um + lips_um - moved.seam_um - 0.8 * honed.pits - 0.3 * honed.graphite
    carbon = np.maximum(honed.graphite * (1 - 0.8 * skin), 0.6 * honed.pits)
    blotch_px = log_uniform(rng, 3, 30)
    oxide = rng.uniform(0, 0.03) * (grain(rng, frame, blotch_px, blotch_px * 1.5) + grain(rng, frame, 3, 3))
    scored = np.sign(settings.floor_tone) * rng.uniform(0.1, 0.7) * scratches_um * (1 - skin)
    scored += rng.uniform(0, 0.05) * marks * worn
    mottle = 1 + 0.35 * grain(rng, frame, 12, 45)
    tones = settings.carbon_tone * carbon + settings.skin_tone * skin * mottle - 0.3 * moved.seam_um + oxide + scored
    scuffed = bool(worn.any()) and chance(rng, 0.3)
    if scuffed:
        ground, relief_um, severity = scuff(rng, frame, pixel_size_um)
        ground &= worn
        soft = blurred(ground.astype(np.float32), 1.2)
        height = height * (1 - soft * (0.6 + 0.4 * severity)) + relief_um * soft
        depth_um = depth_um * (1 - soft) + np.maximum(-relief_um - 0.4, 0) * soft
        tones = tones * (1 - 0.8 * soft) + soft * (rng.uniform(-0.15, 0.15) + 0.05 * grain(rng, frame, 5, 30))
        codes[ground] = 3
    return emission(rng, settings, height.astype(np.float32), depth_um, tones, pixel_size_um), codes, scuffed


def _worn_rows(rng: np.random.Generator, rows: int) -> np.ndarray:
    """0–1 per stroke line: how fully the ring bore there; in one field of twenty the track's border crosses."""
    if chance(rng, 0.05):
        border = rng.uniform(0.3, 0.7) * rows
        return np.clip((np.arange(rows) - border) * rng.choice([-1, 1]) / rng.uniform(3, 20), 0, 1)
    return np.full(rows, float(chance(rng, 0.6)))


def _frame(shape: Shape, stroke_deg: float) -> Shape:
    cos, sin = abs(np.cos(np.radians(stroke_deg))), abs(np.sin(np.radians(stroke_deg)))
    return int(shape[0] * cos + shape[1] * sin) + 4, int(shape[1] * cos + shape[0] * sin) + 4


def _turned(field: np.ndarray, shape: Shape, stroke_deg: float, interpolation: int) -> np.ndarray:
    """The stroke's frame turned onto the screen, stroke_deg counted from a row towards growing rows."""
    cos, sin = np.cos(np.radians(stroke_deg)), np.sin(np.radians(stroke_deg))
    matrix = np.array([[cos, sin, 0.0], [-sin, cos, 0.0]])
    matrix[:, 2] = (field.shape[1] / 2, field.shape[0] / 2) - matrix[:, :2] @ (shape[1] / 2, shape[0] / 2)
    flags = interpolation | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(field, matrix, shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)


def _debris(rng: np.random.Generator, signal: np.ndarray, codes: np.ndarray, pixel_size_um: float) -> None:
    """Loose particles, bright and with a shadow, drawn into signal and codes."""
    for _ in range(int(rng.integers(1, 6))):
        angles = np.linspace(0, 2 * np.pi, 9, endpoint=False)
        radius = np.clip(log_uniform(rng, 1, 10) / pixel_size_um, 2.5, 22) * rng.uniform(0.6, 1.2, 9)
        centre = rng.uniform(0, 1, 2) * signal.shape[::-1]
        outline = (np.stack([radius * np.cos(angles), radius * np.sin(angles)], 1) + centre).astype(np.int32)
        grit = np.zeros(signal.shape, np.uint8)
        cv2.fillPoly(grit, [outline], 1)
        soft = blurred(grit.astype(np.float32), 1.0)
        signal *= 1 - 0.3 * np.roll(blurred(grit.astype(np.float32), 3.0), 3, axis=1)
        signal += soft * (rng.uniform(0.1, 0.5) + 0.1 * grain(rng, signal.shape, 2, 2))
        codes[grit > 0] = 255
