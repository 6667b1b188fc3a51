"""Fields of liners at one stage of their working life: as honed, run in, polished, deformed, mildly scuffed, scuffed."""

import numpy as np

from ..made import Made
from .films import lay_on
from .liner import Frame, hone
from .microscope import Setting, picture
from .stages import STAGES, live

STAGE_SHARES = (0.40, 0.10, 0.12, 0.21, 0.085, 0.085)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int], stage: str | None = None) -> Made:
    """One field; without a given stage, its stage is drawn too."""
    drawn = STAGES[rng.choice(len(STAGES), p=STAGE_SHARES)]
    stage = drawn if stage is None else stage
    frame = Frame(shape, float(pixel_size_um), float(rng.uniform(0, np.pi)))
    border_um = rng.uniform(-0.3, 0.3) * min(shape) * pixel_size_um if rng.random() < 0.08 else None
    liner = hone(rng, frame)
    seeds = rng.integers(2**63, size=len(STAGES))
    setting = Setting.draw(rng)
    worn = np.full(shape, stage != STAGES[0])
    if border_um is not None:
        worn &= frame.across_um() > border_um
    surface = live(liner, stage, worn, seeds)
    films, hidden = lay_on(rng, surface)
    image = picture(rng, surface, films, setting)
    codes = np.where(hidden, np.uint8(255), surface.codes)
    return Made(image=image, codes=codes, worn=worn, kind=f"{liner.finish.name}, {stage}")
