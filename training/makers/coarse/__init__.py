"""Survey micrographs of many thin grooves and close views of a few wide ones, drawn as polygons at double size."""

from dataclasses import dataclass

import cv2
import numpy as np

from ..made import Made
from .buffers import LEVELS_UM, deeper, relief
from .grooves import OPEN_UM, two_bands
from .instrument import photograph
from .lookalikes import debris
from .metal import closures, scuffed, smeared
from .surface import Ground, signal_of

__all__ = ["make"]


@dataclass(frozen=True, kw_only=True)
class Scene:
    """look: `survey` or `close`; wear: `unworn`, `bordered` or `worn`; directions in degrees on the picture, x to y."""

    look: str
    wear: str
    stroke_deg: float
    included_deg: float
    smear: float
    scuff: bool
    heavy: bool


def scene(rng: np.random.Generator, pixel_size_um: float) -> Scene:
    # Grooves of at most 60 µm can't look wide on coarse pixels, nor thin ones of 3 µm thin on fine pixels.
    survey = rng.random() < np.clip(np.log(pixel_size_um / 0.3) / np.log(1.0 / 0.3), 0, 1)
    wear = str(rng.choice(["unworn", "bordered", "worn"], p=[0.4, 0.15, 0.45]))
    stroke = rng.choice([0, 90, 90]) + rng.normal(0, 5) if rng.random() < 0.75 else rng.uniform(0, 180)
    included = rng.uniform(20, 150)
    smear = rng.choice([10 ** rng.uniform(-1.3, -0.3), rng.uniform(0.3, 0.95)]) if rng.random() < 0.6 else 0.0
    scuff = rng.random() < 0.25
    return Scene(look="survey" if survey else "close", wear=wear, stroke_deg=float(stroke), included_deg=float(included),
                 smear=smear, scuff=bool(scuff), heavy=bool(rng.random() < 0.35))


def track(rng, shape, stroke_deg: float, wear: str) -> np.ndarray:
    """Where the ring ran: bool. A border runs along the stroke and leaves some of the field on either side."""
    rows, cols = shape
    if wear != "bordered":
        return np.full(shape, wear == "worn")
    angle = np.radians(stroke_deg)
    y, x = np.mgrid[0:rows, 0:cols].astype(np.float32)
    beyond = (y - rows / 2) * np.cos(angle) - (x - cols / 2) * np.sin(angle)
    border = rng.uniform(-0.28, 0.28) * min(shape)
    return beyond > border if rng.random() < 0.5 else beyond < border


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field with its truth."""
    rows, cols = shape
    size, canvas_um = (2 * rows, 2 * cols), pixel_size_um / 2
    drawn = scene(rng, pixel_size_um)
    worn = track(rng, size, drawn.stroke_deg, drawn.wear)
    grooves = two_bands(rng, look=drawn.look, shape=size, canvas_um=canvas_um, stroke_deg=drawn.stroke_deg,
                        included_deg=drawn.included_deg)
    typical_um = float(np.median([groove.depth.max() for groove in grooves])) if grooves else 1.0
    # Wear that leaves nothing open does happen, but seldom where anybody still takes pictures.
    most_um = typical_um if rng.random() < 0.1 else max(0.05, 0.5 * (typical_um - OPEN_UM))
    worn_off_um = float(min(10 ** rng.uniform(-1.5, 0.2), most_um))
    detector_deg = rng.uniform(0, 360)
    shaped = relief(grooves, size, detector_deg, LEVELS_UM[drawn.look])
    valley = deeper(grooves, size, OPEN_UM)
    nothing = np.zeros(size, np.float32)
    covered, closed, torn, lips, cracks = nothing > 0, nothing > 0, nothing > 0, nothing, nothing
    if drawn.wear != "unworn":
        left = deeper(grooves, size, OPEN_UM + worn_off_um)
        valley = np.where(worn, left, valley)
        if drawn.smear:
            covered, lips, cracks = closures(rng, grooves, size, share=drawn.smear, worn_off_um=worn_off_um)
            covered &= worn
            closed = smeared(valley, covered)
            # A cap over ground that wear has made shallow would look like smear where the truth says plateau.
            reach = int(np.clip(5 / canvas_um, 3, 41))
            covered &= cv2.dilate(closed.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
            # Lips and cracks belong to the folds; none hangs in the open beyond the groove's rims.
            near = cv2.dilate(closed.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
            lips, cracks = lips * near, cracks * near
        if drawn.scuff:
            torn = worn & scuffed(rng, size, canvas_um=canvas_um, stroke_deg=drawn.stroke_deg, heavy=drawn.heavy)
    particles, hidden = debris(rng, size, canvas_um) if rng.random() < 0.3 else (nothing, nothing > 0)
    codes = np.where(valley, 1, 0).astype(np.uint8)
    codes[closed] = 2
    codes[torn] = 3
    codes[hidden] = 255
    ground = Ground(depth=shaped.depth, lean=shaped.lean, floor=shaped.floor, worn=worn, covered=covered, torn=torn, lips=lips,
                    cracks=cracks, particles=particles)
    lays = [drawn.stroke_deg + 90 + turn * drawn.included_deg for turn in (-0.5, 0.5)]
    signal = signal_of(rng, ground, lays_deg=lays, stroke_deg=drawn.stroke_deg, worn_off_um=worn_off_um, canvas_um=canvas_um)
    state = "scuffed" if torn.any() else "smeared" if closed.any() else "plain"
    # Every second canvas pixel keeps codes exact: averaging codes would invent states.
    return Made(image=photograph(rng, signal, shape), codes=np.ascontiguousarray(codes[1::2, 1::2]),
                worn=np.ascontiguousarray(worn[1::2, 1::2]), kind=f"{drawn.look} {drawn.wear} {state}")
