"""Fields drawn with pen and brush: grooves, closures and streaks are outlines with a style each; no map of heights exists."""

import cv2
import numpy as np

from ..made import Made
from .bystanders import BACKSCATTER_CARBON, BACKSCATTER_IRON, charging, debris, graphite, stains
from .closures import close_groove, draw_habits, fine_lines, tear_streaks
from .grooves import draw_grooves, lays
from .instrument import record
from .noise import any_texture, fibres, value_noise
from .ribbon import fill_between
from .styles import PLATEAU, draw_look, paint

__all__ = ["make"]


def _track(rng: np.random.Generator, shape: tuple[int, int], stroke_deg: float) -> np.ndarray:
    """Where the ring ran (bool): nowhere, everywhere, or on one side of a border along the stroke."""
    chance = rng.random()
    if chance < 0.40 or chance >= 0.55:
        return np.full(shape, chance >= 0.55)
    angle = np.deg2rad(stroke_deg + 90)
    rows, cols = np.mgrid[: shape[0], : shape[1]]
    across = (cols - shape[1] / 2) * np.cos(angle) + (rows - shape[0] / 2) * np.sin(angle)
    return across * rng.choice([-1, 1]) > rng.uniform(-0.28, 0.28) * min(shape)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field; pixel_size_um from 0.12 to 2.2, shape (rows, cols) from 200 to 600."""
    stroke_deg = float(rng.uniform(0, 180) if rng.random() < 0.25 else rng.choice([0, 90]) + rng.normal(0, 4))
    worn = _track(rng, shape, stroke_deg)
    smeared = worn.any() and rng.random() < 0.6
    scuffed = worn.any() and rng.random() < 0.25
    truncation_um = float(np.exp(rng.uniform(np.log(0.05), np.log(1.5))))
    hone_angle_deg = float(rng.uniform(20, 150))
    layers = {name: np.zeros(shape, np.uint8) for name in ("rough", "closed", "torn", "valley", "carbon", "hidden")}
    layers["tone"] = np.full(shape, PLATEAU, np.uint8)
    tones = layers["tone"]
    for lay_deg in lays(stroke_deg, hone_angle_deg):
        fine_lines(rng, tones, lay_deg, int(rng.integers(0, 110)), rng.uniform(0.5, 5), rng.uniform(3, 16))
    if worn.any():
        marks = np.full(shape, PLATEAU, np.uint8)
        fine_lines(rng, marks, stroke_deg, int(rng.integers(10, 140)), rng.uniform(0.3, 2), rng.uniform(3, 18))
        tones[worn] = np.clip(np.float32(0.5) * tones[worn] + marks[worn] - 0.5 * PLATEAU, 0, 255)
    look = draw_look(rng)
    grooves = draw_grooves(rng, shape, pixel_size_um, stroke_deg, hone_angle_deg, worn, truncation_um)
    for groove in grooves:
        paint(rng, tones, layers["rough"], look, groove)
        if groove.valley.half.max() > 0:
            fill_between(layers["valley"], groove.valley, -1, 1, 255)
    if rng.random() < 0.3:
        fine_lines(rng, tones, stroke_deg + rng.normal(0, 2), int(rng.integers(1, 12)), 2, rng.uniform(20, 45))
    unmoved = {name: layers[name].copy() for name in ("tone", "rough")}
    if smeared:
        habits = draw_habits(rng)
        for groove in grooves:
            if rng.random() < habits["grooves"]:
                close_groove(rng, layers, groove, habits, stroke_deg, worn)
    if scuffed:
        tear_streaks(rng, layers, pixel_size_um, shape, stroke_deg, rng.random() < 0.4)
    for name, before in unmoved.items():
        layers[name][~worn] = before[~worn]
    closed, torn = (layers[name] * worn for name in ("closed", "torn"))
    if rng.random() < 0.45:
        graphite(rng, shape, pixel_size_um, layers["carbon"])
    picture = _compose(rng, layers, closed, torn, worn, pixel_size_um, stroke_deg)
    if rng.random() < 0.35:
        picture += stains(rng, shape)
    if rng.random() < 0.3:
        debris(rng, picture, layers["hidden"], pixel_size_um, shape)
    if rng.random() < 0.06:
        charging(rng, picture, layers["hidden"], shape)
    valley = layers["valley"] > 127
    codes = valley.astype(np.uint8)
    codes[valley & (closed > 127)] = 2
    codes[torn > 127] = 3
    codes[layers["hidden"] > 127] = 255
    state = "unworn" if not worn.any() else "worn" if worn.all() else "border"
    kind = "-".join(["plotted", state, look.style] + ["smeared"] * bool(smeared) + ["scuffed"] * bool(scuffed))
    return Made(image=record(rng, picture, pixel_size_um), codes=codes, worn=worn, kind=kind)


def _compose(rng, layers, closed, torn, worn, pixel_size_um, stroke_deg) -> np.ndarray:
    """Grey levels (float32) of the painted layers with the grain that each kind of ground has."""
    shape = closed.shape
    grain_px = np.exp(rng.uniform(np.log(0.3), np.log(4))) / pixel_size_um
    plateau = any_texture(rng, shape, float(np.clip(grain_px, 1.2, 12)), rng.uniform(0, 180))
    polish = np.float32(rng.uniform(0.2, 0.9))
    calm = np.where(worn, polish, np.float32(1))
    calm = calm * (1 - np.float32(rng.uniform(0.3, 0.85) / 255) * closed)
    floor = any_texture(rng, shape, float(np.clip(rng.uniform(0.4, 2.5) / pixel_size_um, 1.2, 8)), rng.uniform(0, 180))
    rough = layers["rough"].astype(np.float32) / 255
    picture = layers["tone"].astype(np.float32)
    picture += np.float32(rng.uniform(1, 9)) * plateau * calm * (1 - rough)
    picture += np.float32(rng.uniform(10, 38)) * floor * rough
    if worn.any() and rng.random() < 0.7:
        brushed = fibres(rng, shape, stroke_deg, rng.uniform(60, 300), float(np.clip(rng.uniform(0.5, 3) / pixel_size_um, 1, 6)))
        picture += np.float32(rng.uniform(1, 6)) * brushed * (worn & (rough < 0.2))
    if torn.any():
        share = torn.astype(np.float32) / 255
        ridges = fibres(rng, shape, stroke_deg, rng.uniform(12, 50), rng.uniform(1.2, 3.5))
        tears = value_noise(rng, shape, rng.uniform(3, 9), 3, 0.7)
        torn_look = rng.uniform(12, 28) * ridges + rng.uniform(8, 25) * tears
        picture += share * (torn_look + np.float32(35) * np.maximum(ridges * tears - 1, 0))
    carbon = cv2.GaussianBlur(layers["carbon"], (0, 0), 0.6).astype(np.float32) / 255
    # Pressed metal and torn streaks lie over flakes; elsewhere carbon gives back what its coefficient lets it.
    carbon *= (1 - closed / np.float32(255)) * (1 - torn / np.float32(255))
    return picture * (1 - carbon * np.float32(rng.uniform(0.5, 1.0) * (1 - BACKSCATTER_CARBON / BACKSCATTER_IRON)))
