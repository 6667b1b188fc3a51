"""Scuffing: metal torn and ploughed by adhesion in streaks along the stroke, over land and grooves alike (from memory)."""

import numpy as np

from .finished_noise import bent, cloudy_field, grown, striped_field
from .finished_tracks import Track, band
from .finished_wear import without_specks


def scuff(
    rng: np.random.Generator, worn: np.ndarray, bearing: np.ndarray, depth: np.ndarray, stroke_deg: float, pixel_size_um: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return scuffed (rows, cols) bool, depth once torn, fine relief in µm and grey of torn metal (all float32)."""
    shape = depth.shape
    strength = float(np.exp(rng.uniform(np.log(0.25), np.log(1.0))))
    streaks = _streaks(rng, shape, stroke_deg, pixel_size_um) - 2.5 * (1 - bearing)  # they thin out at the track's edge
    mask = grown(streaks, max(1.2 * pixel_size_um, 0.4), pixel_size_um)
    inside = grown(((mask > 0) & worn).astype(np.float32), max(0.7 * pixel_size_um, rng.uniform(0.2, 1.0)), pixel_size_um)
    ridges = sum(
        share * striped_field(
            rng, shape, stroke_deg + rng.normal(0, 1), across_um=across * rng.uniform(0.7, 1.5),
            along_um=across * rng.uniform(10, 50), pixel_size_um=pixel_size_um,
        )
        for across, share in ((0.7, 0.5), (2.0, 0.8), (6.0, 0.7))
    )  # fmt: skip
    torn = striped_field(
        rng, shape, stroke_deg, across_um=rng.uniform(1.2, 3), along_um=rng.uniform(3, 9), pixel_size_um=pixel_size_um
    )
    ridges, torn = (bent(rng, field, rng.uniform(0.1, 0.6), rng.uniform(6, 25), pixel_size_um) for field in (ridges, torn))
    scales = cloudy_field(rng, shape, max(2.5, 3 * pixel_size_um), pixel_size_um)
    tear = np.clip(torn - rng.uniform(0.3, 1.4), 0, 1.5)
    relief = strength * (0.35 * ridges - rng.uniform(0.3, 1.2) * tear + 0.2 * scales)
    filled = rng.uniform(0.5, 1.0) * (0.5 + 0.5 * strength**0.3)
    tone = strength * (rng.normal(0.03, 0.12) + rng.uniform(0, 0.12) * ridges - rng.uniform(0.05, 0.35) * tear)
    scuffed = without_specks(inside > 0.5, pixel_size_um, least_um2=25, least_px=40)
    scuffed = ~without_specks(~scuffed, pixel_size_um, least_um2=25, least_px=40)
    scuffed &= worn
    return scuffed, depth * (1 - filled * inside), (relief * inside).astype(np.float32), (tone * inside).astype(np.float32)


def _streaks(rng: np.random.Generator, shape, stroke_deg: float, pixel_size_um: float) -> np.ndarray:
    """Return a map (rows, cols) that is positive inside lens-shaped streaks with ragged edges."""
    field_um = max(shape) * pixel_size_um
    streaks = np.full(shape, -9, np.float32)
    for _ in range(int(rng.integers(1, 8))):
        width = float(np.exp(rng.uniform(np.log(max(4, 6 * pixel_size_um)), np.log(max(10, 0.28 * field_um)))))
        length = width * float(np.exp(rng.uniform(np.log(3), np.log(25))))
        lens = Track(
            row_px=rng.uniform(0, shape[0]), col_px=rng.uniform(0, shape[1]), direction_deg=stroke_deg + rng.normal(0, 1.0),
            depth_um=1.0, slopes=(1.0, 1.0), floor_um=width, length_um=min(length, 3 * field_um), bow_um=0.0, depths=np.ones(2),
            rim_um=0.0, tone=0.0, lay=0,
        )  # fmt: skip
        rows, cols, path, across = band(lens, shape, pixel_size_um, width)
        inside = 1 - np.abs(2 * path / lens.length_um) ** 2.5 - np.abs(2 * across / width) ** rng.uniform(1, 3)
        streaks[rows, cols] = np.maximum(streaks[rows, cols], np.maximum(inside, -9))
    rough = striped_field(
        rng, shape, stroke_deg, across_um=max(1.5 * pixel_size_um, rng.uniform(1, 3)), along_um=rng.uniform(15, 60),
        pixel_size_um=pixel_size_um,
    )  # fmt: skip
    return streaks + rng.uniform(0.1, 0.5) * rough
