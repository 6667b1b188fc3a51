"""Hone grooves, one object each: a section swept along a line, with everything about it drifting along its length.

Lines of a lay lie at random distances (two bands of grooves placed at random at two angles: Puente León, CIRP Annals 51
(2002) 503); along a line, pieces of groove alternate with short gaps, as the grains of the stone come and go. Depth follows
from the half width and the wall angle; both ends taper. Tables run along the groove, one entry a pixel, 0 at the point
nearest the picture's centre being entry ``size // 2``.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from .directions import Strip, across_axis, diagonal, strip
from .finishes import DEPTH_UM, WALL_DEG, WIDTH_UM
from .randomness import Rng, wander
from .sections import rim_place, section
from .specimen import Specimen
from .truth import VALLEY_UM

GAP_SHAPE = 5.0
"""Shape of the gamma law of distances between neighbouring lines: between placed at random (1) and a comb."""


STEEPEST = 0.8
"""Greatest slope of a section at its rim: walls of honed grooves are far from upright."""
STEPS = np.array([0.6180340, 0.7548777])
"""Steps of a sequence that fills the unit square evenly (additive recurrence; from memory): neighbouring grooves differ, and
every field of a specimen gets its due of wide and narrow ones."""


@dataclass(frozen=True, kw_only=True)
class Groove:
    """One groove. Tables (size,): ``middle_px`` of the line, ``left_um`` and ``right_um`` half widths, ``depth_um``, ``torn``
    floor (0-1), ``rim`` brightness (0-1), ``place_left`` and ``place_right``: |u| of the rims after the plateau was worn."""

    lay: int
    deg: float
    offset_px: float
    start_px: float
    end_px: float
    width_um: float
    nominal_depth_um: float
    power: float
    ridge: float
    ridge_at: float
    middle_px: np.ndarray
    left_um: np.ndarray
    right_um: np.ndarray
    depth_um: np.ndarray
    torn: np.ndarray
    rim: np.ndarray
    place: np.ndarray
    striae_um: np.ndarray

    def pixels(self, shape: tuple[int, int], pixel_um: float, margin_um: float) -> tuple[Strip, np.ndarray]:
        """Return the pixels of the groove and of a margin beside it, and the entry of the tables for each."""
        half = (max(float(self.left_um.max()), float(self.right_um.max())) + margin_um) / pixel_um
        half += float(np.abs(self.middle_px).max())
        found = strip(shape, self.deg, self.offset_px, half, self.start_px, self.end_px)
        entry = np.rint(found.along).astype(np.int32) + self.middle_px.size // 2
        return found, entry

    def across_um(self, found: Strip, entry: np.ndarray, pixel_um: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return the distance from the groove's line in µm, the half width on that side, and their ratio u."""
        across = (found.across - self.middle_px[entry]) * np.float32(pixel_um)
        half = np.where(across < 0, self.left_um[entry], self.right_um[entry])
        return across, half, across / half

    def length_px(self, shape: tuple[int, int], worn_um: float) -> float:
        """Return the length in the picture over which the groove is a valley, before any metal closes it."""
        cos, sin = across_axis(self.deg)
        place = np.arange(self.middle_px.size) - self.middle_px.size // 2
        row = (shape[0] - 1) / 2 - place * sin + self.offset_px * cos
        col = (shape[1] - 1) / 2 + place * cos + self.offset_px * sin
        inside = (row >= 0) & (row < shape[0]) & (col >= 0) & (col < shape[1])
        inside &= (place >= self.start_px) & (place <= self.end_px)
        return float((inside & (self.depth_um - worn_um >= VALLEY_UM)).sum())

    def striae(self, u: np.ndarray, entry: np.ndarray) -> np.ndarray:
        """Return the depth of the striae that the stone's grains left along the floor, µm; they fade in and out."""
        place = np.clip((u + 1) * (self.striae_um.size / 2), 0, self.striae_um.size - 2).astype(np.int32)
        return self.striae_um[place] * (1.3 - self.torn[entry])

    def ground_um(self, u: np.ndarray, entry: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return the depth before wear in µm, its derivative by u, and the relative depth of the section."""
        relative, slope = section(u, self.power, self.ridge, self.ridge_at)
        place = np.clip((u + 1) * (self.striae_um.size / 2), 0, self.striae_um.size - 2).astype(np.int32)
        weight = np.minimum(relative * 3, 1)
        depth = self.depth_um[entry]
        striae = self.striae_um[place]
        fall = (self.striae_um[place + 1] - striae) * (self.striae_um.size / 2)
        return np.maximum(depth * relative + striae * weight, 0), depth * slope + fall * weight, relative


def draw_grooves(rng: Rng, specimen: Specimen, worn_um: float) -> list[Groove]:
    """Return the grooves of one field in the order they were cut, the lays intermixed."""
    size = diagonal(specimen.shape) * specimen.pixel_um
    found = []
    for lay, gap in enumerate(specimen.gaps_um):
        offset = -size / 2 - gap * rng.random()
        sequence = rng.random(2)
        while offset < size / 2:
            offset += rng.gamma(GAP_SHAPE, gap / GAP_SHAPE)
            start = -size / 2 - rng.exponential(specimen.length_um)
            while start < size / 2:
                end = start + rng.exponential(specimen.length_um) + 3 * specimen.width_um
                if end > -size / 2:
                    sequence = (sequence + STEPS) % 1
                    at = (offset + rng.normal(0, gap * 0.06), start, end)
                    found.append(_draw_groove(rng, specimen, lay, at, sequence, worn_um))
                start = end + rng.exponential(specimen.length_um * 0.12)
    order = rng.permutation(len(found))
    return [found[one] for one in order]


def _draw_groove(
    rng: Rng, specimen: Specimen, lay: int, at: tuple[float, float, float], sequence: np.ndarray, worn_um: float
) -> Groove:
    pixel, size = specimen.pixel_um, diagonal(specimen.shape)
    offset_um, start_um, end_um = at
    deep = sequence[0] < specimen.deep_share
    median = specimen.width_um if deep else specimen.fine_width_um
    width = float(
        np.clip(median * np.exp(ndtri(np.clip(sequence[1], 0.01, 0.99)) * (0.28 if deep else 0.15)), *WIDTH_UM)
    )
    wall = np.clip(specimen.wall_deg + rng.normal(0, 2.0) - (0 if deep else 1), *WALL_DEG)
    depth = float(np.clip(width / 2 * np.tan(np.radians(wall)), *DEPTH_UM))
    lopsided = float(np.clip(rng.normal(0, 0.16), -0.4, 0.4))
    steepest = max(STEEPEST * width / 2 / depth, 1.1)
    power = float(np.clip(specimen.power * np.exp(rng.normal(0, 0.2)), 1.05, steepest))
    slow, quick = max(40 / pixel, 4), max(2.5 / pixel, 1.2)
    swell = np.exp(0.16 * wander(rng, size, slow * 2) + 0.05 * wander(rng, size, quick * 3))
    ragged = np.clip(pixel / (0.12 * width), 0, 1)
    rough = [0.03 * (1 - ragged) * wander(rng, size, quick) + 0.06 * wander(rng, size, quick * 7) for _ in range(2)]
    place = (np.arange(size) - size // 2) * pixel
    taper_um = width * rng.uniform(2, 6)
    taper = np.clip(np.minimum(place - start_um, end_um - place) / taper_um, 0.02, 1) ** 0.7
    halves = [width / 2 * side * swell * (0.35 + 0.65 * taper) * (1 + edge) for side, edge in
              zip((1 + lopsided, 1 - lopsided), rough, strict=True)]  # fmt: skip
    depths = depth * swell * taper * np.exp(0.14 * wander(rng, size, slow))
    count = 128
    striae = wander(rng, count, rng.uniform(5, 14)) + 0.55 * wander(rng, count, rng.uniform(2, 4))
    striae *= min(depth, 4) * 0.045 * specimen.floor_striae
    return Groove(
        lay=lay, deg=specimen.lays_deg[lay] + rng.normal(0, 0.7), offset_px=offset_um / pixel, start_px=start_um / pixel,
        end_px=end_um / pixel, width_um=width, nominal_depth_um=depth, power=power,
        ridge=float(rng.uniform(0.3, 0.7)) if rng.random() < 0.18 else 0.0, ridge_at=float(rng.uniform(-0.35, 0.35)),
        middle_px=wander(rng, size, slow * 6) * (0.5 / pixel), left_um=halves[0].astype(np.float32),
        right_um=halves[1].astype(np.float32), depth_um=depths.astype(np.float32),
        torn=np.clip(0.35 + 0.45 * wander(rng, size, slow), 0, 1), rim=np.clip(0.5 + 0.5 * wander(rng, size, slow / 3), 0, 1.6),
        place=rim_place(np.float32(worn_um), depths, power).astype(np.float32), striae_um=striae.astype(np.float32),
    )  # fmt: skip
