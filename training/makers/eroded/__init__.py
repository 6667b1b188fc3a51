"""Fields eroded by a process: stones hone a ground, a ring runs over it and drags metal, a microscope looks."""

import cv2
import numpy as np

from ..made import Made
from .galling import tear
from .instrument import take
from .lighting import Scene, fine_relief, signal
from .matter import strew
from .randomly import log_uniform, wandering
from .ring import OPEN_UM, Worn, run
from .stones import hone, lays_deg

NOT_ASSESSED = 255


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Simulate one field; shape in pixels of pixel_size_um."""
    # The process runs on a grid whose rows go down the stroke; the picture is a turned view of it.
    turn = float(rng.normal(0, 4) if rng.random() < 0.75 else rng.uniform(-90, 90))
    if rng.random() < 0.35:
        turn += 90.0
    view, grid = turned(shape, turn)
    included = float(
        rng.choice([rng.uniform(20, 150), rng.uniform(30, 60), rng.uniform(120, 150)], p=[0.5, 0.35, 0.15])
    )
    honed = hone(rng, grid, pixel_size_um, included)
    story = rng.choice(["unworn", "bordered", "worn"], p=[0.4, 0.12, 0.48])
    track = np.zeros(grid[1], np.float32)
    worn = Worn(ground_um=honed, level_um=np.zeros(grid, np.float32), covered=np.zeros(grid, bool))
    torn, rise = np.zeros(grid, bool), np.zeros(grid, np.float32)
    if story != "unworn":
        track = np.ones(grid[1], np.float32) if story == "worn" else border(rng, grid[1], pixel_size_um)
        smears, scuffs = rng.random() < 0.6, rng.random() < 0.25
        worn = run(rng, honed, pixel_size_um, track, smears=smears, heavy=rng.random() < 0.25)
        if scuffs:
            torn, rise = tear(rng, grid, pixel_size_um, track, heavy=rng.random() < 0.3)
        story += " smeared" * smears + " scuffed" * scuffs
    seen = [
        cv2.warpAffine(
            np.ascontiguousarray(map_, np.float32),
            view,
            shape[::-1],
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REFLECT,
        )
        for map_ in (worn.ground_um, worn.level_um, honed, worn.covered, torn, rise, np.broadcast_to(track > 0.5, grid))
    ]
    ground, level, before, covered, ripped, rise, inside = seen
    inside = inside > 0.5
    codes = states(ground, level, before, covered, (ripped > 0.5) & inside, inside)
    matter = strew(rng, shape, pixel_size_um)
    codes[(matter.debris > 0) | (matter.charging > 0.35)] = NOT_ASSESSED
    depth = np.where(ripped > 0.5, 0, level - ground).astype(np.float32)
    scene = Scene(
        relief_um=np.where(ripped > 0.5, level + rise, ground).astype(np.float32),
        depth_um=depth,
        covered=(codes == 2).astype(np.float32),
        torn=ripped * inside,
        worn=inside.astype(np.float32),
        stroke_deg=90 - turn,
        lay_deg=tuple(-lay - turn for lay in lays_deg(included)),
        matter=matter,
    )
    scene.relief_um = scene.relief_um + fine_relief(scene, rng, pixel_size_um)
    electrons, looks = signal(scene, rng, pixel_size_um)
    return Made(image=take(rng, electrons), codes=codes, worn=inside, kind=f"{story}, {looks}")


def turned(shape: tuple[int, int], turn_deg: float) -> tuple[np.ndarray, tuple[int, int]]:
    """The map from picture (x, y) to grid (x, y), and the least grid that holds the picture."""
    rows, cols = shape
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    grid = (
        int(np.ceil(rows * abs(cosine) + cols * abs(sine))) + 2,
        int(np.ceil(cols * abs(cosine) + rows * abs(sine))) + 2,
    )
    turn = np.array([[cosine, sine], [-sine, cosine]])
    shift = np.array([grid[1] - 1, grid[0] - 1]) / 2 - turn @ (np.array([cols - 1, rows - 1]) / 2)
    return np.c_[turn, shift], grid


def border(rng: np.random.Generator, cols: int, pixel_size_um: float) -> np.ndarray:
    """Load 0–1 across a track's border, which runs down the stroke at any place of the middle of the field."""
    at, soft = cols * rng.uniform(0.25, 0.75), log_uniform(rng, 1, 30) / pixel_size_um
    across = (np.arange(cols) - at) * rng.choice([-1, 1]) + soft * 0.3 * wandering(rng, cols, 5)
    return (1 / (1 + np.exp(-np.clip(across / soft * 3, -30, 30)))).astype(np.float32)


def states(
    ground_um: np.ndarray,
    level_um: np.ndarray,
    honed_um: np.ndarray,
    covered: np.ndarray,
    torn: np.ndarray,
    worn: np.ndarray,
) -> np.ndarray:
    """Mask codes from heights before and after. A groove that wear made shallow has no footprint left to be closed."""
    footprint = level_um - honed_um >= OPEN_UM
    is_open = level_um - ground_um >= OPEN_UM
    codes = np.zeros(ground_um.shape, np.uint8)
    codes[footprint & is_open] = 1
    codes[footprint & ~is_open & (covered > 0.5) & worn] = 2
    codes[torn] = 3
    return codes
