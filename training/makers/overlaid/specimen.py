"""One specimen's story: finish, wear, closing and scuffing, drawn once so that a field is of one piece.

Included hone angles of 30–60 degrees are usual and 140–150 degrees in helical slide honing, bisected by the direction
across the stroke; valley share 15–30 %; depth 1–10 µm, width 5–50 µm (all from memory). Groove walls slope 6–27 degrees.
"""

from dataclasses import dataclass

import numpy as np

from .frames import spread

CLOSURES = ("cap", "bridge", "lips", "lip", "fold", "film", "fill", "crumbled", "flush")
FINISHES = ("rough", "plateau", "fine")


@dataclass(frozen=True, kw_only=True)
class Specimen:
    pixel_um: float
    stroke: float
    """Direction in which the ring's last passes ran, radians: downstream."""
    hone_deg: float
    lays: tuple[float, ...]
    finish: str
    width_um: float
    valley_share: float
    balance: float
    worn: bool
    truncation_um: float
    closed: float
    """Share of the groove length under a body of metal."""
    closures: np.ndarray
    """Weights of CLOSURES."""
    stretch: float
    blanket: float
    scuffed: float
    skin: tuple[int, int]
    clarity: float


def draw_specimen(rng: np.random.Generator, pixel_um: float, shape: tuple[int, int]) -> Specimen:
    stroke = rng.uniform(0, 2 * np.pi)
    hone = rng.uniform(140, 150) if rng.random() < 0.15 else rng.uniform(30, 60)
    half = np.radians(hone / 2)
    across = stroke + np.pi / 2
    lays = (across - half, across + half)
    if rng.random() < 0.1:
        lays = (lays[int(rng.integers(2))],)
    finish = str(rng.choice(FINISHES, p=(0.3, 0.5, 0.2)))
    side = min(shape) * pixel_um
    width = {"rough": spread(rng, 7, 30), "plateau": spread(rng, 6, 35), "fine": spread(rng, 3, 9)}[finish]
    width = float(np.clip(width, max(4.5 * pixel_um, 3.0), max(side / 15, 5 * pixel_um)))
    share = {"rough": rng.uniform(0.3, 0.6), "plateau": rng.uniform(0.2, 0.5), "fine": rng.uniform(0.1, 0.35)}[finish]
    worn = rng.random() < 0.62
    low, high = ((0, 0.02), (0.03, 0.18), (0.18, 0.5), (0.5, 0.95))[int(rng.choice(4, p=(0.2, 0.22, 0.3, 0.28)))]
    closed = rng.uniform(low, high) if worn else 0.0
    return Specimen(
        pixel_um=pixel_um,
        stroke=stroke,
        hone_deg=hone,
        lays=lays,
        finish=finish,
        width_um=width,
        valley_share=share,
        balance=rng.uniform(0.35, 0.65),
        worn=worn,
        truncation_um=0.03 + 0.5 * rng.random() ** 1.7 if worn else 0.0,
        closed=closed,
        closures=rng.dirichlet(np.full(len(CLOSURES), 0.6)),
        stretch=spread(rng, 0.7, 6.0),
        blanket=rng.uniform(0.3, 1.0) if closed > 0.15 and rng.random() < 0.3 else 0.0,
        scuffed=spread(rng, 0.02, 0.4) if worn and rng.random() < 0.32 else 0.0,
        skin=(int(rng.integers(6)), int(rng.integers(6))),
        clarity=rng.uniform(0.25, 1.1),
    )
