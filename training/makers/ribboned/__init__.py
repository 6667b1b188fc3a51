"""Fields made of labelled ribbons: the truth is drawn first, then each state gets its look in grey, in the picture plane."""

import numpy as np

from ..made import Made
from .camera import taken
from .closing import drawn_habit
from .ground import painted_ground
from .hone import drawn_ribbons
from .lay import drawn_plan
from .paint import Canvas, paint_ribbons
from .scuff import paint_scuff, scuffed_where
from .texture import loguniform
from .tone import drawn_look
from .traps import paint_charging, paint_debris, paint_graphite, paint_patches, paint_scratches


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field; every choice follows from rng."""
    plan = drawn_plan(rng, shape)
    look = drawn_look(rng, pixel_size_um)
    in_track = bool(plan.worn.any())
    habit = drawn_habit(rng, pixel_size_um, shape) if in_track and rng.uniform() < 0.6 else None
    scuffing = in_track and rng.uniform() < 0.25
    grey = painted_ground(rng, plan, pixel_size_um)
    if rng.uniform() < 0.3:
        paint_graphite(rng, grey, look, pixel_size_um)
    canvas = Canvas(grey, np.zeros(shape, np.float32), np.zeros(shape, np.uint8))
    ribbons = drawn_ribbons(rng, plan, habit, pixel_size_um, shape)
    # a ring takes the heights first: most fields keep the deeper half of their grooves
    deepest = np.quantile([ribbon.depth_um.max() for ribbon in ribbons], 0.6)
    lost_um = min(plan.lost_um, max(deepest - 0.5, 0.1 * deepest) * rng.uniform(0.2, 0.9)) if in_track else 0.0
    paint_ribbons(rng, canvas, ribbons, look, plan.worn, lost_um, plan.stroke_deg, pixel_size_um)
    if rng.uniform() < 0.3:
        paint_scratches(rng, canvas.grey, plan, pixel_size_um)
    if scuffing:
        torn = scuffed_where(rng, plan, pixel_size_um, loguniform(rng, 0.03, 0.7))
        paint_scuff(rng, canvas, plan, torn, pixel_size_um)
    if rng.uniform() < 0.25:
        paint_patches(rng, canvas.grey, pixel_size_um)
    if rng.uniform() < 0.3:
        paint_debris(rng, canvas, look, pixel_size_um)
    if rng.uniform() < 0.06:
        paint_charging(rng, canvas)
    image = taken(rng, look.plateau * np.clip(canvas.grey, 0.03, 3.0))
    state = ("border" if not plan.worn.all() else "worn") if in_track else "unworn"
    kind = " ".join(["ribboned", look.mode, state] + ["smeared"] * (habit is not None) + ["scuffed"] * scuffing)
    return Made(image=image, codes=canvas.codes, worn=plan.worn, kind=kind)
