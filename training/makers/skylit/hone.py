"""Three finishes and the grooves of one of their lays."""

from dataclasses import dataclass

import numpy as np

from .grid import Grid
from .noise import smooth

LIMIT_UM = 0.5
"""Below the local plateau: the limit between plateau and open valley (semwear.terms)."""


@dataclass(frozen=True, kw_only=True)
class Finish:
    """Share of ground in valleys, median groove width (µm) and its spread (of the logarithm), depth over half width, depth of
    finishing scratches (µm)."""

    share: tuple[float, float]
    width_um: float
    spread: float
    slope: tuple[float, float]
    scratch_um: float


FINISHES = {
    "plateau coarse": Finish(share=(0.18, 0.30), width_um=24.0, spread=0.45, slope=(0.18, 0.42), scratch_um=0.16),
    "plateau fine": Finish(share=(0.18, 0.30), width_um=15.0, spread=0.40, slope=(0.20, 0.45), scratch_um=0.13),
    "single stage": Finish(share=(0.28, 0.40), width_um=13.0, spread=0.45, slope=(0.18, 0.40), scratch_um=0.20),
}
"""Plateau-honed valleys take 15 to 30 % and grooves are 5 to 50 µm wide and 1 to 10 µm deep (tests/SOURCES.md, from memory
there), their walls 6 to 27° steep on the mean; what is outside that: common practice, no source."""


@dataclass(kw_only=True)
class Groove:
    """Centre off the middle of the field, width and depth in µm; form of its profile: v, round or flat."""

    centre: float
    width: float
    depth: float
    form: str

    def profile(self, r: np.ndarray) -> np.ndarray:
        """Share of the depth reached at r half widths from the middle."""
        if self.form == "v":
            return np.clip(1.06 - np.sqrt(r * r + 0.0036), 0, 1)
        if self.form == "round":
            return np.clip(1 - r * r, 0, 1)
        return smooth((1.03 - r) / 0.42)

    @property
    def limit(self) -> float:
        """Half width, in half widths of the groove, at which the ground is as deep as the limit; 0 if it nowhere is."""
        r = np.linspace(0, 1, 201)
        deep = self.profile(r) * self.depth >= LIMIT_UM
        return float(r[deep].max()) if deep.any() else 0.0


def draw_grooves(rng: np.random.Generator, grid: Grid, finish: Finish, wear: float) -> list[Groove]:
    """Grooves of one lay, half of the finish's share, one a slot at a random place in it; `wear` µm of depth are gone. What
    is cut deeper than 1 µm is kept deep enough to be 5 pixels wide at the limit; a few narrow ones stay shallow."""
    extent = 2 * grid.reach
    wanted = rng.uniform(*finish.share) * extent / 2 * 1.15
    grooves: list[Groove] = []
    least = max(5.0, 7 * grid.pixel)
    while sum(groove.width for groove in grooves) < wanted:
        width = float(np.clip(finish.width_um * np.exp(finish.spread * rng.standard_normal()), least, 60))
        depth = float(np.clip(width / 2 * rng.uniform(*finish.slope), 1.1, 6.2))
        if rng.random() < 0.05 and width < 14:
            depth = rng.uniform(0.6, 0.9)
        form = str(rng.choice(["v", "round", "flat"], p=[0.3, 0.4, 0.3]))
        groove = Groove(centre=0, width=width, depth=max(depth - wear, 0.35), form=form)
        while depth > 1 and groove.limit * width < 5 * grid.pixel:
            groove.depth *= 1.25
        grooves.append(groove)
    slot = extent / len(grooves)
    for i, k in enumerate(rng.permutation(len(grooves))):
        grooves[k].centre = -grid.reach + (i + 0.5 + rng.uniform(-0.42, 0.42)) * slot
    return grooves
