"""What all styles share: the finish of a specimen, the facts of a field, random fields, and blemish shapes.

Directions are in degrees in [0, 180), 0 along a row, anticlockwise on the screen. A line has along-vector
(col, row) = (cos, -sin) and normal (col, row) = (sin, cos); coordinates have their origin in the picture's centre.
"""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from scipy import fft

STYLES = ("event", "section", "hybrid")
PLATEAU, OPEN_VALLEY, SMEARED, SCUFFED, NOT_ASSESSED = 0, 1, 2, 3, 255
VALLEY_DEPTH_UM = 0.5

# Share of groove length closed and plateau removed (µm) in the track; ranges are this maker's own choice.
SEVERITIES = {
    "light": ((0.0, 0.08), (0.03, 0.2)),
    "moderate": ((0.12, 0.4), (0.15, 0.5)),
    "heavy": ((0.4, 0.75), (0.3, 0.9)),
    "closed": ((0.94, 1.0), (0.3, 0.8)),
    "scuffed": ((0.15, 0.6), (0.2, 0.8)),
}


@dataclass(frozen=True, kw_only=True)
class Finish:
    """The finish that all fields of one specimen share, and how its track was run."""

    specimen: str
    style: str
    stroke_deg: float
    axial_speed_m_per_min: float
    peripheral_speed_m_per_min: float
    balance: float  # share of grooves in the first lay
    valley_target: float  # share of the unrun surface that is open valley
    groove_width_um: float  # median width at 0.5 µm below the plateau
    groove_slope: float  # tangent of the wall
    flakes_per_mm2: float
    pits_per_mm2: float
    residue: float  # how much dark residue lies in valleys, 0..1
    floor_roughness: float  # 0..1
    severity: str
    pixel_size_um: float
    kv: float
    detector: str
    tilt_deg: float

    @property
    def hone_angle_deg(self) -> float:
        """Included angle bisected by the circumference: tan(angle/2) = axial speed / peripheral speed."""
        return float(2 * np.degrees(np.arctan2(self.axial_speed_m_per_min, self.peripheral_speed_m_per_min)))

    @property
    def lays_deg(self) -> tuple[float, float]:
        """Directions of the two lays, each half the hone angle from the direction across the stroke."""
        across = self.stroke_deg + 90.0
        half = self.hone_angle_deg / 2
        return (across + half) % 180.0, (across - half) % 180.0


@dataclass(frozen=True, kw_only=True)
class FieldFacts:
    """One field to be made: its specimen's finish, zone, grid and hard cases."""

    finish: Finish
    zone: str
    shape: tuple[int, int]
    pixel_size_um: float
    closed_share: float  # 0 out of the track
    wear_um: float  # 0 out of the track
    scuffed_target: float
    stroke_scratches: int
    stains: int
    debris: int
    without_valleys: bool

    @property
    def worn(self) -> bool:
        return self.zone == "in-track"


@dataclass(frozen=True, kw_only=True)
class Picture:
    """Signal (rows, cols) float32, arbitrary unit; codes (rows, cols) uint8; groove area of either lay, px."""

    signal: np.ndarray
    codes: np.ndarray
    lay_areas_px: tuple[float, float]
    facts: dict


def draw_finish(specimen: str, style: str, rng: np.random.Generator) -> Finish:
    """Draw the finish of one specimen.

    Hone angles of 30–60° are usual and 140–150° occur in helical slide honing (from memory, no source); a few between.
    """
    kind = rng.random()
    angle = rng.uniform(30, 60) if kind < 0.75 else rng.uniform(138, 150) if kind < 0.87 else rng.uniform(60, 100)
    peripheral = rng.uniform(15, 60)
    stroke = 90.0 if rng.random() < 0.45 else rng.normal(90, 3) if rng.random() < 0.7 else rng.uniform(0, 180)
    return Finish(
        specimen=specimen, style=style, stroke_deg=float(stroke % 180),
        axial_speed_m_per_min=float(peripheral * np.tan(np.radians(angle / 2))),
        peripheral_speed_m_per_min=float(peripheral),
        balance=float(rng.uniform(0.35, 0.65)), valley_target=float(np.exp(rng.uniform(np.log(0.05), np.log(0.30)))),
        groove_width_um=float(rng.uniform(7, 18)), groove_slope=float(np.tan(np.radians(rng.uniform(9, 27)))),
        flakes_per_mm2=float(rng.choice([0, 40, 120, 300])), pits_per_mm2=float(rng.choice([0, 15, 60, 200])),
        residue=float(rng.choice([0, 0.3, 0.6, 1.0])), floor_roughness=float(rng.uniform(0.1, 1)),
        severity=str(rng.choice(list(SEVERITIES), p=[0.2, 0.28, 0.27, 0.1, 0.15])),
        pixel_size_um=float(0.14 * (1.6 / 0.14) ** rng.beta(2.2, 1.5)),
        kv=float(rng.choice([5, 10, 15, 20])), detector=str(rng.choice(["SE", "SE", "SE", "BSE"])),
        tilt_deg=float(rng.choice([0, 0, 0, 2, 5])),
    )


def draw_field(finish: Finish, zone: str, shape: tuple[int, int], rng: np.random.Generator) -> FieldFacts:
    """Draw one field of a specimen; now and then at twice or half the specimen's pixel size."""
    worn = zone == "in-track"
    share, wear = SEVERITIES[finish.severity]
    pixel = finish.pixel_size_um * (rng.choice([0.5, 2.0]) if rng.random() < 0.1 else rng.uniform(0.98, 1.02))
    scuffed = finish.severity == "scuffed" and worn
    return FieldFacts(
        finish=finish, zone=zone, shape=shape, pixel_size_um=float(np.clip(pixel, 0.12, 1.8)),
        closed_share=float(rng.uniform(*share)) if worn else 0.0, wear_um=float(rng.uniform(*wear)) if worn else 0.0,
        scuffed_target=float(rng.uniform(0.03, 0.4)) if scuffed else 0.0,
        stroke_scratches=int(rng.poisson(2.5 if worn else 0.4)), stains=int(rng.random() < 0.18) * int(rng.integers(1, 4)),
        debris=int(rng.poisson(0.8)), without_valleys=bool(rng.random() < 0.04),
    )


@lru_cache(maxsize=4)
def _frequencies(shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    rows, cols = shape
    return (np.fft.fftfreq(rows).astype(np.float32)[:, None], np.fft.rfftfreq(cols).astype(np.float32)[None, :])


def filtered_noise(shape: tuple[int, int], rng: np.random.Generator, transfer) -> np.ndarray:
    """Return noise (rows, cols) float32, zero mean, unit spread, filtered by ``transfer(frow, fcol)`` in cycles/px.

    The canvas is padded by an eighth so that opposite edges of the picture don't match.
    """
    padded = tuple(fft.next_fast_len(int(n * 1.125) + 16, real=True) for n in shape)
    spectrum = fft.rfft2(rng.standard_normal(padded, dtype=np.float32))
    spectrum *= transfer(*_frequencies(padded))
    spectrum[0, 0] = 0
    noise = fft.irfft2(spectrum, s=padded)[: shape[0], : shape[1]]
    return (noise / max(float(noise.std()), 1e-12)).astype(np.float32)


def fractal(shape, rng, *, slope: float, longest_px: float) -> np.ndarray:
    """Isotropic noise with amplitude falling as frequency^-slope below wavelength ``longest_px``."""
    return filtered_noise(shape, rng, lambda fr, fc: (fr**2 + fc**2 + longest_px**-2.0) ** (-slope / 2))


def streaks(shape, rng, *, direction_deg: float, length_px: float, width_px: float) -> np.ndarray:
    """Noise drawn out along a direction: Gaussian correlation of the given length and width, px."""
    angle = np.radians(direction_deg)

    def transfer(frow, fcol):
        along, across = fcol * np.cos(angle) - frow * np.sin(angle), fcol * np.sin(angle) + frow * np.cos(angle)
        return np.exp(-2 * (np.pi * length_px * along / 2) ** 2 - 2 * (np.pi * width_px * across / 2) ** 2)

    return filtered_noise(shape, rng, transfer)


def blobs(shape, rng, *, size_px: float) -> np.ndarray:
    """Blobby noise: a ring-shaped band of wavelengths about ``size_px``."""
    return filtered_noise(
        shape, rng, lambda fr, fc: np.exp(-(((np.sqrt(fr**2 + fc**2) - 1 / size_px) * size_px * 2.5) ** 2))
    )


def along_across(shape: tuple[int, int], direction_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Coordinates (rows, cols) along and across a direction, px, from the picture's centre."""
    row = np.arange(shape[0], dtype=np.float32)[:, None] - shape[0] / 2
    col = np.arange(shape[1], dtype=np.float32)[None, :] - shape[1] / 2
    angle = np.radians(direction_deg)
    return col * np.cos(angle) - row * np.sin(angle), col * np.sin(angle) + row * np.cos(angle)


def band(shape, *, direction_deg, offset_px, half_width_px, span_px=(-np.inf, np.inf)):
    """Return (flat index, across, along) of the pixels within ``half_width_px`` of a straight line, px.

    ``across`` is measured from the line, ``along`` from the foot of the picture's centre; ``span_px`` limits along.
    """
    rows, cols = shape
    sine, cosine = np.sin(np.radians(direction_deg)), np.cos(np.radians(direction_deg))
    flat_line = abs(cosine) >= abs(sine)
    count, other = (cols, rows) if flat_line else (rows, cols)
    lead = np.arange(count) - count / 2
    slope, steep = (sine, cosine) if flat_line else (cosine, sine)
    centre = (offset_px - slope * lead) / steep + other / 2
    reach = int(np.ceil(half_width_px / abs(steep))) + 1
    keep = (centre > -reach) & (centre < other + reach)
    lead, centre = lead[keep], np.rint(centre[keep]).astype(np.int64)
    trail = centre[:, None] + np.arange(-reach, reach + 1)[None, :]
    first, second = np.broadcast_to(lead[:, None], trail.shape), trail - other / 2
    col, row = (first, second) if flat_line else (second, first)
    across = col * sine + row * cosine - offset_px
    along = col * cosine - row * sine
    good = (trail >= 0) & (trail < other) & (np.abs(across) <= half_width_px) & (along >= span_px[0]) & (along <= span_px[1])
    r = (row[good] + rows / 2).astype(np.int64)
    c = (col[good] + cols / 2).astype(np.int64)
    return r * cols + c, across[good].astype(np.float32), along[good].astype(np.float32)


def spread_places(mean_count: float, reach: float, rng) -> np.ndarray:
    """About ``mean_count`` places in [-reach, reach], one in each equal cell, as a fed stone leaves no wide gaps."""
    count = int(np.floor(mean_count + rng.random()))
    return (np.arange(count) + rng.uniform(-0.4, 1.4, count)) / max(count, 1) * 2 * reach - reach


def reach_px(shape) -> float:
    """Half the diagonal of the picture, px."""
    return float(np.hypot(*shape)) / 2


def flakes(field: FieldFacts, rng) -> np.ndarray:
    """Coverage 0..1 of graphite flakes: bent, forked lamellae 15–90 µm long and 1–4 µm wide (memory, no source)."""
    shape, pixel = field.shape, field.pixel_size_um
    canvas = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel**2 * 1e-6
    for _ in range(min(int(rng.poisson(field.finish.flakes_per_mm2 * area_mm2)), 700)):
        point = rng.uniform(0, 1, 2) * shape[::-1]
        heading, bend = rng.uniform(0, 2 * np.pi), rng.normal(0, 0.05)
        length, width = rng.uniform(15, 90) / pixel, max(rng.uniform(1.0, 4.0) / pixel, 1.0)
        steps = 14
        for step in range(steps):
            heading += bend + rng.normal(0, 0.12)
            ahead = point + length / steps * np.array([np.cos(heading), np.sin(heading)])
            thick = max(1, int(round(width * (1 - abs(2 * step / steps - 0.9) ** 2 * 0.8))))
            cv2.line(canvas, tuple(int(v * 8) for v in point), tuple(int(v * 8) for v in ahead), 255, thick, cv2.LINE_AA, 3)
            point = ahead
    return canvas.astype(np.float32) / 255


def irregular_spots(shape, rng, count: int, radius_px: tuple[float, float]) -> np.ndarray:
    """Boolean map of ``count`` irregular rounded spots."""
    canvas = np.zeros(shape, np.uint8)
    for _ in range(min(count, 900)):
        centre, radius = rng.uniform(0, 1, 2) * shape[::-1], np.exp(rng.uniform(*np.log(radius_px)))
        angle = np.linspace(0, 2 * np.pi, 16, endpoint=False)
        rim = radius * (1 + 0.28 * np.sin(2 * angle + rng.uniform(0, 6)) * rng.random() + rng.normal(0, 0.13, 16))
        outline = centre + rim[:, None] * np.stack([np.cos(angle), np.sin(angle) * rng.uniform(0.5, 1)], 1)
        cv2.fillPoly(canvas, [np.round(outline * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)
    return canvas > 127


def pits(field: FieldFacts, rng) -> np.ndarray:
    """Boolean map of pull-outs and pores 2–9 µm across."""
    area_mm2 = field.shape[0] * field.shape[1] * field.pixel_size_um**2 * 1e-6
    count = int(rng.poisson(field.finish.pits_per_mm2 * area_mm2))
    return irregular_spots(field.shape, rng, count, (1.0 / field.pixel_size_um, 4.5 / field.pixel_size_um))


def debris(field: FieldFacts, rng) -> np.ndarray:
    """Boolean map of loose particles 4–40 µm across, kept below a ninth of the picture's height."""
    low = 2 / field.pixel_size_um
    high = max(min(20 / field.pixel_size_um, field.shape[0] / 18), low * 1.2)
    return irregular_spots(field.shape, rng, field.debris, (low, high))


def stains(field: FieldFacts, rng) -> np.ndarray:
    """Depth 0..1 of oil or film patches with soft ragged outlines."""
    if not field.stains:
        return np.zeros(field.shape, np.float32)
    noise = fractal(field.shape, rng, slope=1.8, longest_px=field.shape[0] / (1 + field.stains))
    return np.clip((noise - np.quantile(noise, 0.85)) * 2.5, 0, 1)


def scuff_map(field: FieldFacts, rng) -> np.ndarray:
    """Boolean map of adhesive streaks along the stroke covering about ``scuffed_target``."""
    if field.scuffed_target == 0:
        return np.zeros(field.shape, bool)
    stroke, pixel = field.finish.stroke_deg, field.pixel_size_um
    wide = streaks(field.shape, rng, direction_deg=stroke, length_px=400 / pixel, width_px=25 / pixel)
    ragged = streaks(field.shape, rng, direction_deg=stroke, length_px=30 / pixel, width_px=3 / pixel)
    level = wide + 0.3 * ragged
    found = (level > np.quantile(level, 1 - field.scuffed_target)).astype(np.uint8)
    size = max(3, int(2 / pixel) | 1)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return cv2.morphologyEx(cv2.morphologyEx(found, cv2.MORPH_OPEN, kernel), cv2.MORPH_CLOSE, kernel) > 0


def codes_from_depths(before_um, after_um, moved, scuffed, hidden) -> np.ndarray:
    """Mask codes from depth below the local plateau before closing, after closing, and what lies on top.

    Open valley: at least 0.5 µm deep after all. Smeared: was at least 0.5 µm deep, moved metal lies there, and it is
    shallower than 0.5 µm now. Depths count hone grooves only, so flakes, pits and stroke scratches stay plateau.
    """
    codes = np.zeros(after_um.shape, np.uint8)
    codes[after_um >= VALLEY_DEPTH_UM] = OPEN_VALLEY
    codes[(before_um >= VALLEY_DEPTH_UM) & (after_um < VALLEY_DEPTH_UM) & moved] = SMEARED
    codes[scuffed] = SCUFFED
    codes[hidden] = NOT_ASSESSED
    return codes
