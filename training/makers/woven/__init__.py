"""Simulated fields drawn labels first: ribbons that carry their state along their length, each state given its own look per field."""

import numpy as np

from ..made import Made
from .camera import shoot
from .dress import join, paint
from .litter import charging, debris, graphite, stains
from .ribbons import Habit, cut
from .streaks import torn, torn_tone
from .weave import Frame, cloud, spread

LIMIT_UM = 0.5  # µm below the plateau from which ground counts as valley


def _habits(rng: np.random.Generator, field_um: float, pixel: float, smeared: bool) -> list[Habit]:
    """How each of the two bands is cut; the second is at times much the weaker."""
    width = spread(rng, max(3.5, 3.2 * pixel), max(min(45.0, 0.11 * field_um), 6.0, 4.5 * pixel))
    # Walls of some 6–27 degrees, but steep enough that a groove of the median width does reach a valley's depth.
    tangent = float(np.clip(np.tan(np.deg2rad(spread(rng, 6, 27))), 2.0 / width, 0.6))
    share = spread(rng, 0.15, 0.75)
    weak = spread(rng, 0.08, 1.0) if rng.random() < 0.35 else rng.uniform(0.7, 1.0)
    closed = spread(rng, 0.06, 2.0) if smeared else 0.0
    closure = float(np.clip(width * spread(rng, 0.6, 12), 6 * pixel, field_um))
    wave, fade = spread(rng, 0.005, 0.05), rng.uniform(0, 0.7)
    both = [Habit(width=width * part**0.4, tangent=tangent, share=share * part / 2, closed=closed, closure=closure, wave=wave, fade=fade)
            for part in (1.0, weak)]
    return both if rng.random() < 0.5 else both[::-1]


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field; pixel_size_um in µm, shape in rows and columns."""
    pixel = float(pixel_size_um)
    stroke_deg = rng.choice([0, 90]) + rng.normal(0, 5) if rng.random() < 0.75 else rng.uniform(0, 180)
    included = rng.uniform(20, 150)
    skew = rng.normal(0, 2)
    stroke = Frame(stroke_deg, shape)
    frames = [Frame(stroke_deg + 90 + skew + sign * included / 2, shape) for sign in (-1, 1)]
    fate = rng.choice(["unworn", "bordered", "worn"], p=[0.4, 0.15, 0.45])
    worn = np.full(shape, fate == "worn")
    if fate == "bordered":
        ragged = cloud(rng, shape, 30, 30) * spread(rng, 0.3, 5)
        worn = rng.choice([-1, 1]) * (stroke.offset() + ragged - rng.uniform(-0.25, 0.25) * min(shape)) > 0
    ran = fate != "unworn"
    smeared = ran and rng.random() < 0.6
    scuffed = ran and rng.random() < 0.25

    habits = _habits(rng, min(shape) * pixel, pixel, smeared)
    bands = [cut(rng, frame, habit, pixel) for frame, habit in zip(frames, habits, strict=True)]
    bearing = rng.uniform(0, 2 * np.pi)
    lit = np.array([np.cos(bearing), np.sin(bearing)])
    worn_off = spread(rng, 0.03, 1.2) if ran else 0.0
    ground = join(bands, frames, lit, worn, worn_off)

    codes = np.zeros(shape, np.uint8)
    hollow = ground.below >= LIMIT_UM
    codes[hollow] = 1
    codes[hollow & ground.shut] = 2

    grey = paint(rng, ground, codes, habits[0].tangent, pixel)
    # Fine scratches of finishing lie on the plateau; where the ring ran they are polished away.
    fine = spread(rng, 1, 8) * (bands[0].brush + rng.random() * bands[1].brush)
    grey += fine * np.where(worn, rng.uniform(0.1, 0.8), 1.0) * (codes == 0)
    if ran or rng.random() < 0.25:
        side = (stroke.side, stroke.side)
        marks = cloud(rng, side, spread(rng, 60, 600), spread(rng, 1, 4))
        marks = np.sign(marks) * np.clip(np.abs(marks) - rng.uniform(0, 1.5), 0, None) * spread(rng, 3, 18)
        grey += stroke.lay(marks) * np.where(worn if ran else True, 1, 0) * np.where(codes == 1, 0.2, 1)
    if rng.random() < 0.45:
        flakes = graphite(rng, shape, pixel)
        grey -= flakes * np.where(codes == 2, 0.3, 1) * spread(rng, 25, 85)
    if rng.random() < 0.4:
        grey += stains(rng, shape)
    if scuffed:
        streaks = torn(rng, stroke, heavy=rng.random() < 0.4) & worn
        codes[streaks] = 3
        grey = np.where(streaks, 0.25 * grey + 0.75 * 128 + torn_tone(rng, stroke), grey).astype(np.float32)
    if rng.random() < 0.4:
        codes[debris(rng, grey, lit, pixel)] = 255
    if rng.random() < 0.08:
        codes[charging(rng, grey)] = 255
    kind = fate + ("-smeared" if (codes == 2).any() else "") + ("-scuffed" if (codes == 3).any() else "")
    return Made(image=shoot(rng, grey), codes=codes, worn=worn, kind=kind)
