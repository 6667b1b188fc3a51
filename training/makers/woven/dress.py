"""The look of each state in the picture plane: tone, texture and edges drawn once per field. Tones in grey levels, lengths in µm."""

from dataclasses import dataclass

import cv2
import numpy as np

from .ribbons import Band
from .weave import Frame, cloud, spread


@dataclass(frozen=True, kw_only=True)
class Ground:
    """The bands as one ground: what the deeper groove says at each pixel. below: depth under today's plateau (µm); inside:
    µm of rise inside today's rim; wall: tangent facing the detector; shut: bool; seam: 0–1."""

    below: np.ndarray
    inside: np.ndarray
    wall: np.ndarray
    shut: np.ndarray
    seam: np.ndarray


def join(bands: list[Band], frames: list[Frame], lit: np.ndarray, worn: np.ndarray, worn_off: float) -> Ground:
    """Lay the bands over each other and take worn_off (µm) from the plateau where worn; lit: unit vector to the detector."""
    one, two = bands
    pick = (two.depth > one.depth) | ((two.depth == one.depth) & (two.rise > one.rise))
    walls = [band.wall * float(frame.across @ lit) for band, frame in zip(bands, frames, strict=True)]
    off = worn * np.float32(worn_off)
    return Ground(
        below=np.maximum(np.where(pick, two.depth, one.depth) - off, 0),
        inside=np.where(pick, two.rise, one.rise) - off,
        wall=np.where(pick, walls[1], walls[0]),
        shut=(np.where(pick, two.shut, one.shut) > 0.5) & worn,
        seam=np.where(pick, two.seam, one.seam) * worn,
    )


def paint(rng: np.random.Generator, ground: Ground, codes: np.ndarray, tangent: float, pixel: float) -> np.ndarray:
    """Plateau, open and closed grooves in grey levels. tangent: the field's median wall."""
    shape = codes.shape
    grey = cloud(rng, shape, spread(rng, 1.2, 6), spread(rng, 1.2, 6)) * spread(rng, 1.5, 7)
    grey += cloud(rng, shape, spread(rng, 15, 80), spread(rng, 15, 80)) * spread(rng, 1, 7) + rng.uniform(108, 150)
    look = rng.choice(["dark", "dark", "dark", "bright", "rim"])
    drop = {"dark": -spread(rng, 18, 70), "bright": spread(rng, 18, 55), "rim": rng.uniform(-10, 10)}[look]
    strong = 1.6 if look == "rim" else 1.0
    # The tone comes with depth, so a groove under half a micrometre shows faintly and is no step in the picture.
    sunk = np.clip((ground.below - 0.12) / 0.75, 0, 1)
    starved = np.clip(ground.below / 6, 0, 1) * rng.uniform(0, 35)
    rough = cloud(rng, shape, spread(rng, 1.5, 4), spread(rng, 1.5, 4)) * spread(rng, 3, 13) * strong
    soot = np.clip(cloud(rng, shape, 8, 8) - rng.uniform(-0.2, 1.5), 0, 1) * rng.uniform(0, 40)
    valley = drop + rough - starved - soot
    valley += ground.wall * spread(rng, 25, 130) * strong
    reach = spread(rng, 0.8, 2.2) * pixel
    broken = np.clip(0.6 + spread(rng, 0.2, 1.0) * cloud(rng, shape, 6, 6), 0, 1.6)
    rim = np.exp(-((ground.inside / tangent / reach) ** 2)) * broken * spread(rng, 8, 50) * strong
    rim *= np.clip(0.25 + cv2.blur(ground.below, (5, 5)), 0, 1)
    openly = cv2.GaussianBlur((~ground.shut).astype(np.float32), (0, 0), 0.8)
    flat = cv2.GaussianBlur((codes == 2).astype(np.float32), (0, 0), 0.8)
    burnished = 0.25 + 0.5 * rng.random()
    base = grey.mean()
    cap = base + (grey - base) * burnished + rng.choice([-1, 1, 1]) * spread(rng, 3, 22)
    # Pressed metal keeps a ghost of the hollow below and patches of flakes, each a little off in tone.
    cap += np.sign(cloud(rng, shape, 10, 10)) * rng.uniform(0, 7) - sunk * rng.uniform(0, 10)
    grey = grey * (1 - flat) + cap * flat
    grey += valley * sunk * openly + rim * openly
    grey += rim * (1 - openly) * rng.uniform(-0.7, 0.4)
    grey -= cv2.GaussianBlur(ground.seam, (0, 0), 0.6) * flat * spread(rng, 22, 75)
    # A cap never closes without a seam along the old rim: a broken line, darker where it gapes, bright where it stands up.
    border = np.clip(4 * flat * (1 - flat), 0, 1) * (cloud(rng, shape, 7, 7) > rng.uniform(-0.9, 0.5))
    grey += border * rng.choice([-1, -1, 1]) * spread(rng, 14, 48)
    # Lips: where a cap ends over an open groove its edge shines, and the ground just under it is in shade.
    hollow = cv2.GaussianBlur((codes == 1).astype(np.float32), (0, 0), 1.6)
    grey += np.clip(4 * hollow * flat, 0, 1) * spread(rng, 10, 55)
    near = cv2.GaussianBlur(flat, (0, 0), 1.8)
    grey -= near * (codes == 1) * spread(rng, 10, 45)
    return grey
