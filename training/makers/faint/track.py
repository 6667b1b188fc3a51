"""What the ring did, as smooth functions of the place across the stroke: where it ran, how far it wore, what it closed."""

from dataclasses import dataclass

import numpy as np

STEPS = 2048


@dataclass(frozen=True)
class Track:
    """places_um: STEPS places across the stroke; ran: bool at each; worn_um: plateau taken off in µm at each; share: of the
    grooves that moved metal closes (0 none); partly: share of the closures that come over from one rim only; left_um: depth
    that a closure leaves, below 0.5 µm; streaks: closing that all grooves share, and its slope in 1/µm."""

    places_um: np.ndarray
    ran: np.ndarray
    worn_um: np.ndarray
    share: float
    partly: float
    left_um: float
    streaks: tuple[np.ndarray, np.ndarray]


def windows(places_um: np.ndarray, first_um: np.ndarray, last_um: np.ndarray, edge_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Smooth union (0 to 1) of windows from first_um to last_um whose edges are edge_um long, and its slope in 1/µm."""
    open_, slope = np.ones_like(places_um), np.zeros_like(places_um)
    for first, last in zip(first_um, last_um, strict=True):
        rise, fall = np.tanh((places_um - first) / edge_um), np.tanh((places_um - last) / edge_um)
        gap = 1 - 0.5 * (rise - fall)
        slope = slope * gap - open_ * 0.5 * (fall**2 - rise**2) / edge_um
        open_ = open_ * gap
    return 1 - open_, -slope


def _scattered(
    rng: np.random.Generator, places_um: np.ndarray, share: float, length_um: float, edge_um: float
) -> tuple[np.ndarray, np.ndarray]:
    span = float(places_um[-1] - places_um[0])
    count = int(min(14, rng.poisson(1.6 * share * span / length_um + 0.3 * (share > 0))))
    middle = rng.uniform(places_um[0], places_um[-1], count)
    half = 0.5 * length_um * np.exp(rng.normal(0, 0.6, count))
    return windows(places_um, middle - half, middle + half, edge_um)


def run(rng: np.random.Generator, *, reach_um: float, wear: str, smear: bool) -> Track:
    """The track over a field that reaches reach_um from its middle; wear is none, border or all."""
    places = np.linspace(-reach_um, reach_um, STEPS)
    ran = np.full(STEPS, wear != "none")
    if wear == "border":
        border = rng.uniform(-0.45, 0.45) * reach_um
        ran = places > border if rng.random() < 0.5 else places < border
    worn = ran * (0.0 if rng.random() < 0.3 else np.exp(rng.uniform(np.log(0.03), np.log(1.4))))
    share = rng.choice([0.15, 0.4, 0.8]) * rng.uniform(0.6, 1.2) if smear and wear != "none" else 0.0
    length = reach_um * np.exp(rng.uniform(np.log(0.05), np.log(0.5)))
    streaks = _scattered(rng, places, share, length, length / 10) if rng.random() < 0.5 else (np.zeros(STEPS), np.zeros(STEPS))
    return Track(places, ran, worn, float(share), float(rng.choice([0.1, 0.5])), float(rng.uniform(0.0, 0.35)), streaks)


def closing(rng: np.random.Generator, track: Track, *, width_um: float, deep: float, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """How far moved metal closes one groove at each place (0 to 1) and that share's slope in 1/µm; deep (0 to 1) grooves are
    closed most."""
    nothing = np.zeros(STEPS)
    if track.share == 0 or rng.random() > min(1.0, track.share * 1.3 * (0.7 + 0.6 * deep)):
        return nothing, nothing
    edge = max(0.8 * pixel_size_um, width_um * np.exp(rng.uniform(np.log(0.06), np.log(0.4))))
    span = 2 * float(track.places_um[-1])
    length = width_um * np.exp(rng.uniform(0.0, np.log(max(2.0, span / width_um)) * rng.uniform(0.4, 1.0)))
    share = rng.uniform(0.2, 1.0) * min(1.0, 0.4 + track.share)
    own, own_slope = _scattered(rng, track.places_um, share, max(length, 4 * pixel_size_um), edge)
    shared, shared_slope = track.streaks if rng.random() < 0.8 else (nothing, nothing)
    slope = own_slope * (1 - shared) + shared_slope * (1 - own)
    return (1 - (1 - own) * (1 - shared)) * track.ran, slope * track.ran
