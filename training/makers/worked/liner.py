"""The liner as honed: two bands of straight grooves, placed at random at two angles, mirrored about the direction across
the stroke (Puente León, CIRP Annals 51 (2002) 503).

A groove's depth and its wall slope set its width: honed walls slope 6-27°, a few up to 45°; depths are 1-10 µm, less on
fine finishes (from memory). The included hone angle is 30-60°, or 140-150° for helical slide honing (from memory).
Lengths are in µm and angles in radians; each lay is drawn on a square canvas of its own, whose columns run along the lay.
"""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Finish:
    """Population of grooves: share of the ground per lay, median depth in µm, and what the stones left between them."""

    name: str
    share: tuple[float, float]
    depth_um: tuple[float, float]
    peaks: float
    scratches: tuple[float, float]


FINISHES = (
    Finish("rough", (0.16, 0.32), (1.6, 4.0), 0.20, (0.1, 0.6)),
    Finish("plateau", (0.10, 0.22), (1.5, 3.5), 0.10, (0.0, 0.6)),
    Finish("very fine", (0.06, 0.16), (0.8, 1.5), 0.06, (0.2, 1.0)),
)


@dataclass(frozen=True)
class Frame:
    """Where a field lies: its grid, its pixel size and the stroke's direction on the screen."""

    shape: tuple[int, int]
    pixel_size_um: float
    stroke: float

    @property
    def side(self) -> int:
        return int(np.ceil(np.hypot(*self.shape))) + 8

    def turn(self, canvas: np.ndarray, direction: float, *, along: float = 1.0, across: float = 1.0) -> np.ndarray:
        """The canvas, whose columns run in `direction`, as seen in the field; one cell is along × across pixels."""
        rows, cols = self.shape
        cos, sin = np.cos(direction), np.sin(direction)
        matrix = np.array([[cos / along, sin / along, 0], [-sin / across, cos / across, 0]])
        matrix[:, 2] = np.array(canvas.shape[1::-1]) / 2 - matrix[:, :2] @ [cols / 2, rows / 2]
        flags = (cv2.INTER_LINEAR if along == across else cv2.INTER_CUBIC) | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(canvas, matrix, (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT)

    def streaks(self, rng: np.random.Generator, direction: float, *, long_px: float, wide_px: float) -> np.ndarray:
        """Noise of unit spread, drawn out in `direction`."""
        cells = (int(self.side / wide_px) + 4, int(self.side / long_px) + 4)
        noise = self.turn(rng.standard_normal(cells, dtype=np.float32), direction, along=long_px, across=wide_px)
        return noise / (noise.std() + 1e-6)

    def across_um(self) -> np.ndarray:
        """Distance from the field's middle across the stroke, µm."""
        rows, cols = self.shape
        x = (np.arange(cols, dtype=np.float32) - cols / 2) * -np.sin(self.stroke)
        y = (np.arange(rows, dtype=np.float32) - rows / 2) * np.cos(self.stroke)
        return ((x[None] + y[:, None]) * self.pixel_size_um).astype(np.float32)


@dataclass(frozen=True)
class Groove:
    place_px: float
    width_um: float
    depth_um: float
    floor: float
    power: float
    ragged: float
    seed: int

    def depth(self, frame: Frame, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Depth below the honed plateau, and place across the groove from -1 (rim) to 1 (rim), over canvas rows."""
        rng = np.random.default_rng(self.seed)
        side = frame.side
        half_px = self.width_um / frame.pixel_size_um / 2
        slow, quick = wave(rng, side, 120), wave(rng, side, max(4.0, half_px))
        half = half_px * (1 + 0.10 * slow + self.ragged * quick)
        middle = self.place_px + 0.08 * half_px * wave(rng, side, 90) + 0.5 * self.ragged * half_px * quick
        place = (rows[:, None] - middle[None]) / np.maximum(half, 0.3 * half_px)[None]
        inward = np.clip((1 - np.abs(place)) / (1 - self.floor), 0, 1)
        return self.depth_um * (1 + 0.12 * slow)[None] * inward**self.power, place


@dataclass(frozen=True)
class Liner:
    frame: Frame
    finish: Finish
    hone_angle: float
    lays: tuple[float, ...]
    grooves: tuple[tuple[Groove, ...], ...]


def wave(rng: np.random.Generator, side: int, length_px: float) -> np.ndarray:
    """Noise along a line, of two lengths, spread about one."""
    line = np.zeros(side)
    for length, part in ((length_px, 0.9), (max(1.5, length_px / 3.1), 0.45)):
        knots = rng.standard_normal(int(side / length) + 4)
        line += part * np.interp(np.arange(side) / length, np.arange(len(knots)), knots)
    return line.astype(np.float32)


def hone(rng: np.random.Generator, frame: Frame) -> Liner:
    """A liner, freshly honed."""
    finish = FINISHES[rng.choice(3, p=(0.35, 0.4, 0.25))]
    angle = np.radians(rng.uniform(140, 150) if rng.random() < 0.2 else rng.uniform(30, 60))
    across = frame.stroke + np.pi / 2
    lays = (across - angle / 2, across + angle / 2)
    if rng.random() < 0.1:
        lays = (lays[rng.integers(2)],)
    usual = rng.uniform(*finish.depth_um) * np.clip((frame.pixel_size_um / 0.6) ** 0.35, 0.55, 1.4)
    share, ragged = rng.uniform(*finish.share), rng.choice((0.02, 0.06, 0.13), p=(0.4, 0.4, 0.2))
    floor, power = rng.choice((0.0, 0.15, 0.4)), rng.choice((1.0, 0.7, 1.3))
    shares = share * np.array([1.0, rng.uniform(0.4, 1.0)])[rng.permutation(2)]
    return Liner(
        frame=frame,
        finish=finish,
        hone_angle=float(angle),
        lays=tuple(float(lay) for lay in lays),
        grooves=tuple(_band(rng, frame, usual, share, (floor, power, ragged)) for share in shares[: len(lays)]),
    )


def _band(
    rng: np.random.Generator, frame: Frame, usual: float, share: float, form: tuple[float, float, float]
) -> tuple[Groove, ...]:
    span_um = min(frame.shape) * frame.pixel_size_um
    taken, grooves, floor = 0.0, [], form[0]
    steep = 0.12 if span_um > 60 else 0.5
    while taken < share * frame.side * frame.pixel_size_um or len(grooves) < 3:
        slope = np.tan(np.radians(rng.uniform(27, 45) if rng.random() < steep else rng.uniform(6, 27)))
        depth = usual * rng.lognormal(0, 0.5) * (0.5 if rng.random() < 0.35 else 1.0)
        width = 2 * depth / (1 - floor) / slope
        width = np.clip(width, 3.2 * frame.pixel_size_um, 0.025 * 5 ** rng.uniform(0, 1) * span_um)
        half_wall = width / 2 * (1 - floor)
        depth = np.clip(depth, half_wall * np.tan(np.radians(6)), min(half_wall * max(slope, 0.36), 10))
        if 0.3 < depth < 0.8 and rng.random() < 0.7:
            depth = min(0.8, half_wall)
        taken += width
        place, seed = rng.uniform(0, frame.side), int(rng.integers(2**32))
        grooves.append(Groove(place, float(width), float(depth), *map(float, form), seed))
    return tuple(grooves)
