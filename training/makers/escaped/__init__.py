"""Fields of honed liner sections whose picture is counted from electrons that diffuse in the metal and escape to an open sky."""

import numpy as np

from makers.escaped.closing import close
from makers.escaped.electrons import signal
from makers.escaped.frame import Frame
from makers.escaped.hone import LIMIT_UM, hone
from makers.escaped.lookalikes import debris, flakes, pullouts, scratches, stains
from makers.escaped.picture import photograph
from makers.escaped.running import run_in, track_of
from makers.escaped.scuffing import scuff
from makers.escaped.skin import skin
from makers.made import Made

UNWORN_SHARE = 0.4
DEBRIS_SHARE = 0.08
SMEARED_SCUFFED = ((False, False), (True, False), (False, True), (True, True))
STORY_SHARES = (0.14, 0.42, 0.14, 0.30)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field: the surface first, its states from the surface, its picture from both."""
    stroke_deg = rng.normal(90, 3) if rng.random() < 0.75 else rng.uniform(0, 180)
    frame = Frame.of(shape, pixel_size_um, stroke_deg)
    finish, grooves, relief = hone(rng, frame)
    run = rng.random() >= UNWORN_SHARE
    smeared, scuffed = SMEARED_SCUFFED[rng.choice(4, p=STORY_SHARES)] if run else (False, False)
    track = track_of(rng, frame) if run else np.zeros(shape, np.float32)
    worn = track >= 0.5
    relief = run_in(rng, relief, track)
    closed = close(rng, grooves, relief.depth, worn, frame, smeared)
    torn = scuff(rng, worn, frame, scuffed)

    codes = np.where(closed.depth >= LIMIT_UM, 1, 0).astype(np.uint8)
    codes[closed.moved] = 2
    codes[torn.mask] = 3
    height, material = skin(rng, codes, relief, closed, torn, track, frame)
    for lookalike in (flakes, pullouts, scratches, stains):
        height, material = lookalike(rng, height, material, codes, frame)
    if rng.random() < DEBRIS_SHARE:
        height, material, hidden = debris(rng, height, material, frame)
        codes[hidden] = 255
    image = photograph(rng, signal(rng, height, material, frame.pixel_um))

    words = [word for word, there in (("smeared", 2), ("scuffed", 3)) if (codes == there).any()]
    return Made(image=image, codes=codes, worn=worn, kind=" ".join([finish, "worn" if run else "unworn", *words]))
