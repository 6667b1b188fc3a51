"""Fields that begin with the metal: pearlite, steadite and graphite flakes of grey iron, and hone grooves cut across them."""

import numpy as np

from ..made import Made
from .clutter import films, lay_debris
from .flakes import lay_graphite
from .grain import between, canvas_side, cloud, step, turned
from .hone import cut_band, scratches
from .iron import lay_matrix
from .microscope import expose, signal
from .wear import draw_history, run


def strokes_and_lays(rng: np.random.Generator) -> tuple[float, tuple[float, float]]:
    """Stroke and two lays, degrees anticlockwise from the rows; the lays' angle is halved by the line across the stroke."""
    near_axis = rng.random() < 0.75
    stroke = rng.choice([0.0, 90.0]) + rng.normal(0, 4) if near_axis else rng.uniform(0, 180)
    half = 0.5 * (rng.uniform(25, 65) if rng.random() < 0.5 else rng.uniform(20, 150))
    return float(stroke), (stroke + 90 - half + rng.normal(0, 1), stroke + 90 + half + rng.normal(0, 1))


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of grey iron, honed and perhaps run, with its truth; everything follows from rng."""
    stroke, lays = strokes_and_lays(rng)
    history = draw_history(rng, shape, stroke)
    matrix = lay_matrix(rng, shape, pixel_size_um)
    drawn_over = float(np.clip(rng.uniform(0, 0.7) + 0.3 * history.polish * history.worn.mean(), 0, 1))
    graphite = lay_graphite(rng, shape, pixel_size_um, drawn_over)
    total = between(rng, 0.08, 0.55)
    weak = rng.choice([rng.uniform(0.35, 0.5), between(rng, 0.03, 0.3)])
    bands = [
        cut_band(rng, shape, pixel_size_um, lay, total * part, history.smear)
        for lay, part in zip(lays, rng.permutation([weak, 1 - weak]), strict=True)
    ]
    ground = run(rng, bands, graphite.near, history, pixel_size_um, stroke)

    worn = history.worn.astype(np.float32)
    scuffed = ground.codes == 3
    open_ = step(ground.after_um - 0.5, 0.2)
    plain = 1 - open_
    burnish = np.maximum(history.polish * worn * plain, ground.moved)
    finishing = sum(scratches(rng, shape, pixel_size_um, lay, between(rng, 0.05, 0.4)) for lay in lays)
    running = scratches(rng, shape, pixel_size_um, stroke, between(rng, 0.08, 0.45))

    # Floors: torn pearlite, and carbon that honing and oil left in them.
    rough = between(rng, 0.02, 0.5) * cloud(rng, shape, max(between(rng, 0.4, 2.5) / pixel_size_um, 1.2))
    packed = step(cloud(rng, shape, between(rng, 2, 25) / pixel_size_um) + rng.uniform(-2, 1.2), 0.4) * open_
    carbon = np.clip(np.maximum(graphite.bare * (1 - ground.moved) * ~scuffed, rng.uniform(0.2, 0.9) * packed), 0, 1)
    pit = graphite.pit_um * (1 - ground.moved) * ~scuffed

    height = -ground.after_um - pit + ground.lip_um + ground.torn_um - 0.4 * ground.seam
    height += sum(band.rim_um for band in bands) * (1 - 0.9 * worn) * plain
    height += matrix.relief * (1 - burnish) + rough * open_ - finishing * (1 - burnish) * plain - running * worn * plain * ~scuffed
    # A jacket of sheet metal over a flake stands a trifle proud and is cracked here and there.
    cracked = step(cloud(rng, shape, 4 / pixel_size_um) - 0.8, 0.2)
    jacket = graphite.jacket * plain * ~scuffed
    height += jacket * (between(rng, 0.02, 0.25) - 0.4 * cracked)

    side = canvas_side(shape)
    dragged = turned(cloud(rng, (side, side), max(0.5 / pixel_size_um, 1.2), 40 / pixel_size_um), stroke, shape)
    matter = 1 + (matrix.grey - 1) * (1 - 0.8 * burnish) + burnish * (rng.normal(0, 0.04) + 0.012 * dragged)
    # Metal drawn over a groove has its own oxide and no lamellae: it shows by a tone, by drag lines and by its seam.
    tone = rng.choice([-1, 1]) * between(rng, 0.03, 0.18)
    matter += ground.moved * (tone + between(rng, 0.01, 0.07) * dragged) - 0.4 * ground.seam - 0.15 * jacket * cracked
    matter += scuffed * (rng.normal(0, 0.07) + between(rng, 0.02, 0.12) * cloud(rng, shape, max(1 / pixel_size_um, 1.2)))
    matter *= films(rng, shape, pixel_size_um, stroke, history.worn)

    codes = ground.codes.copy()
    bright = signal(rng, height.astype(np.float32), matter, carbon, pixel_size_um)
    charging = np.zeros(shape, np.float32)
    if rng.random() < 0.3:
        body, charging, shade = lay_debris(rng, shape, pixel_size_um)
        bright = np.where(body, 1.05, bright * (1 - 0.5 * shade))
        codes[body] = 255
    return Made(image=expose(rng, bright, charging), codes=codes, worn=history.worn, kind=history.name)
