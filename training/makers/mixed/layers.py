"""All that lies in a field, one over the other, before heights and tones are mixed from it."""

from dataclasses import dataclass

import numpy as np

from makers.mixed.blemish import Blemishes, blemishes
from makers.mixed.cut import Cuts
from makers.mixed.finish import Finish
from makers.mixed.ground import Ground, floor_grit, ground
from makers.mixed.scene import Scene
from makers.mixed.scuff import Flow, Torn, flow, torn
from makers.mixed.states import Soft, States, soften


@dataclass(frozen=True)
class Layers:
    """Grooves, states hard and soft, textures of plateau, blemishes, torn and moved metal; grit and contact, maps (rows, cols)."""

    cuts: Cuts
    truth: States
    soft: Soft
    plain: Ground
    spots: Blemishes
    rags: Torn
    folds: Flow
    grit: np.ndarray
    contact: np.ndarray


def layers(scene: Scene, hone: Finish, cuts: Cuts, truth: States, scuff: np.ndarray, ran: np.ndarray) -> Layers:
    """Draw every texture over the whole field; scuff and ran, where the ring ran, bool (rows, cols)."""
    contact = scene.blur(ran.astype(np.float32), 2.5 / scene.px)
    plain = ground(scene, hone, contact)
    spots = blemishes(scene, truth, scuff, contact)
    rags, folds, grit = torn(scene), flow(scene), floor_grit(scene)
    return Layers(cuts, truth, soften(scene, cuts, truth, scuff), plain, spots, rags, folds, grit, contact)
