"""Random numbers and smooth random maps that the other modules draw from."""

import cv2
import numpy as np


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def smooth_map(rng: np.random.Generator, shape: tuple[int, int], cell_px: tuple[float, float]) -> np.ndarray:
    """Random map of about unit spread, float32; cell_px is the correlation length (down, across) in pixels."""
    # Twice as fine as the cell and blurred, else the grid's own rows and columns show as plaid.
    grid = [max(6, min(side, round(2 * side / max(cell, 1)) + 2)) for side, cell in zip(shape, cell_px, strict=True)]
    blurred = [cell * count / side / 2 for side, cell, count in zip(shape, cell_px, grid, strict=True)]
    small = rng.standard_normal(grid, dtype=np.float32)
    small = cv2.GaussianBlur(small, (0, 0), sigmaX=max(blurred[1], 0.3), sigmaY=max(blurred[0], 0.3), borderType=cv2.BORDER_REFLECT)
    return cv2.resize(small / small.std(), (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def streaked_map(
    rng: np.random.Generator, along_um: np.ndarray, across_um: np.ndarray, length_um: float, width_um: float
) -> np.ndarray:
    """Random map of about unit spread, drawn out along one direction; both coordinates are maps in µm."""
    rows, columns = (across_um - across_um.min()) / width_um, (along_um - along_um.min()) / length_um
    table = rng.standard_normal((min(int(rows.max()) + 2, 3000), min(int(columns.max()) + 3, 3000)), dtype=np.float32)
    # Each streak starts where it likes; without this all would end along common lines.
    offset = rng.random(table.shape[0], dtype=np.float32)[np.clip(rows.astype(int), 0, table.shape[0] - 1)]
    return cv2.remap(
        table, (columns + offset).astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    ) * 1.3
