"""Metal moved over grooves: caps, bridges, one-sided lips, flush strips and folds that interrupt a groove along its length.

Folds smear and interrupt grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548). Metal is dragged along
the stroke, so a closure's ends run along the stroke, aslant to the groove.
"""

from dataclasses import dataclass

import numpy as np

from .finished_noise import grown, striped_field, wander
from .finished_tracks import Track, band

MOST_CLOSURES = 90
WAYS = ("cap", "bridge", "lip", "fold")


@dataclass(kw_only=True)
class Closures:
    """All (rows, cols) float32: cover 0–1, residual: depth that a closed groove keeps, µm; seam 0–1: cracks at the edges of
    moved metal; tone: grey of moved metal (linear signal)."""

    cover: np.ndarray
    residual: np.ndarray
    seam: np.ndarray
    tone: np.ndarray

    @classmethod
    def none(cls, shape: tuple[int, int]) -> "Closures":
        return cls(**{name: np.zeros(shape, np.float32) for name in ("cover", "residual", "seam", "tone")})


def close_grooves(
    rng: np.random.Generator,
    tracks: list[Track],
    depth: np.ndarray,
    bearing: np.ndarray,
    stroke_deg: float,
    pixel_size_um: float,
) -> Closures:
    """Draw closures over the deep tracks of a base hone.

    depth: (rows, cols) µm below the local plateau; closures lie where it is worn.
    """
    closures = Closures.none(depth.shape)
    deep = [track for track in tracks if track.depth_um > 0.55]
    plain = float(np.exp(rng.uniform(np.log(0.12), np.log(1.0))))
    habit = rng.dirichlet(np.full(len(WAYS), 0.7))
    closed_share = float(rng.beta(1.2, 2.2))
    field_um = min(depth.shape) * pixel_size_um
    tone_mean = rng.normal(0, 0.12)
    made = 0
    for index in rng.permutation(len(deep)):
        track = deep[int(index)]
        seen_um, closed_um = min(track.length_um, 1.1 * field_um), 0.0
        wanted_um = closed_share * seen_um * rng.uniform(0.2, 1.8)
        while closed_um < wanted_um and made < MOST_CLOSURES:
            way = WAYS[int(rng.choice(len(WAYS), p=habit))]
            length = _closed_length_um(rng, way, track, field_um, pixel_size_um)
            middle = _inside(track, depth.shape, pixel_size_um) + rng.uniform(-0.55, 0.55) * seen_um
            _close(rng, closures, track, way, middle, length, stroke_deg, plain, tone_mean, pixel_size_um)
            closed_um += length
            made += 1
    if rng.random() < 0.4 or not made:
        _burnish_strips(rng, closures, stroke_deg, plain, tone_mean, pixel_size_um)
    worn = bearing > 0.3
    for values in vars(closures).values():
        values *= worn
    trough = np.clip(depth / 0.5, 0, 1)
    closures.seam *= 0.15 + 0.85 * trough
    closures.tone *= rng.uniform(0, 0.4) + rng.uniform(0.6, 1) * trough
    closures.tone += _old_rims(rng, closures, depth, plain, pixel_size_um)
    return closures


def closed_depth(rng: np.random.Generator, closures: Closures, depth: np.ndarray, stroke_deg: float, pixel_size_um: float):
    """Return depth (rows, cols) float32 µm once metal lies in the grooves: closed ground is streaked along the stroke."""
    streaks = striped_field(
        rng, depth.shape, stroke_deg, across_um=rng.uniform(0.6, 2.5), along_um=rng.uniform(15, 60), pixel_size_um=pixel_size_um
    )
    sunk = closures.residual * (1 + 0.25 * streaks) * np.tanh(depth / 0.6)
    sunk = np.minimum(depth, np.clip(sunk, 0, 0.48))
    return depth + closures.cover * (sunk - depth)


def _inside(track: Track, shape: tuple[int, int], pixel_size_um: float) -> float:
    """Return the place along a track, µm from its middle, that lies nearest to the field's middle."""
    angle = np.radians(track.direction_deg)
    down, right = shape[0] / 2 - track.row_px, shape[1] / 2 - track.col_px
    return float(pixel_size_um * (right * np.cos(angle) - down * np.sin(angle)))


def _closed_length_um(rng, way: str, track: Track, field_um: float, pixel_size_um: float) -> float:
    width = max(track.width_um, 3 * pixel_size_um)
    low, high = {"cap": (1.0, 7.0), "bridge": (0.4, 1.3), "lip": (2.0, 12.0), "fold": (0.8, 4.0)}[way]
    return float(np.clip(width * np.exp(rng.uniform(np.log(low), np.log(high))), 3 * pixel_size_um, 0.7 * field_um))


def _close(rng, closures, track, way, middle_um, length_um, stroke_deg, plain, tone_mean, pixel_size_um) -> None:
    half = 0.5 * track.width_um + 1.5 * pixel_size_um
    rows, cols, path, across = band(track, closures.cover.shape, pixel_size_um, half * rng.uniform(1.05, 1.5))
    angle = np.radians((stroke_deg - track.direction_deg + 90) % 180 - 90)
    slant = np.clip(np.cos(angle) / (np.sin(angle) or 1e-3), -2.5, 2.5)
    place = path - middle_um - slant * across
    near = np.abs(place) < 0.5 * length_um + 0.4 * half + 4 * pixel_size_um
    if not near.any():
        return
    rows, cols, path, across, place = rows[near], cols[near], path[near], across[near], place[near]
    ragged = min(0.35 * length_um, 0.5 * half)
    knots = np.linspace(-1.6 * half, 1.6 * half, 48)
    start = -0.5 * length_um + ragged * _edge(rng, across, knots)
    end = 0.5 * length_um + ragged * _edge(rng, across, knots)
    inward = np.minimum(place - start, end - place)
    seam_share = np.ones_like(inward)
    if way in ("lip", "fold"):
        side = rng.choice([-1, 1])
        edges = np.linspace(-0.6 * length_um, 0.6 * length_um, 40)
        over = rng.uniform(-0.1, 0.75) if way == "lip" else rng.uniform(0.6, 1.1)
        edge = half * (over + 0.16 * np.interp(place, edges, wander(rng, 40, rng.uniform(4, 14))))
        inward = np.minimum(inward, edge - side * across)
        seam_share = np.where(way == "fold", 1.4, 1.0) * np.ones_like(inward)
    soft = max(0.7 * pixel_size_um, float(np.exp(rng.uniform(np.log(0.15), np.log(2.5)))))
    soft = min(soft, 0.3 * length_um, 0.5 * half)
    cover = 1 / (1 + np.exp(-np.clip(inward / (0.5 * soft), -20, 20)))
    more = cover > closures.cover[rows, cols]
    rows, cols, cover, inward, seam_share = rows[more], cols[more], cover[more], inward[more], seam_share[more]
    closures.cover[rows, cols] = cover
    closures.residual[rows, cols] = float(rng.beta(1, 2)) * 0.42
    crack_um = max(0.7 * pixel_size_um, rng.uniform(0.15, 0.5))
    closures.seam[rows, cols] = (plain * seam_share * np.exp(-((inward / crack_um) ** 2))).astype(np.float32)
    closures.tone[rows, cols] = cover * plain * (tone_mean + rng.normal(0, 0.08))


def _edge(rng: np.random.Generator, place: np.ndarray, knots: np.ndarray) -> np.ndarray:
    """Return a torn edge: coarse and fine wandering, of amplitude about 0.5."""
    line = 0.4 * wander(rng, len(knots), rng.uniform(2, 9)) + 0.1 * wander(rng, len(knots), 40)
    return np.interp(place, knots, line)


def _burnish_strips(rng, closures: Closures, stroke_deg: float, plain: float, tone_mean: float, pixel_size_um: float) -> None:
    """Flush strips of metal rolled flat along the stroke, across whatever grooves lie there."""
    shape = closures.cover.shape
    field_um = max(shape) * pixel_size_um
    for _ in range(int(rng.integers(1, 5))):
        width = float(np.clip(np.exp(rng.uniform(np.log(3), np.log(40))), 5 * pixel_size_um, 0.3 * field_um))
        strip = Track(
            row_px=rng.uniform(0, shape[0]), col_px=rng.uniform(0, shape[1]), direction_deg=stroke_deg + rng.normal(0, 0.8),
            depth_um=1.0, slopes=(1.0, 1.0), floor_um=width, length_um=field_um * rng.uniform(0.2, 1.5), bow_um=0.0,
            depths=np.ones(2), rim_um=0.0, tone=0.0, lay=0,
        )  # fmt: skip
        rows, cols, path, across = band(strip, shape, pixel_size_um, 0.8 * width)
        edge = np.interp(path, np.linspace(-field_um, field_um, 120), wander(rng, 120, rng.uniform(8, 40)))
        other = np.interp(path, np.linspace(-field_um, field_um, 120), wander(rng, 120, rng.uniform(8, 40)))
        half = width * 0.5 * np.sqrt(np.clip(1 - (2 * path / strip.length_um) ** 2, 0, 1))
        inward = np.minimum(half * (1 + 0.25 * edge) - across, half * (1 + 0.25 * other) + across)
        soft = max(0.8 * pixel_size_um, 0.3)
        cover = 1 / (1 + np.exp(-np.clip(inward / soft, -20, 20))) * (half > 0)
        more = cover > closures.cover[rows, cols]
        rows, cols, cover, inward = rows[more], cols[more], cover[more], inward[more]
        closures.cover[rows, cols] = cover
        closures.residual[rows, cols] = float(rng.beta(1, 2)) * 0.42
        closures.seam[rows, cols] = 0.4 * plain * np.exp(-((inward / soft) ** 2))
        closures.tone[rows, cols] = cover * plain * (tone_mean + rng.normal(0, 0.06))


def _old_rims(rng, closures: Closures, depth: np.ndarray, plain: float, pixel_size_um: float) -> np.ndarray:
    """Return grey (rows, cols) of the line where moved metal meets the old rim: the last trace of a flush closure."""
    valley = (depth >= 0.5).astype(np.float32)
    soft = grown(valley, max(0.8 * pixel_size_um, 0.25), pixel_size_um)
    broken = np.clip(0.6 + 0.7 * striped_field(
        rng, depth.shape, rng.uniform(0, 180), across_um=2, along_um=8, pixel_size_um=pixel_size_um
    ), 0, 1)  # fmt: skip
    sign = rng.choice([-1.0, 1.0], p=[0.75, 0.25])
    return (sign * (0.06 + 0.3 * plain) * 4 * soft * (1 - soft) * broken * closures.cover).astype(np.float32)
