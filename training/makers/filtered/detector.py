"""Signal at a lens-mounted detector: edges and materials without a side; an energy filter trades the one for the other."""

import cv2
import numpy as np

from makers.filtered.grain import cloud, frame, soft
from makers.filtered.ground import Ground

RANGE_UM = {5: 0.16, 10: 0.50, 15: 0.99, 20: 1.60}
"""Kanaya and Okayama's range in iron by voltage, kV (tests/SOURCES.md)."""


def slopes(height: np.ndarray, pixel_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Slopes of a height map, µm, along columns and rows."""
    scale = 1 / (32 * pixel_um)
    return cv2.Scharr(height, cv2.CV_32F, 1, 0, scale=scale), cv2.Scharr(height, cv2.CV_32F, 0, 1, scale=scale)


def tilt_yield(height: np.ndarray, pixel_um: float) -> np.ndarray:
    """Secondary yield over that of flat ground, sec θ (from memory in tests/SOURCES.md); it has no side."""
    right, down = slopes(height, pixel_um)
    return np.sqrt(1 + right * right + down * down)


def escape(height: np.ndarray, pixel_um: float, reach_um: float) -> np.ndarray:
    """Escape from edges and hollows about 0: brighter on what stands above its surroundings, starved below; −1 to 0.6."""
    stands = np.tanh((height - soft(height, reach_um, pixel_um)) / np.float32(0.6))
    return np.where(stands > 0, np.float32(0.6), np.float32(1)) * stands


def tones(rng: np.random.Generator) -> dict:
    """How bright each state is against plateau, as a share of its signal: signs and sizes vary between fields.
    Filtered is the share that the energy filter takes from relief and gives to materials."""
    valley = rng.uniform(0.18, 0.4) if rng.random() < 0.25 else -rng.uniform(0.18, 0.5)
    worked, least = {}, max(0.1, 0.3 * abs(valley))
    for name, most in (("skin", 0.24), ("flush", 0.18)):
        worked[name] = -np.sign(valley) * rng.uniform(least, most)
        if valley < 0 and rng.random() < 0.4:  # darkened too, but nearer to plateau than a valley
            worked[name] = max(-rng.uniform(least, most), 0.6 * valley)
    floor, edge, filtered = rng.uniform(0.15, 0.5) * abs(valley), rng.uniform(0.15, 0.5), rng.uniform(0, 0.8)
    torn = rng.choice([-1, 1]) * rng.uniform(0.08, 0.3)
    stain = -rng.uniform(0.05, 0.25) if rng.random() < 0.8 else rng.uniform(0.05, 0.15)
    return worked | {"valley": valley, "floor": floor, "edge": edge, "filtered": filtered, "torn": torn, "stain": stain}


def signal(rng: np.random.Generator, ground: Ground, pixel_um: float) -> np.ndarray:
    """Mean signal about 1 on clean plateau, (rows, cols) float32."""
    tone, shape = tones(rng), ground.codes.shape
    beam = RANGE_UM[int(rng.choice(list(RANGE_UM)))]
    relief = 1 - 0.6 * tone["filtered"]
    reach = max(3 * beam, 1.5 * pixel_um)
    drawn = 1 + relief * rng.uniform(0.6, 1.5) * (tilt_yield(ground.height, pixel_um) - 1).clip(0, 0.8)
    drawn += relief * rng.uniform(0.15, 0.5) * escape(ground.height, pixel_um, reach)
    drawn += relief * rng.uniform(0.02, 0.1) * escape(ground.height, pixel_um, min(7 * reach, 12.0))
    plain = frame(shape, pixel_um, 0.0)
    # oil, carbon and rough floors stay in what is deep enough to be a reservoir (common practice, no source)
    filled = np.tanh((ground.depth / np.float32(0.65)) ** 4)
    film = 1 + 0.25 * cloud(rng, *plain, (max(15, 6 * pixel_um), max(15, 6 * pixel_um)))
    drawn += filled * (tone["valley"] * film + tone["floor"] * ground.floor)
    # thin carbon and oxide: slow waves over everything, blots beside them
    drawn += rng.uniform(0.01, 0.04) * cloud(rng, *plain, (0.3 * max(shape) * pixel_um,) * 2) + tone["stain"] * ground.stain
    # worked metal: smooth, another tone by potential contrast of loose skins; flush strips a faint trace over the whole footprint
    grain = cloud(rng, *plain, (max(2.0, 2.5 * pixel_um),) * 2)
    worked = np.where(ground.flush, np.float32(tone["flush"]), np.float32(tone["skin"]) * ground.skin)
    drawn += (ground.codes == 2) * (worked + 0.04 * grain)
    broken = np.clip(0.65 + 0.65 * cloud(rng, *plain, (max(5.0, 5 * pixel_um),) * 2), 0.1, 1.5)
    drawn += tone["edge"] * soft(ground.edge * broken, 0.5 * beam, pixel_um)
    drawn += (ground.codes == 3) * (tone["torn"] * (0.8 + 0.6 * ground.torn) + 0.06 * grain)
    drawn += 0.4 * soft(ground.crack, 0.3 * beam, pixel_um) - 0.25 * ground.crack
    # carbon gives back 0.06 of the beam, iron 0.28 (tests/SOURCES.md): graphite is dark
    drawn *= 1 - ground.graphite * rng.uniform(0.4, 0.75)
    drawn += ground.pits * rng.uniform(-0.45, -0.1)
    drawn += ground.dirt * (rng.uniform(0.5, 0.9) + 0.15 * grain)
    drawn += _charging(rng, ground, pixel_um)
    if rng.random() < 0.35:
        # a share of an off-axis detector: slopes that face it brighter, those away darker
        azimuth, (right, down) = rng.uniform(0, 2 * np.pi), slopes(ground.height, pixel_um)
        drawn += rng.uniform(0.07, 0.3) * np.tanh(1.2 * (right * np.cos(azimuth) + down * np.sin(azimuth)))
    return np.maximum(drawn, 0.05).astype(np.float32)


def _charging(rng, ground, pixel_um) -> np.ndarray:
    """Halos about poorly grounded matter (debris always, graphite in some fields), bright with a dark tail along the scan."""
    source = ground.dirt + ground.graphite * np.float32(rng.random() < 0.25)
    halo = soft(source, 5 * pixel_um, pixel_um)
    tail = cv2.blur(np.roll(source, 20, axis=1), (41, 1))
    return rng.uniform(0.1, 0.3) * halo - rng.uniform(0, 0.15) * tail
