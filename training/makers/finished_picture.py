"""The signal of secondary electrons that a height map gives.

Yield grows as secⁿθ and a detector at the side adds a term of the slope towards it, but walls slope only 6–27°, so rims, the
share of the sky that is seen from a place (starved escape), torn edges and the roughness and deposits of floors make most of
the contrast (tests/SOURCES.md, Secondary-electron picture).
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .finished_noise import cloudy_field, grown, smooth_field, striped_field

FLOORS = {"dark": 0.42, "neutral": 0.2, "bright": 0.38}
"""How valley floors look beside the plateau, and shares (own choice)."""
SKY_DISTANCES_UM = (0.8, 2.2, 6.0, 15.0)


@dataclass(frozen=True, kw_only=True)
class Surface:
    """All (rows, cols): heights µm without fine roughness; depth µm below the plateau; tone: grey of tracks; moved_tone:
    grey of moved metal; smooth 0–1: share of ground that was rolled or polished; lay: number of the track's lay, −1 where
    none."""

    heights: np.ndarray
    depth: np.ndarray
    tone: np.ndarray
    moved_tone: np.ndarray
    smooth: np.ndarray
    lay: np.ndarray


def electron_signal(rng: np.random.Generator, surface: Surface, lays_deg, pixel_size_um: float) -> tuple[str, np.ndarray]:
    """Return how floors look and the signal (rows, cols) float32, about 1 on level plateau."""
    floors = str(rng.choice(list(FLOORS), p=list(FLOORS.values())))
    shape = surface.depth.shape
    mean = {"dark": -rng.uniform(0.12, 0.55), "neutral": rng.uniform(-0.06, 0.06), "bright": rng.uniform(0.1, 0.6)}[floors]
    plainest = max(0.1, rng.uniform(0.35, 0.95) * abs(mean))  # a scratch is at the most nearly as plain as a groove
    rough = _roughness(rng, surface, lays_deg, pixel_size_um)
    full = 1 - np.exp(-np.maximum(surface.depth - rng.uniform(0, 0.25), 0) / rng.uniform(0.35, 1.6))
    streaks = _along_lays(rng, surface.lay, lays_deg, pixel_size_um)
    heights = surface.heights + rng.uniform(0.01, 0.06) * rough + rng.uniform(0, 0.12) * full * streaks
    signal = 1 + surface.moved_tone + plainest * np.tanh(surface.tone / plainest)
    signal += _floor_grey(rng, floors, mean, full, streaks, pixel_size_um)
    signal += rng.uniform(0.0, 0.06) * rough
    signal += _tilt(rng, heights, floors, pixel_size_um) + _rims(rng, surface.heights, pixel_size_um)
    power = rng.uniform(0.5, 5) if floors != "bright" else rng.uniform(0, 1.5)
    signal *= sky_share(surface.heights, pixel_size_um) ** power
    return floors, signal * (1 + rng.uniform(0, 0.03) * smooth_field(rng, shape, rng.uniform(3, 30), pixel_size_um))


def sky_share(heights: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return the share of the sky seen from each place, (rows, cols) float32 0–1: the mean over eight azimuths of cos² of
    the horizon's elevation (Lambert's law)."""
    rows, cols = heights.shape
    reach = int(np.ceil(SKY_DISTANCES_UM[-1] / pixel_size_um))
    reach = min(reach, min(rows, cols) - 1)
    padded = cv2.copyMakeBorder(heights, reach, reach, reach, reach, cv2.BORDER_REFLECT_101)
    share = np.zeros_like(heights)
    for azimuth in np.arange(8) * np.pi / 4 + 0.2:
        tangent = np.zeros_like(heights)
        for number, distance_um in enumerate(SKY_DISTANCES_UM):
            distance_px = distance_um / pixel_size_um
            if distance_px < 1 and number + 1 < len(SKY_DISTANCES_UM) and SKY_DISTANCES_UM[number + 1] / pixel_size_um < 1.6:
                continue
            down, right = (round(max(1.0, distance_px) * part) for part in (np.sin(azimuth), np.cos(azimuth)))
            if max(abs(down), abs(right)) > reach:
                break
            run_um = max(np.hypot(down, right), 1) * pixel_size_um
            other = padded[reach + down : reach + down + rows, reach + right : reach + right + cols]
            np.maximum(tangent, (other - heights) * np.float32(1 / run_um), out=tangent)
        share += 1 / (1 + tangent * tangent)
    return share / 8


def _floor_grey(rng, floors: str, mean: float, full: np.ndarray, streaks: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Grey of valley floors: grows with depth (``full``, 0–1), with streaks along the groove, in patches."""
    shape = full.shape
    patches = 1 + rng.uniform(0, 0.6) * smooth_field(rng, shape, rng.uniform(10, 60) * max(1, 2 * pixel_size_um), pixel_size_um)
    streaked = rng.uniform(0.02, 0.16) if floors == "dark" else rng.uniform(0.05, 0.4)
    grains = smooth_field(rng, shape, max(0.5, pixel_size_um) * rng.uniform(1, 3), pixel_size_um)
    grained = rng.uniform(0.0, 0.12) * (1 + (floors == "neutral"))
    return (full * (mean * np.clip(patches, 0, 2) + streaked * streaks + grained * grains)).astype(np.float32)


def _along_lays(rng, lay: np.ndarray, lays_deg, pixel_size_um: float) -> np.ndarray:
    """Streaks that follow the groove's own lay wherever they are: small edges of the coarse grain, fibrous deposits."""
    streaks = np.zeros(lay.shape, np.float32)
    fine, long = rng.uniform(0.4, 1.6), rng.uniform(8, 60)
    for number, direction in enumerate(lays_deg):
        here = sum(
            share * striped_field(
                rng, lay.shape, direction, across_um=max(scale * fine, pixel_size_um), along_um=scale * long,
                pixel_size_um=pixel_size_um,
            )
            for scale, share in ((1, 0.7), (3, 0.7))
        )  # fmt: skip
        streaks = np.where(lay == number, here, streaks)
    return streaks


def _roughness(rng, surface: Surface, lays_deg, pixel_size_um: float) -> np.ndarray:
    """Fine roughness of unit scale: rougher in valleys, smooth where metal was rolled, ground along the lay on land."""
    shape = surface.depth.shape
    fine = smooth_field(rng, shape, max(0.25, pixel_size_um), pixel_size_um)
    coarse = smooth_field(rng, shape, max(0.7, 2 * pixel_size_um) * rng.uniform(1, 2), pixel_size_um)
    ground = sum(
        striped_field(
            rng, shape, direction + rng.normal(0, 2), across_um=max(0.4, pixel_size_um) * rng.uniform(1, 2),
            along_um=rng.uniform(5, 60), pixel_size_um=pixel_size_um,
        )
        for direction in (*lays_deg, lays_deg[0])
    )  # fmt: skip
    pits = np.clip(cloudy_field(rng, shape, max(1.5, 3 * pixel_size_um), pixel_size_um) - rng.uniform(1.6, 2.6), 0, 1)
    land = rng.uniform(0.1, 0.8) * (1 - surface.smooth * rng.uniform(0.3, 1))
    deeper = rng.uniform(0, 1.5) * np.tanh(np.maximum(surface.depth - 0.1, 0))
    on_land = 0.4 * fine + 0.4 * coarse + rng.uniform(0, 0.8) * ground - rng.uniform(0, 4) * pits
    return (land * on_land + deeper * (0.6 * fine + 0.7 * coarse)).astype(np.float32)


def _tilt(rng, heights: np.ndarray, floors: str, pixel_size_um: float) -> np.ndarray:
    """The detector's side and secⁿθ; slopes at torn edges saturate."""
    level = grown(heights, max(0.4 * pixel_size_um, rng.uniform(0.1, 0.5)), pixel_size_um)
    slope_col = cv2.Sobel(level, cv2.CV_32F, 1, 0, scale=1 / (8 * pixel_size_um))
    slope_row = cv2.Sobel(level, cv2.CV_32F, 0, 1, scale=1 / (8 * pixel_size_um))
    azimuth = rng.uniform(0, 2 * np.pi)
    sided = 0.0 if rng.random() < 0.25 else float(np.exp(rng.uniform(np.log(0.1), np.log(1.1))))
    if floors == "neutral":
        sided = max(sided, 0.35)
    towards = np.tanh((slope_col * np.cos(azimuth) + slope_row * np.sin(azimuth)) / 0.8) * 0.8
    secant = np.sqrt(1 + np.minimum(slope_col**2 + slope_row**2, 2.0))
    return (sided * towards + (secant ** rng.uniform(0.8, 2.0) - 1)).astype(np.float32)


def _rims(rng, heights: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Bright convex edges, dark concave feet; stronger with the drop, so with depth."""
    reach = max(1.2 * pixel_size_um, rng.uniform(0.4, 1.4))
    convex = heights - grown(heights, reach, pixel_size_um)
    strength = float(np.exp(rng.uniform(np.log(0.06), np.log(0.9))))
    broken = 1 + rng.uniform(0, 0.7) * cloudy_field(rng, heights.shape, rng.uniform(5, 25), pixel_size_um)
    strength = strength * np.clip(broken, 0, 2)
    edge = np.tanh(np.clip(convex, 0, None) / 0.3) * strength
    return (edge - np.tanh(np.clip(-convex, 0, None) / 0.3) * strength * rng.uniform(0, 0.6)).astype(np.float32)
