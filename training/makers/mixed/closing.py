"""Where along a groove metal has moved over it, and how far it shuts it.

Folds interrupt grooves (tests/SOURCES.md); lengths, mixes and levels: common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

from makers.mixed.scene import Scene

CAP, BRIDGE, LIP, BURNISHED = range(4)
LENGTHS_UM = {CAP: (24, 0.6, 7, 90), BRIDGE: (6, 0.4, 3, 14), LIP: (40, 0.6, 12, 140), BURNISHED: (80, 0.5, 30, 240)}
"""Length along the groove: median, spread of its logarithm, least and most."""


@dataclass(frozen=True)
class Closing:
    """One closure: kind; start and stop along the groove in px; the side it comes from, ±1; how much it covers; level left, µm."""

    kind: int
    start: int
    stop: int
    side: int
    part: float
    level: float


@dataclass(frozen=True)
class Jitter:
    """Maps (rows, cols) that fray the closures' edges, that say where metal tends to move, and where the ring ran, 0 or 1."""

    edge: np.ndarray
    tendency: np.ndarray
    ran: np.ndarray

    def turned(self) -> "Jitter":
        """The same with rows and columns exchanged."""
        return Jitter(self.edge.T, self.tendency.T, self.ran.T)


def closings(scene: Scene, severity: float, mix: np.ndarray, tendency: np.ndarray) -> list[Closing]:
    """Closures along a groove that shut a share of about severity of it; tendency (n,) along it."""
    rng, n = scene.rng, len(tendency)
    out, closed, tries, goal = [], 0.0, 0, severity * n
    while closed < goal and tries < 60:
        tries += 1
        kind = int(rng.choice(4, p=mix))
        at = rng.integers(0, n)
        if tendency[at] < rng.standard_normal() * 0.7:
            continue
        drawn = [scene.lognormal(*LENGTHS_UM[each]) for each in LENGTHS_UM]
        length = max(drawn[kind] * scene.size / scene.px, 4)
        gain = length * (0.5 if kind == LIP else 1)
        if closed + gain > goal and rng.random() > (goal - closed) / gain:
            break
        start, stop = int(at - length / 2), int(at + length / 2) + 1
        out.append(Closing(kind, start, stop, rng.choice((-1, 1)), rng.uniform(0.3, 0.75), rng.uniform(0.0, 0.33)))
        closed += gain
    return out


def shut(closing: Closing, x: np.ndarray, place: np.ndarray, jitter: np.ndarray, soft_px: float) -> np.ndarray:
    """Bool (band, n): where a closure lies. x along the groove in px, place across it (±1 at the rims), jitter, all (band, n)."""
    side, part, length = closing.side, closing.part, closing.stop - closing.start
    u = x + jitter * min(soft_px, 0.2 * length)
    on = (u > closing.start) & (u < closing.stop)
    if closing.kind == LIP:
        t = np.clip((u - closing.start) / length, 0, 1)
        on &= side * place < -1 + 2 * part * np.sqrt(np.clip(4 * t * (1 - t), 0, 1)) + 0.12 * jitter
    if closing.kind == CAP and part > 0.55:  # a rest of the groove is left at one rim
        on &= side * place < 0.8 + 0.25 * jitter
    if closing.kind in (CAP, BRIDGE) and part < 0.5:  # not quite shut: pores stay
        on &= jitter < 2.0
    return on
