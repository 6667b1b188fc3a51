"""Signal of a surface by slopes, shelter and matter: what reaches the detector, before the instrument's own faults."""

import cv2
import numpy as np

from .chance import decades, rough
from .matter import Matter


def blur(map_: np.ndarray, sigma_px: float) -> np.ndarray:
    """Gaussian mean over sigma_px; wide ones go by a smaller map."""
    if sigma_px <= 4:
        return cv2.GaussianBlur(map_, (0, 0), max(sigma_px, 0.3))
    part = 3 / sigma_px
    small = cv2.resize(map_, None, fx=part, fy=part, interpolation=cv2.INTER_AREA)
    return cv2.resize(cv2.GaussianBlur(small, (0, 0), 3), map_.shape[::-1], interpolation=cv2.INTER_LINEAR)


def tilt_gain(slope: np.ndarray) -> np.ndarray:
    """Secondary yield of a facet with that slope (tangent) over a level one: sec of its angle."""
    return np.sqrt(1 + slope**2)


def signal(rng: np.random.Generator, surface: dict[str, np.ndarray], matter: Matter, pixel_um: float) -> tuple[np.ndarray, bool]:
    """Signal about 1 for level clean metal, and whether backscattered electrons gave it. surface holds maps in the
    picture's frame: height (um), open_um (um), lid, torn (0 to 1) and laid (pass)."""
    shape = surface["height"].shape
    backscattered = rng.random() < 0.25
    lid, torn, open_um = surface["lid"], surface["torn"], surface["open_um"]
    floor = np.clip(open_um / decades(rng, 0.5, 1.5), 0, 1) * (1 - lid) * (1 - torn)
    pits = matter.graphite * rng.uniform(0, 1.2) * (1 - 0.8 * lid)
    grain = rough(rng, shape, (1.5, 1.5)), rough(rng, shape, (3, 3))
    floor_rough = decades(rng, 0.02, 0.3) * min(1.0, max(pixel_um, 0.25))
    texture = floor_rough * floor * (grain[0] + 0.8 * grain[1]) + 0.01 * pixel_um * grain[0] * (1 - 0.8 * lid)
    # later laid metal lies over earlier: each pass leaves an edge, a fold line; lips end in a raised edge
    fold = decades(rng, 0.02, 0.12) * max(pixel_um, 0.4)
    lip = (
        decades(rng, 0.03, 0.25)
        * max(pixel_um, 0.5)
        * cv2.GaussianBlur(cv2.morphologyEx(lid, cv2.MORPH_GRADIENT, np.ones((3, 3))), (0, 0), 0.7)
    )
    height = surface["height"] + texture + fold * surface["laid"] * 0.5 + lip - pits + matter.lump
    height = cv2.GaussianBlur(height.astype(np.float32), (0, 0), 0.6)
    right = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=1 / (8 * pixel_um))
    down = cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=1 / (8 * pixel_um))
    side = rng.uniform(0, 2 * np.pi)
    facing = np.clip(right * np.cos(side) + down * np.sin(side), -1.5, 1.5)
    steep = np.clip(np.hypot(right, down), 0, 2.0)
    near = blur(height, decades(rng, 1.2, 3)) - height
    wide = blur(height, decades(rng, 4, 25) / pixel_um * 0.7 + 1.5) - height
    shelter = np.clip(wide, 0, None)
    one_sided = decades(rng, 0.15, 1.6) * (1.3 if backscattered else 1)
    out = 1 + 0.7 * np.tanh(one_sided * facing / 0.7)
    if not backscattered:
        edge = np.clip(-near / pixel_um, 0, 0.6) * decades(rng, 0.3, 3) + rng.uniform(0.3, 1.5) * (tilt_gain(steep) - 1)
        out *= (1 + edge) * np.exp(-np.clip(near, 0, None) * rng.uniform(0, 0.4) / pixel_um)
    out *= np.exp(-np.minimum(shelter * decades(rng, 0.03, 0.5), 1.6))
    what = rng.random()
    if what < 0.45:  # oil baked to carbon in the floors, patchy
        out *= 1 - rng.uniform(0.15, 0.65) * floor * np.clip(1 + 0.4 * rough(rng, shape, (9, 9)) - 0.25 * grain[1], 0.2, 1.3)
    elif what < 0.7 and not backscattered:  # broken floors that yield more than the land
        out *= 1 + rng.uniform(0.1, 0.5) * floor * np.clip(1 + 0.5 * grain[0], 0, 2)
    out *= 1 + lid * rng.normal(0.06, 0.08) + torn * (rng.uniform(-0.1, 0.25) + rng.uniform(0.02, 0.15) * grain[0])
    out *= 1 - rng.uniform(0.35, 0.75) * matter.graphite * (1 - 0.9 * lid)
    film = rng.uniform(-0.35, 0.12) * matter.film * (0.5 if backscattered else 1)
    out *= 1 + film + decades(rng, 0.005, 0.05) * rough(rng, shape, (decades(rng, 3, 30) / pixel_um, decades(rng, 3, 30) / pixel_um))
    if matter.hidden.any():  # debris stands between the ground beside it and the detector
        cast = np.float32([[1, 0, 6 * np.cos(side)], [0, 1, 6 * np.sin(side)]])
        shade = blur(cv2.warpAffine(matter.lump, cast, shape[::-1]), 3) * (matter.lump < 0.05)
        out *= np.exp(-np.clip(shade * 0.3, 0, 0.7))
        out = np.where(matter.hidden, out * rng.uniform(0.7, 1.6), out)
    out = out * (1 + 0.9 * matter.glow)
    return np.clip(out, 0.03, 6).astype(np.float32), backscattered
