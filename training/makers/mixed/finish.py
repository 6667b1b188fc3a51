"""The hone's finish: the angle of its lays, how much they take of the surface, and how large their grooves are.

Included angles of some 30–60°, more for helical slide honing; grooves 1–10 µm deep and 5–50 µm wide; valley share 15–30 %
(tests/SOURCES.md, from memory there).
"""

from dataclasses import dataclass

from makers.mixed.scene import Scene

SHARES = {"plateau": 0.55, "single": 0.2, "helical": 0.25}
ANGLES = {"plateau": (28, 65), "single": (30, 65), "helical": (125, 150)}
"""Hone angle in °."""
WIDTHS = {"plateau": (7, 12), "single": (5, 8), "helical": (6, 11)}
"""Median width of the grooves in µm, at 0.5 µm a pixel."""
DEPTHS = {"plateau": (2, 4.5), "single": (1.4, 2.6), "helical": (1.8, 4)}
"""Median depth of the grooves in µm."""


@dataclass(frozen=True)
class Finish:
    """Name; the two lays in °; valley share to reach; median width and depth of the grooves in µm."""

    name: str
    lays: tuple[float, float]
    share: float
    width: float
    depth: float


def finish(scene: Scene) -> Finish:
    """Draw a finish; the line across the stroke bisects its lays."""
    rng = scene.rng
    name = str(rng.choice(tuple(SHARES), p=tuple(SHARES.values())))
    angle = {each: rng.uniform(*between) for each, between in ANGLES.items()}[name]
    share = rng.uniform(0.14, 0.32) if name == "single" else rng.uniform(0.08, 0.28)
    sizes = {each: (rng.uniform(*WIDTHS[each]), rng.uniform(*DEPTHS[each])) for each in ANGLES}
    width, depth = sizes[name]
    across = scene.stroke - 90
    return Finish(name, (across + angle / 2, across - angle / 2), share, width * scene.size, depth)
