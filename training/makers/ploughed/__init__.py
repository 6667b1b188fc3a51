"""Fields whose wear is worked out in passes: a land truncates summits, carries the metal and lays it over the grooves."""

import cv2
import numpy as np

from ..made import Made
from .camera import expose
from .lays import hone
from .matter import strew
from .picture import signal
from .wear import Surface, run, unworn


def stroke_frame(shape: tuple[int, int], turn_deg: float) -> tuple[tuple[int, int], np.ndarray]:
    """Shape in pixels of the frame (rows along the stroke) that covers a picture whose stroke is turn_deg off its
    columns' direction, and the map from picture pixels to the frame's."""
    cos, sin = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    rows, columns = shape
    frame = int(rows * abs(cos) + columns * abs(sin)) + 4, int(rows * abs(sin) + columns * abs(cos)) + 4
    to_frame = np.float64([[cos, sin, 0], [-sin, cos, 0]])
    to_frame[:, 2] = (frame[1] - 1) / 2, (frame[0] - 1) / 2
    to_frame[:, 2] -= to_frame[:, :2] @ ((columns - 1) / 2, (rows - 1) / 2)
    return frame, to_frame


def _stroke_deg(rng: np.random.Generator) -> float:
    """Stroke's angle off the picture's columns: upright or level within some degrees in most pictures."""
    kind = rng.random()
    return float(rng.uniform(-90, 90) if kind < 0.15 else (0 if kind < 0.6 else 90) + rng.normal(0, 4))


def _surface(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> tuple[Surface, str]:
    ground = hone(rng, shape, pixel_um)
    if rng.random() < 0.4:
        return unworn(ground), "honed"
    bordered, smear, scuff = rng.random(3) < (0.3, 0.6, 0.25)
    words = ("bordered" if bordered else "worn", "smeared" if smear else "", "scuffed" if scuff else "")
    return run(rng, ground, pixel_um, bordered=bordered, smear=smear, scuff=scuff), " ".join(filter(None, words))


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field, all of it drawn from rng."""
    frame, to_frame = stroke_frame(shape, _stroke_deg(rng))
    surface, kind = _surface(rng, frame, pixel_size_um)

    def turned(map_: np.ndarray, way: int) -> np.ndarray:
        return cv2.warpAffine(
            np.ascontiguousarray(map_), to_frame, shape[::-1], flags=way | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
        )

    names = ("height", "open_um", "lid", "torn", "laid")
    maps = {name: turned(np.asarray(getattr(surface, name), np.float32), cv2.INTER_LINEAR) for name in names}
    codes, worn = (turned(map_.astype(np.uint8), cv2.INTER_NEAREST) for map_ in (surface.codes, surface.track))
    matter = strew(rng, shape, pixel_size_um)
    image = expose(rng, *signal(rng, maps, matter, pixel_size_um), pixel_size_um)
    return Made(image=image, codes=np.where(matter.hidden, 255, codes).astype(np.uint8), worn=worn > 0, kind=kind)
