"""The grooves of both lays, cut one by one, worn by the run and closed in places. Shapes: common practice, no source."""

from dataclasses import dataclass

import numpy as np

from makers.mixed.closing import BURNISHED, Jitter, closings, shut
from makers.mixed.finish import Finish
from makers.mixed.scene import Scene

LIMIT_UM = 0.5
"""An open valley's ground lies at least this far below the local plateau (semwear.terms)."""
RUNS_OUT = 0.12
"""Share of the grooves that end inside the field."""


@dataclass(frozen=True)
class Cuts:
    """Maps (rows, cols) float32: depth in µm before and after metal moved; cover and burnished, 0 or 1; tone of the floors, 0–1.
    Then jitter: the map that frays the closures' edges."""

    before: np.ndarray
    after: np.ndarray
    cover: np.ndarray
    burnished: np.ndarray
    tone: np.ndarray
    jitter: np.ndarray


@dataclass(frozen=True)
class Tool:
    """One groove to cut: angle in °, width, depth and the run's wear in µm, severity and mix of its closures, tone."""

    angle: float
    width: float
    depth: float
    wear: float
    severity: float
    mix: np.ndarray
    tone: float


def cut(scene: Scene, hone: Finish, ran: np.ndarray, smeared: bool) -> Cuts:
    """Cut grooves until their ground below the limit fills the finish's share. Metal moves only where the ring ran (rows, cols)."""
    rng, px, worn = scene.rng, scene.px, bool(ran.any())
    wear = scene.lognormal(0.35, 0.6, 0.05, 1.2) if worn else 0.0
    severity = _severity(rng, worn, smeared)
    mix = rng.dirichlet((2.2, 1.3, 1.6, 1.6))
    edge = scene.grain(scene.stroke, 7, 1.1) * 0.7 + scene.grain(scene.stroke, 14, 3.5) * 0.7
    jitter = Jitter(edge, scene.grain(scene.stroke, 350, 35 * scene.size), ran.astype(np.float32))
    maps = [np.zeros(scene.shape, np.float32) for _ in range(5)]
    balance = rng.uniform(0.35, 0.65)
    for count in range(1, 301):
        first = rng.random() < balance
        lay = hone.lays[0 if first and count != 2 else 1]
        width = scene.lognormal(hone.width, 0.5, max(3.5, 3.2 * px), 45)
        depth = float(np.clip(hone.depth * (width / hone.width) ** 0.6 * np.exp(0.3 * rng.standard_normal()), 0.9, 10))
        angle, harm = lay + rng.normal(0, 1.3), severity * rng.uniform(0.4, 1.5)
        tool = Tool(angle, width, depth, wear, harm, mix, float(np.clip(rng.normal(-0.1, 0.6), 0, 1)))
        if abs(angle) > 45:  # steeper than the diagonal: along the columns
            groove(scene, tool, [map_.T for map_ in maps], jitter.turned())
        else:
            groove(scene, tool, maps, jitter)
        if count % 2 == 0 and (maps[0][::2, ::2] > LIMIT_UM).mean() > hone.share:
            break
    return Cuts(*maps, edge)


def _severity(rng: np.random.Generator, worn: bool, smeared: bool) -> float:
    """Share of the grooves' length that is closed, about; a little of it on any worn ground."""
    if smeared:
        return rng.uniform(0.2, 0.85)
    if worn:
        return rng.uniform(0.0, 0.03)
    rng.random()  # unused: keeps a seed's later draws
    return 0.0


def groove(scene: Scene, tool: Tool, maps: list[np.ndarray], jitter: Jitter) -> None:
    """Cut one groove in place into the five maps of Cuts (m, n), which are turned so that it runs from column to column."""
    rng, px, (m, n) = scene.rng, scene.px, maps[0].shape
    steep = abs(tool.angle) > 45
    slope = 1 / np.tan(np.radians(tool.angle)) if steep else np.tan(np.radians(tool.angle))
    cosine = 1 / np.hypot(1, slope)
    rise = slope * (n - 1)
    x = np.arange(n)
    start = rng.uniform(min(0, -rise), m + max(0, -rise))
    middle = start + slope * x + scene.wave(n, 120) * (0.04 * tool.width / px)
    width = tool.width * (1 + 0.10 * scene.wave(n, 60) + 0.03 * scene.wave(n, 4))
    depth = tool.depth * (1 + 0.15 * scene.wave(n, 90))
    if rng.random() < RUNS_OUT:
        end = rng.uniform(0, n)
        taper = np.clip(0.5 + (x - end) * px / rng.uniform(20, 60) * rng.choice((-1, 1)), 0, 1)
        depth, width = depth * taper, width * (0.45 + 0.55 * taper)
    reach = int(np.ceil(0.75 * tool.width / cosine / px)) + 2
    offsets = np.arange(-reach, reach + 1)
    rows = np.round(middle).astype(int)[None, :] + offsets[:, None]
    inside = (rows >= 0) & (rows < m)
    if not inside.any():
        return
    across = ((rows - middle) * (cosine * px)).astype(np.float32)
    rows, cols = np.clip(rows, 0, m - 1), np.broadcast_to(x, rows.shape)
    place = 2 * across / width
    profile = _profile(rng, place)
    cuts = rng.standard_normal(int(2 * reach * px / max(1.0, tool.width / 9)) + 6)  # parallel cuts in the floor
    floor = np.interp(offsets / (2 * reach + 1) + 0.5, np.linspace(0, 1, len(cuts)), cuts)[:, None]
    before = (depth * profile * (1 + 0.14 * floor)).astype(np.float32)
    before = np.maximum(before - tool.wear * jitter.ran[rows, cols], 0)
    after, cover, burnished = before.copy(), np.zeros_like(before), np.zeros_like(before)
    plan = closings(scene, tool.severity, tool.mix, jitter.tendency[rows[reach], x]) if tool.severity > 0 else ()
    for closing in plan:
        part = np.s_[:, max(closing.start - 6, 0) : min(closing.stop + 6, n)]
        if before[part].shape[1] < 2:
            continue
        frayed = jitter.edge[rows[part], cols[part]]
        lean = rng.normal(0, 0.3) + (0.6 if steep else 0)
        on = shut(closing, cols[part] + lean * across[part] / px, place[part], frayed, max(2.4 / px, 1.6))
        on &= jitter.ran[rows[part], cols[part]] > 0.5
        level = closing.level * (0.25 if closing.kind == BURNISHED else 1) * np.minimum(profile[part] * 1.4, 1)
        after[part] = np.where(on, np.minimum(np.minimum(before[part], level), after[part]), after[part])
        cover[part] = np.maximum(cover[part], on)
        burnished[part] = np.maximum(burnished[part], on & (closing.kind == BURNISHED))
    to = rows[inside], cols[inside]
    for map_, values in zip(maps, (before, after, cover, burnished, tool.tone * (before > 0.4)), strict=True):
        map_[to] = np.maximum(map_[to], values[inside])


def _profile(rng: np.random.Generator, place: np.ndarray) -> np.ndarray:
    """Cross-section, 1 at the deepest and 0 at the rims, at places (band, n) across that are ±1 at the rims."""
    skew, power = rng.uniform(-0.3, 0.3), rng.uniform(1.6, 4)
    out = np.abs((place - skew) / np.where(place > skew, 1 - skew, 1 + skew))
    return 1 - np.minimum(out, 1) ** power
