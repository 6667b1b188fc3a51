"""Fields whose smear and scuffing emerge from metal moved by a slider over a honed height map.

specimen → hone → wear (flow) → scuff → truth in the stroke's frame; then, on the screen, matter → beam → camera."""

import numpy as np

from ..made import Made
from .chance import blurred, grainy
from .flow import start
from .frame import Frame
from .hone import ground as honed
from .matter import graphite, pull_outs
from .picture import pictured
from .scuff import scuffed
from .specimen import Run, draw_hone, draw_run
from .truth import NOT_ASSESSED, SMEARED, codes_of, local_plateau
from .wear import abraded, kneaded

WORN_SHARE, BORDER_SHARE = 0.6, 0.08


def track_load(rng: np.random.Generator, columns: int) -> np.ndarray:
    """Load 0–1 on each column of the stroke's frame: none, all, or up to a straight border of the track."""
    if rng.random() >= WORN_SHARE:
        return np.zeros(columns, np.float32)
    if rng.random() >= BORDER_SHARE:
        return np.ones(columns, np.float32)
    ramp = np.clip((np.arange(columns) - rng.uniform(0.35, 0.65) * columns) / rng.uniform(2, 40), 0, 1)
    return (ramp if rng.random() < 0.5 else ramp[::-1]).astype(np.float32)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field; see made.py."""
    pixel_size_um = float(pixel_size_um)
    tilt_deg = float(rng.uniform(3, 30)) if rng.random() < 0.2 else 0.0
    frame = Frame(stroke_deg=float(rng.uniform(0, 180)), tilt_deg=tilt_deg, screen=shape)
    hone = draw_hone(rng, pixel_size_um=pixel_size_um, shape=shape)
    run = draw_run(rng, hone, pixel_size_um=pixel_size_um)
    load = track_load(rng, frame.shape[1])
    depth, relief = honed(rng, hone, frame.shape)
    waves = rng.uniform(0, 0.1) * grainy(rng, frame.shape, 180)
    base = abraded(rng, run, depth=depth, relief=relief, waves=waves, load=load)
    ground = kneaded(rng, run, base, load) if load.any() else start(base.height)
    scuff, heat = scuffed(rng, run, ground.height, base.level, load, pixel_size_um)
    codes = codes_of(base, ground, scuff, load)

    flakes = graphite(rng, frame.shape, hone.graphite, pixel_size_um) * (codes != SMEARED)
    moved = np.minimum(ground.rested / 0.15, 1) * (base.depth > 0.1)
    height = ground_seen(rng, run, ground.height, moved, pixel_size_um)
    height -= pull_outs(rng, frame.shape, hone.pull_outs, pixel_size_um) + 0.3 * flakes
    open_depth = np.where(base.depth > 0.05, local_plateau(height, base.depth < 0.15) - height, 0)
    patchy = np.clip(0.8 + 0.7 * grainy(rng, frame.shape, (rng.uniform(10, 60), rng.uniform(3, 15))), 0, 2)
    tone = run.skin_grey * patchy * blurred(moved, 1.2) + 0.03 * run.scuff_strength * heat * np.sign(run.skin_grey)

    thin = np.minimum(ground.void / 0.3, 1)
    image, hidden = pictured(
        rng, frame, pixel_size_um, height=height, groove=open_depth, thin=thin, flakes=flakes, tone=tone
    )
    codes = frame.seen(codes, smooth=False)
    worn = frame.seen(np.broadcast_to(load, frame.shape).copy()) > 0
    codes[~worn & np.isin(codes, (2, 3))] = 0
    codes[hidden] = NOT_ASSESSED
    return Made(image=image, codes=codes, worn=worn, kind=kind_of(run, load))


def ground_seen(
    rng: np.random.Generator, run: Run, height: np.ndarray, moved: np.ndarray, pixel_size_um: float
) -> np.ndarray:
    """Height with what is too fine for the slider: streaked, flaky skin on moved metal (0–1) and laps along its borders."""
    shape, fine = height.shape, np.clip(pixel_size_um, 0.12, 2.2) ** 0.6
    skin = grainy(rng, shape, (rng.uniform(8, 40), rng.uniform(0.8, 2))) + grainy(rng, shape, 2.5)
    lap = np.abs(moved - blurred(moved, 1.3)) * np.clip(0.6 + grainy(rng, shape, rng.uniform(5, 20)), 0, 2)
    return blurred(height, 0.6) + 0.025 * fine * run.skin * moved * skin - run.lap_um * (lap + 0.3 * moved)


def kind_of(run: Run, load: np.ndarray) -> str:
    """Short name of the field."""
    if not load.any():
        return "unworn"
    way = "to and fro" if run.reciprocating else "one way"
    return f"kneaded {way}" + (", scuffed" if run.scuff else "") + ("" if load.all() else ", border")
