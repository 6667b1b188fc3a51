"""The ground of one field: hone, running-in, moved and torn metal, look-alikes, and the truth that follows from the depths."""

from dataclasses import dataclass, replace

import numpy as np

from makers.filtered.closing import KINDS, LIMIT_UM, close
from makers.filtered.grain import cloud, frame
from makers.filtered.hone import finish, hone
from makers.filtered.lookalikes import blobs, graphite, scratches, stain
from makers.filtered.scuff import scuff


@dataclass(frozen=True)
class Ground:
    """Maps of (rows, cols). height: µm about the plateau; depth: of what grooves are left, µm; floor: texture of their floors;
    edge, skin, flush: as in Closed; torn, crack: as in Scuff; where: truth codes; worn: the track; the others 0–1 or bool."""

    height: np.ndarray
    depth: np.ndarray
    floor: np.ndarray
    edge: np.ndarray
    skin: np.ndarray
    flush: np.ndarray
    torn: np.ndarray
    crack: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    graphite: np.ndarray
    pits: np.ndarray
    stain: np.ndarray
    dirt: np.ndarray
    kind: str


def track(rng: np.random.Generator, stroke: tuple, reach_um: float) -> np.ndarray:
    """True where the ring ran: all of a worn field, in one of seven up to a wavy border along the stroke."""
    along, across = stroke
    if rng.random() > 1 / 7:
        return np.ones(across.shape, bool)
    border = rng.uniform(-0.3, 0.3) * reach_um + 0.02 * reach_um * cloud(rng, along, across, (0.3 * reach_um, reach_um))
    return (across > border) if rng.random() < 0.5 else (across < border)


def truth(before: np.ndarray, after: np.ndarray, cover: np.ndarray, torn: np.ndarray, dirt: np.ndarray) -> np.ndarray:
    """Mask codes from the grooves' depths before and after metal moved, µm, all (rows, cols)."""
    codes = np.zeros(before.shape, np.uint8)
    codes[after >= LIMIT_UM] = 1
    codes[cover & (before >= LIMIT_UM) & (after < LIMIT_UM)] = 2
    codes[torn] = 3
    codes[dirt] = 255
    return codes


def lay_down(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> Ground:
    """Draw one ground of `shape`; four in ten unworn (the project's own mix); the stroke near vertical in three of four."""
    stroke_deg = rng.normal(90, 4) if rng.random() < 0.75 else rng.uniform(0, 180)
    stroke = frame(shape, pixel_um, stroke_deg)
    reach, none = min(shape) * pixel_um, np.zeros(shape, np.float32)
    plan = finish(rng)
    sheets = hone(rng, plan, shape, pixel_um, stroke_deg)
    is_worn = rng.random() >= 0.4
    worn = track(rng, stroke, reach) if is_worn else np.zeros(shape, bool)
    smeared, scuffed = (is_worn and rng.random() < odds for odds in (0.85, 0.33))
    share, mix = rng.uniform(0.05, 0.7), rng.dirichlet(np.full(len(KINDS), 0.8))
    wear = np.where(worn, np.float32(min(rng.exponential(0.2), 0.2 * plan["depth"], 0.3)), np.float32(0))
    before, after, floor, edge, skin = (none.copy() for _ in range(5))
    cover, flush = np.zeros(shape, bool), np.zeros(shape, bool)
    for honed in sheets:
        sheet = replace(honed, depth=np.maximum(honed.depth - wear, 0))
        left = sheet.depth
        if smeared:
            closed = close(rng, sheet, worn, stroke, stroke_deg, pixel_um, share, mix)
            left = closed.depth
            cover |= closed.cover
            flush |= closed.flush
            edge, skin = np.maximum(edge, closed.edge), np.maximum(skin, closed.skin)
        fine = max(0.1 * sheet.width_um, 2 * pixel_um)
        np.copyto(floor, cloud(rng, sheet.along, sheet.place * sheet.width_um, (6 * fine, fine)), where=left > after)
        before, after = np.maximum(before, sheet.depth), np.maximum(after, left)
    lay = frame(shape, pixel_um, sheets[-1].lay_deg)
    rough, grit = rng.uniform(0.02, 0.1), max(rng.uniform(0.6, 2.0), 1.8 * pixel_um)
    marks = rough * cloud(rng, sheets[0].along, frame(shape, pixel_um, sheets[0].lay_deg)[1], (25 * grit, grit))
    marks += rough * cloud(rng, *lay, (30 * grit, 1.3 * grit))
    ran = rng.uniform(0.02, 0.09) * cloud(rng, *stroke, (40 * grit, grit)) + marks * rng.uniform(0.15, 0.8)
    ploughed = scuff(rng, worn, stroke, pixel_um, rng.uniform(0.05, 0.45)) if scuffed else None
    torn = ploughed.where if scuffed else np.zeros(shape, bool)
    # particles of 3 to 25 µm and pits of 1 to 8 µm (common practice, no source)
    coarse = max(min(25 / pixel_um, 0.12 * min(shape)), 9)
    dirt = blobs(rng, shape, int(rng.integers(1, 6)) * (rng.random() < 0.08), (max(3 / pixel_um, 6), coarse)) > 0.5
    codes = truth(before, after, cover, torn, dirt)
    covered = codes == 2
    after = np.where(torn, 0.12 * after, after)
    scratched = 0.4 * scratches(rng, stroke, pixel_um, int(rng.integers(0, 7))) if rng.random() < 0.6 else none
    flakes = graphite(rng, shape, pixel_um) if rng.random() < 0.6 else none
    pit_count = rng.poisson(np.prod(shape) * (pixel_um / 1000) ** 2 * np.exp(rng.uniform(4, 6.8))) * (rng.random() < 0.45)
    pits = blobs(rng, shape, min(int(pit_count), 150), (1 / pixel_um, 8 / pixel_um))
    height = np.where(worn, ran, marks) * np.where(covered, 0.6, np.where(torn, 0.2, 1)) + (ploughed.relief if scuffed else 0)
    height = height - after - scratched * (after < LIMIT_UM) - 0.7 * pits
    blots = stain(rng, *lay, max(rng.uniform(0.1, 0.4) * reach, 8 * pixel_um)) if rng.random() < 0.4 else none
    flakes = flakes * np.where(covered | torn, np.float32(0.1), np.float32(1))
    words = ["worn" if is_worn else "unworn"] + ["smeared"] * bool(covered.any()) + ["scuffed"] * bool((codes == 3).any())
    return Ground(
        *(height.astype(np.float32), after.astype(np.float32), floor, edge * (~torn & ~dirt), skin * covered, flush & covered),
        *((ploughed.torn, ploughed.crack) if scuffed else (none, none)),
        *(codes, worn, flakes, pits * ~torn, blots, dirt.astype(np.float32), " ".join(words)),
    )
