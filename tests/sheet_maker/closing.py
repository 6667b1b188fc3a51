"""Smear: sheets laid over grooves as caps, flush burnished strips, lips, rows of bridges, folds with a crack, torn caps.

Folds smear and interrupt grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548).
"""

from dataclasses import dataclass, field

import cv2
import numpy as np

from tests.sheet_maker.grooves import Groove
from tests.sheet_maker.noise import Rng, blob, curve, unit_vector
from tests.sheet_maker.setting import Specimen
from tests.sheet_maker.sheets import Sheet, fill, grow, points_along

KINDS = ("cap", "strip", "lip", "bridges", "fold", "torn")


@dataclass
class Cover:
    """All sheets of a field: which one is on top (-1 none), where a crack runs, where a sheet was torn off."""

    on_top: np.ndarray
    crack: np.ndarray
    scar: np.ndarray
    sheets: list[Sheet] = field(default_factory=list)

    def lay(self, sheet: Sheet) -> None:
        """Lay a sheet over what is there."""
        fill(self.on_top, sheet.outline, len(self.sheets))
        self.sheets.append(sheet)

    def of(self, name: str, nowhere: float) -> np.ndarray:
        """Return a quantity of the uppermost sheet on the picture's grid."""
        values = np.array([getattr(sheet, name) for sheet in self.sheets] + [nowhere], np.float32)
        return values[self.on_top]


def close_grooves(rng: Rng, specimen: Specimen, grooves: list[Groove]) -> Cover:
    """Lay sheets over grooves until about the specimen's share of groove length is closed."""
    shape = specimen.shape
    cover = Cover(np.full(shape, -1, np.int32), np.zeros(shape, np.float32), np.zeros(shape, np.float32))
    stroke = unit_vector(specimen.stroke_deg)
    deep = np.median([g.depth_um.mean() for g in grooves]) if grooves else 1.0
    drift = rng.normal(0, 0.15)
    for groove in grooves:
        share = specimen.closed * np.exp(drift + rng.normal(0, 0.4)) * np.clip(groove.depth_um.mean() / deep, 0.5, 1.6)
        share = float(np.clip(share, 0.003, 0.96))
        at = -int(rng.integers(0, 12))
        while at < len(groove.centre):
            kind = KINDS[rng.choice(len(KINDS), p=specimen.kinds)]
            width_um = groove.width_um * specimen.pixel_size_um
            length = points_along(rng.lognormal(np.log({"strip": 120, "lip": 70}.get(kind, 45)), 0.6) + width_um,
                                  specimen.pixel_size_um)  # fmt: skip
            at += int(rng.exponential(length * (1 - share) / share)) + 1
            part = slice(max(at, 0), min(at + length, len(groove.centre)))
            at += length
            shallow = part.stop - part.start >= 3 and groove.depth_um[part].mean() < 0.75 and rng.random() < 0.92
            if part.stop - part.start >= 3 and not shallow and _inside(groove, part, shape):
                _lay_one(rng, specimen, cover, groove, part, stroke, kind)
    return cover


def _inside(groove: Groove, part: slice, shape: tuple[int, int]) -> bool:
    x, y = groove.centre[part].T
    return bool(((x > -60) & (x < shape[1] + 60) & (y > -60) & (y < shape[0] + 60)).any())


def _lay_one(
    rng: Rng, specimen: Specimen, cover: Cover, groove: Groove, part: slice, stroke: np.ndarray, kind: str
) -> None:
    side = int(rng.choice((-1, 1)))
    faint = rng.random() < 0.12
    trace = specimen.trace * (0.25 if faint else 1.0)
    look = {
        "pixel_size_um": specimen.pixel_size_um, "root": float(rng.uniform(0.3, 2.5)),
        "sag_um": float(rng.uniform(0.05, 0.42)) * trace, "thickness_um": float(rng.uniform(0.08, 0.35)) * trace,
        "tone": 1 + float(rng.choice((-1, 1), p=(0.4, 0.6)) * rng.uniform(0.03, 0.16)) * trace,
        "streaky": float(rng.uniform(0.4, 1.4)) * trace,
    }  # fmt: skip

    def sheet(
        where: slice, on: int, share: float, *, lobes: float = 0.15, feather: float = 0.07, **other: float
    ) -> Sheet:
        return grow(rng, groove, where, stroke, on, share, lobes=lobes, feather=feather, **(look | other))

    if kind == "cap":
        cover.lay(sheet(part, side, rng.uniform(1.03, 1.22), lobes=0.13))
    elif kind == "strip":
        flush = {"sag_um": look["sag_um"] * 0.5, "thickness_um": 0.02, "root": 0.5}
        cover.lay(sheet(part, side, 1.03, lobes=0.04, feather=0.03, **flush))
    elif kind == "lip":
        cover.lay(
            sheet(part, side, rng.uniform(0.3, 0.7), lobes=0.24, feather=0.1, thickness_um=look["thickness_um"] + 0.1)
        )
    elif kind == "bridges":
        start = part.start
        while start < part.stop - 3:
            long = int(rng.integers(3, max(4, (part.stop - part.start) // 3) + 1))
            cover.lay(sheet(slice(start, min(start + long, part.stop)), int(rng.choice((-1, 1))), rng.uniform(0.95, 1.2),
                            lobes=0.25))  # fmt: skip
            start += long + int(rng.integers(2, 3 + long))
    elif kind == "fold":
        meet = rng.uniform(0.35, 0.65)
        cover.lay(sheet(part, -side, 1.12 - meet, lobes=0.05))
        upper = sheet(part, side, meet + 0.05, lobes=0.14, feather=0.08)
        cover.lay(upper)
        _crack(rng, cover, upper, specimen.pixel_size_um)
    else:
        whole = sheet(part, side, rng.uniform(1.0, 1.25), lobes=0.16, feather=0.08)
        cover.lay(whole)
        _tear(rng, cover, whole, groove, part)


def _crack(rng: Rng, cover: Cover, upper: Sheet, pixel_size_um: float) -> None:
    """Draw the crack along the front of a folded flap: fine, of changing width, shut in places."""
    n = len(upper.front)
    kernel = np.ones(min(7, n)) / min(7, n)
    line = np.stack([np.convolve(upper.front[:, k], kernel, "valid") for k in (0, 1)], 1)
    wide = float(np.clip(rng.uniform(0.25, 0.7) / pixel_size_um, 1, 2.6))
    opening = curve(rng, len(line), 12)
    for k in np.flatnonzero(opening[:-1] > -0.8):
        ends = np.round(line[k : k + 2] * 8).astype(np.int32)
        thick = max(1, round(wide * (0.8 + 0.3 * float(opening[k]))))
        cv2.polylines(cover.crack, [ends], False, 0.5 + 0.2 * min(float(opening[k]), 1.5), min(thick, 3), cv2.LINE_8, 3)


def _tear(rng: Rng, cover: Cover, whole: Sheet, groove: Groove, part: slice) -> None:
    """Tear holes into a sheet, so that the groove opens again, and leave a scar beside each."""
    for _ in range(int(rng.integers(1, 4))):
        middle = groove.centre[rng.integers(part.start, part.stop)] + rng.normal(0, groove.width_um / 4, 2)
        ring = middle + blob(rng, groove.width_um * rng.uniform(0.3, 0.9), unevenness=0.4)
        hole = np.zeros(cover.on_top.shape, np.uint8)
        fill(hole, ring, 1)
        cover.on_top[(hole > 0) & (cover.on_top == len(cover.sheets) - 1)] = -1
        fill(cover.scar, middle + (ring - middle) * 1.25, float(rng.uniform(0.3, 1.0)))
