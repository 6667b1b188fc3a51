"""A microscope over a simple height map: the work is in the beam, the detector and the scan.

Grooves, flaps and torn metal are heights and matter; everything that the picture shows of them the electrons bring about.
"""

import cv2
import numpy as np

from ..made import Made
from . import grooves, matter, metal, scan
from .beam import pencil
from .draws import log_uniform, smooth_map, streaked_map
from .signal import Ground, detected


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of honed ground, unworn, worn on one side of a border, or worn all over."""
    x, y = frame(rng, pixel_size_um, shape)
    stroke = float(rng.choice((0, 90), p=(0.35, 0.65)) + rng.normal(0, 6)) if rng.random() < 0.8 else rng.uniform(0, 180)
    cos, sin = np.cos(np.radians(stroke)), np.sin(np.radians(stroke))
    along, across = (x * cos + y * sin).astype(np.float32), (y * cos - x * sin).astype(np.float32)
    state, worn = track(rng, across)
    bands = honed(rng, x, y, stroke, pixel_size_um)
    removed = log_uniform(rng, 0.05, 1.5) * worn if state != "unworn" else 0.0
    smear = state != "unworn" and rng.random() < 0.6
    heaviness = rng.beta(1.1, 1.2)
    open_um, closed_um, laid = np.zeros(shape, np.float32), np.zeros(shape, np.float32), np.zeros(shape, bool)
    seams = np.zeros(shape, np.float32)
    for band in bands:
        deep = metal.truncated(band.depth_um, removed)
        over, flap, seam = metal.flaps(rng, band, deep, worn, heaviness, pixel_size_um) if smear else (deep, laid & False, seams * 0)
        top = (over >= closed_um) & (over > 0)
        laid, seams = np.where(top, flap, laid), np.where(top, seam, seams)
        open_um, closed_um = np.maximum(open_um, deep), np.maximum(closed_um, over)
    floor = closed_um >= metal.LIMIT_UM
    height = -closed_um + fine_relief(rng, along, across, bands, floor, laid, worn, pixel_size_um)
    torn = np.zeros(shape, bool)
    if state != "unworn" and rng.random() < 0.25:
        torn, rough = metal.torn_metal(rng, along, across, worn, pixel_size_um, log_uniform(rng, 0.04, 0.7))
        height = np.where(torn, rough - 0.3, height)
    codes = metal.truth(open_um, closed_um, torn)
    image, mode, hidden = photographed(rng, height, floor, laid, seams, torn, pixel_size_um)
    codes[hidden] = 255
    parts = [state, *(["smeared"] if smear else []), *(["scuffed"] if torn.any() else []), mode]
    return Made(image=image, codes=codes, worn=worn, kind="scanned " + " ".join(parts))


def frame(rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Where on the specimen each pixel lies, in µm; the stage drifts while the frame is scanned."""
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    late = y / shape[0]
    drift = rng.normal(0, log_uniform(rng, 0.2, 3), 4)
    x, y = x + drift[0] * late + drift[1] * np.sin(3 * late), y + drift[2] * late + drift[3] * np.sin(3 * late)
    return (x * pixel_size_um).astype(np.float32), (y * pixel_size_um).astype(np.float32)


def track(rng: np.random.Generator, across: np.ndarray) -> tuple[str, np.ndarray]:
    """Where the ring ran: nowhere, on one side of a border along the stroke, or all over."""
    state = str(rng.choice(("unworn", "border", "worn"), p=(0.4, 0.15, 0.45)))
    if state != "border":
        return state, np.full(across.shape, state == "worn")
    edge = np.quantile(across[::5, ::5], rng.uniform(0.2, 0.8))
    return state, (across > edge) if rng.random() < 0.5 else (across < edge)


def honed(rng: np.random.Generator, x: np.ndarray, y: np.ndarray, stroke: float, pixel_size_um: float) -> list[grooves.Band]:
    """Two lays, each of one or two bands a degree or two apart since stones don't run true."""
    included = log_uniform(rng, 20, 150)
    share = log_uniform(rng, 0.06, 0.35)
    weaker = rng.uniform(0.1, 0.5) if rng.random() < 0.3 else rng.uniform(0.6, 1)
    shares = [share, share * weaker]
    rng.shuffle(shares)
    bands = []
    for lay, part in zip(grooves.lays_deg(stroke, included), shares, strict=True):
        times = int(rng.integers(1, 3))
        bands += [grooves.band(rng, x, y, lay + rng.normal(0, 1.2), part / times, pixel_size_um) for _ in range(times)]
    return bands


def fine_relief(rng, along, across, bands, floor, laid, worn, pixel_size_um) -> np.ndarray:
    """Height in µm of what is too shallow to count: finishing scratches, marks along the stroke, rims, rough floors."""
    shape = floor.shape
    grain = max(1.0, 0.4 / pixel_size_um)
    scale = pixel_size_um**0.5
    relief = np.zeros(shape, np.float32)
    finish = log_uniform(rng, 0.005, 0.06) * scale
    for band in bands[:: max(1, len(bands) - 1)]:
        relief += finish * streaked_map(rng, band.along_um, band.across_um, 150 * pixel_size_um, log_uniform(rng, 1.5, 5) * pixel_size_um)
    rubbed = log_uniform(rng, 0.01, 0.08) * scale * streaked_map(
        rng, along, across, log_uniform(rng, 60, 400) * pixel_size_um, log_uniform(rng, 1.5, 6) * pixel_size_um
    )
    relief = np.where(worn, relief * rng.uniform(0.1, 0.6) + rubbed, relief)
    # Burnished metal is smooth, floors keep the torn surface that the stones left.
    relief = np.where(laid, relief * 0.3, relief)
    rough = smooth_map(rng, shape, (grain * 1.5, grain * 1.5)) * log_uniform(rng, 0.04, 0.3) * scale
    relief = np.where(floor, relief + rough, relief)
    rim = log_uniform(rng, 0.02, 0.3)
    for band in bands:
        # Ploughed metal stands on the rims of what the stones cut, until the ring takes it off.
        near = (band.across >= 0) & ((band.across < 0.08) | (band.across > 0.92)) & ~worn
        relief += np.where(near, rim * np.clip(smooth_map(rng, shape, (8, 8)) + 0.3, 0, 2), 0)
    return np.clip(relief, -0.45, 0.6).astype(np.float32)


def photographed(rng, height, floor, laid, seams, torn, pixel_size_um) -> tuple[np.ndarray, str, np.ndarray]:
    """uint8 picture, the contrast's name, and where debris or charging hides the surface."""
    shape = height.shape
    number, yields = np.full(shape, 26.0, np.float32), np.ones(shape, np.float32)
    yields += rng.uniform(0, 0.05) * smooth_map(rng, shape, (20, 20))
    fill = float(np.clip(rng.normal(0.45, 0.3), 0, 0.95))
    filled = fill * np.clip(0.85 + rng.uniform(0, 0.35) * smooth_map(rng, shape, (10, 10)), 0, 1) * floor
    number, yields = number * (1 - filled) + 6 * filled, yields * (1 - filled * rng.uniform(0.2, 0.7))
    # Seams of folds hold oil and carbon; the pressed caps carry less of the film that covers the rest.
    dirty = seams * rng.uniform(0.2, 0.9)
    number, yields = number * (1 - dirty) + 6 * dirty, yields * (1 - 0.6 * dirty)
    # Torn metal is bare in places and oxidized in others.
    bare = rng.normal(1, 0.12) + rng.uniform(0.1, 0.35) * smooth_map(rng, shape, (2.5, 2.5))
    number[torn] *= np.clip(bare, 0.5, 1.2)[torn]
    yields[torn] *= np.clip(bare, 0.3, 1.8)[torn]
    burnish = rng.normal(1.03, 0.1)
    yields[laid] *= burnish
    number[laid] *= np.clip(burnish, 0.9, 1.15)
    # Electrons leave a thin flap's edge through both faces.
    thin = laid & (cv2.erode(laid.astype(np.uint8), np.ones((3, 3), np.uint8)) == 0)
    yields += thin * (log_uniform(rng, 0.03, 0.35) * np.clip(smooth_map(rng, shape, (12, 12)) + 0.6, 0, 1.5))
    if rng.random() < 0.35:
        flakes = matter.graphite(rng, shape, pixel_size_um) & ~torn & ~laid
        number[flakes], yields[flakes] = 6, rng.uniform(0.3, 0.7)
        height = height - flakes * np.float32(log_uniform(rng, 0.1, 2))
    if rng.random() < 0.3:
        film = matter.films(rng, shape)
        number += (rng.uniform(8, 32) - number) * film * rng.uniform(0.1, 0.6)
        yields *= 1 + rng.uniform(-0.4, 0.4) * film
    hidden, charge = np.zeros(shape, bool), None
    if rng.random() < 0.3:
        lying = matter.particles(rng, shape, pixel_size_um)
        hidden = lying > 0
        height = np.maximum(height, lying)
        number[hidden], yields[hidden] = rng.uniform(7, 26), rng.uniform(0.8, 2)
        if rng.random() < 0.6:
            charge, blind = matter.charging(rng, hidden)
            hidden = hidden | blind
    ground = Ground(height_um=height.astype(np.float32), atomic_number=number, secondaries=yields, pixel_size_um=pixel_size_um)
    signal, mode = detected(rng, ground)
    if charge is not None:
        signal = signal + charge * np.median(signal[::4, ::4])
    width = log_uniform(rng, 0.35, 1.3)
    signal = pencil(signal, width, 6 * width, rng.uniform(0, 0.25), rng.uniform(1, 1.5), rng.uniform(0, 180))
    frames = int(rng.choice((1, 1, 4, 16)))
    dose = frames * scan.electrons(log_uniform(rng, 2e-11, 5e-10), log_uniform(rng, 3e-7, 2e-5))
    signal = scan.counted(rng, signal, max(dose, 250.0))
    return scan.recorded(rng, scan.shaded(rng, scan.lines(rng, signal)), hidden), mode, hidden
