"""Hone grooves as vectors: a centre line, two ragged rims, two wall slopes and a depth that may fade."""

from dataclasses import dataclass

import numpy as np

OPEN_UM = 0.5
"""Ground at least this far below the local plateau is open valley, µm."""
WIDTH_UM = (2.0, 60.0)
DEPTH_UM = (0.2, 10.0)
SLOPE_DEG = (6.0, 27.0)


@dataclass(frozen=True, kw_only=True)
class Groove:
    """points (n, 2) of the centre line, x and y in canvas px; normal: unit vector to the side of the first rim; rims (2, n):
    distance from the centre line to either rim, µm; depth (n,) µm; slopes: the walls' angles, rad; canvas_um: µm a canvas px."""

    points: np.ndarray
    normal: np.ndarray
    rims: np.ndarray
    depth: np.ndarray
    slopes: tuple[float, float]
    canvas_um: float

    def offsets(self, below_um: float) -> np.ndarray:
        """Distances (2, n) in µm from the centre line at which either wall has come this far down; negative beyond the middle."""
        return self.rims - below_um / np.tan(self.slopes)[:, None]

    def runs(self, below_um: float, least_points: int = 2) -> list[slice]:
        """The stretches in which there is ground deeper than this."""
        there = (self.depth > below_um) & (self.offsets(below_um).sum(axis=0) > 0)
        edges = np.flatnonzero(np.diff(np.r_[False, there, False]))
        return [slice(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= least_points]

    def at(self, offset_um: np.ndarray, run: slice = slice(None)) -> np.ndarray:
        """Canvas points at signed distances (µm) from the centre line."""
        return self.points[run] + (offset_um / self.canvas_um)[:, None] * self.normal

    def contour(self, below_um: float) -> list[np.ndarray]:
        """Polygons round the ground deeper than this: exact depth contours of the groove."""
        first, second = self.offsets(below_um)
        return [np.vstack([self.at(first[run], run), self.at(-second[run], run)[::-1]]) for run in self.runs(below_um)]

    def walls(self, below_um: float) -> list[tuple[np.ndarray, np.ndarray]]:
        """The same ground split where the walls would meet, so that each half takes its own wall's shade."""
        first, second = self.offsets(below_um)
        t1, t2 = np.tan(self.slopes)
        middle = (t1 * self.rims[0] - t2 * self.rims[1]) / (t1 + t2)
        halves = []
        for run in self.runs(below_um):
            spine = self.at(middle[run], run)[::-1]
            halves.append((np.vstack([self.at(first[run], run), spine]), np.vstack([self.at(-second[run], run), spine])))
        return halves


def ragged(rng: np.random.Generator, n: int, smooth: int) -> np.ndarray:
    """Noise of unit spread along a line of n points."""
    kernel = np.hanning(smooth + 2)[1:-1]
    noise = np.convolve(rng.standard_normal(n + len(kernel)), kernel / np.sqrt((kernel**2).sum()), "same")
    return noise[:n]


def _fade(rng: np.random.Generator, n: int, torn: float, least_ease: float) -> np.ndarray:
    """Share (n,) of the depth that is left along a groove: most run on, some end, some fade in or out."""
    fade = np.ones(n)
    along = np.linspace(0, 1, n)
    for flip in (1, -1):
        if rng.random() < 0.22:
            end, ease = rng.uniform(0.15, 0.55), max(least_ease, 10 ** rng.uniform(-1.8, -0.3))
            fade *= np.clip((along[::flip] - end) / ease, 0, 1)
    return np.clip(fade * (1 + torn * 0.5 * ragged(rng, n, 9)), 0, 1.3)


def one(rng, *, centre, lay_deg, reach, width_um, depth_um, canvas_um, torn, wave) -> Groove:
    """A groove through `centre` (canvas px) at lay_deg, `reach` px to either side."""
    step = float(np.clip(0.3 * width_um / canvas_um, 8, 22))
    along = np.arange(-reach, reach + step, step)
    n = len(along)
    angle = np.radians(lay_deg)
    direction, normal = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    bend = wave * width_um / canvas_um * np.sin(2 * np.pi * along / (reach * rng.uniform(0.4, 3)) + rng.uniform(0, 7))
    points = centre + along[:, None] * direction + bend[:, None] * normal
    low, high = SLOPE_DEG
    slopes = tuple(np.radians(np.clip(rng.normal(19, 5, 2), low, high)))
    fade = _fade(rng, n, torn, 1.2 * width_um / canvas_um / reach)
    rims = 0.5 * width_um * np.sqrt(np.clip(fade, 0.01, 1)) * np.ones((2, 1))
    rims = rims * (1 + np.stack([torn * ragged(rng, n, 3) + 0.5 * torn * ragged(rng, n, 14) for _ in range(2)]).clip(-0.6, 0.7))
    meet = width_um / sum(1 / np.tan(s) for s in slopes)
    depth = np.clip(min(depth_um, 0.96 * meet, DEPTH_UM[1]) * fade, 0, DEPTH_UM[1])
    return Groove(points=points, normal=normal, rims=rims, depth=depth, slopes=slopes, canvas_um=canvas_um)


def two_bands(rng, *, look: str, shape, canvas_um: float, stroke_deg: float, included_deg: float) -> list[Groove]:
    """Both bands over a canvas of this shape: many thin grooves in the survey look, a few wide ones in the close look. The
    included angle is bisected by the circumference, across the stroke."""
    rows, cols = shape
    reach = 0.5 * np.hypot(rows, cols)
    weak = 10 ** rng.uniform(-1.3, 0) if rng.random() < 0.35 else rng.uniform(0.6, 1)
    strong_first = rng.random() < 0.5
    typical_px = 2 * (rng.uniform(4.5, 9) if look == "survey" else 10 ** rng.uniform(1.65, 2.15))
    spread = rng.uniform(0.1, 0.4)
    torn = 10 ** rng.uniform(-2, -0.85)
    wave = rng.choice([0, 0.05, 0.2])
    pitch = rng.uniform(1.7, 4.5) if look == "survey" else rng.uniform(2.0, 4.5)
    slimmest_um = 4.3 if look == "survey" else WIDTH_UM[0]
    grooves = []
    for band, turn in enumerate((-0.5, 0.5)):
        lay = stroke_deg + 90 + turn * included_deg
        share = 1 if (band == 0) == strong_first else weak
        gap = pitch * typical_px / share
        normal = np.array([-np.sin(np.radians(lay)), np.cos(np.radians(lay))])
        # A close view is taken of something: a groove of the strong band is near the middle.
        at = -reach - rng.uniform(0, gap)
        if look == "close" and share == 1:
            at = rng.normal(0, 0.12) * min(shape) - gap * np.ceil(reach / gap)
        grouped = rng.random() < 0.5
        while (at := at + gap * (rng.choice([0.35, 0.5, 2.4]) if grouped else 1) * rng.gamma(3, 1 / 3)) < reach:
            width = typical_px * canvas_um * np.exp(rng.normal(0, spread))
            if rng.random() < 0.15:
                width *= rng.uniform(0.3, 0.6)
            width = float(np.clip(width, max(slimmest_um * rng.uniform(1, 1.3), WIDTH_UM[0]), WIDTH_UM[1]))
            depth = width * 10 ** rng.uniform(-1.15, -0.55)
            depth = float(np.clip(depth, rng.choice([0.25, 0.7, 0.9]), DEPTH_UM[1]))
            centre = np.array([cols / 2, rows / 2]) + at * normal
            grooves.append(
                one(rng, centre=centre, lay_deg=lay + rng.normal(0, 0.8), reach=1.1 * reach, width_um=width, depth_um=depth,
                    canvas_um=canvas_um, torn=torn * rng.uniform(0.5, 1.6), wave=wave)
            )
    # Fading in from one end and out to the other may leave nothing.
    return [groove for groove in grooves if groove.depth.max() > 0.1]
