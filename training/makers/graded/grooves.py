"""One band of hone grooves as a height map: every groove a profile whose depth, width and middle vary along it."""

from dataclasses import dataclass

import numpy as np

from .frames import side, to_picture
from .spectra import course, log_uniform

LEAST_DEPTH_UM, GREATEST_DEPTH_UM = 0.2, 10.0
LEAST_WIDTH_UM, GREATEST_WIDTH_UM = 2.0, 60.0


@dataclass(frozen=True, kw_only=True)
class Habit:
    """What the grooves of one honing have in common: median depth (µm) and its spread (of the logarithm), wall slope (°),
    share of the half width that is wall, share of the area covered, rim height as share of depth, share that ends."""

    depth_um: float
    spread: float
    slope_deg: float
    wall: float
    cover: float
    rim: float
    ends: float
    wander: float
    clumped: bool


def habit(rng: np.random.Generator, pixel_size_um: float) -> Habit:
    # A microscopist picks the magnification by what is to be seen: coarse pixels go with coarse grooves.
    depth = log_uniform(rng, 0.9, 2.6) * (0.75 if pixel_size_um < 0.3 else 1.3 if pixel_size_um > 1.2 else 1.0)
    return Habit(
        depth_um=depth,
        spread=rng.uniform(0.25, 0.65),
        slope_deg=rng.uniform(8, 25),
        wall=rng.uniform(0.45, 1.0),
        cover=log_uniform(rng, 0.06, 0.3),
        rim=rng.choice([0.0, rng.uniform(0.02, 0.15)]),
        ends=rng.uniform(0, 0.5),
        wander=log_uniform(rng, 0.02, 0.4),
        clumped=bool(rng.random() < 0.4),
    )


def profile(across: np.ndarray, wall: float) -> np.ndarray:
    """Depth over full depth at `across`, in half widths from the middle; walls straight, bottom rounded where they meet."""
    rise = (1 - np.abs(across)) / wall
    soft = 0.12
    return np.clip(0.5 * (rise + 1 - np.sqrt((rise - 1) ** 2 + soft**2)) + soft**2 / 4, 0, 1)


def width_um(depth_um: float, slope_deg: float, wall: float) -> float:
    """Rim to rim: twice the wall's run, depth / tan(slope), over the wall's share."""
    return float(np.clip(2 * depth_um / np.tan(np.deg2rad(slope_deg)) / wall, LEAST_WIDTH_UM, GREATEST_WIDTH_UM))


def band(
    rng: np.random.Generator,
    habit: Habit,
    *,
    strength: float,
    direction_deg: float,
    pixel_size_um: float,
    shape: tuple[int, int],
) -> tuple[np.ndarray, np.ndarray]:
    """Depth of the grooves and height of their rims (µm, float32, picture shape); strength scales number and depth."""
    size = side(shape)
    depth, rims = np.zeros((size, size), np.float32), np.zeros((size, size), np.float32)
    left = habit.cover * strength * size * rng.uniform(0.7, 1.3)
    # The picture has been taken where grooves are: the first one passes near its middle.
    at = size / 2 + rng.uniform(-0.25, 0.25) * min(shape)
    for _ in range(120):
        deep = float(
            np.clip(
                rng.lognormal(np.log(habit.depth_um * strength**0.5), habit.spread), LEAST_DEPTH_UM, GREATEST_DEPTH_UM
            )
        )
        slope = float(np.clip(habit.slope_deg * rng.lognormal(0, 0.15), 6, 27))
        # Nobody takes a picture that a single groove fills.
        widest_um = rng.uniform(0.15, 0.45) * min(shape) * pixel_size_um
        deep = max(LEAST_DEPTH_UM, deep * min(1.0, widest_um / width_um(deep, slope, habit.wall)))
        wide = max(width_um(deep, slope, habit.wall) / pixel_size_um, 3.5)
        _cut(rng, depth, rims, at=at, deep=deep, wide=wide, habit=habit, pixel_size_um=pixel_size_um)
        left -= wide
        if left <= 0:
            break
        at = at + rng.normal(0, 2.5) * wide if habit.clumped and rng.random() < 0.6 else rng.uniform(0, size)
    return to_picture(depth, direction_deg, shape), to_picture(rims, direction_deg, shape)


def _cut(rng, depth, rims, *, at, deep, wide, habit, pixel_size_um) -> None:
    size = depth.shape[1]
    half = wide / 2 * np.exp(rng.uniform(0.02, 0.12) * course(rng, size, log_uniform(rng, 25, 120) / pixel_size_um))
    # Torn edges: each rim has its own jitter, short against the groove.
    jag, tooth = wide * log_uniform(rng, 0.004, 0.04), max(2, log_uniform(rng, 0.8, 6) / pixel_size_um)
    middle = at + habit.wander * wide * course(rng, size, log_uniform(rng, 0.4, 3) * size) * 0.5
    low_tooth, high_tooth = jag * course(rng, size, tooth), jag * course(rng, size, tooth)
    along = deep * np.exp(0.18 * course(rng, size, log_uniform(rng, 10, 120) / pixel_size_um))
    if rng.random() < habit.ends:
        fade = log_uniform(rng, 4, 60) / pixel_size_um
        along = along / (
            1
            + np.exp(
                -np.clip(rng.choice([-1, 1]) * (np.arange(size) - rng.uniform(0.15, 0.85) * size) / fade * 4, -30, 30)
            )
        )
    first, last = (
        max(0, int((middle - half).min() - 0.4 * wide)),
        min(size, int((middle + half).max() + 0.4 * wide) + 2),
    )
    if last - first < 1:
        return
    rows = np.arange(first, last, dtype=np.float32)[:, None]
    reach = np.maximum(half, 0.8).astype(np.float32)
    across = (rows - middle.astype(np.float32)) / reach
    # Torn edges break the rims only; the floor knows nothing of them.
    from_edge = 1 - np.abs(across) - np.where(across < 0, low_tooth, high_tooth).astype(np.float32) / reach
    # Grains of the stone leave tracks of their own in the floor; they follow the groove's middle.
    grain = np.convolve(rng.standard_normal(64), [0.25, 0.5, 0.25], "same")
    striae = 1 + rng.uniform(0.05, 0.22) * grain[np.clip(((across + 1.6) * 20).astype(int), 0, 63)]
    ground = (
        along.astype(np.float32) * profile(across, habit.wall) * striae * np.clip(from_edge / 0.12 + 0.3, 0, 1)
    ).astype(np.float32)
    depth[first:last] = np.maximum(depth[first:last], np.clip(ground, 0, GREATEST_DEPTH_UM * 1.2))
    if habit.rim:
        ragged = np.maximum(0, 0.5 + course(rng, size, max(2, 3 / pixel_size_um)))
        ridge = habit.rim * np.minimum(along, 3) * ragged * np.exp(-(((from_edge + 0.08) / 0.09) ** 2))
        rims[first:last] = np.maximum(rims[first:last], ridge.astype(np.float32))


def scratches(
    rng: np.random.Generator,
    *,
    count: int,
    deepest_um: float,
    direction_deg: float,
    pixel_size_um: float,
    shape: tuple[int, int],
) -> np.ndarray:
    """Depth (µm) of narrow scratches along direction_deg, none deeper than deepest_um."""
    size = side(shape)
    depth = np.zeros((size, size), np.float32)
    for _ in range(count):
        wide = max(log_uniform(rng, 0.4, 3) / pixel_size_um, 0.9)
        at, start, reach = (
            rng.uniform(0, size),
            int(rng.uniform(-0.3, 0.9) * size),
            int(log_uniform(rng, 0.15, 2) * size),
        )
        first, last = max(0, int(at - 2 * wide)), min(size, int(at + 2 * wide) + 1)
        begin, end = max(0, start), min(size, start + reach)
        if last <= first or end <= begin + 2:
            continue
        shape_across = np.exp(-(((np.arange(first, last) - at) / wide) ** 2) * 2)
        taper = np.minimum(
            1, np.minimum(np.arange(end - begin) + 1, end - begin - np.arange(end - begin)) / (0.1 * reach + 2)
        )
        # A grain's track is shallow against its width.
        line = (
            min(deepest_um * rng.uniform(0.1, 1), 0.3 * wide * pixel_size_um) * shape_across[:, None] * taper[None, :]
        )
        depth[first:last, begin:end] = np.maximum(depth[first:last, begin:end], line)
    return to_picture(depth, direction_deg, shape)
