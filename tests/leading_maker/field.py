"""One field, drawn from its specimen's kept figures and its own generator."""

import cv2
import numpy as np

from tests.leading_maker.detector import expose
from tests.leading_maker.drawn import Drawn
from tests.leading_maker.grooves import lay_grooves
from tests.leading_maker.hidden import hide
from tests.leading_maker.kept import Kept, of_one_field
from tests.leading_maker.layers import Layers
from tests.leading_maker.look_alikes import draw_look_alikes
from tests.leading_maker.relief import draw_relief
from tests.leading_maker.scuffing import Scuffing, scuff
from tests.leading_maker.section import SHARES, STAGES, cut_section, run_track
from tests.leading_maker.signals import see
from tests.leading_maker.surface import stand


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Drawn:
    """Draw a field that stands alone: finish, setting, wear and surface all from ``rng``."""
    stage = str(rng.choice(STAGES, p=SHARES))
    return make_field(rng, of_one_field(rng), stage, pixel_size_um, shape, may_end=True)


def draw_worn_stage(kept: Kept) -> str:
    """Return what a specimen's track looks like, with the shares that fields standing alone have."""
    shares = np.array(SHARES[1:])
    return str(kept("stage").choice(STAGES[1:], p=shares / shares.sum()))


def make_field(
    rng: np.random.Generator, kept: Kept, stage: str, pixel_size_um: float, shape: tuple[int, int], *, may_end: bool = False
) -> Drawn:  # fmt: skip
    """Draw one field of a specimen; ``may_end``: the track may end within it."""
    s = cut_section(kept, stage, float(pixel_size_um), shape)
    track = run_track(rng, kept, s, may_end)
    layers, ragged = lay_grooves(rng, kept, s, track)
    relief = draw_relief(rng, kept, s, track)
    scuffing = scuff(rng, kept, s, track, ragged.torn)
    surface = stand(kept, layers, relief, scuffing, track)
    like = draw_look_alikes(rng, kept, s, track, ragged, surface)
    seen = see(rng, kept, s, track, ragged, layers, relief, scuffing, surface, like)
    signal, hidden = hide(rng, s, seen, ragged, relief)
    image = expose(rng, kept, s, signal, hidden)
    codes = _codes(layers, scuffing, hidden)
    present = "".join(f" {name}" for name, code in (("smeared", 2), ("scuffed", 3)) if (codes == code).mean() > 0.0015)
    worn = np.ascontiguousarray(track.worn & s.is_worn)
    return Drawn(image=image, codes=codes, worn=worn, kind=("worn" if s.is_worn else "unworn") + present)


def _codes(layers: Layers, scuffing: Scuffing, hidden: np.ndarray) -> np.ndarray:
    """Return the mask codes; specks that no eye can call go to the plateau."""
    codes = np.zeros(hidden.shape, np.uint8)
    codes[layers.opened] = 1
    codes[layers.closed] = 2
    codes[scuffing.where] = 3
    for code in (1, 2):
        _, label, stats, _ = cv2.connectedComponentsWithStats((codes == code).astype(np.uint8), connectivity=8)
        small = stats[:, cv2.CC_STAT_AREA] < 10
        small[0] = False
        codes[small[label]] = 0
    codes[hidden] = 255
    return codes
