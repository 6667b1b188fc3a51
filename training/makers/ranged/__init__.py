"""Fields at every distance: from three grooves that fill the picture to hundreds that are a pixel or two wide."""

import cv2
import numpy as np

from ..made import Made
from . import grooves, instrument, look, matter, setting, truth
from .draw import clouds, log_uniform

FINER = 2
"""Pixels of the ground a pixel of the picture, each way, where grooves are few pixels wide."""


def _lips(rng: np.random.Generator, caps: np.ndarray) -> np.ndarray:
    """Edges of burnished caps (share 0–1.3 of a pixel), which stand out in some places only."""
    edge = cv2.morphologyEx(caps.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).astype(np.float32)
    return cv2.GaussianBlur(edge, (0, 0), 0.7) * np.clip(clouds(rng, caps.shape, log_uniform(rng, 5, 45)) + rng.uniform(0, 0.9), 0, 1.3)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field; `pixel_size_um` is the side of a pixel in µm, `shape` its rows and columns."""
    scene = setting.choose(rng, pixel_size_um, shape)
    worn = setting.track(rng, scene, shape)
    factor = FINER if scene.width_um < 9 * pixel_size_um else 1
    fine_worn = worn if factor == 1 else np.repeat(np.repeat(worn, factor, 0), factor, 1)
    ground = grooves.plough(rng, scene, fine_worn, pixel_size_um / factor)
    codes = truth.majority(truth.states(ground), factor)
    depth, rim, fold = (
        map_ if factor == 1 else cv2.resize(map_, shape[::-1], interpolation=cv2.INTER_AREA)
        for map_ in (ground.depth, ground.rim, ground.fold)
    )
    codes[~worn & (codes == 2)] = 0

    torn, torn_height = matter.scuffed(rng, scene, worn)
    # Ploughed metal fills what grooves it crosses.
    depth = np.where(torn, 0.25 * depth, depth).astype(np.float32)
    codes[torn] = 3
    caps = codes == 2
    lip = _lips(rng, caps)
    lumps = matter.debris(rng, scene, shape)
    height = matter.fine_marks(rng, scene, worn) + rim - depth + torn * torn_height + lumps
    beam = look.choose(rng)
    layers = {
        "height": height.astype(np.float32), "depth": depth, "fold": fold * ~torn, "lip": lip, "caps": caps, "torn": torn,
        "carbon": matter.graphite(rng, scene, shape) * ~torn, "film": matter.films(rng, shape), "lumps": lumps, "worn": worn,
    }  # fmt: skip
    signal = look.signal(rng, scene, beam, layers)
    glow, hidden = instrument.charging(rng, shape, beam.kv)
    image, name = instrument.stored(rng, instrument.scanned(rng, signal + glow))
    codes[(lumps > 0) | hidden] = 255
    return Made(image=image, codes=codes, worn=worn, kind=f"{scene.range_name}, {scene.extent}, {beam.mode}, {name}")
