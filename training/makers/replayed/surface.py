"""The book of the surface while its history is replayed: what groove lies under each pixel, what lies over it now.

All maps lie in the stroke's frame (rows along the stroke). Heights are told from the local plateau (µm), so planing the
plateau makes the grooves shallower. Later events overprint earlier ones."""

from dataclasses import dataclass

import numpy as np

VALLEY_DEPTH_UM = 0.5
"""From this depth on a groove's ground is open valley (this project's own limit)."""
PLATEAU, VALLEY, SMEARED, SCUFFED = 0, 1, 2, 3
BARE, COVERED, TORN = 0, 1, 2


@dataclass(kw_only=True)
class Surface:
    """groove: depth of the hone groove under all cover; land: texture of bare metal; top: height of the moved metal where
    state is covered or torn; crack: openness of cracks and seams (0–1); glow: freshly moved metal (tone, 0–1)."""

    groove: np.ndarray
    land: np.ndarray
    top: np.ndarray
    state: np.ndarray
    crack: np.ndarray
    glow: np.ndarray
    worn: np.ndarray

    @classmethod
    def honed(cls, groove: np.ndarray, land: np.ndarray, worn: np.ndarray) -> "Surface":
        """A surface without history."""
        zero = np.zeros_like(groove)
        return cls(
            groove=groove.copy(),
            land=land.copy(),
            top=zero.copy(),
            state=np.zeros(groove.shape, np.uint8),
            crack=zero.copy(),
            glow=zero.copy(),
            worn=worn,
        )


def window_around(
    shape: tuple[int, int], at: tuple[int, int], reach: tuple[int, int]
) -> tuple[tuple[slice, slice], np.ndarray, np.ndarray]:
    """The part of a map within that reach of a place, and its rows and columns counted from the place."""
    window = tuple(slice(max(0, one - far), min(size, one + far + 1)) for one, far, size in zip(at, reach, shape, strict=True))
    down, along = (np.arange(part.start, part.stop, dtype=np.float32) - one for part, one in zip(window, at, strict=True))
    return window, down[:, None], along[None, :]


def plane(surface: Surface, depth_um: np.ndarray | float) -> None:
    """Truncate: bare grooves lose this depth where the ring ran, and burrs go first."""
    bare = surface.worn & (surface.state == BARE)
    surface.groove = np.where(bare, np.maximum(surface.groove - depth_um, 0), surface.groove).astype(np.float32)


def cover(surface: Surface, window: tuple[slice, slice], where: np.ndarray, top: np.ndarray, glow: float) -> None:
    """Lay moved metal over a groove's footprint; torn ground and ground outside the track keep their state."""
    where = where & surface.worn[window] & (surface.state[window] != TORN)
    surface.top[window][where] = top[where]
    surface.state[window][where] = COVERED
    surface.glow[window][where] = glow
    surface.crack[window][where] = 0


def uncover(surface: Surface, window: tuple[slice, slice], where: np.ndarray) -> None:
    """Tear covers off again: the groove below is open as before."""
    where = where & (surface.state[window] == COVERED)
    surface.state[window][where] = BARE
    surface.glow[window][where] = 0
    surface.crack[window][where] = 0


def tear(surface: Surface, window: tuple[slice, slice], where: np.ndarray, top: np.ndarray, *, fill_um: float) -> None:
    """Scuff over whatever was there; bare grooves that stay 0.5 µm deep after this fill stay open."""
    deep = (surface.state[window] == BARE) & (surface.groove[window] - fill_um >= VALLEY_DEPTH_UM)
    where = where & surface.worn[window] & ~deep
    surface.top[window][where] = top[where]
    surface.state[window][where] = TORN
    surface.glow[window][where] = 0
    surface.crack[window][where] = 0


def height(surface: Surface) -> np.ndarray:
    """Height of what is seen (µm above the local plateau)."""
    return np.where(surface.state == BARE, surface.land - surface.groove, surface.top)


def codes(surface: Surface) -> np.ndarray:
    """Mask codes by the events' book and the depths."""
    found = np.where(surface.groove >= VALLEY_DEPTH_UM, VALLEY, PLATEAU).astype(np.uint8)
    found[(surface.state == COVERED) & (found == VALLEY)] = SMEARED
    found[surface.state == TORN] = SCUFFED
    return found
