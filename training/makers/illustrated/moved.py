"""Moved metal as a textbook draws it: smooth caps, tongues and flakes over grooves, and torn streaks of scuffing."""

from collections.abc import Iterator

import cv2
import numpy as np

from .layout import Groove, loguniform
from .sheet import Sheet, blob, fill, grain, ribbon, stroke


def closures(rng: np.random.Generator, n: int, share: float, typical: float) -> Iterator[tuple[int, int]]:
    """Index ranges of a path of n points that moved metal closed: about `share` of it, pieces of about `typical` points."""
    at = int(rng.exponential(typical * (1 - share) / share)) if rng.random() > share else 0
    while at < n - 2:
        length = max(3, int(typical * np.exp(0.7 * rng.standard_normal())))
        yield at, min(at + length, n)
        at += length + 1 + int(rng.exponential(typical * (1 - share) / share))


def smear(
    rng: np.random.Generator,
    sheet: Sheet,
    grooves: list[Groove],
    floor_tone: float,
    pixel_size_um: float,
    stroke_angle: float,
) -> None:
    """Close part of the grooves on the sheet; the footprint so closed becomes code 2. Some fields let the open
    groove's `floor_tone` show faintly through."""
    share = loguniform(rng, 0.12, 0.85)
    typical = loguniform(rng, 15, 250) / pixel_size_um / 7
    bright, trace = rng.normal(0.03, 0.04), rng.choice([0.0, rng.uniform(0.05, 0.3)])
    crease, lip = loguniform(rng, 0.06, 0.35), loguniform(rng, 0.06, 0.3)
    partly, drag = rng.uniform(0, 0.4), rng.uniform(0, 1)
    along = np.array([np.cos(stroke_angle), np.sin(stroke_angle)])
    footprint = np.zeros_like(sheet.codes)
    for g in grooves:
        core = g.open_half()
        if core.max() <= 0:
            continue
        own = float(np.clip(share * np.exp(0.5 * rng.standard_normal()), 0.02, 0.93))
        for a, b in closures(rng, len(core), own, max(4.0, typical)):
            c = core[a:b]
            if len(c) < 3 or c.min() <= 0.3:
                continue
            q, m, h = g.path[a:b], g.normals[a:b], np.maximum(g.half[a:b], c)
            low, high = -np.ones(b - a), np.ones(b - a)
            if rng.random() < partly:
                # A tongue from one rim that does not reach the other
                high = np.clip(rng.uniform(-0.4, 0.6) + 0.15 * rng.standard_normal(b - a), -0.8, 0.95)
                if rng.random() < 0.5:
                    low, high = -high, np.ones(b - a)
            # Ends of a cap are dragged along the stroke, rounded or ragged
            taper = np.minimum(1, np.minimum(np.arange(b - a), np.arange(b - a)[::-1]) * 0.7 + rng.uniform(0.1, 0.9))
            low, high = low * taper, high * taper
            region = ribbon(q, m, low * h, high * h)
            fill(sheet.tone, region, bright + trace * floor_tone * rng.uniform(0.3, 1.3) + rng.normal(0, 0.015))
            fill(sheet.rough, region, rng.uniform(0.02, 0.15))
            fill(sheet.fine, region, rng.uniform(0.1, 0.6))
            # A tongue ends where it is drawn; only the shallow ground at the rims is no footprint.
            fill(footprint, ribbon(q, m, np.clip(low * h, -c, c), np.clip(high * h, -c, c)), 2)
            fold = rng.random()
            side = low if rng.random() < 0.5 else high
            edge = q + m * (side * h)[:, None]
            thick = max(1.0, min(0.1 * h.mean(), 3))
            if fold < 0.75:
                stroke(sheet.tone, edge, -crease * rng.uniform(0.5, 1), thick)
                stroke(sheet.tone, edge - m * (np.sign(side) * 1.5 * thick)[:, None], lip * rng.uniform(0.3, 1), thick)
            else:
                stroke(
                    sheet.tone,
                    q + m * ((low + high) / 2 * h + 0.2 * h * rng.standard_normal())[:, None],
                    -crease * 0.7,
                    thick,
                )
            for end in (0, -1):
                # The open groove meets the cap in a lip over a dark mouth
                ends = np.stack([q[end] + m[end] * low[end] * h[end], q[end] + m[end] * high[end] * h[end]])
                stroke(sheet.tone, ends, lip if rng.random() < 0.7 else -crease, thick)
            if h.mean() > 3:
                for _ in range(rng.integers(0, 4)):
                    mid = q[rng.integers(len(q))] + along * rng.normal(0, 0.3) * h.mean()
                    reach = h.mean() * rng.uniform(0.4, 1) * drag
                    stroke(
                        sheet.tone,
                        np.stack([mid - along * reach, mid + along * reach]),
                        bright + rng.normal(0, 0.08),
                        1,
                    )
    sheet.codes[footprint == 2] = 2


def scuff(
    rng: np.random.Generator, sheet: Sheet, shape: tuple[int, int], pixel_size_um: float, stroke_angle: float
) -> None:
    """Tear streaks along the stroke into the sheet (code 3): rough metal with bright ridges and dark cross tears."""
    size = float(np.hypot(*shape))
    heavy = rng.random() < 0.35
    width = max(4.0, loguniform(rng, 6, 60) / pixel_size_um)
    width = min(width, 0.25 * size)
    share = loguniform(rng, 0.3, 0.8) if heavy else loguniform(rng, 0.03, 0.25)
    t = np.array([np.cos(stroke_angle), np.sin(stroke_angle)])
    nrm = np.array([-t[1], t[0]])
    mid = np.array([shape[1] / 2, shape[0] / 2])
    mask = np.zeros(shape, np.uint8)
    for _ in range(int(np.clip(share * size / width * 2, 1, 60))):
        # A streak is drawn out along the stroke however wide it is.
        long = max(loguniform(rng, 0.15, 1.4) * size, 4 * width)
        start = rng.uniform(-0.5, 0.5, 2) * size
        n = max(12, int(long / 6))
        path = mid + (start[0] + np.linspace(-long / 2, long / 2, n))[:, None] * t + start[1] * nrm
        half = width / 2 * np.exp(0.4 * rng.standard_normal()) * np.sqrt(np.sin(np.linspace(0.02, np.pi - 0.02, n)))
        half = half * np.exp(rng.uniform(0.02, 0.08) * rng.standard_normal((2, n)))
        fill(mask, ribbon(path, np.broadcast_to(nrm, (n, 2)), -half[0], half[1]), 1)
    ridge = min(loguniform(rng, 1.0, 4) / pixel_size_um, 7, 0.2 * width)
    ridges = grain(rng, shape, max(12, 12 * ridge), max(1.5, ridge), stroke_angle)
    ridges = 0.75 * ridges + 0.5 * grain(rng, shape, max(8, 5 * ridge), max(1.2, 0.4 * ridge), stroke_angle)
    tears = grain(rng, shape, max(2, 2 * ridge), max(1.2, ridge), stroke_angle + np.pi / 2 + rng.normal(0, 0.2))
    gain = loguniform(rng, 0.07, 0.18)
    torn = gain * (ridges + 0.8 * np.abs(ridges) + tears * rng.uniform(0.4, 1)) - 0.9 * gain + rng.normal(0, 0.05)
    torn[tears < -1.4] -= loguniform(rng, 0.05, 0.3)
    where = mask == 1
    np.copyto(sheet.tone, 0.15 * sheet.tone + torn.astype(np.float32), where=where)
    border = cv2.morphologyEx(mask, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) == 1
    sheet.tone[border & (ridges > 0.3)] += loguniform(rng, 0.05, 0.25)
    sheet.rough[where], sheet.fine[where], sheet.codes[where] = loguniform(rng, 1, 4), 0.2, 3


def debris(rng: np.random.Generator, sheet: Sheet, shape: tuple[int, int], pixel_size_um: float) -> None:
    """Loose particles (code 255), each with the dark shadow beside it that is still plateau."""
    for _ in range(rng.integers(1, 7)):
        long = min(loguniform(rng, 2, 30) / pixel_size_um, 0.12 * min(shape))
        centre = rng.uniform(0, 1, 2) * [shape[1], shape[0]]
        body = blob(rng, centre, max(long, 2), max(long * rng.uniform(0.4, 1), 2), rng.uniform(0, np.pi))
        away = rng.uniform(0, 2 * np.pi)
        shadow = body + 0.5 * long * np.array([np.cos(away), np.sin(away)])
        cover = np.zeros(shape, np.uint8)
        fill(cover, shadow, 1)
        sheet.tone[cover == 1] -= rng.uniform(0.05, 0.2)
        bright = rng.choice([-0.25, 0.12, 0.3])
        fill(sheet.tone, body, bright)
        fill(sheet.rough, body, rng.uniform(0.3, 3))
        fill(sheet.codes, body, 255)
        stroke(sheet.tone, np.r_[body, body[:1]], bright + 0.15)
