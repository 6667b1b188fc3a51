"""Honed ground: random cuts in two bands and the finishing texture of the land between them. Heights and depths in um."""

from dataclasses import dataclass

import cv2
import numpy as np

from .processes import chance, fractal, line, log_uniform, on_bearing_curve, side, standard, turned


@dataclass(frozen=True, kw_only=True)
class Ground:
    """depth: how far the cuts lie below the land (um, 0 outside); rim: metal thrown up beside them (um); fine: finishing
    texture (um); closing: how readily moved metal closes a groove here (unit deviation); usual_depth: um, the
    middle of the depths drawn; stroke, lays: directions (rad)."""

    depth: np.ndarray
    rim: np.ndarray
    fine: np.ndarray
    closing: np.ndarray
    usual_depth: float
    stroke: float
    lays: tuple[float, float]


def places(rng: np.random.Generator, n: int, mean_px: float) -> np.ndarray:
    """Where grooves lie across the lay (px): a renewal process whose gaps run from regular to clustered."""
    regularity = log_uniform(rng, 0.35, 4.0)
    count = int(min(n / mean_px * 1.5 + 5, 110))
    gaps = rng.gamma(regularity, mean_px / regularity, count)
    at = np.cumsum(gaps) - rng.uniform(0, mean_px)
    return at[at < n]


def cut(rng, profile, half, depth, reach, shapes, canvas):
    """Press one groove into the canvases, in place: centre row (px), half width (px) and depth (um) at each column.

    reach is the correlation length (px) of the torn rim; shapes holds the flatness and power of the cross-section, the
    shift of its deepest line and the height of its rims (um); canvas holds depth, rims, closing and this groove's readiness.
    """
    deep, rims, closing, ready = canvas
    n = deep.shape[1]
    low = int(max(np.floor((profile - half * 1.7).min()) - 1, 0))
    high = int(min(np.ceil((profile + half * 1.7).max()) + 2, deep.shape[0]))
    if high <= low:
        return
    flat, power, skew, lip = shapes
    offset = (np.arange(low, high, dtype=np.float32)[:, None] - profile[None]) / half[None]
    s = np.abs(offset + 0.4 * skew * (1 - offset**2))  # the deepest line moves off the middle, the rims stay
    body = (1 - np.minimum(s, 1) ** flat) ** power * depth[None]
    inside = np.abs(offset) < 1
    body *= inside
    block = deep[low:high]
    np.copyto(closing[low:high], np.broadcast_to(ready, body.shape), where=body > block)
    np.maximum(block, body, out=block)
    if lip > 0:
        torn = np.clip(line(rng, n, reach) + 0.4, 0, 2)
        throw = lip * torn * np.minimum(depth, 1)
        np.maximum(rims[low:high], throw[None] * np.exp(-(((np.abs(offset) - 1.1) / 0.22) ** 2)), out=rims[low:high])


def band(rng: np.random.Generator, shape, pixel: float, habit: dict, strength: float):
    """One band of grooves on its own canvas, rows along the lay: depth, rim (um) and closing readiness."""
    n = side(shape)
    canvas = [np.zeros((n, n), np.float32) for _ in range(3)]
    widest = 0.3 * min(shape) * pixel
    mean_width = min(habit["width"], 0.4 * widest)
    spacing = mean_width / pixel / (habit["coverage"] * strength)
    flow = log_uniform(rng, 15, 600) / pixel
    for centre in places(rng, n, max(spacing, 5.0)):
        width = float(np.clip(mean_width * np.exp(habit["spread"] * rng.standard_normal()), max(2.0, 1.6 * pixel), min(60, widest)))
        depth = float(np.clip(habit["depth"] * np.exp(habit["depth_spread"] * rng.standard_normal()), 0.2, 10))
        # A grit that cuts steeper than about 60 degrees breaks, so very deep narrow draws become shallower.
        depth = min(depth, 0.9 * width)
        wander = line(rng, n, n * rng.uniform(0.3, 1.5)) * habit["waviness"] * width / pixel + rng.normal(0, 0.012) * np.linspace(
            -n / 2, n / 2, n
        )
        half = np.maximum(width / pixel / 2 * np.exp(habit["ragged"] * line(rng, n, width / pixel * rng.uniform(1, 6))), 0.7)
        envelope = np.exp(habit["uneven"] * line(rng, n, flow))
        if chance(rng, habit["ends"]):
            u = np.arange(n)
            first, length = rng.uniform(-0.3, 0.9) * n, log_uniform(rng, 0.3, 1.5) * n
            taper, blunt = log_uniform(rng, 5, 0.3 * n), log_uniform(rng, 0.3, 1.2)
            fade = np.clip(np.minimum(u - first, first + length - u) / taper, 0, 1)
            envelope = envelope * fade**0.7
            half = np.maximum(half * (0.25 + 0.75 * fade**blunt), 0.7)
        shapes = (habit["flat"] * rng.uniform(0.7, 1.4), habit["power"], rng.normal(0, habit["skew"]), habit["lip"])
        ready = (rng.normal(0, 1) + line(rng, n, flow)) / np.sqrt(2)
        cut(
            rng,
            (centre + wander).astype(np.float32),
            half.astype(np.float32),
            (depth * envelope).clip(0, 10).astype(np.float32),
            width / pixel,
            shapes,
            (*canvas, ready.astype(np.float32)[None]),
        )
    return canvas


def habits(rng: np.random.Generator) -> dict:
    """How one stone cuts; depth and width (um) are drawn independently of each other."""
    return {
        "width": log_uniform(rng, 2.5, 30),
        "depth": log_uniform(rng, 0.8, 5.5),
        "coverage": log_uniform(rng, 0.1, 0.42),
        "spread": rng.uniform(0.1, 0.8),
        "depth_spread": rng.uniform(0.1, 0.8),
        "waviness": log_uniform(rng, 0.005, 0.12),
        "ragged": log_uniform(rng, 0.02, 0.22),
        "uneven": log_uniform(rng, 0.03, 0.6),
        "ends": rng.uniform(0, 0.6),
        "flat": log_uniform(rng, 1.1, 9),
        "power": log_uniform(rng, 0.6, 1.7),
        "skew": rng.uniform(0, 0.6),
        "lip": log_uniform(rng, 0.05, 0.7) if chance(rng, 0.7) else 0.0,
    }


def ground(rng: np.random.Generator, shape: tuple[int, int], pixel: float) -> Ground:
    """Ground as honed, before any wear; pixel in um."""
    n = side(shape)
    stroke = rng.choice([np.pi / 2, 0.0], p=[0.7, 0.3]) + rng.normal(0, 0.07) if chance(rng, 0.8) else rng.uniform(0, np.pi)
    half_angle = np.deg2rad(rng.uniform(20, 150)) / 2
    lays = tuple(stroke + np.pi / 2 + sign * half_angle + rng.normal(0, 0.02) for sign in (-1, 1))
    weak = log_uniform(rng, 0.12, 0.6) if chance(rng, 0.3) else rng.uniform(0.7, 1)
    strengths = rng.permutation([1.0, weak])
    habit = habits(rng)
    peak, core, valley = log_uniform(rng, 0.01, 0.15), log_uniform(rng, 0.02, 0.2), log_uniform(rng, 0.01, 0.1)
    fine = fractal(rng, shape, rng.uniform(0.1, 1), log_uniform(rng, 3, 60))
    depth, rim, closing = (np.zeros(shape, np.float32) for _ in range(3))
    lay_share = rng.uniform(0.2, 2.0)
    for lay, strength in zip(lays, strengths, strict=True):
        deep, rims, ready = (turned(part, shape, lay) for part in band(rng, shape, pixel, habit, strength))
        closing = np.where(deep > depth, ready, closing)
        rim = np.where(depth > 0.3, 0, rim) + np.where(depth > 0.3, 0, rims) * (rim < 0.05)
        depth = np.maximum(depth, deep)
        rows = rng.standard_normal((n, max(int(n * pixel / log_uniform(rng, 40, 400)), 3)), dtype=np.float32)
        scratches = cv2.resize(rows, (n, n), interpolation=cv2.INTER_LINEAR)
        fine = fine + lay_share * strength * standard(turned(scratches, shape, lay))
    fine = on_bearing_curve(standard(fine), peak, core, valley, rng.uniform(0.04, 0.2), rng.uniform(0.7, 0.95))
    return Ground(
        depth=depth, rim=rim, fine=fine.clip(-0.45, 0.45), closing=closing, usual_depth=habit["depth"], stroke=float(stroke), lays=lays
    )
