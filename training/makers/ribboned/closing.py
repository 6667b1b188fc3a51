"""Where moved metal closes a ribbon: one habit a field, closures along each ribbon, or bands along the stroke over all."""

from dataclasses import dataclass

import numpy as np

from .texture import line_noise, loguniform


@dataclass(frozen=True)
class Habit:
    """share: of groove length to be closed; long_px: usual length of a closure; partial: chance that a closure stays short of
    the far rim; one_sided: chance that one rim alone moved; bands: closeness over the distance across the stroke (its last
    axis spans the picture's diagonal), or None where each groove closes alone."""

    share: float
    long_px: float
    partial: float
    one_sided: float
    bands: np.ndarray | None


def drawn_habit(rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]) -> Habit:
    """From a few short interruptions to long closures of most grooves."""
    reach = int(np.hypot(*shape)) + 4
    share = float(np.clip(rng.choice([loguniform(rng, 0.05, 0.5), rng.uniform(0.4, 0.95)]), 0.05, 0.95))
    long_px = float(np.clip(loguniform(rng, 6, 250) / pixel_size_um, 8, 1.5 * min(shape)))
    bands = None
    if rng.uniform() < 0.4:
        ribs = line_noise(rng, reach, float(np.clip(loguniform(rng, 10, 200) / pixel_size_um, 8, reach / 3)))
        bands = np.clip(0.5 + (ribs - np.quantile(ribs, 1 - share)) * rng.uniform(1.5, 4), 0, 1.2)
    return Habit(share, long_px, rng.uniform(0, 0.5), rng.uniform(0.2, 0.9), bands)


def cover_along(
    rng: np.random.Generator,
    habit: Habit | None,
    centre: np.ndarray,
    along_x: bool,
    stretch: float,
    depth_um: float,
    width_px: float,
    stroke_deg: float,
    shape: tuple[int, int],
) -> tuple[np.ndarray, int]:
    """How far closed a groove is at each place (0 open to 1 and more closed), and the rim that moved (0: both)."""
    count = centre.size
    if habit is None:
        return np.zeros(count), 0
    side = int(rng.choice([-1, 1])) if rng.uniform() < habit.one_sided else 0
    place = np.arange(count)
    if habit.bands is not None:
        x, y = (place, centre) if along_x else (centre, place)
        turn = np.deg2rad(stroke_deg)
        across = (y - shape[0] / 2) * np.cos(turn) - (x - shape[1] / 2) * np.sin(turn)
        cover = habit.bands[np.clip(across + habit.bands.size / 2, 0, habit.bands.size - 1).astype(int)]
    else:
        cover = np.zeros(count)
        # folds close the deep grooves most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548)
        share = habit.share * np.clip(0.6 + 0.25 * depth_um, 0.6, 1.2)
        wanted, done = share * count, 0.0
        while done < wanted and rng.uniform() < 0.97:
            length = habit.long_px * np.exp(rng.normal(0, 0.5)) * stretch
            full = 1.15 if rng.uniform() > habit.partial else rng.uniform(0.35, 0.9)
            ramp = max(0.5 * width_px * rng.uniform(0.3, 1.5), 2.0)
            lump = (length / 2 - np.abs(place - rng.uniform(0, count))) / ramp
            cover = np.maximum(cover, np.clip(lump, 0, full))
            done += length
    ragged = rng.uniform(0.02, 0.18) * line_noise(rng, count, max(0.25 * width_px, 2.0))
    return np.where(cover > 0, np.clip(cover + ragged, 0, 1.3), 0), side
