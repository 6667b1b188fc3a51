"""The ground: grooves, wear, closures and scuffing on one field, in µm; the heights decide the truth.

The hone angle is the included angle of the lays, bisected by the direction across the stroke. Running-in takes the peaks first
(common practice): the plateau is truncated, and grooves that only this made shallow are plateau. Scuffing is a Boolean model
of elongated grains along the stroke, torn, ploughed or covered by picked-up metal.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from .closures import OPEN, close, draw_closing
from .lines import dig, draw_lines, draw_population, log_uniform, smooth_noise, trace

VALLEY_DEPTH_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Height (µm), mask codes, track, own grey; depth of the grooves before (original) and after (floor) metal moved."""

    height: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    grey: np.ndarray
    original: np.ndarray
    floor: np.ndarray
    stroke: float
    lays: tuple[float, ...]
    kind: str


def draw_hone_angle(rng: np.random.Generator) -> float:
    """Degrees: 30–60 usual, 140–150 for helical slide honing (from memory), and anything from 20 to 140 besides."""
    return float(rng.choice([rng.uniform(30, 60), rng.uniform(140, 150), rng.uniform(20, 140)], p=[0.5, 0.12, 0.38]))


def onto(map_: np.ndarray, angle: float, shape: tuple[int, int], flags: int = cv2.INTER_LINEAR) -> np.ndarray:
    """A square map whose rows run along angle (radians on the screen), turned onto the field."""
    c, s, half = np.cos(angle), np.sin(angle), len(map_) / 2
    x, y = shape[1] / 2, shape[0] / 2
    turn = np.array([[c, s, half - c * x - s * y], [-s, c, half + s * x - c * y]])
    return cv2.warpAffine(map_, turn, shape[::-1], flags=flags | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE)


def marks(rng: np.random.Generator, length: int, width: float, long: float, rare: float) -> np.ndarray:
    """Fine scratches along the rows, 0–1 deep: peaks of streaky noise above a threshold."""
    streak = smooth_noise(rng, (length, length), width, long)
    return np.clip((streak - rare) / 2, 0, 1)


def draw_scuffs(rng: np.random.Generator, length: int, pixel_size_um: float) -> np.ndarray:
    """A mask on the stroke's grid: union of grains along the rows until a drawn share of area is covered."""
    target = rng.choice([rng.uniform(0.005, 0.08), rng.uniform(0.05, 0.33)])
    width = max(9.0, log_uniform(rng, 4 / pixel_size_um, 60 / pixel_size_um))
    width = min(width, length / 8)
    stretch, spread = log_uniform(rng, 4, 60), rng.uniform(0.1, 0.7)
    score = np.zeros((length, length), np.float32)
    for _ in range(80):
        wide = float(np.clip(width * np.exp(spread * rng.standard_normal()), 8, length / 5))
        long = float(np.clip(wide * stretch * np.exp(0.4 * rng.standard_normal()), 30, 3 * length))
        x, y = rng.uniform(0, length, 2)
        top, bottom = int(max(0, y - wide)), int(min(length, y + wide + 1))
        left, right = int(max(0, x - long / 2)), int(min(length, x + long / 2 + 1))
        v = (np.arange(top, bottom, dtype=np.float32) - y)[:, None] / (wide / 2)
        u = (np.arange(left, right, dtype=np.float32) - x)[None] / (long / 2)
        box = score[top:bottom, left:right]
        before = box.copy()
        np.maximum(box, 1.3 - u**4 - v**2, out=box)
        if (score > 0.3).mean() > target + 0.03:
            box[:] = before
        if (score > 0.3).mean() >= target:
            break
    ragged = smooth_noise(rng, score.shape, 3, 25) + 0.6 * smooth_noise(rng, score.shape, 6, 90)
    return ((score > 0.02) & (score + 0.3 * ragged > 0.3)).astype(np.float32)


def torn_ground(rng: np.random.Generator, length: int, pixel_size_um: float) -> np.ndarray:
    """Height and texture of scuffed metal on the stroke's grid, of unit spread."""
    torn, ploughed, picked = rng.dirichlet([0.8, 0.8, 0.5])
    size = max(2.0, log_uniform(rng, 0.6, 4) / pixel_size_um)
    size = min(size, 14)
    shape = (length, length)
    tear = np.abs(smooth_noise(rng, shape, size, 3 * size)) - np.abs(smooth_noise(rng, shape, size / 2, size))
    plough = smooth_noise(rng, shape, size, 30 * size) + 0.5 * smooth_noise(rng, shape, 1.5, 20 * size)
    lumps = np.clip(smooth_noise(rng, shape, 2 * size, 5 * size) - 0.5, 0, 0.5) * 3
    ground = torn * tear + ploughed * plough + picked * lumps
    return ground / max(float(ground[::4, ::4].std()), 1e-3)


def thinned(rng: np.random.Generator, mask: np.ndarray, most: float, stroke: float) -> np.ndarray:
    """Only bands of the mask along the stroke, so that it covers no more than this share of the field."""
    share = float(mask.mean())
    if share <= most:
        return mask
    length = int(np.hypot(*mask.shape)) + 3
    wave = smooth_noise(rng, (length, length), rng.uniform(10, 60), 250) + 0.25 * smooth_noise(
        rng, (length, length), 2, 25
    )
    wave = onto(wave, stroke, mask.shape)
    return mask & (wave > np.quantile(wave[mask], 1 - most / share))


def draw_ground(rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]) -> Ground:
    length = int(np.hypot(*shape)) + 3
    stroke = rng.uniform(0, np.pi)
    half_angle = np.radians(draw_hone_angle(rng)) / 2
    across = stroke + np.pi / 2
    lays = [across + half_angle, across - half_angle] if rng.uniform() < 0.92 else [across + half_angle]
    lays = [lay + rng.normal(0, 0.01) for lay in lays]
    total = float(
        rng.choice([log_uniform(rng, 0.02, 0.1), rng.uniform(0.1, 0.4), rng.uniform(0.4, 0.48)], p=[0.15, 0.5, 0.35])
    )
    part = rng.choice([0.5, rng.beta(1.5, 1.5)]) if len(lays) == 2 else 1.0
    shares = [total * part, total * (1 - part)][: len(lays)]
    first = draw_population(rng, pixel_size_um, min(shape), max(shares[0], 0.01))

    is_worn = rng.uniform() < 0.6
    worn = np.full(shape, is_worn)
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    if is_worn and rng.uniform() < 0.08:
        side = (y - shape[0] / 2) * np.cos(stroke) - (x - shape[1] / 2) * np.sin(stroke)
        worn = side > rng.uniform(-0.3, 0.3) * min(shape)
    closing = draw_closing(rng, length, total) if is_worn and rng.uniform() < 0.88 else None

    before = np.zeros(shape, np.float32)  # depth of the grooves before metal moved
    after = np.zeros(shape, np.float32)
    grey, fine = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    cut = np.float32(min(log_uniform(rng, 0.05, 1.5), rng.uniform(0.1, 0.6) * first.depth)) * worn
    finish = rng.choice([0, rng.uniform(0.03, 0.2), rng.uniform(0.1, 0.45)], p=[0.15, 0.4, 0.45])
    for number, (lay, share) in enumerate(zip(lays, shares, strict=True)):
        pop = first
        if number and rng.uniform() < 0.4:
            pop = draw_population(rng, pixel_size_um, min(shape), max(share, 0.01))
        elif number:
            pop = replace(first, intensity=first.intensity * max(share, 0.005) / max(shares[0], 0.01))
        lines = draw_lines(rng, pop, length)
        traces = [t for line in lines if (t := trace(rng, line, pop, length)) is not None]
        depth = np.maximum(onto(dig(rng, traces, pop, length, float(cut.max())), lay, shape) - cut, 0)
        before = np.maximum(before, depth)
        if closing is not None and not (number and closing.one_lay):
            level, own = close(rng, traces, closing, stroke - lay, length)
            level = onto(level, lay, shape, cv2.INTER_NEAREST)
            covered = (level < OPEN) & worn & (depth >= VALLEY_DEPTH_UM)
            covered = thinned(rng, covered, 0.25 * max(share / total, 0.05) * rng.uniform(0.6, 1), stroke)
            grey = np.where(covered, onto(own, lay, shape, cv2.INTER_NEAREST), grey)
            depth = np.where(covered, np.minimum(level, depth), depth)
        after = np.maximum(after, depth)
        if finish:
            scratch = marks(rng, length, rng.uniform(1, 3), log_uniform(rng, 60, 800), rng.uniform(-0.8, 1.8))
            scratch = np.maximum(scratch, marks(rng, length, rng.uniform(1, 2), log_uniform(rng, 40, 400), 1.0))
            fine = np.maximum(fine, finish * onto(scratch, lay + rng.normal(0, 0.02), shape))
    codes = np.where(after >= VALLEY_DEPTH_UM, 1, np.where(before >= VALLEY_DEPTH_UM, 2, 0)).astype(np.uint8)
    drag = log_uniform(rng, 0.03, 0.15) * smooth_noise(rng, (length, length), 1.5, rng.uniform(15, 60))
    drag += log_uniform(rng, 0.02, 0.1) * rng.choice([-1, 1])  # moved metal is of another grey, if a little
    grey = np.where(codes == 2, grey + onto(drag, stroke, shape), 0)

    fine *= np.where(worn, rng.uniform(0, 1), 1.0)
    run = log_uniform(rng, 0.03, 0.35) * marks(
        rng, length, rng.uniform(1, 2.5), log_uniform(rng, 80, 900), rng.uniform(-0.5, 1.5)
    )
    fine = np.maximum(fine, np.where(worn, onto(run, stroke, shape), 0))
    if rng.uniform() < 0.25:  # scratches along the stroke: plateau, though some are deep
        scratch = marks(rng, length, rng.uniform(2, 5), 2 * length, 2.2)
        fine = np.maximum(fine, rng.uniform(0.5, 2.5) * onto(scratch, stroke, shape))
    height = -np.maximum(after, fine)
    roughness = log_uniform(rng, 0.01, 0.12) * min(1, pixel_size_um**0.5)
    height += roughness * sum(smooth_noise(rng, shape, size, size) * size**0.5 for size in (1.5, 4, 11)) / 2

    kind = f"{len(lays)} lay, {first.process}" + (", worn" if is_worn else "")
    if is_worn and rng.uniform() < 0.33:
        mask = (onto(draw_scuffs(rng, length, pixel_size_um), stroke, shape) > 0.5) & worn
        mask = thinned(rng, mask, rng.uniform(0.15, 0.3), stroke)
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.2)
        keep, strength = rng.uniform(0, 0.5), log_uniform(rng, 0.12, 1.0)
        tear = onto(torn_ground(rng, length, pixel_size_um), stroke, shape)
        height = height * (1 - soft * (1 - keep)) + soft * strength * tear
        after = after * (1 - mask * np.float32(1 - keep))
        grey = grey * (1 - soft) + soft * (rng.normal(0, 0.12) + 0.12 * min(strength, 0.6) * tear)
        codes[mask] = 3
        kind += ", scuffed"
    return Ground(
        height=height.astype(np.float32),
        codes=codes,
        worn=worn,
        grey=grey,
        original=before,
        floor=after,
        stroke=stroke,
        lays=tuple(lays),
        kind=kind,
    )
