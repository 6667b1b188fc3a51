"""The package's own simulator as a maker of training fields: its families and renderers but the two held out.

Fields are drawn up to a few times over: closed grooves are rare and the hardest to learn, and fields whose boundaries
can't be seen teach little.
"""

import cv2
import numpy as np

from makers.made import Made
from semwear.simulate.scene import FAMILIES, TRAINING_RENDERERS, simulate_field
from semwear.terms import MaskCode

TRIES = 3
"""Draws of a field for one sample; the last one is taken."""
KEEP_OPEN, KEEP_BARE = 0.5, 0.15
"""Chance of keeping a field with open valleys and no smear, and one with neither."""
VISIBLE_FROM, VISIBLE_FULL, KEEP_UNSEEN = 1.2, 2.7, 0.1
"""Visibility below which a field is seldom kept, from which it always is, and the chance of the former."""


def make(
    rng: np.random.Generator,
    *,
    pixel_size_um: float,
    shape: tuple[int, int],
    families: tuple[str, ...] = FAMILIES,
    renderers: tuple[str, ...] = TRAINING_RENDERERS,
) -> Made:
    """Return one field of a drawn family and renderer; kind is ``family/renderer``."""
    for _ in range(TRIES):
        field = simulate_field(
            rng,
            family=families[rng.integers(len(families))],
            renderer=renderers[rng.integers(len(renderers))],
            pixel_size_um=pixel_size_um,
            severity=float(rng.beta(1.4, 1.0)),
            shape=shape,
        )
        if rng.random() < _worth(field):
            break
    worn = field.worn | np.isin(field.codes, (MaskCode.SMEARED, MaskCode.SCUFFED))  # metal is pushed past the track's border
    image = (field.image >> 8).astype(np.uint8) if field.image.dtype == np.uint16 else field.image
    return Made(image=image, codes=field.codes, worn=worn, kind=f"{field.family}/{field.renderer}")


def _worth(field) -> float:
    """Probability of keeping a field instead of drawing another."""
    seen = (visibility(field.image, field.codes) - VISIBLE_FROM) / (VISIBLE_FULL - VISIBLE_FROM)
    return min(max(seen, KEEP_UNSEEN), 1.0) * _rarity(field)


def _rarity(field) -> float:
    if field.facts["smeared_fraction"] > 0.004:
        return 1.0
    return KEEP_OPEN if field.facts["valley_fraction"] > 0.01 else KEEP_BARE


def visibility(pixels: np.ndarray, codes: np.ndarray) -> float:
    """Return how far the boundaries of valleys, smear and scuffing stand out of a picture.

    Mean grey-level gradient on the boundary of a state over the median gradient of the plateau, both after smoothing by
    1.5 px; the least over the states that cover 0.3 % or more, infinite where there is none.
    """
    smooth = cv2.GaussianBlur(pixels.astype(np.float32), (0, 0), 1.5)
    gradient = np.hypot(cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1))
    plateau = gradient[codes == MaskCode.PLATEAU]
    level = max(float(np.median(plateau)) if plateau.size else 1.0, 1e-6)
    found = [np.inf]
    for state in (MaskCode.OPEN_VALLEY, MaskCode.SMEARED, MaskCode.SCUFFED):
        inside = (codes == state).astype(np.uint8)
        if inside.mean() >= 0.003:
            edge = cv2.morphologyEx(inside, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).astype(bool)
            found.append(float(gradient[edge & (codes != MaskCode.NOT_ASSESSED)].mean()) / level)
    return min(found)
