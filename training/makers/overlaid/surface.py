"""The ground put together on the field's pixels: what was there, what wear took, what metal lies over it, and the truth.

Open valley: uncovered ground at least 0.5 µm below the plateau in a hone groove. Smeared: it was so after truncation and
before metal moved, and a body now brings it to within 0.5 µm. Truncation alone makes plateau, never smear.
"""

from dataclasses import dataclass

import numpy as np

from .bodies import Bodies
from .frames import Frame, ramp, smooth
from .lays import draw_lay
from .specimen import Specimen
from .track import draw_track

VALLEY_DEPTH_UM = 0.5


@dataclass
class Surface:
    codes: np.ndarray
    worn: np.ndarray
    original: np.ndarray
    """Depth of the truncated grooves before metal moved, µm."""
    depth: np.ndarray
    """Depth of the ground as it is, µm below the plateau; a raised lip is negative."""
    relief: np.ndarray
    """Everything finer: scratches, marks, skin, scuffed ground, µm."""
    cover: np.ndarray
    tone: np.ndarray
    seam: np.ndarray
    streaks: np.ndarray
    strength: np.ndarray
    downstream: tuple[float, float]
    """Unit vector (x, y)."""


def skin_relief(
    rng: np.random.Generator, kind: int, shape: tuple[int, int], streaks: np.ndarray, track: Frame
) -> np.ndarray:
    """Burnished, streaked, wrinkled, porous, scaly or oxidised: the upper skin's texture, unit strength."""
    size = track.size
    if kind == 0:
        return 0.25 * streaks
    if kind == 1:
        return 1.1 * streaks
    if kind == 2:
        return track.to_field(smooth(rng, (size, size), rng.uniform(8, 25), rng.uniform(2.5, 6)))
    if kind == 3:
        return -1.6 * ramp(smooth(rng, shape, 3, 3), 1.2, 1.9)
    if kind == 4:
        scales = track.to_field(smooth(rng, (size, size), rng.uniform(5, 12), rng.uniform(7, 25)))
        return 1.2 * (np.mod(scales * 1.5, 1.0) - 0.5).astype(np.float32)
    return 0.6 * smooth(rng, shape, 2, 2) + 0.5 * smooth(rng, shape, 8, 8)


def merged(first: list[np.ndarray], second: list[np.ndarray]) -> list[np.ndarray]:
    over = second[0] > first[0]
    return [np.where(over, b, a) for a, b in zip(first, second, strict=True)]


def laid_back(frame: Frame, bodies: Bodies) -> list[np.ndarray]:
    flat = frame.to_field(np.dstack((bodies.cover, bodies.level, bodies.tone, bodies.seam)))
    skin = frame.to_field(np.dstack((bodies.skin, bodies.strength)))
    return [flat[..., 0], flat[..., 1], flat[..., 2], flat[..., 3], skin[..., 0], skin[..., 1]]


def draw_surface(rng: np.random.Generator, specimen: Specimen, shape: tuple[int, int]) -> Surface:
    track = Frame(specimen.stroke, shape)
    ring = draw_track(rng, specimen, track.size)
    flat = track.to_field(np.dstack((ring.marks, ring.streaks, ring.scuff, ring.relief)))
    marks, streaks, scuff, scuff_relief = (flat[..., k] for k in range(4))
    scuff_tone, burnish = (track.to_field(canvas) for canvas in (ring.scuff_tone, ring.burnish))
    worn = np.full(shape, specimen.worn)
    if specimen.worn and rng.random() < 0.08:
        place = track.size * rng.uniform(0.3, 0.7)
        side = np.arange(track.size)[:, None] * np.ones((1, track.size))
        worn = track.to_field((side > place).astype(np.float32)) > 0.5
    depth, scratches, striae = (np.zeros(shape, np.float32) for _ in range(3))
    cover = laid_back(track, ring.bodies) if specimen.blanket else [np.zeros(shape, np.float32) for _ in range(6)]
    shares = (1.0,) if len(specimen.lays) == 1 else (specimen.balance, 1 - specimen.balance)
    for angle, share in zip(specimen.lays, shares, strict=True):
        frame = Frame(angle, shape)
        lay = draw_lay(rng, specimen, frame, share * specimen.valley_share)
        flat = frame.to_field(np.dstack((lay.depth, lay.marks, lay.striae)))
        striae = np.where(flat[..., 0] > depth, flat[..., 2], striae)
        depth = np.maximum(depth, flat[..., 0])
        scratches = scratches + flat[..., 1]
        if specimen.closed > 0:
            cover = merged(cover, laid_back(frame, lay.bodies))
    original = np.maximum(depth - specimen.truncation_um * worn, 0)
    body, level, tone, seam, skin, strength = cover
    body = ramp(body, 0.2, 0.8) * worn
    bodied = original * (1 - body) + body * np.minimum(level, original)
    scuff = scuff * worn
    filled = 1 - scuff * ramp(smooth(rng, shape, 12, 12), -2.5, -0.5)
    now = bodied * filled
    codes = np.zeros(shape, np.uint8)
    codes[now >= VALLEY_DEPTH_UM] = 1
    codes[(original >= VALLEY_DEPTH_UM) & (bodied < VALLEY_DEPTH_UM) & (body > 0)] = 2
    codes[scuff > 0.4] = 3
    pixel = specimen.pixel_um
    skins = [skin_relief(rng, kind, shape, streaks, track) for kind in specimen.skin]
    textured = np.where(skin > 0.5, skins[0], skins[1]) * strength
    kept = np.where(worn, np.exp(-2.5 * specimen.truncation_um), 1.0) * (1 - 0.85 * body)
    sunk = ramp(now, 0.2, 0.8)
    relief = scratches * kept * (1 - sunk) + marks * worn * (1 - sunk) * (1 - 0.5 * body)
    relief = relief + body * textured * 0.05 * pixel**0.5 + sunk * striae * 0.06 * pixel**0.5 * rng.uniform(0.3, 2)
    relief = relief * (1 - scuff) + scuff * scuff_relief
    shade = body * (tone + 0.045 * textured) * (1 - scuff) + scuff * scuff_tone
    mottle = rng.uniform(0, 0.03) * smooth(rng, shape, 6, 6) + rng.uniform(0, 0.025) * streaks
    shade = shade + mottle * (1 - sunk) * (1 - scuff)
    shade = shade + burnish * worn * (1 - sunk) * (1 - scuff)
    wall = np.float32(1) - scuff
    down = (float(np.cos(specimen.stroke)), float(np.sin(specimen.stroke)))
    return Surface(codes, worn, original, now, relief, body * wall, shade, seam * body * wall, streaks, strength, down)
