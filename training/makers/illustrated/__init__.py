"""Fields drawn as a textbook would draw them: no heights, each state by its own lines, polygons and textures."""

import numpy as np

from ..made import Made
from . import ground, instrument, moved, valleys
from .layout import Groove, lays, loguniform, plan
from .sheet import Sheet


def ran(rng: np.random.Generator, state: str, shape: tuple[int, int], stroke: float) -> np.ndarray:
    """Where the ring ran (rows, cols) bool: nowhere, all over, or on one side of a border along the stroke (radians)."""
    if state != "border":
        return np.full(shape, state == "worn")
    y, x = np.mgrid[: shape[0], : shape[1]]
    side = (x - shape[1] / 2) * -np.sin(stroke) + (y - shape[0] / 2) * np.cos(stroke)
    edge = rng.uniform(-0.3, 0.3) * min(shape)
    return (side > edge) if rng.random() < 0.5 else (side < edge)


def engrave(rng: np.random.Generator, sheet: Sheet, grooves: list[Groove], look: valleys.Style) -> None:
    """Draw the grooves, shallow ones first: a shallow line does not cross out a deep one."""
    for groove in sorted(grooves, key=lambda g: float(g.depth.mean())):
        valleys.draw(rng, sheet, groove, look)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of `shape` (rows, cols) pixels, `pixel_size_um` µm a side; everything follows from rng."""
    state = str(rng.choice(["unworn", "worn", "border"], p=[0.4, 0.44, 0.16]))
    stroke, lay = lays(rng)
    worn = ran(rng, state, shape, stroke)
    grooves = plan(rng, lay, shape, pixel_size_um)
    look_name, look = valleys.style(rng)
    kind = [state, look_name]

    sheet = Sheet.blank(shape)
    if rng.random() < 0.45:
        ground.graphite(rng, sheet, shape, pixel_size_um)
        kind.append("graphite")
    for angle in lay:
        ground.scratches(rng, sheet, shape, angle, rng.integers(0, 40))
    if rng.random() < 0.4:
        ground.scratches(rng, sheet, shape, stroke, rng.integers(1, 15))
    fine = ground.marks(rng, shape, lay, pixel_size_um)

    if worn.any():
        ran_over = sheet.copy()
        loss = loguniform(rng, 0.03, 1.2)
        ground.scratches(rng, ran_over, shape, stroke, rng.integers(0, 60))
        left = [g.worn_by(loss) for g in grooves]
        engrave(rng, ran_over, left, look)
        if rng.random() < 0.6:
            moved.smear(rng, ran_over, left, look.floor, pixel_size_um, stroke)
        if rng.random() < 0.25:
            moved.scuff(rng, ran_over, shape, pixel_size_um, stroke)
        ran_over.tone += np.float32(rng.normal(0, 0.03))
        polish = rng.uniform(0.1, 0.7)
        fine = np.where(worn, polish * fine + ground.marks(rng, shape, [stroke], pixel_size_um), fine)
    if not worn.all():
        engrave(rng, sheet, grooves, look)
    if worn.any():
        sheet.paste(ran_over, worn)

    if rng.random() < 0.35:
        moved.debris(rng, sheet, shape, pixel_size_um)
    tone = instrument.surface(rng, sheet, fine)
    if rng.random() < 0.4:
        tone = tone + ground.patches(rng, shape)
        kind.append("patches")
    if rng.random() < 0.08:
        instrument.charge(rng, tone, sheet.codes)
    # The name tells what is to be seen: shallow grooves leave nothing to close
    kind += [name for code, name in ((2, "smeared"), (3, "scuffed")) if (sheet.codes == code).any()]
    return Made(image=instrument.record(rng, tone), codes=sheet.codes, worn=worn, kind=" ".join(kind))
