"""The honed surface before it runs: every grit's stroke replayed, lay after lay, then the finishing strokes.

Groove depth 1–10 µm, width 5–50 µm, valley share 15–30 % (from memory). Plateau honing takes the burrs off and leaves
faint scratches along the same lays, shallower than 0.5 µm."""

from dataclasses import dataclass

import numpy as np

from .grain import grain, turned
from .grits import cut, draw_grit, draw_path
from .kinematics import Head, lay_directions


@dataclass(frozen=True, kw_only=True)
class Finish:
    """What a shop's last stones leave; widths µm, share of area, depth/width ratio, burrs µm, scratches µm."""

    name: str
    width_um: float
    spread: float
    share: float
    aspect: float
    burr_um: float
    scratch_um: float
    scratch_density: float
    ridged: float
    chatter: float
    ends: float


def draw_finish(rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]) -> Finish:
    """Populations that the micrograph's scale can show: grooves some pixels wide, several in the field."""
    name = str(rng.choice(["rough", "plateau", "fine"], p=[0.25, 0.5, 0.25]))
    field_um = min(shape) * pixel_size_um
    least = max(3.5 * pixel_size_um, 1.8)
    most = max(1.3 * least, min(40.0, field_um / 7, 26 * pixel_size_um + 3))
    low, high = {"rough": (0.0, 1.0), "plateau": (0.0, 0.9), "fine": (0.0, 0.4)}[name]
    width = least * (most / least) ** rng.uniform(low, high)
    return Finish(
        name=name,
        width_um=float(width),
        spread=rng.uniform(0.15, 0.5),
        share={"rough": rng.uniform(0.25, 0.6), "plateau": rng.uniform(0.14, 0.5), "fine": rng.uniform(0.1, 0.35)}[
            name
        ],
        aspect=rng.uniform(0.08, 0.28),
        burr_um=float(rng.choice([0, rng.uniform(0.1, 0.7)], p=[0.7, 0.3] if name != "rough" else [0.25, 0.75])),
        scratch_um=rng.uniform(0.04, 0.36) if name != "rough" else rng.uniform(0.1, 0.4),
        scratch_density=rng.uniform(-0.3, 2.2),
        ridged=rng.uniform(0.1, 0.8),
        chatter=rng.uniform(0.05, 0.2) if rng.random() < 0.2 else 0.0,
        ends=rng.uniform(0.05, 0.6),
    )


def hone_lay(
    rng: np.random.Generator, size: int, pixel_size_um: float, finish: Finish, share: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Groove depth, burr height and scratch depth (µm) of one lay in its own frame (rows run along it)."""
    groove = np.zeros((size, size), np.float32)
    burr = np.zeros_like(groove)
    width_px = finish.width_um / pixel_size_um
    count = max(4, int(round(-np.log(1 - share) * size / width_px)))
    rows = rng.uniform(0, size, count)
    if rng.random() < 0.5:
        rows = (np.arange(count) + rng.uniform(-0.45, 0.45, count)) * size / count
    for row in rng.permutation(rows):
        width = max(3.0, width_px * np.exp(rng.normal(0, finish.spread)))
        depth = width * pixel_size_um * finish.aspect * np.exp(rng.normal(0, 0.25))
        depth = 0.85 + 0.3 * rng.random() if depth < 0.85 else min(depth, 9.0)
        path = draw_path(rng, size, row, width, depth, chatter=finish.chatter, ends=finish.ends)
        cut(groove, burr, draw_grit(rng, finish.ridged), path, finish.burr_um)
    across = rng.uniform(1.0, 2.2) * max(1.0, 0.5 / pixel_size_um)
    scratch = grain(rng, (size, size), rng.uniform(150, 600), across) - finish.scratch_density
    scratch = np.clip(scratch, 0, 1.3) / 1.3 * finish.scratch_um
    return groove, burr, scratch


def hone(
    rng: np.random.Generator, size: int, pixel_size_um: float, head: Head, finish: Finish, *, lays: int = 2
) -> tuple[np.ndarray, np.ndarray]:
    """Groove depth below the plateau and height of the land's own texture (µm), rows along the stroke."""
    groove = np.zeros((size, size), np.float32)
    land = np.zeros_like(groove)
    directions = list(lay_directions(head))[:: int(rng.choice([-1, 1]))][:lays]
    balance = rng.uniform(0.3, 0.7) if lays == 2 else 1.0
    for direction, part in zip(directions, (balance, 1 - balance), strict=False):
        cut_, burr, scratch = hone_lay(rng, size, pixel_size_um, finish, finish.share * part)
        cut_, burr, scratch = (turned(map_, direction, (size, size)) for map_ in (cut_, burr, scratch))
        land[cut_ > 0.05] = 0
        np.maximum(groove, cut_, out=groove)
        land += np.where(groove > 0.05, 0, burr) - scratch
    return groove, land
