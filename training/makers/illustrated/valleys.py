"""How a textbook draws an open groove: floor lines, a lit and a shaded wall, rims."""

from dataclasses import dataclass

import numpy as np

from .layout import Groove, loguniform
from .sheet import Sheet, fill, ribbon, stroke


@dataclass
class Style:
    """How valleys look in a field, tones as shares of full scale: floor, wall (detector's side), rim, lines (spread of the
    floor's lines), rough (grain of the floor), detector (direction, radians), torn (share of the rim that is bright)."""

    floor: float
    wall: float
    rim: float
    lines: float
    rough: float
    detector: float
    torn: float


def style(rng: np.random.Generator) -> tuple[str, Style]:
    """Draw a look: dark floors (starved or carbon-filled), bright rough ones, or rims and texture only."""
    look = rng.choice(["dark", "bright", "edge"], p=[0.6, 0.2, 0.2])
    floor = {
        "dark": -loguniform(rng, 0.12, 0.42),
        "bright": loguniform(rng, 0.1, 0.28),
        "edge": rng.uniform(-0.05, 0.05),
    }[look]
    wall = loguniform(rng, 0.02, 0.16) * (1.6 if look == "edge" else 1)
    rim = loguniform(rng, 0.15 if look == "edge" else 0.02, 0.3)
    return look, Style(
        floor,
        wall,
        rim,
        loguniform(rng, 0.01, 0.07),
        loguniform(rng, 0.4, 2.5),
        rng.uniform(0, 2 * np.pi),
        rng.uniform(0.6 if look == "edge" else 0.1, 1),
    )


def draw(rng: np.random.Generator, sheet: Sheet, groove: Groove, look: Style) -> None:
    """Draw one groove on the sheet, chunk by chunk, so that it pales where it runs shallow."""
    p, n, half, f = groove.path, groove.normals, groove.half, groove.floor
    facing = float(n[0] @ [np.cos(look.detector), np.sin(look.detector)])
    core = groove.open_half()
    step = max(4, len(p) // 12)
    for a in range(0, len(p) - 1, step):
        cut = slice(a, min(a + step, len(p) - 1) + 1)
        q, m, h = p[cut], n[cut], half[cut]
        d = float(groove.depth[cut].mean())
        strength = d * d / (d * d + 0.25)
        slope = min(1.5, 2.5 * d / max(h.mean() * (1 - f), 0.5))
        fill(sheet.rough, ribbon(q, m, -h, h), 0.25 + strength * look.rough)
        fill(sheet.fine, ribbon(q, m, -h, h), 1 - 0.8 * strength)
        edge = max(f, 0.2)
        lit = look.wall * facing * slope
        marks = [-1, -edge, -0.4 * edge, 0.3 * edge, edge, 1]
        for k in range(5):
            inside = k in (1, 2, 3)
            tone = look.floor * (1 if inside else 0.45) + (0 if inside else (lit if k == 0 else -lit))
            tone = strength * (tone * (1 + 0.15 * groove.taste[0]) + look.lines * groove.taste[k] * inside)
            fill(sheet.tone, ribbon(q, m, h * marks[k], h * marks[k + 1]), tone)
        for side in (-1, 1):
            if rng.random() < look.torn:
                stroke(
                    sheet.tone,
                    q + m * (side * h)[:, None],
                    strength * look.rim * rng.uniform(0.3, 1.2),
                    max(1, 0.12 * h.mean()),
                )
        # The truth follows the depth point by point, the tone only chunk by chunk
        c = core[cut]
        if c.max() > 0:
            fill(sheet.codes, ribbon(q, m, -c, c), 1)
