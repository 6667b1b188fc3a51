"""Moved metal: stamps dragged over the chains that close a groove, wholly or nearly."""

import cv2
import numpy as np

from makers.stamped_bank import fixed, log_uniform, outlines, place, polyline, press, walk

KINDS = (
    "cap",
    "bridge",
    "lip",
    "fold",
    "feather",
    "flush",
    "scales",
    "porous",
    "cracked",
    "tongue",
    "filled",
    "film",
    "silted",
)


class Covers:
    """Canvases of the moved metal: alpha (how far it hides the groove), tone (against the plateau), rise (for lit edges),
    lines (seams, rims and cracks drawn on top) and shut (uint8, where it closes)."""

    def __init__(self, shape):
        self.alpha = np.zeros(shape, np.float32)
        self.tone = np.zeros(shape, np.float32)
        self.rise = np.zeros(shape, np.float32)
        self.lines = np.zeros(shape, np.float32)
        self.shut = np.zeros(shape, np.uint8)

    def lay_on(self, polygons, alpha, tones, rise):
        shift = fixed(np.asarray(polygons)) if not isinstance(polygons, list) else [fixed(p) for p in polygons]
        tones = np.broadcast_to(np.asarray(tones, float), len(shift)).tolist()
        rises = np.broadcast_to(np.asarray(rise, float), len(shift)).tolist()
        for polygon, tone, high in zip(shift, tones, rises, strict=True):
            cv2.fillPoly(self.alpha, [polygon], float(alpha), shift=3)
            cv2.fillPoly(self.tone, [polygon], tone, shift=3)
            cv2.fillPoly(self.rise, [polygon], high, shift=3)
            cv2.fillPoly(self.shut, [polygon], 1, shift=3)

    def silt_up(self, polygon, alpha, tone):
        """Partly filled: paler, yet still open."""
        for canvas, value in ((self.alpha, alpha), (self.tone, tone), (self.rise, 0), (self.shut, 0)):
            cv2.fillPoly(canvas, [fixed(polygon)], float(value), shift=3)

    def open_up(self, polygons):
        for canvas in (self.alpha, self.rise, self.shut):
            press(canvas, polygons, 0)


def close_chain(rng, scene, covers, chain, share):
    """Close about the share of the chain's visible length with covers of the scene's kinds."""
    seen = chain.seen
    n = seen.size
    if rng.random() < scene.whole or share > 0.95:
        put(rng, scene, covers, chain, int(seen[0]), int(seen[-1]) + 1, rng.choice(scene.kinds), whole=True)
        return
    done = 0
    for _ in range(30):
        if done >= min(share, 0.85) * n:
            return
        length = scene.cover_length * chain.width * np.exp(scene.cover_spread * rng.standard_normal())
        points = int(np.clip(length / chain.step, min(n, max(3, 0.4 * chain.width / chain.step, 5 / chain.step)), n))
        start = int(seen[0]) + int(rng.integers(-points // 2, n - points // 2))
        a, b = max(start, int(seen[0])), min(start + points, int(seen[-1]) + 1)
        if b - a >= 3:
            put(rng, scene, covers, chain, a, b, rng.choice(scene.kinds), whole=b - a > 0.9 * n)
            done += b - a


def put(rng, scene, covers, chain, a, b, kind, whole=False):
    n = b - a
    tone = scene.cover_tone + rng.normal(0, scene.cover_tone_spread)
    rise = scene.cover_rise * rng.uniform(0.5, 1.2)
    wander = 0.08 * walk(rng, n, 3)
    if kind == "bridge" and not whole:
        bridges(rng, scene, covers, chain, a, b, tone, rise)
        return
    if kind in ("scales", "tongue"):
        crowd(rng, scene, covers, chain, a, b, kind, tone, rise)
        if kind == "tongue" or whole:
            covers_ribbon(rng, scene, covers, chain, a, b, tone, rise, wander, 0.97)
        return
    if kind == "silted":
        covers.silt_up(chain.ribbon(a, b, -1.0, 1.0), rng.uniform(0.2, 0.45), tone)
        return
    alpha = rng.uniform(0.8, 0.92) if kind == "filled" else rng.uniform(0.95, 1.0)
    if kind == "lip":
        side = rng.choice([-1, 1])
        inside = np.clip(rng.uniform(-0.2, 0.75) + 0.25 * walk(rng, n, 8), -0.8, 0.85)
        swell = np.sin(np.linspace(0, np.pi, n)) ** rng.uniform(0.2, 1.0)
        ribbon = chain.ribbon(a, b, side * 1.15, side * (1.1 - (1.1 + inside) * swell))
        covers.lay_on([ribbon], alpha, tone, rise)
        return
    if kind in ("flush", "film"):
        rise = 0.0
    covers_ribbon(
        rng, scene, covers, chain, a, b, tone, rise, wander, alpha, feather=kind == "feather", wide=kind != "flush"
    )
    every = np.arange(a, b)
    if kind == "fold" or (kind == "film" and rng.random() < 0.4):
        seam = rng.uniform(-0.5, 0.5) + 0.25 * walk(rng, n, 6)
        polyline(covers.lines, chain.at(every, seam), scene.seam * rng.uniform(0.6, 1.3), min(0.4 / scene.px, 3))
    if kind == "porous":
        count = int(np.clip(n * chain.step / chain.width * rng.uniform(0.5, 3), 1, 60))
        centres = chain.at(rng.integers(a, b, count), rng.uniform(-0.8, 0.8, count))
        size = np.maximum(chain.width * log_uniform(rng, 0.04, 0.2, count), 1.0)
        covers.open_up(
            place(outlines(rng, "dab", count), centres, size * rng.uniform(1, 2.5, count), size, scene.stroke)
        )
    if kind == "cracked":
        for _ in range(int(np.clip(n * chain.step / chain.width * rng.uniform(0.5, 2), 1, 30))):
            i = int(rng.integers(a, b))
            j = min(b, i + 2 + int(rng.integers(2, 2 + max(2, int(chain.width / chain.step)))))
            if j - i < 2:
                continue
            line = chain.at(np.arange(i, j), np.linspace(*rng.uniform(-1, 1, 2), j - i) + 0.1 * walk(rng, j - i, 2))
            thick = rng.uniform(0.02, 0.08) * chain.width
            if thick > max(1.5, 0.6 / scene.px):
                for canvas in (covers.alpha, covers.rise, covers.shut):
                    polyline(canvas, line, 0, thick)
            else:
                polyline(covers.lines, line, -abs(scene.seam), thick)
    if whole or rng.random() < scene.trace:
        rim = scene.rim_trace if scene.rim_trace else 0.0
        rim = np.sign(rim or 1) * max(abs(rim), 0.09 if whole else 0.0)
        for side in (-1.0, 1.0):
            polyline(
                covers.lines, chain.at(every, np.full(n, side)), rim * rng.uniform(0.6, 1.2), min(0.5 / scene.px, 3)
            )


def covers_ribbon(rng, scene, covers, chain, a, b, tone, rise, wander, alpha, feather=False, wide=True):
    n = b - a
    over = rng.uniform(1.05, 1.35) if wide else 1.08
    turn = max(1, min(n // 2, int(rng.uniform(0.1, 0.8) * chain.width / chain.step)))
    ramp = np.clip((np.minimum(np.arange(n), np.arange(n)[::-1]) + 0.5) / turn, 0, 1)
    end = np.sqrt(1 - (1 - ramp) ** 2) if rng.random() < 0.5 else np.ones(n)
    ribbon = chain.ribbon(a, b, -(over + wander) * end, (over + wander[::-1]) * end)
    covers.lay_on([ribbon], alpha, tone, rise)
    if chain.width < 5:
        return
    for at, sign in ((a, -1), (b - 1, 1)):
        count = int(rng.integers(6, 16) if feather else rng.integers(3, 9))
        aside = rng.uniform(-0.95, 0.95, count)
        slant = sign * (chain.width * scene.slant * aside + chain.width * rng.uniform(-0.1, 0.25, count))
        along = np.array([np.cos(chain.angle), np.sin(chain.angle)])
        centres = chain.at(np.full(count, at), aside) + slant[:, None] * along
        long = (
            chain.width * log_uniform(rng, 0.3, 1.8, count)
            if feather
            else chain.width * log_uniform(rng, 0.15, 0.6, count)
        )
        thin = chain.width * (log_uniform(rng, 0.04, 0.15, count) if feather else log_uniform(rng, 0.08, 0.3, count))
        way = scene.stroke if scene.drawn else chain.angle
        covers.lay_on(place(outlines(rng, scene.tip, count), centres, long, thin, way), alpha, tone, rise)


def bridges(rng, scene, covers, chain, a, b, tone, rise):
    """Bands along the stroke that cross the groove, each some tenths of the groove's width wide or more."""
    slant = max(abs(np.sin(chain.angle - scene.stroke)), 0.2)
    long = 0.5 * chain.width / slant * rng.uniform(1.1, 2.2)
    wide = chain.width * log_uniform(rng, 0.12, 0.8)
    count = int(np.clip((b - a) * chain.step * slant / (2 * wide) * rng.uniform(0.5, 1.3), 1, 60))
    centres = chain.at(rng.integers(a, b, count), rng.normal(0, 0.2, count))
    size = wide * log_uniform(rng, 0.6, 1.6, count)
    polygons = place(outlines(rng, "dab", count), centres, long * rng.uniform(0.9, 1.5, count), size, scene.stroke)
    covers.lay_on(polygons, 0.98, tone + rng.normal(0, scene.cover_tone_spread, count), rise)


def crowd(rng, scene, covers, chain, a, b, kind, tone, rise):
    """Scales or tongues that point along the stroke, each with its own tone."""
    ratio = (b - a) * chain.step / chain.width
    size = chain.width * (rng.uniform(0.15, 0.4) if kind == "scales" else rng.uniform(0.2, 0.6))
    count = int(np.clip(ratio * (chain.width / size) ** 2 * 0.35, 3, 150))
    centres = chain.at(rng.integers(a, b, count), rng.uniform(-1, 1, count))
    thin = size * log_uniform(rng, 0.5, 1.6, count)
    long = thin * log_uniform(rng, 1.2, 4.5 if kind == "tongue" else 2.5, count)
    way = scene.stroke + (np.pi if scene.backward else 0) + rng.normal(0, 0.12, count)
    tones = tone + rng.normal(0, scene.cover_tone_spread + 0.02, count)
    polygons = place(outlines(rng, "scale", count), centres, long, thin, way)
    covers.lay_on(polygons, 0.98, tones, rise * rng.uniform(0.4, 1.6, count))


def close_band(rng, scene, covers, foot, band):
    """Every groove within the band (bool, along the stroke) is closed flush or nearly so."""
    reach = int(np.clip(0.6 / scene.px, 1, 9)) * 2 + 1
    near = cv2.dilate(foot, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    hit = (near > 0) & band
    covers.alpha[hit] = rng.uniform(0.88, 1.0)
    covers.tone[hit] = scene.cover_tone
    covers.rise[hit] = 0.3 * scene.cover_rise
    covers.shut[hit] = 1
    if rng.random() < 0.6 or band.mean() > 0.5:
        edge = cv2.morphologyEx(foot, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
        covers.lines += np.where((edge > 0) & band, scene.rim_trace or 0.06, 0).astype(np.float32)
