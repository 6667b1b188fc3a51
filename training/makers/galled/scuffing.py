"""Scuffing: adhesion tears, ploughs and re-welds the running surface in streaks along the stroke (forms after the usual atlases
of scuffed liners, from memory). Where: `inside` is a distance in pixels from the border of destroyed ground, positive inside;
nothing of the damage is drawn outside it. The truth is inside > 0."""

import cv2
import numpy as np

from .frame import Frame, Map, ramp, speckless


def streak(
    rng: np.random.Generator, frame: Frame, u: Map, v: Map, at: tuple[float, float], size: tuple[float, float]
) -> Map:
    """Blunt head, ragged body, drawn-out tail; either end may lead, for the stroke reciprocates."""
    length, width = size
    t = (u - at[0]) / np.float32(length) * rng.choice([-1, 1]) + 0.5
    taper = np.clip(t / rng.uniform(0.03, 0.3), 0, 1) ** 0.5 * np.clip(
        (1 - t) / rng.uniform(0.2, 0.9), 0, 1
    ) ** rng.uniform(0.4, 1)
    sway = rng.uniform(0, 0.25) * width * np.sin(u / np.float32(length) * rng.uniform(2, 7) + rng.uniform(0, 6))
    sharp = np.where((t > 0) & (t < 1), taper * width / 2, -4)
    return (sharp - np.abs(v - at[1] - sway)).astype(np.float32)


def where_destroyed(rng: np.random.Generator, frame: Frame, worn: Map, most: float) -> tuple[Map, str]:
    """The map `inside`, at most the share `most` of the field, and the form of its outline."""
    u, v = (axis[::2, ::2] for axis in frame.axes(frame.stroke))
    size, least = frame.size, 7.0
    form = str(rng.choice(["streaks", "band", "cluster", "patches", "furrows"], p=[0.27, 0.18, 0.25, 0.17, 0.13]))
    out = np.full(u.shape, -9, np.float32)

    def place() -> tuple[float, float]:
        return rng.uniform(-0.5, 0.5) * size, rng.uniform(-0.45, 0.45) * size

    if form == "streaks":
        for _ in range(int(rng.integers(1, 8))):
            width = np.exp(rng.uniform(np.log(least), np.log(size / 7)))
            length = max(width * rng.uniform(3, 14), 0.15 * size)
            out = np.maximum(out, streak(rng, frame, u, v, place(), (length, width)))
    elif form == "band":
        for _ in range(int(rng.integers(1, 4))):
            width = np.exp(rng.uniform(np.log(least * 1.5), np.log(size / 3.5)))
            out = np.maximum(out, streak(rng, frame, u, v, place(), (size * rng.uniform(1.2, 5), width)))
    elif form == "cluster":
        for _ in range(int(rng.integers(1, 3))):
            centre, wide = place(), rng.uniform(0.05, 0.2) * size
            for _ in range(int(rng.integers(5, 13))):
                width = rng.uniform(least, max(least + 2, size / 14))
                at = centre[0] + rng.normal(0, 0.2) * size, centre[1] + rng.normal(0, wide)
                out = np.maximum(out, streak(rng, frame, u, v, at, (rng.uniform(0.15, 1.2) * size, width)))
    elif form == "patches":
        for _ in range(int(rng.integers(1, 7))):
            at, half = place(), np.exp(rng.uniform(np.log(least), np.log(size / 9)))
            far = np.hypot((u - at[0]) / np.float32(rng.uniform(1.8, 4)), v - at[1])
            out = np.maximum(out, (half - far).astype(np.float32))
    else:
        centre = rng.uniform(-0.4, 0.4) * size
        for _ in range(int(rng.integers(1, 8))):
            at = rng.uniform(-0.5, 0.5) * size, centre + rng.normal(0, 0.13) * size
            out = np.maximum(
                out, streak(rng, frame, u, v, at, (rng.uniform(0.4, 2) * size, rng.uniform(least, least * 2.2)))
            )
    out = cv2.resize(out, frame.shape[::-1], interpolation=cv2.INTER_LINEAR)
    ragged = rng.uniform(0.3, 2.2)
    out += ragged * frame.noise(rng, frame.stroke, rng.uniform(8, 40), rng.uniform(2.5, 7))
    if form in ("band", "patches", "cluster"):
        out += rng.uniform(0.5, 5) * frame.noise(rng, frame.stroke, rng.uniform(60, 200), rng.uniform(10, 30))
    out = np.where(worn, out, -9)
    over = float(np.quantile(out, 1 - most))
    out -= max(over, 0.0)
    keep = speckless(cv2.morphologyEx((out > 0).astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8)), 70)
    keep |= (~keep) & (~speckless(~keep, 45)) & worn & (out > -3)
    return np.where(keep, np.maximum(out, 0.2), -1).astype(np.float32), form


def torn(rng: np.random.Generator, frame: Frame) -> Map:
    """Overlapping scales, steep edges across the stroke (shingles)."""
    u, _ = frame.axes(frame.stroke)
    scale = np.exp(rng.uniform(np.log(8), np.log(42)))
    wave = u / np.float32(scale) + 1.5 * frame.noise(rng, frame.stroke, scale * 2.2, scale * rng.uniform(0.5, 1.1))
    step = np.mod(wave, 1) - 0.5
    return scale * rng.uniform(0.15, 0.3) * step + rng.uniform(0.4, 1.4) * frame.noise(
        rng, frame.stroke, rng.uniform(4, 14), 3
    )


def dimples(rng: np.random.Generator, frame: Frame) -> Map:
    """Ductile dimples: cups with thin crests, drawn out along the stroke."""
    scale = rng.uniform(4, 16)
    stretch = rng.uniform(1.0, 3.5)
    cups = np.abs(frame.noise(rng, frame.stroke, scale * stretch, scale)) + 0.6 * np.abs(
        frame.noise(rng, frame.stroke, scale * 0.5 * stretch, scale * 0.5)
    )
    return -scale * 0.28 * (cups - 1.2)


def craters(rng: np.random.Generator, frame: Frame) -> Map:
    """Delamination: plates lift off in layers, leaving stepped edges and rough floors."""
    scale = rng.uniform(14, 40)
    lift = frame.noise(rng, frame.stroke, scale * rng.uniform(1.2, 3), scale) + 0.3 * frame.noise(
        rng, frame.stroke, 7, 5
    )
    steps = sum(ramp(lift, level, level + 0.08) for level in (-0.5, 0.2, 0.9))
    return -scale * 0.11 * steps + 1.2 * frame.noise(rng, frame.stroke, 4, 2.6) * ramp(lift, -0.5, 0)


def ploughed(rng: np.random.Generator, frame: Frame) -> Map:
    """Furrows with raised sides along the stroke, chattered across."""
    scale = rng.uniform(4, 13)
    cut = frame.noise(rng, frame.stroke, rng.uniform(80, 400), scale) + 0.25 * frame.noise(rng, frame.stroke, 10, 3)
    side = np.exp(-((cut + 0.1) ** 2) * 12)
    fine = frame.noise(rng, frame.stroke, 60, 2.2) + 0.5 * frame.noise(rng, frame.stroke, 7, 2)
    return scale * 0.3 * (side - 1.2 * ramp(cut, 0.1, 1.2)) + 0.8 * fine


def picked_up(rng: np.random.Generator, frame: Frame) -> Map:
    """Lumps welded on, steep at the front and smeared out downstream, over rough ground."""
    scale = rng.uniform(9, 26)
    lumps = frame.noise(rng, frame.stroke, scale * 1.3, scale)
    side = frame.stroke + (np.pi if rng.random() < 0.5 else 0)
    high = np.maximum(lumps - 0.5, 0)
    for k in (1, 2, 3):
        high = np.maximum(
            high, np.float32(0.75) ** k * frame.shifted(np.maximum(lumps - 0.5, 0), side, scale * 0.45 * k)
        )
    return scale * 0.35 * np.minimum(high, 1.3) * (1 + 0.25 * frame.noise(rng, 0, 4, 4)) + 1.1 * frame.noise(
        rng, frame.stroke, 9, 2.6
    )


TEXTURES = {"torn": torn, "dimples": dimples, "craters": craters, "ploughed": ploughed, "pick-up": picked_up}


def destroy(rng: np.random.Generator, frame: Frame, inside: Map, form: str) -> tuple[Map, Map, Map, str]:
    """Height of the damage (um), its weight over the old ground (0-1, 0 outside), its grey difference, and what it is."""
    names = list(rng.choice(list(TEXTURES), size=int(rng.integers(1, 4)), replace=False))
    if form == "furrows":
        names = ["ploughed", *[name for name in names if name != "ploughed"][:1]]
    heights = [TEXTURES[name](rng, frame) for name in names]
    mixed = heights[0]
    for other in heights[1:]:
        mixed = mixed + (other - mixed) * ramp(frame.noise(rng, frame.stroke, 90, 22), -0.3, 0.3)
    mixed = mixed + rng.uniform(0.5, 1.3) * frame.noise(rng, frame.stroke, rng.uniform(5, 18), rng.uniform(2, 4.5))
    # No part of destroyed ground stays smooth: quiet places are raised towards the common roughness.
    mixed = mixed - cv2.GaussianBlur(mixed, (0, 0), 14)
    local = np.sqrt(cv2.GaussianBlur(mixed * mixed, (0, 0), 6)) + 0.05
    mixed = mixed * (local / float(local.mean())) ** np.float32(-rng.uniform(0.45, 0.9))
    faint = rng.random() < 0.3
    steep = rng.uniform(0.2, 0.34) if faint else rng.uniform(0.3, 0.85)
    fade = rng.uniform(0.6, 2.0) if rng.random() < 0.6 else rng.uniform(3, 9)
    weight = np.where(inside > 0, 0.45 + 0.55 * ramp(inside, 0, fade), 0).astype(np.float32)
    sunk = rng.uniform(-0.1, 0.5) * steep
    height = np.clip(steep * frame.pixel_um * mixed, -4, 4) * weight - sunk * ramp(inside, 0, 3)
    tone = rng.choice([-1, 1], p=[0.4, 0.6]) * (rng.uniform(0.04, 0.14) if faint else rng.uniform(0.02, 0.22))
    grey = (weight * tone * (1 + 0.5 * frame.noise(rng, frame.stroke, 25, 8))).astype(np.float32)
    survives = rng.uniform(0.2, 0.6) if faint else rng.uniform(0, 0.35)
    return (
        height.astype(np.float32),
        weight * np.float32(1 - survives),
        grey,
        ("faint " if faint else "") + "+".join(names),
    )
