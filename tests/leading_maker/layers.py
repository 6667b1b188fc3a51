"""The layers a field is built of, and one groove's strip of pixels that goes into them."""

from dataclasses import dataclass, fields

import numpy as np

from tests.leading_maker.noise import F

LIMIT_UM = 0.5
"""Depth below the local plateau from which a groove is a valley, as `semwear/terms.py` declares."""


def turned(a: np.ndarray, steep: bool) -> np.ndarray:
    """Return a view of (rows, cols) with a steep groove's course along its second axis."""
    return a.T if steep else a


@dataclass(frozen=True, kw_only=True)
class Strip:
    """One groove on the pixels near it.

    w: width, µm; ct: cosine of its slope against the axis it runs along; along its course, (m,): xs px, base px, a half width
    µm, deep µm; on its pixels, (n,): ri index into the course, rr and cc px, d signed µm from the middle, rag unit noise,
    depth as honed and left µm, striae and burr, foot bool.
    """

    w: float
    steep: bool
    ct: float
    xs: np.ndarray
    base: np.ndarray
    a: np.ndarray
    deep: np.ndarray
    ri: np.ndarray
    rr: np.ndarray
    cc: np.ndarray
    d: np.ndarray
    rag: np.ndarray
    depth: np.ndarray
    left: np.ndarray
    striae: np.ndarray
    burr: np.ndarray
    foot: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Layers:
    """(rows, cols) float: depth as honed and as it stands now, µm; burr µm; on closures: cover, µm of their own relief, flush
    (1 on a full cap, low on a flush strip) and seam (0-1); striae: unit texture of the grooves' floors."""

    honed: np.ndarray
    now: np.ndarray
    burr: np.ndarray
    cover: np.ndarray
    flush: np.ndarray
    seam: np.ndarray
    striae: np.ndarray

    @classmethod
    def empty(cls, shape: tuple[int, int]) -> "Layers":
        return cls(**{field.name: np.zeros(shape, F) for field in fields(cls)})

    @property
    def opened(self) -> np.ndarray:
        return self.now >= LIMIT_UM

    @property
    def closed(self) -> np.ndarray:
        return (self.flush > 0) & (self.honed >= LIMIT_UM) & ~self.opened

    def add(self, strip: Strip) -> None:
        """Lay a strip: where grooves cross, the deeper stands."""
        at = strip.rr, strip.cc
        honed, striae = turned(self.honed, strip.steep), turned(self.striae, strip.steep)
        striae[at] = np.where(strip.depth > honed[at], strip.striae, striae[at])
        honed[at] = np.maximum(honed[at], strip.depth)
        for layer, value in ((self.now, strip.left), (self.burr, strip.burr)):
            view = turned(layer, strip.steep)
            view[at] = np.maximum(view[at], value)

    def settled(self) -> "Layers":
        """Return the layers with what lies on closures kept on closures only."""
        closed = self.closed
        for layer in (self.flush, self.cover, self.seam):
            layer *= closed
        return self
