"""Composed: pictures put together from a bank of textures by masks and depth, with rims, seams and shading by their physics."""

import numpy as np

from makers.made import Made

from . import decoys
from .camera import expose
from .compose import Scene, compose
from .cover import KINDS, close
from .lay import LIMIT_UM, hone
from .noise import frame, soft, spectral
from .scuff import ruin, streaks

DEBRIS = 255


def track(rng, shape, pixel_um: float, stroke_deg: float) -> tuple[np.ndarray, str]:
    """Bool (rows, cols), where the ring ran, and a word for it. 40 % of fields are unworn; a border is parallel to the stroke."""
    if rng.random() < 0.4:
        return np.zeros(shape, bool), "unworn"
    if rng.random() < 0.8:
        return np.ones(shape, bool), "worn"
    across = frame(shape, pixel_um, stroke_deg)[1]
    reach = min(shape) * pixel_um
    wavy = 0.02 * reach * spectral(rng, shape, pixel_um, (0.5 * reach, 0.05 * reach), stroke_deg, 1.5)
    return (across + wavy > rng.uniform(-0.25, 0.25) * reach) ^ (rng.random() < 0.5), "worn border"


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field, everything drawn from rng."""
    stroke = rng.uniform(0, 180) if rng.random() < 0.25 else 90 + rng.normal(0, 4)
    sheets, marks, finish = hone(rng, shape, pixel_size_um, stroke)
    worn, kind = track(rng, shape, pixel_size_um, stroke)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 / 1e6
    ran_in = np.float32(rng.uniform(0.0, 0.25)) * worn
    share = rng.uniform(0.05, 0.7) if worn.any() and rng.random() < 0.85 else 0.0
    kinds = list(rng.permutation(list(KINDS))[: rng.integers(2, 6)])

    rim, seam, crease = (np.zeros(shape, np.float32) for _ in range(3))
    depth, ground = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    cap, flush = np.zeros(shape, bool), np.zeros(shape, bool)
    owner = np.zeros(shape, np.int8)
    for number, lay in enumerate(sheets):
        dug = np.maximum(lay.depth - ran_in, 0)
        owner[lay.depth > ground] = number
        np.maximum(ground, lay.depth, out=ground)
        out = (np.abs(lay.place) - 1.0) * lay.half / max(0.7, 0.9 * pixel_size_um)
        np.maximum(rim, np.exp(-(out**2)) * (1 - 0.6 * worn), out=rim)
        if share:
            shut = close(rng, lay, dug, worn, pixel_size_um, stroke, share, kinds)
            dug = shut.depth
            cap, flush = cap | shut.cap, flush | shut.flush
            np.maximum(seam, shut.seam, out=seam)
            np.maximum(crease, shut.crease, out=crease)
        np.maximum(depth, dug, out=depth)

    scuffed = np.zeros(shape, bool)
    if worn.any() and rng.random() < 0.45:
        scuffed = streaks(rng, shape, pixel_size_um, stroke, worn, rng.uniform(0.04, 0.45))
    relief, torn = ruin(rng, shape, pixel_size_um, stroke) if scuffed.any() else (rim, rim)

    closed = (cap | flush) & (depth < LIMIT_UM) & ~scuffed
    cap, flush = cap & closed, flush & closed
    bare = closed.astype(np.float32)
    codes = np.select([scuffed, closed, depth >= LIMIT_UM], [3, 2, 1], 0).astype(np.uint8)
    run = 0.12 * np.abs(spectral(rng, shape, pixel_size_um, (120.0, 0.6 + 1.2 * pixel_size_um), stroke, 1.4)) * worn
    lines = decoys.scratches(rng, shape, pixel_size_um, stroke, int(rng.poisson(2.5)))
    scene = Scene(depth=depth, owner=owner, cap=cap, flush=flush, scuffed=scuffed, worn=worn,
                  seam=seam * bare, crease=crease * ~scuffed, rim=rim * (1 - bare), ruin=relief, torn=torn,
                  marks=np.minimum(run + lines, decoys.SCRATCH_UM) * (1 - bare) * (depth < LIMIT_UM))
    signal = compose(rng, scene, sheets, marks, pixel_size_um, stroke)

    plain = (codes == 0).astype(np.float32)
    if rng.random() < 0.7:
        flakes = decoys.spots(rng, shape, pixel_size_um, int(min(rng.poisson(60 * area_mm2 + 1.0), 60)), (8.0, 45.0), 1.0)
        pits = decoys.spots(rng, shape, pixel_size_um, int(min(rng.poisson(25 * area_mm2 + 0.3), 30)), (2.0, 9.0), 0.0)
        signal -= soft(flakes, 0.2, pixel_size_um) * rng.uniform(0.9, 2.0) * plain
        signal += (2.0 * soft(pits, 0.8, pixel_size_um) * ~pits - rng.uniform(1.0, 2.2) * soft(pits, 0.2, pixel_size_um)) * plain
    if rng.random() < 0.3:
        signal += rng.uniform(0.3, 0.8) * rng.choice((-1, -1, 1)) * decoys.stain(rng, shape, pixel_size_um)
    if rng.random() < 0.12:
        lumps, shadow = decoys.debris(rng, shape, pixel_size_um)
        body = soft(lumps, 0.3, pixel_size_um)
        signal += body * (2.2 + 0.5 * spectral(rng, shape, pixel_size_um, (1.0, 1.0), 0.0, 1.0) - signal) - 0.6 * shadow
        codes[lumps] = DEBRIS
    words = [kind, "smeared" if (codes == 2).any() else "", "scuffed" if (codes == 3).any() else "", finish]
    return Made(image=expose(rng, signal, pixel_size_um), codes=codes, worn=worn, kind=" ".join(word for word in words if word))
