"""The ring: a rough profile that rides on the highest ground, takes it off and drags metal over the next groove."""

from dataclasses import dataclass

import cv2
import numpy as np

from .randomly import cloud, log_uniform, wandering

OPEN_UM = 0.5
"""Ground at least this far below the plateau is open valley (semwear.terms)."""


@dataclass(kw_only=True)
class Worn:
    """Heights (µm) after running; level_um: the plateau's height now; covered: True where a tongue of metal lies."""

    ground_um: np.ndarray
    level_um: np.ndarray
    covered: np.ndarray


def riding_height(standing_um: np.ndarray, contact_share: float) -> float:
    """The height at which contact_share of the ground stands above the ring, so that the contacts carry the load."""
    return float(np.quantile(standing_um, 1 - contact_share))


def stroke_over(ground_um: np.ndarray, profile_um: np.ndarray, contact_share: float, rate: float) -> np.ndarray:
    """Metal (µm) that one stroke takes off each cell; profile_um: the ring's downward roughness along a row."""
    standing = ground_um + profile_um[None, :]
    height = riding_height(standing[::3, ::3], contact_share)
    return np.clip(standing - height, 0, None) * rate


def drag(
    gap_um: np.ndarray, supply: np.ndarray, cost: np.ndarray, capacity: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Carry supply (µm a cell) down the rows and bridge open ground from its upstream rim on.

    cost: metal (µm) to bridge a cell; capacity: the most that a column can carry (rows, cols).
    Returns bridged (bool), what was rubbed off as debris on the way, and what left at the last row, both µm."""
    rows, cols = gap_um.shape
    is_open = gap_um > OPEN_UM
    bridged = np.zeros(gap_um.shape, bool)
    carried = np.zeros(cols, np.float32)
    debris = np.zeros(cols, np.float32)
    footing = np.zeros(cols, bool)
    for row in range(rows):
        carried += supply[row]
        kept = np.minimum(carried, capacity[row])
        debris += carried - kept
        carried = kept
        bridge = is_open[row] & footing & (carried >= cost[row])
        carried -= bridge * cost[row]
        bridged[row] = bridge
        # A tongue grows only from ground that bears it: plateau or the tongue itself.
        footing = ~is_open[row] | bridge
    return bridged, debris, carried


def run(
    rng: np.random.Generator,
    honed_um: np.ndarray,
    pixel_size_um: float,
    track: np.ndarray,
    *,
    smears: bool,
    heavy: bool,
) -> Worn:
    """Run the ring over many strokes. track: 0–1 along a row, how much of the load a column bears."""
    shape = honed_um.shape
    rows, cols = shape
    ground = honed_um.copy()
    worn_off = log_uniform(rng, 0.06, 1.0)
    rough = wandering(rng, cols, log_uniform(rng, 1, 30) / pixel_size_um)
    rough = (0.5 * rough + 0.5 * wandering(rng, cols, log_uniform(rng, 1, 6) / pixel_size_um)) * rng.uniform(0.02, 0.16)
    rough = np.clip(rough, -0.22, 0.22).astype(np.float32)
    level = ((-worn_off + rough) * track).astype(np.float32)
    level = np.broadcast_to(level[None, :], shape)
    covered = np.zeros(shape, bool)
    strokes = int(rng.integers(3, 8)) if smears else 2
    fill = log_uniform(rng, 0.2, 1.3) if not heavy else rng.uniform(0.6, 1.6)
    tongue_px = log_uniform(rng, 20 if heavy else 5, 90) / pixel_size_um
    streak = log_uniform(rng, 2, 50) / pixel_size_um
    favour = np.clip(
        0.35 + rng.uniform(0.4, 0.9) * cloud(rng, shape, log_uniform(rng, 20, 400) / pixel_size_um, streak), 0, 2
    )
    for number in range(strokes):
        down = number % 2 == 0
        share = float(np.clip(rng.uniform(0.25, 0.7), 0, 1))
        taken = stroke_over(ground, wandering(rng, cols, 6 / pixel_size_um).astype(np.float32) * 0.08, share, 1.0)
        taken = np.minimum(taken, np.clip(ground - level, 0, None)) * track[None, :]
        ground = ground - taken
        if not smears:
            continue
        gap = np.where(covered, 0, level - ground)
        cost = np.clip(0.25 + 0.06 * gap + 0.08 * cloud(rng, shape, 1.5, 1.5), 0.08, None).astype(np.float32)
        supply = (taken + 0.08 * (ground > level - 0.3)) * favour * fill * track[None, :]
        capacity = (0.3 * tongue_px * favour * fill).astype(np.float32)
        step = slice(None) if down else slice(None, None, -1)
        bridged = drag(gap[step], supply.astype(np.float32)[step], cost[step], capacity[step])[0][step]
        if number < strokes - 1 and rng.random() < 0.4:
            # Part of the tongues breaks off again in the next strokes.
            bridged = bridged & (
                cloud(rng, shape, log_uniform(rng, 4, 30) / pixel_size_um, streak) > rng.uniform(-1.5, 0.3)
            )
        covered |= bridged
    # What is left of the honed summits comes off; the track's plateau is where the ring has worn it to.
    ground = np.where(track[None, :] > 0.02, np.minimum(ground, level + 0.12 * np.clip(ground, -1, 1)), ground)
    if smears:
        size = 5 if pixel_size_um < 0.5 else 3
        covered = (cv2.medianBlur(covered.astype(np.uint8), size) > 0) & (track[None, :] > 0.5)
        ground = fold(rng, ground, level, covered, pixel_size_um)
    return Worn(ground_um=ground.astype(np.float32), level_um=level, covered=covered)


def fold(
    rng: np.random.Generator, ground_um: np.ndarray, level_um: np.ndarray, covered: np.ndarray, pixel_size_um: float
) -> np.ndarray:
    """Heights with tongues laid on: their tops sag a little or much, their ends curl to lips, a seam marks the rim."""
    shape = ground_um.shape
    bridged = covered & (level_um - ground_um > OPEN_UM)
    sag = rng.uniform(0.08, 0.3) + rng.uniform(0.04, 0.16) * cloud(rng, shape, 25 / pixel_size_um, 6 / pixel_size_um)
    sag = np.clip(sag, -0.1, rng.choice([0.4, 0.9], p=[0.7, 0.3]))
    laid = np.where(bridged, np.maximum(level_um - sag, ground_um), ground_um)
    flat = bridged.astype(np.float32)
    wide = float(np.clip(0.5 / pixel_size_um, 0.8, 3))
    near = cv2.GaussianBlur(flat, (0, 0), wide)
    edge = np.where(bridged, np.clip(1 - near, 0, 0.5) * 2, 0)
    depth = np.clip(level_um - ground_um, 0, 3)
    beside_open = cv2.GaussianBlur((~bridged & (depth > OPEN_UM)).astype(np.float32), (0, 0), wide)
    # Lips curl here and there only; drawn metal is grooved along the stroke and puckers across it.
    curled = np.clip(0.4 + 0.9 * cloud(rng, shape, 4 / pixel_size_um, 3 / pixel_size_um), 0, 1.6)
    lip = edge * np.clip(beside_open * 4, 0, 1) * rng.uniform(0.1, 0.4) * curled
    drawn = np.abs(cloud(rng, shape, 8 / pixel_size_um, max(1.0 / pixel_size_um, 1.6)))
    pucker = np.abs(cloud(rng, shape, max(1.5 / pixel_size_um, 1.6), 7 / pixel_size_um))
    laid = laid - bridged * (rng.uniform(0.02, 0.12) * drawn + rng.uniform(0, 0.1) * pucker)
    # Marks on a tongue are as little valley as marks on the plateau are.
    laid = np.where(bridged & (sag < 0.45), np.maximum(laid, level_um - 0.47), laid)
    seam = edge * (beside_open < 0.05) * rng.uniform(0.12, 0.4)
    return laid + lip - np.where(laid - level_um > -0.45 + seam, seam, 0)
