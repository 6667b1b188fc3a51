"""Grooves as chains: a jittered line with two edges, filled and dabbed along its way."""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.stamped_bank import fixed, log_uniform, outlines, place, polyline, press, walk


@dataclass(kw_only=True)
class Chain:
    """centre, normal (n, 2) px; left, right (n) px from the centre to either edge; step px between points;
    width px; depth µm; lay 0 or 1; seen: indices within the picture."""

    centre: np.ndarray
    normal: np.ndarray
    left: np.ndarray
    right: np.ndarray
    step: float
    width: float
    depth: float
    lay: int
    angle: float
    seen: np.ndarray

    def at(self, index, side):
        """Points at fractions side (-1 left edge, 1 right edge) of the half-width."""
        side = np.asarray(side, float)
        off = np.where(side < 0, side * self.left[index], side * self.right[index])
        return self.centre[index] + self.normal[index] * off[:, None]

    def ribbon(self, start, stop, low, high):
        index = np.arange(start, stop)
        one = np.ones(index.size)
        return np.concatenate([self.at(index, low * one), self.at(index, high * one)[::-1]])


def lay_chains(rng, scene, lay, angle, cover, width_um, spread):
    """Chains of one lay (angle in rad) that take about the share `cover` of the area."""
    h, w = scene.shape
    reach = 0.5 * np.hypot(h, w)
    smallest = max(2.0, 2.2 * scene.px)
    chains, spent = [], 0.0
    across = np.array([-np.sin(angle), np.cos(angle)])
    along = np.array([np.cos(angle), np.sin(angle)])
    wide = 0.5 * (abs(w * across[0]) + abs(h * across[1]))
    bent, wavy = scene.bend, scene.wave
    clusters = rng.uniform(-wide, wide, 1 + int(rng.integers(2, 12)))
    for _ in range(220):
        if spent >= cover * 2 * wide:
            break
        width = float(np.clip(width_um * np.exp(spread * rng.standard_normal()), smallest, 60)) / scene.px
        spent += width
        place_at = rng.uniform(-wide, wide)
        if rng.random() < scene.cluster:
            place_at = rng.choice(clusters) + rng.normal(0, 2.5 * width)
        step = max(1.5, min(width * scene.fine, 5.0), reach / 350)
        t = np.arange(-reach - step, reach + step, step)
        n = t.size
        tilt = rng.normal(0, scene.fan)
        off = (
            place_at
            + tilt * t
            + bent * t**2 / reach
            + min(wavy * width, 0.02 * reach) * walk(rng, n, reach / step * 0.3)
        )
        off += scene.jitter * width * walk(rng, n, width / step)
        centre = np.array([w / 2, h / 2]) + t[:, None] * along + off[:, None] * across
        seen = np.flatnonzero(((centre > -2) & (centre < [w + 2, h + 2])).all(axis=1))
        if seen.size < 4:
            continue
        half = 0.5 * width * (1 + 0.18 * walk(rng, n, 4 * width / step))
        if rng.random() < scene.ends:
            a, b = np.sort(rng.choice(t[seen], 2))
            taper = np.clip((t - a) / (3 * width), 0, 1) * np.clip((b - t) / (3 * width), 0, 1)
            half = half * (np.sqrt(taper) if rng.random() < 0.7 else 1 - np.sqrt(taper))
        rough = scene.chipped * width * 0.09
        left, right = (
            np.maximum(half + rough * walk(rng, n, k), 0)
            for k in np.maximum(width * log_uniform(rng, 0.12, 1.2, 2) / step, 1)
        )
        left, right = np.where(half > 0.4, left, 0), np.where(half > 0.4, right, 0)
        depth = float(log_uniform(rng, *scene.depths))
        if 0.4 < depth < 0.6:
            depth = 0.35 if depth < 0.5 else 0.65
        if depth < 0.5 and scene.smears:  # a wide faint mark would look like a closed groove
            if rng.random() < 0.7:
                depth = 0.7
            else:
                thin = min(1.0, max(1.5 / scene.px, 1.2) / width)
                left, right = left * thin, right * thin
                left, right = np.maximum(left, 0.6), np.maximum(right, 0.6)
        alive = np.minimum(left, right) > 0
        cuts = np.flatnonzero(np.diff(alive.astype(int))) + 1
        for part in np.split(np.arange(n), cuts):
            visible = np.flatnonzero(np.isin(part, seen))
            if not alive[part[0]] or visible.size < 4:
                continue
            chains.append(
                Chain(
                    centre=centre[part],
                    normal=np.broadcast_to(across, (part.size, 2)),
                    left=left[part],
                    right=right[part],
                    step=step,
                    width=width,
                    depth=depth,
                    lay=lay,
                    angle=angle,
                    seen=visible,
                )
            )
        if chains and chains[-1].seen.size > 30 and rng.random() < scene.forks:
            chains.append(fork(rng, chains[-1]))
            spent += 0.4 * width
    return chains


def fork(rng, chain):
    """A thinner branch that leaves the chain somewhere and runs off at a small angle."""
    start = int(rng.choice(chain.seen))
    branch = np.arange(start, len(chain.centre))
    if branch.size < 8:
        branch = np.arange(0, start + 1)[::-1]
    off = rng.choice([-1, 1]) * rng.uniform(0.03, 0.15) * np.arange(branch.size) * chain.step
    centre = chain.centre[branch] + off[:, None] * chain.normal[branch]
    thin = rng.uniform(0.3, 0.7)
    seen = np.flatnonzero(np.isin(branch, chain.seen))
    return Chain(
        centre=centre,
        normal=chain.normal[branch],
        left=thin * chain.left[branch],
        right=thin * chain.right[branch],
        step=chain.step,
        width=thin * chain.width,
        depth=chain.depth,
        lay=chain.lay,
        angle=chain.angle,
        seen=seen,
    )


def strength_of(depth):
    """How strongly a groove shows; it jumps at 0.5 µm, the limit of an open valley."""
    return 0.08 + 0.25 * depth if depth < 0.5 else min(1.0, 0.62 + 0.12 * depth)


def engrave(rng, scene, chain, tone, foot):
    """Press one chain: tone gets the contrast against the plateau, foot (uint8) the footprint where it is deep enough."""
    look = scene.look
    s = strength_of(chain.depth)
    deep = chain.depth >= 0.5
    n = len(chain.centre)
    floor = look.floor * s * rng.uniform(0.75, 1.25)
    if chain.width < 7 and abs(look.floor) < 0.1:
        floor = s * np.copysign(0.16, look.floor)
    if chain.depth > look.starve_depth:
        floor -= 0.12
    body = chain.ribbon(0, n, -1, 1)
    cv2.fillPoly(tone, [fixed(body)], float(floor), shift=3)
    if deep:
        cv2.fillPoly(foot, [fixed(body)], 1, shift=3)
    lit = float(chain.normal[0] @ look.light)
    every = np.arange(n)
    if chain.width > 4:
        inner = look.wall * rng.uniform(0.7, 1.1)
        for side, sign in ((-1, -1), (1, 1)):
            shade = floor - sign * lit * look.relief * s
            wall = chain.ribbon(0, n, side, side * (1 - inner))
            cv2.fillPoly(tone, [fixed(wall)], float(shade), shift=3)
    if look.bowl and chain.width > 9:
        for rise in (0.75, 0.55, 0.35):
            bowl = chain.ribbon(0, n, -rise + 0.05 * walk(rng, n, 9), rise + 0.05 * walk(rng, n, 9))
            deeper = floor * (1.55 - 0.6 * rise) - (0.3 * rise * lit * look.relief * s)
            cv2.fillPoly(tone, [fixed(bowl)], float(deeper), shift=3)
    for _ in range(int(rng.poisson(look.strands)) if chain.width > 5 else 0):
        side = rng.uniform(-0.85, 0.85) + 0.1 * walk(rng, n, 20)
        a, b = np.sort(rng.integers(0, n, 2))
        thick = min(chain.width * rng.uniform(0.02, 0.1), 4)
        polyline(tone, chain.at(every, side)[a:b], floor + s * look.rough * rng.normal(0, 1.3), thick)
    long = float(np.clip(chain.seen.size * chain.step / chain.width, 1, 150))
    count = int(np.clip(long * look.dabs, 0, 160)) if chain.width > 3.5 else 0
    if count:
        pick = rng.choice(chain.seen, count)
        centres = chain.at(pick, rng.uniform(-0.7, 0.7, count))
        kind = rng.choice(look.floor_kinds)
        size = chain.width * log_uniform(rng, 0.06, 0.3, count)
        stretch = log_uniform(rng, 1, look.stretch, count)
        polygons = place(
            outlines(rng, kind, count), centres, size * stretch, size, chain.angle + rng.normal(0, 0.15, count)
        )
        tones = floor + s * look.rough * rng.standard_normal(count)
        if rng.random() < look.graphite:
            tones = np.where(rng.random(count) < 0.25, floor - 0.3, tones)
        press(tone, polygons, tones)
        if deep:
            press(foot, polygons, 1)
    chips = int(np.clip(long * look.chips, 0, 80)) if chain.width > 5 else 0
    if chips:
        pick = rng.choice(chain.seen, chips)
        centres = chain.at(pick, rng.choice([-1.0, 1.0], chips))
        size = chain.width * log_uniform(rng, 0.04, 0.16, chips)
        size = np.where(chain.left[pick] > 0.4, size, 0.01)
        polygons = place(outlines(rng, "chip", chips), centres, size * rng.uniform(1, 3, chips), size, chain.angle)
        press(tone, polygons, floor + s * look.rough * rng.standard_normal(chips))
        if deep:
            press(foot, polygons, 1)
    if look.rim:
        thick = max(1.0, look.rim_um / scene.px)
        for side, sign in ((-1.0, -1), (1.0, 1)):
            bright = s * (look.rim + 0.5 * sign * lit * look.relief) * rng.uniform(0.6, 1.2)
            points = chain.at(every, np.full(n, side))
            keep = walk(rng, n, 3 * chain.width / chain.step + 6) > look.rim_gap
            keep &= chain.left > 0.4
            cuts = np.flatnonzero(np.diff(keep.astype(int))) + 1
            for part in np.split(every, cuts):
                if keep[part[0]] and part.size > 1:
                    polyline(tone, points[part], bright, thick)
