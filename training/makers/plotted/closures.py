"""Moved metal: shapes laid over grooves (patches, bridges, tongues, chevrons, veils) and streaks torn by adhesion."""

import numpy as np

from .grooves import Groove
from .ribbon import blob, fill, jagged, trace
from .styles import PLATEAU

SHAPES = ("patch", "bridge", "tongue", "chevron", "veil")


def _pressed(layers, outline, rng, level, lip) -> None:
    """A shape of pressed metal: smooth, near the plateau's tone, a fold line on its edge and a lip on part of it."""
    fill(layers["tone"], outline, level)
    fill(layers["rough"], outline, 0)
    fill(layers["closed"], outline, 255)
    start = rng.integers(0, max(len(outline) - 4, 1))
    stop = start + max(len(outline) // 2, 3)
    ring = np.vstack([outline, outline])[start:stop]
    if rng.random() < 0.7:
        trace(layers["tone"], ring, level - lip)
    if rng.random() < 0.6:
        trace(layers["tone"], ring + rng.normal(0, 1.2, 2), level + 0.8 * lip)


def close_groove(rng, layers, groove: Groove, habits: dict, stroke_deg: float, worn: np.ndarray) -> None:
    """Closes stretches of a valley; layers are uint8 maps tone, rough, closed and grain (burnished), painted in place."""
    open_at = np.flatnonzero(groove.valley.half > 0.4)
    cols, rows = groove.valley.points.astype(int).T
    inside = (rows >= 0) & (rows < worn.shape[0]) & (cols >= 0) & (cols < worn.shape[1])
    open_at = open_at[inside[open_at]]
    open_at = open_at[worn[rows[open_at], cols[open_at]]]
    if len(open_at) < 5:
        return
    todo = habits["share"] * len(open_at) * rng.uniform(0.4, 1.6)
    step = float(np.linalg.norm(groove.rims.points[1] - groove.rims.points[0]))
    for _ in range(40):
        if todo < 1:
            return
        middle = int(rng.choice(open_at))
        half = groove.rims.half[middle]
        level = PLATEAU + habits["level"] + rng.normal(0, 5)
        shape = str(rng.choice(SHAPES, p=habits["shapes"]))
        length = max(half * np.exp(rng.uniform(np.log(0.7), np.log(6))), 4.0)
        if shape == "veil":
            length = rng.uniform(40, 250)
        reach = max(int(length / step), 1)
        part = groove.rims.part(max(middle - reach, 0), middle + reach + 1)
        count = len(part.points)
        todo -= count
        if shape == "patch":
            outline = blob(rng, groove.rims.points[middle], length, half * rng.uniform(0.9, 1.3) + 1, groove.lay_deg)
            _pressed(layers, outline, rng, level, habits["lip"])
        elif shape == "bridge":
            long = (half + 1.5) / max(abs(np.sin(np.deg2rad(stroke_deg - groove.lay_deg))), 0.25) * 1.15
            outline = blob(rng, groove.rims.points[middle], long, min(length, 2.5 * half + 3), stroke_deg, 0.3)
            _pressed(layers, outline, rng, level, habits["lip"])
        elif shape in ("tongue", "veil"):
            # A tongue covers from one rim with its torn edge somewhere in the groove; a veil covers both rims.
            side = rng.choice([-1, 1])
            far = (1.05 if shape == "veil" else rng.uniform(-0.1, 1.0)) + 0.15 * jagged(rng, count, 2)
            near = np.full(count, -1.12)
            outline = np.vstack([part.line(side * near), part.line(side * far)[::-1]])
            fill(layers["tone"], outline, level)
            fill(layers["rough"], outline, 0)
            fill(layers["closed"], outline, 255)
            trace(layers["tone"], part.line(side * far), level - habits["lip"])
            trace(layers["tone"], part.line(side * near), level - 0.6 * habits["lip"])
            if shape == "tongue":
                trace(layers["tone"], part.line(side * (far - 0.12)) - 1, level + 0.8 * habits["lip"])
        else:
            # Folds pushed over by the ring follow each other like chevrons, gaps of open groove between them.
            for start in range(0, count - 3, 6):
                piece = part.part(start, start + int(rng.integers(4, 7)))
                slant = piece.half[:, None] * 0.6 * np.array([np.cos(np.deg2rad(stroke_deg)), np.sin(np.deg2rad(stroke_deg))])
                middle_line = piece.points[::-1] + slant[::-1]
                outline = np.vstack([piece.line(-1.1), piece.line(1.1)[::-1], middle_line[-1:]])
                _pressed(layers, outline, rng, level + rng.normal(0, 4), habits["lip"])


def draw_habits(rng: np.random.Generator) -> dict:
    """How a field's metal moved: share of the valley length closed, tone of the burnished metal, which shapes."""
    return {
        "share": float(np.exp(rng.uniform(np.log(0.12), np.log(1.2)))),
        "level": float(rng.normal(4, 9)),
        "lip": float(np.exp(rng.uniform(np.log(18), np.log(75)))),
        "shapes": rng.dirichlet(np.full(len(SHAPES), 0.7)),
        "grooves": float(rng.uniform(0.3, 1.0)),
    }


def tear_streaks(rng, layers, pixel_size_um, shape, stroke_deg, heavy) -> None:
    """Streaks of torn metal along the stroke, with ragged ends, onto layers torn (where) and tone (ridges)."""
    angle = np.deg2rad(stroke_deg)
    along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    span = np.hypot(*shape)
    centre = np.array([shape[1], shape[0]]) / 2
    home = rng.uniform(-0.35, 0.35) * span
    dark = rng.uniform(-35, 25)
    for _ in range(int(rng.integers(6, 16)) if heavy else int(rng.integers(1, 5))):
        half = np.clip(np.exp(rng.uniform(np.log(4), np.log(45))) / pixel_size_um, 3, 0.12 * span)
        long = rng.uniform(0.1, 0.7) * span + 4 * half
        middle = centre + across * (home + rng.normal(0, 0.12) * span) + along * rng.uniform(-0.4, 0.4) * span
        for strand in range(int(rng.integers(4, 10))):
            # Strands of unlike length give the streak its torn ends.
            start, stop = -long * rng.uniform(0.1, 0.6), long * rng.uniform(0.1, 0.6)
            steps = np.linspace(start, stop, 90)
            taper = np.clip(np.minimum(steps - start, stop - steps) / (0.15 * (stop - start)), 0, 1) ** 0.7
            wide = half * rng.uniform(0.08, 0.4) * taper * np.clip(1 + 0.15 * jagged(rng, 90, 1) + 0.2 * jagged(rng, 90, 9), 0.3, 2)
            side = half * rng.uniform(-0.7, 0.7)
            line = middle + np.outer(steps, along) + across * side
            outline = np.vstack([line + across * wide[:, None], (line - across * wide[:, None])[::-1]])
            fill(layers["torn"], outline, 255)
            fill(layers["tone"], outline, PLATEAU + dark + rng.normal(0, 10))
            for _ in range(1 + strand % 3):
                ridge = line + across * (wide * rng.uniform(-0.9, 0.9) + 0.1 * wide * jagged(rng, 90, 3))[:, None]
                cut = int(rng.integers(0, 60))
                trace(layers["tone"], ridge[cut : cut + int(rng.integers(8, 40))], PLATEAU + rng.uniform(30, 110), int(rng.integers(1, 3)))


def fine_lines(rng, tones, angle_deg, count, spread_deg, strength) -> None:
    """Marks shallower than 0.5 µm along a direction: thin, faint, often broken; they belong to the plateau."""
    rows, cols = tones.shape
    for _ in range(count):
        angle = np.deg2rad(angle_deg + rng.normal(0, spread_deg))
        middle = rng.uniform(0, 1, 2) * (cols, rows)
        half = np.exp(rng.uniform(np.log(15), np.log(500)))
        way = np.array([np.cos(angle), np.sin(angle)])
        ends = middle + np.outer([-half, 0, half], way)
        # A few share one bright and one dark side, as a shallow furrow shows.
        level = rng.normal(0, strength)
        trace(tones, ends, PLATEAU + level)
        if rng.random() < 0.4:
            trace(tones, ends + np.array([-way[1], way[0]]) * 1.2, PLATEAU - level)
