"""The run: abrasion lowers the land, then slider passes knead the metal that stands above their contact level.

Base and kneaded heights are kept apart, so that it is exact where a groove had been when metal covered it."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from .chance import grainy
from .flow import WEDGE_LIMIT_UM_PX, Ground, start, sweep
from .specimen import Run


@dataclass(frozen=True, kw_only=True)
class Base:
    """After abrasion alone: surface height and land level (µm), and groove depth below that level (µm, may be negative)."""

    height: np.ndarray
    level: np.ndarray
    depth: np.ndarray


def abraded(
    rng: np.random.Generator, run: Run, *, depth: np.ndarray, relief: np.ndarray, waves: np.ndarray, load: np.ndarray
) -> Base:
    """Land truncated to a level that follows the liner's waves, with fine marks along the stroke; load 0–1 per column."""
    patchy = 1 + 0.25 * grainy(rng, depth.shape, (200, 40))
    taken = run.truncation_um * np.clip(patchy, 0.3, 2) * load
    level = waves - taken
    surface = waves + relief - depth
    marks = run.marks_um * grainy(rng, depth.shape, (rng.uniform(60, 400), run.marks_width_px)) * load
    reached = np.minimum(surface, level + np.clip(marks, -0.35, 0.2))
    height = np.where(load > 0, reached, surface).astype(np.float32)
    return Base(height=height, level=level.astype(np.float32), depth=(depth - taken).astype(np.float32))


def contact_level(rng: np.random.Generator, run: Run, base: Base, load: np.ndarray, number: int) -> np.ndarray:
    """Level to which one pass presses: asperities of the ring, long along the stroke, bite below the land."""
    shape = base.height.shape
    asperity = grainy(rng, shape, (rng.uniform(80, 500), run.contact_width_px))
    asperity += 0.4 * grainy(rng, shape, (60, max(run.contact_width_px / 4, 1.5)))
    bite = run.bite_um * np.maximum(asperity, 0) * load
    depth = bite - 1.0 * (1 - load)
    return (base.level - depth - 0.25 * number * run.bite_um * load).astype(np.float32)


def kneaded(rng: np.random.Generator, run: Run, base: Base, load: np.ndarray) -> Ground:
    """All passes of the slider, to and fro or one way."""
    ground = start(base.height)
    shape = base.height.shape
    patches = 0.8 * grainy(rng, shape, (rng.uniform(8, 25), rng.uniform(6, 20)))
    ductile = ndtr(patches + 0.6 * grainy(rng, shape, (rng.uniform(3, 8), rng.uniform(1.5, 4)))).astype(np.float32)
    hard = np.clip(0.75 + 0.35 * grainy(rng, shape, 25), 0.1, 1)
    forward = rng.random() < 0.5
    for number in range(run.passes):
        contact = contact_level(rng, run, base, load, number)
        contact += (1 - hard) * np.maximum(ground.height - contact, 0)
        fed = np.maximum(rng.normal(0.4, 0.4, shape[1]), 0) * run.bite_um * 40 * load
        wedge = np.minimum(fed, WEDGE_LIMIT_UM_PX).astype(np.float32)
        sweep(ground, run, contact=contact, ductile=ductile, wedge=wedge, forward=forward)
        if run.reciprocating:
            forward = not forward
    return ground
