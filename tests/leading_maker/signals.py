"""The six signals that a field is seen through; one leads in each microscope setting.

How large each is, is common practice, no source; that real contrast comes from more than tilt, tests/SOURCES.md.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.signal import lfilter

from tests.leading_maker.grooves import Ragged
from tests.leading_maker.kept import Kept
from tests.leading_maker.layers import Layers
from tests.leading_maker.look_alikes import LookAlikes
from tests.leading_maker.noise import F, blur, noise, smooth
from tests.leading_maker.relief import Relief
from tests.leading_maker.scuffing import Scuffing
from tests.leading_maker.section import Section, Track
from tests.leading_maker.surface import Surface

NAMES = ("side", "open", "edge", "matter", "charge", "texture")


@dataclass(frozen=True, kw_only=True)
class Seen:
    """signal: (rows, cols) float, 0 about the plateau's level; azimuth: of the detector, radians; patch: (rows, cols) unit
    noise of films."""

    signal: np.ndarray
    azimuth: float
    patch: np.ndarray


def draw_weights(kept: Kept) -> dict[str, float]:
    """Return the signals' weights; the leading one's is about 1."""
    lead = kept("lead").choice(NAMES, p=[0.14, 0.22, 0.18, 0.24, 0.10, 0.12])
    weights = {name: kept(f"weight of {name}").uniform(0.12, 0.42) for name in NAMES}
    weights["charge"] = kept("charge").uniform(0, 0.25) if kept("charges").random() < 0.5 else 0.0
    weights[lead] = kept("lead's weight").uniform(0.85, 1.2)
    return weights


def see(
    rng: np.random.Generator, kept: Kept, s: Section, track: Track, ragged: Ragged, layers: Layers, relief: Relief,
    scuffing: Scuffing, surface: Surface, like: LookAlikes,
) -> Seen:  # fmt: skip
    """See a surface through the weighted signals; every picture keeps a little of what each state does to the yield."""
    px = s.px
    weights = draw_weights(kept)
    hs = blur(like.height, max(0.35 / px, 0.6))
    azimuth = kept("azimuth").uniform(0, 2 * np.pi)
    gx = cv2.Sobel(hs, cv2.CV_32F, 1, 0, scale=1 / 8 / px)
    gy = cv2.Sobel(hs, cv2.CV_32F, 0, 1, scale=1 / 8 / px)
    slope = gx * np.cos(azimuth) + gy * np.sin(azimuth)
    steep = gx * gx + gy * gy
    side = np.tanh(slope * kept("side's gain").uniform(0.7, 1.4)) + 0.4 * np.tanh(0.6 * steep)
    starved = kept("openness").uniform(0.9, 2.2)
    buried = blur(surface.depth + 1.5 * like.pits, 0.6)
    crest = np.clip(like.height - blur(like.height, 4.0 / px), -1, 1)
    openness = -(1 - np.exp(-buried / starved)) * 1.0 + 0.25 * crest
    reach = max(kept("electrons' range").uniform(0.4, 1.2) / px, 0.9)
    cut = np.maximum(like.height, -1.5)
    edge = np.clip(cut - blur(cut, 2.2 * reach), 0, 0.8) * 2.2
    edge = edge * np.clip(0.85 + 0.4 * ragged.rag, 0.2, 1.7) + 0.35 * np.tanh(np.sqrt(steep))
    edge -= 0.45 * smooth(surface.depth, 0.3, 1.5)
    matter, patch, moved_sign, scuffed_sign, closure = _matter(rng, kept, s, track, relief, surface, reach)
    charge = np.zeros(s.shape, F)
    if weights["charge"] > 0:
        charge = _charge(kept, px, ragged, scuffing, surface, like, patch)
    texture = _texture(kept, track, layers, relief, scuffing, surface)
    signals = dict(zip(NAMES, (side * 0.9, openness, edge, matter, charge, texture), strict=True))
    img = sum(weights[name] * signals[name].astype(F) for name in NAMES)
    closure *= float(np.clip(img.std() / 0.22, 0.9, 1.7))  # a closure shows beside whatever else the field shows
    img = img + surface.flush * (0.09 * relief.moved + closure * moved_sign) - 0.40 * surface.seam + 0.05 * texture
    img += surface.scuffed * (0.16 * np.tanh(scuffing.height * 1.2) + 0.10 * scuffed_sign)
    img -= like.graphite * kept("graphite").uniform(0.35, 0.75) + 0.35 * like.pits
    img += like.scratches * kept("scratches").uniform(-0.4, 0.15) + like.stain * rng.uniform(0.08, 0.28)
    return Seen(signal=img, azimuth=azimuth, patch=patch)


def _matter(
    rng: np.random.Generator, kept: Kept, s: Section, track: Track, relief: Relief, surface: Surface, reach: float
) -> tuple[np.ndarray, np.ndarray, float, float, float]:  # fmt: skip
    """Carbon and film or residue of honing in the valleys, other metal on closures, films in the track, grains.

    Returns the signal, the films' noise, the signs of closures and of scuffing, and how much a closure shows anyway.
    """
    fill = kept("fill's sign").choice([-1.0, -1.0, -1.0, 1.0]) * kept("fill").uniform(0.6, 1.0)
    patch = noise(rng, s.shape, s.phi, 20 / s.px, 20 / s.px)
    moved = kept("moved metal").uniform(0.25, 0.6) * (1 if kept("moved metal's sign").random() < 0.85 else -0.45)
    moved = moved * (1 if fill < 0 else -1)
    scuffed = kept("scuffed metal").uniform(0.15, 0.6) * kept("scuffed metal's sign").choice([1, -1])
    closure = kept("closures").uniform(0.14, 0.26)
    film = kept("film").uniform(-0.25, 0.15)
    matter = surface.opened * fill * np.clip(0.8 + 0.25 * patch, 0.3, 1.2)
    matter = matter + surface.flush * moved * np.clip(0.85 + 0.22 * relief.moved, 0.2, 1.6)
    filmed = film * track.soft * (1 - surface.opened) * (1 - surface.scuffed) * (1 - surface.flush)
    matter += surface.scuffed * (scuffed + 0.18 * patch) + filmed
    matter = blur(matter.astype(F), max(reach * 0.5, 0.5))
    matter += kept("grains").uniform(0.03, 0.10) * noise(rng, s.shape, 0, 18 / s.px, 14 / s.px)
    return matter, patch, np.sign(moved), np.sign(scuffed), closure


def _charge(
    kept: Kept, px: float, ragged: Ragged, scuffing: Scuffing, surface: Surface, like: LookAlikes, patch: np.ndarray
) -> np.ndarray:  # fmt: skip
    """Bright where it charges, with a dark tail along the scanned row."""
    source = surface.opened * (1 - surface.scuffed) * (0.55 + 0.45 * smooth(patch, -1.2, 1.2))
    source = source * np.clip(0.9 + 0.2 * ragged.rag, 0.3, 1.5) + 0.7 * like.pits
    source = source + 0.3 * surface.scuffed * np.clip(scuffing.tear, 0, 1.5)
    keep = 1 - 1 / max(kept("charge's tail").uniform(6, 30) / px, 3)
    tail = lfilter([1 - keep], [1, -keep], source.astype(F), axis=1).astype(F)
    return blur(source.astype(F), max(0.8 / px, 0.8)) * 1.15 - kept("tail's depth").uniform(0.3, 0.9) * tail


def _texture(
    kept: Kept, track: Track, layers: Layers, relief: Relief, scuffing: Scuffing, surface: Surface
) -> np.ndarray:  # fmt: skip
    marks = relief.marks * relief.unpolished * 0.29 + relief.run * track.soft * 0.26
    tx = surface.level * (1 - surface.closed) * marks
    floor = 0.40 * relief.floor + 0.25 * layers.striae + kept("floors' level").uniform(-0.45, 0.1)
    tx += surface.opened * (1 - surface.scuffed) * floor
    tx += surface.flush * (0.22 * relief.moved + kept("closures' level").uniform(0.15, 0.35)) - 0.6 * surface.seam
    tx += surface.scuffed * np.tanh(scuffing.height * 1.2) * 0.75
    return blur(tx.astype(F), 0.5)
