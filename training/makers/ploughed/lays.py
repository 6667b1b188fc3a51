"""Two crossing bands of hone grooves as heights, in a frame whose rows run along the stroke and columns across it."""

from dataclasses import dataclass

import cv2
import numpy as np

from .chance import decades, line, rough

ALONG_NODES = 72
"""Places along a groove at which its depth is drawn; between them it runs straight."""


@dataclass(frozen=True)
class Ground:
    """Maps in um over the stroke frame: depth of the hone grooves below the plateau (0 on it), height of their torn
    rims, and the fine finish (of either sign, under 0.5); with the included hone angle in degrees."""

    depth: np.ndarray
    rim: np.ndarray
    finish: np.ndarray
    angle_deg: float


def lay_angles_deg(included_deg: float) -> tuple[float, float]:
    """Angles of the two lays from the columns' direction (the circumference), which bisects the included angle."""
    return included_deg / 2, -included_deg / 2


def depth_um(width_um: float, floor_share: float, wall_deg: float) -> float:
    """Depth of a groove with plane walls of that slope and a flat floor over that share of its width."""
    return width_um / 2 * (1 - floor_share) * np.tan(np.radians(wall_deg))


def section(offset_um: np.ndarray, width_um: float | np.ndarray, depth: float | np.ndarray, floor_share: float, skew: float) -> np.ndarray:
    """Depth in um at an offset from the groove's middle; skew leans the floor to one rim (-1 to 1)."""
    half = np.maximum(np.asarray(width_um) / 2, 1e-3)
    away = np.abs(offset_um) / half
    wall = (1 - floor_share) * (1 + skew * np.sign(offset_um))
    return depth * np.clip((1 - away) / wall, 0, 1)


def lifetime(rng: np.random.Generator, ends: float) -> np.ndarray:
    """Share of its size that a groove has at each node: full, waning slowly, or ending, as the grit's grip goes."""
    nodes = np.arange(ALONG_NODES)
    life = 1 + rng.uniform(0.02, 0.2) * line(rng, ALONG_NODES, decades(rng, 4, 30))
    if rng.random() < ends:
        start, run = rng.uniform(0, ALONG_NODES), decades(rng, 2, 25)
        life *= np.clip((nodes - start) / run if rng.random() < 0.5 else (start - nodes) / run, 0, 1)
    return np.clip(life, 0.0, 1.2).astype(np.float32)


def _band(rng: np.random.Generator, reach_um: float, pixel_um: float, field_um: float, strength: float) -> np.ndarray:
    """Depth, rim and finish of one lay, in um, over place across (rows) and along (columns) the lay."""
    step = pixel_um / 1.5
    across = np.arange(-reach_um, reach_um, step, dtype=np.float32)
    band = np.zeros((across.size, ALONG_NODES, 3), np.float32)
    width0 = decades(rng, max(3.0, 3 * pixel_um), min(40.0, field_um / 5))
    wall0, scatter, ends = rng.uniform(9, 23), rng.uniform(0.1, 0.6), rng.uniform(0, 0.7)
    spacing = max(width0 * decades(rng, 1.6, 9), field_um / 40) / strength
    gather, torn, skewed = decades(rng, 0.5, 5), decades(rng, 0.03, 0.45), rng.uniform(0, 0.2)
    place = -reach_um + rng.uniform(0, spacing)
    while place < reach_um:
        width = float(np.clip(width0 * np.exp(scatter * rng.standard_normal()), 2, 60))
        floor, skew = rng.uniform(0, 0.55), rng.uniform(-skewed, skewed)
        wall = float(np.clip(wall0 + 3 * rng.standard_normal(), 6, 27))
        deep = float(np.clip(depth_um(width, floor, wall), 0.2, 10))
        span = slice(*np.searchsorted(across, (place - 0.95 * width, place + 0.95 * width)))
        offset, life = (across[span] - place)[:, None], lifetime(rng, ends)[None]
        band[span, :, 0] = np.maximum(band[span, :, 0], section(offset, width * life, deep * life, floor, skew))
        rim = (
            torn
            * np.clip(line(rng, ALONG_NODES, 3) * 0.6 + 0.6, 0, 2)[None]
            * np.exp(-(((np.abs(offset) - width * life * 0.55) / (0.1 * width + step)) ** 2))
        )
        band[span, :, 1] = np.maximum(band[span, :, 1], np.minimum(rim, 0.45) * (life > 0.2))
        place += spacing * rng.gamma(gather, 1 / gather) + 0.3 * width
    fine = sum(weight * line(rng, across.size, grain) for weight, grain in ((0.6, 2), (0.5, decades(rng, 3, 9)), (0.4, 14)))
    fine = np.where(fine < 0, fine, 0.3 * fine) * decades(rng, 0.01, 0.12)
    band[..., 2] = np.clip(fine, -0.3, 0.2)[:, None] * np.clip(0.7 + 0.5 * rough(rng, band.shape[:2], (6, 8)), 0, 1.5)
    return band


def hone(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> Ground:
    """Ground of a section as honed: bands of unlike strength, each wavy, ragged and placed at random."""
    included = rng.uniform(20, 150)
    field_um = min(shape) * pixel_um
    rows, columns = np.indices(shape, dtype=np.float32)
    y, x = (rows - shape[0] / 2) * pixel_um, (columns - shape[1] / 2) * pixel_um
    reach = float(np.hypot(*shape)) / 2 * pixel_um + 10
    ragged = rough(rng, shape, (1.5, 1.5)) * min(decades(rng, 0.05, 0.8), 1.5 * pixel_um)
    weak = decades(rng, 0.15, 1) if rng.random() < 0.5 else 1.0
    depth = rim = finish = np.zeros(shape, np.float32)
    for angle, strength in zip(lay_angles_deg(included), rng.permutation([1.0, weak]), strict=True):
        turn = np.radians(angle + rng.normal(0, 1))
        along = x * np.cos(turn) + y * np.sin(turn)
        bend = rng.uniform(0, 0.004) * reach * np.sin(along * (np.pi / (reach * decades(rng, 0.4, 3))) + rng.uniform(0, 6.3))
        across = y * np.cos(turn) - x * np.sin(turn) + bend + ragged
        band = _band(rng, reach, pixel_um, field_um, strength)
        to_node = ((along + reach) * ((ALONG_NODES - 1) / (2 * reach))).astype(np.float32)
        to_step = ((across + reach) * (1.5 / pixel_um)).astype(np.float32)
        lay = cv2.remap(band, to_node, to_step, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        depth, rim, finish = np.maximum(depth, lay[..., 0]), np.maximum(rim, lay[..., 1]), finish + lay[..., 2]
    return Ground(depth, rim * (depth <= 0.02), np.clip(finish, -0.4, 0.4), included)
