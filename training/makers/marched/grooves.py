"""Hone grooves as a function: signed distance to wavering lines, carved by a smooth minimum of walls and floor."""

from dataclasses import dataclass

import numpy as np

from .frame import Frame
from .noise import Textures, smooth_min, smoothstep


@dataclass(frozen=True)
class Style:
    """What the grooves of a field have in common; lengths in µm, wall in degrees from the plateau."""

    depth: float
    width: float
    wall_deg: float
    gap: float
    scatter: float
    waver: float
    ends: float
    taper: float
    rim: float

    @classmethod
    def drawn(cls, rng: np.random.Generator, frame: Frame) -> "Style":
        widest = float(np.clip(0.13 * frame.span_um, 4, 60))
        width = np.exp(rng.uniform(np.log(max(1.5, 3 * frame.pixel_um)), np.log(widest)))
        # A groove that is nowhere deeper than the limit of a valley would be a finishing mark: its walls must reach 0.5 µm.
        least = np.rad2deg(np.arctan(1.6 / width))
        wall = np.exp(rng.uniform(np.log(max(6, least)), np.log(75)))
        depth = min(np.exp(rng.uniform(np.log(0.7), np.log(10))), 0.5 * width * np.tan(np.deg2rad(wall)))
        return cls(
            depth=float(depth),
            width=float(width),
            wall_deg=float(wall),
            gap=float(min(width * np.exp(rng.uniform(np.log(0.7), np.log(7))), 0.3 * frame.span_um)),
            scatter=float(rng.uniform(0.15, 0.6)),
            waver=float(width * np.exp(rng.uniform(np.log(0.01), np.log(0.15)))),
            ends=float(rng.uniform(-2.6, -0.4)),
            taper=float(rng.uniform(0.3, 1.6)),
            rim=float(rng.choice([0, 1]) * np.exp(rng.uniform(np.log(0.05), np.log(0.6)))),
        )


@dataclass
class Carved:
    """depth: µm below the plateau; edge: µm inside the nearest rim (negative outside); side: signed µm from the centre
    line; along: µm along the groove; key: the groove's number; rim: height of the torn rims, µm."""

    depth: np.ndarray
    edge: np.ndarray
    side: np.ndarray
    along: np.ndarray
    key: np.ndarray
    rim: np.ndarray


def groove_depth(edge: np.ndarray, floor: np.ndarray, wall_deg: float) -> np.ndarray:
    """µm below the plateau at a distance inside the rim: a plane wall that runs out into the floor."""
    wall = np.maximum(edge, 0) * np.float32(np.tan(np.deg2rad(wall_deg)))
    return np.maximum(smooth_min(wall, floor, 0.3 * floor + 1e-3), 0)


def carve(rng: np.random.Generator, frame: Frame, textures: Textures, lays: list[tuple[float, float]], style: Style) -> Carved:
    """All bands, each given as direction in degrees and strength 0–1 (depth and number of its grooves)."""
    made = None
    for band, (direction, strength) in enumerate(lays):
        along, across = frame.turned(direction)
        bend = style.width * np.exp(rng.uniform(np.log(0.1), np.log(2)))
        shift = rng.uniform(0, 40, 2)
        length = frame.span_um * rng.uniform(0.8, 3)
        across = across + np.float32(bend) * 0.3 * textures.smooth_noise(along / length + shift[0], across / length + shift[1])
        half = frame.span_um / 2 + 2 * style.width
        count = int(np.clip(2 * half / (style.width + style.gap) * (0.4 + 0.6 * strength), 2, 160))
        steps = rng.gamma(rng.choice([0.8, 2, 8]), size=count)
        centres = -half + 2 * half * np.cumsum(steps) / (steps.sum() + steps.mean())
        widths = np.maximum(style.width * np.exp(rng.normal(0, style.scatter, count)), 1.5).clip(max=60)
        depths = (style.depth * (0.35 + 0.65 * strength) * np.exp(rng.normal(0, style.scatter, count))).clip(0.2, 10)
        # Every other groove in a layer of its own, so that neighbours in a group may overlap.
        for layer in (0, 1):
            own = slice(layer, None, 2)
            c, w, d = (a[own].astype(np.float32) for a in (centres, widths, depths))
            table = np.abs(np.linspace(-half, half, 2048)[:, None] - c).argmin(1)
            at = table[np.clip((across + half) * (2047 / (2 * half)), 0, 2047).astype(np.int32)]
            row = at.astype(np.float32) * 1.37 + band * 7.7 + layer * 19.3
            side = across - c[at] - np.float32(style.waver) * textures.smooth_noise(along / (14 * style.width), row)
            slow = textures.noise(along / (0.22 * frame.span_um + 6 * style.width), row + 0.5)
            # A grit leaves the ground slowly and its edges first: an end is a narrowing tip, torn in furrows, no square cut.
            furrow = textures.noise(along / (5 * style.width), side / (0.12 * style.width) + row)
            fade = smoothstep(slow + 0.25 * style.taper * furrow, style.ends, style.ends + style.taper)
            lean = smoothstep(slow, style.ends - 0.1, style.ends + 2.2 * style.taper)
            half_width = w[at] * (0.5 + 0.04 * textures.noise(along / (1.5 * style.width), row + 5))
            edge = half_width * (0.15 + 0.85 * lean) - np.abs(side)
            depth = groove_depth(edge, d[at] * fade + np.float32(1e-3), style.wall_deg)
            torn = np.maximum(textures.noise(along / 3, row + 9 + np.sign(side)) + 0.4, 0)
            rim = np.float32(style.rim) * fade * torn * np.exp(-((edge / np.float32(0.5 + 0.06 * style.width)) ** 2))
            key = (2 * at + layer + 400 * band).astype(np.float32)
            new = Carved(depth, edge, side, along, key, rim)
            if made is None:
                made = new
                continue
            # By depth inside a groove, else by the nearer rim.
            over = np.where(np.maximum(depth, made.depth) > 0.02, depth > made.depth, edge > made.edge)
            made = Carved(
                *(np.where(over, getattr(new, name), getattr(made, name)) for name in ("depth", "edge", "side", "along", "key")),
                rim=np.maximum(rim, made.rim),
            )
    return made
