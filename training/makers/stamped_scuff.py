"""Scuffing and look-alikes as crowds of stamps along the stroke."""

import cv2
import numpy as np

from makers.stamped_bank import (
    fixed,
    grain,
    log_uniform,
    outlines,
    place,
    press,
    press_lit,
    shifted,
    soften,
    streaks,
    walk,
)


def bands(rng, scene):
    """Torn area (uint8): ragged bands along the stroke with a fringe of pointed dashes."""
    h, w = scene.shape
    torn = np.zeros(scene.shape, np.uint8)
    along = np.array([np.cos(scene.stroke), np.sin(scene.stroke)])
    across = np.array([-along[1], along[0]])
    reach = 0.5 * (abs(w * along[0]) + abs(h * along[1]))
    wide = 0.5 * (abs(w * across[0]) + abs(h * across[1]))
    share = log_uniform(rng, 0.06, 1.5)
    count = int(np.clip(log_uniform(rng, 1, 12), 1, 12))
    for _ in range(count):
        half = max(wide * share / count * log_uniform(rng, 0.5, 1.6), 1.5 / scene.px, 2.0)
        middle = rng.uniform(-wide, wide) * 0.9
        length = reach * log_uniform(rng, 0.2, 3) if rng.random() < 0.6 else 3 * reach
        begin = rng.uniform(-reach - 0.3 * length, reach - 0.5 * length)
        n = 400
        t = np.linspace(begin, begin + length, n)
        ramp = np.minimum(np.arange(n), np.arange(n)[::-1]) / np.clip(
            half * log_uniform(rng, 0.7, 12) * n / length, 6, 200
        )
        envelope = np.clip(ramp, 0, 1) ** rng.uniform(0.3, 0.9)
        ragged = rng.uniform(0.03, 0.15)
        edges = []
        for slow in (60, 90):
            rough = 0.25 * walk(rng, n, slow) + ragged * (walk(rng, n, 12) + walk(rng, n, 2))
            edges.append(half * envelope * np.clip(1 + rough, 0.1, 2))
        middle = middle + half * 0.2 * walk(rng, n, 130)
        line = np.array([w / 2, h / 2]) + t[:, None] * along
        upper, lower = (line + (middle + sign * e)[:, None] * across for sign, e in zip((1, -1), edges, strict=True))
        if rng.random() < 0.75:
            cv2.fillPoly(torn, [fixed(np.concatenate([upper, lower[::-1]]))], 1, shift=3)
        number = int(np.clip(length / half * 14, 40, 300))
        pick = rng.integers(0, n, number)
        if rng.random() < 0.7:
            pick[::3] = rng.choice([0, n - 1], pick[::3].size) * 0.94 + 0.03 * n
        side = rng.uniform(-1, 1, number)
        side = np.where(np.arange(number) % 3 > 0, np.sign(side), side)
        edge = np.where(side > 0, edges[0][pick], edges[1][pick])
        off = (middle[pick] + side * edge + rng.normal(0, 0.08 * half, number))[:, None]
        thin = np.maximum(half * log_uniform(rng, 0.02, 0.15, number), 0.8)
        long = thin * log_uniform(rng, 4, 25, number)
        press(torn, place(outlines(rng, "dash", number), line[pick] + off * across, long, thin, scene.stroke), 1)
    close = int(np.clip(1.5 / scene.px, 3, 9))
    return cv2.morphologyEx(
        torn, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (close, close))
    ) & scene.worn.astype(np.uint8)


def torn_look(rng, scene, torn):
    """Tone of the torn area against the plateau."""
    shape = scene.shape
    rough = scene.contrast * rng.uniform(0.5, 1.2)
    tone = np.full(shape, rng.choice([-0.16, -0.08, 0, 0.08, 0.16]) + rng.normal(0, 0.03), np.float32)
    if torn.mean() < 0.04:  # narrow streaks show by their tone
        tone += np.copysign(0.1, tone[0, 0])
    ridge = log_uniform(rng, 1.0, 6) / scene.px
    parts = rng.uniform(0, 1, 3)
    parts[rng.integers(3)] = 1.3
    tone += 0.13 * rough * parts[0] * streaks(rng, shape, scene.stroke, ridge * rng.uniform(10, 60), max(ridge, 1.2))
    tone += 0.09 * rough * parts[1] * grain(rng, shape, max(1.3, log_uniform(rng, 0.3, 2) / scene.px))
    ys, xs = np.nonzero(torn)
    if xs.size:
        size = max(log_uniform(rng, 0.8, 9) / scene.px, 1.5, np.sqrt(xs.size / 2500))
        count = int(np.clip(0.7 * parts[2] * xs.size / size**2, 8, 1100))
        pick = rng.integers(0, xs.size, count)
        thin = size * log_uniform(rng, 0.3, 1.6, count)
        kind = rng.choice(["scale", "chip", "dab", "crescent", "dash"])
        ratio = rng.uniform(2, 9)
        way = scene.stroke + (np.pi if scene.backward else 0) + rng.normal(0, 0.2, count)
        centres = np.stack([xs[pick], ys[pick]], axis=-1)
        polygons = place(outlines(rng, kind, count), centres, thin * log_uniform(rng, 1, ratio, count), thin, way)
        tones = tone[ys[pick], xs[pick]] + rough * rng.normal(0, 0.12, count)
        lift = tone.copy()
        press_lit(lift, polygons, tones, scene.look.light, max(0.7, 0.12 * size), 0.22 * rough)
        lift = soften(lift, rng.choice([0.4, 0.06 * size + 0.4, 0.2 * size]))
        flat = rng.uniform(0.15, 0.6)
        edges = lift - shifted(lift, *(-scene.look.light * max(1.0, 0.25 * size)))
        fine = max(1.2, 0.3 / scene.px)
        fuzz = streaks(rng, shape, scene.stroke, fine * rng.uniform(2, 12), fine) * rough * rng.uniform(0.02, 0.06)
        tone = (1 - flat) * tone + flat * lift + rng.uniform(0.5, 1.2) * edges + fuzz
    return tone.astype(np.float32)


def scratches(rng, scene, tone):
    """Scratches along the stroke on a canvas of tones: plateau, whatever their depth."""
    h, w = scene.shape
    count = int(log_uniform(rng, 1, 30))
    along = np.array([np.cos(scene.stroke), np.sin(scene.stroke)])
    diagonal = np.hypot(h, w)
    wide = max(log_uniform(rng, 0.4, 5) / scene.px, 0.8)
    for _ in range(count):
        n = 60
        length = diagonal * log_uniform(rng, 0.1, 2)
        centre = rng.uniform(-0.1, 1.1, 2) * [w, h]
        line = centre + np.linspace(-0.5, 0.5, n)[:, None] * length * along
        half = (
            0.5
            * wide
            * log_uniform(rng, 0.5, 1.8)
            * np.sin(np.linspace(0, np.pi, n)) ** 0.3
            * (1 + 0.2 * walk(rng, n, 5))
        )
        across = np.array([-along[1], along[0]])
        deep = scene.contrast * rng.normal(-0.1, 0.12)
        lit = float(across @ scene.look.light) * scene.look.relief * 0.6
        for low, high, shade in ((-1, 1, deep), (-1.3, -0.8, deep + lit), (0.8, 1.3, deep - lit)):
            edge = [line + (half * f)[:, None] * across for f in (low, high)]
            cv2.fillPoly(tone, [fixed(np.concatenate([edge[0], edge[1][::-1]]))], float(shade), shift=3)


def graphite(rng, scene, tone):
    """Flakes and pull-outs: dark worms and lenses, any direction."""
    h, w = scene.shape
    count = int(np.clip(log_uniform(rng, 3, 120) * (h * w * scene.px**2 / 2.5e5) ** 0.5, 1, 150))
    dark = -scene.contrast * rng.uniform(0.2, 0.45)
    longest = log_uniform(rng, 12, 100)
    for _ in range(count):
        n = 12
        length = log_uniform(rng, 5, longest) / scene.px
        angle = rng.uniform(0, np.pi) + 0.5 * np.cumsum(rng.normal(0, 0.35, n))
        line = np.cumsum(np.stack([np.cos(angle), np.sin(angle)], axis=-1), axis=0) * length / n
        line += rng.uniform(-0.05, 1.05, 2) * [w, h]
        half = 0.5 * max(length * rng.uniform(0.04, 0.16), 1) * np.sin(np.linspace(0.1, np.pi - 0.1, n)) ** 0.6
        half = half * (1 + 0.3 * rng.standard_normal(n))
        side = np.stack([-np.sin(angle), np.cos(angle)], axis=-1) * half[:, None]
        outline = fixed(np.concatenate([line + side, (line - side)[::-1]]))
        if rng.random() < 0.4:
            cv2.polylines(tone, [outline], True, float(scene.contrast * 0.12), 1, shift=3)
        cv2.fillPoly(tone, [outline], float(dark * rng.uniform(0.6, 1.2)), shift=3)


def stains(rng, scene):
    """Islands of oil or tribofilm, a factor near one."""
    shape = scene.shape
    long = log_uniform(rng, 10, 150) / scene.px
    field = streaks(rng, shape, scene.stroke, long, long / rng.uniform(1, 8))
    field = soften(field, min(long * 0.06, 8)) + 0.3 * grain(rng, shape, max(2, 2 / scene.px))
    edge = rng.uniform(0.15, 0.8)
    patch = np.clip((field - rng.uniform(0.4, 1.3)) / edge, 0, 1)
    return 1 + rng.choice([-1, 1], p=[0.7, 0.3]) * rng.uniform(0.06, 0.28) * patch


def spots(rng, scene, tone):
    """Small corrosion spots in clusters."""
    h, w = scene.shape
    count = int(log_uniform(rng, 20, 300))
    middle = rng.uniform(0, 1, 2) * [w, h]
    centres = middle + rng.standard_normal((count, 2)) * rng.uniform(0.1, 0.5) * min(h, w)
    size = np.maximum(log_uniform(rng, 0.3, 2.5, count) / scene.px, 0.7)
    tones = scene.contrast * rng.normal(rng.choice([-0.15, 0.1]), 0.06, count)
    press(
        tone,
        place(outlines(rng, "dab", count), centres, size, size * rng.uniform(0.5, 1), rng.uniform(0, 6, count)),
        tones,
    )


def debris(rng, scene, picture, codes):
    """Loose particles, each with a shadow; the particle is not assessed."""
    h, w = scene.shape
    count = int(log_uniform(rng, 1, 25))
    centres = rng.uniform(0, 1, (count, 2)) * [w, h]
    size = np.maximum(log_uniform(rng, 0.6, 9, count) / scene.px, 1.5)
    size = np.minimum(size, 0.08 * min(h, w))
    shapes = place(
        outlines(rng, rng.choice(["chip", "dab"]), count),
        centres,
        size,
        size * rng.uniform(0.5, 1, count),
        rng.uniform(0, 6, count),
    )
    away = -scene.look.light[None, None] * (0.35 * size)[:, None, None]
    mask, shade = np.zeros(scene.shape, np.uint8), np.zeros(scene.shape, np.float32)
    press(shade, shapes + away, -0.14 * scene.contrast)
    press(mask, shapes, 1)
    fine = max(1.0, float(np.median(size)) * 0.3)
    lump = rng.uniform(0.02, 0.3) * scene.contrast + 0.08 * grain(rng, scene.shape, fine)
    reach = float(np.median(size)) * 0.15 + 0.6
    rise = soften(mask.astype(np.float32), max(0.6, 0.1 * float(np.median(size))))
    lump += 0.25 * (rise - shifted(rise, *(-scene.look.light * reach)))
    out = picture + soften(shade, max(0.5, 0.2 * float(np.median(size))))
    codes[mask > 0] = 255
    return np.where(mask > 0, 0.5 + lump, out).astype(np.float32)
