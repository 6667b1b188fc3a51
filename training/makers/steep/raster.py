"""Sections laid onto the picture by interpolation."""

from dataclasses import dataclass

import numpy as np

from .sections import Groove


@dataclass
class Strip:
    """The pixels about one groove: flat indices into the picture, t_um along and u_um across, position among the
    sections (for shapes, and skewed along the stroke for closures)."""

    index: np.ndarray
    u_um: np.ndarray
    place: np.ndarray
    closure_place: np.ndarray


def strip(groove: Groove, shape: tuple[int, int], pixel_size_um: float, stroke_rad: float, ragged) -> Strip | None:
    """ragged: (rows × columns,) µm by which the ends of closures are frayed."""
    cos, sin = np.cos(groove.angle_rad), np.sin(groove.angle_rad)
    x0, y0 = groove.x_um / pixel_size_um, groove.y_um / pixel_size_um
    steep = abs(sin) > abs(cos)
    if steep:
        cos, sin, x0, y0 = sin, cos, y0, x0
    columns, rows = (shape[0], shape[1]) if steep else (shape[1], shape[0])
    x = np.arange(columns)
    middle = (len(groove.depth_um) - 1) / 2
    place = (x - x0) / cos * pixel_size_um / groove.step_um + middle
    # Rows grow along +u where the groove's own normal points down the picture, which the transposed case mirrors.
    across = -cos if steep else cos
    offset = np.interp(place, np.arange(len(groove.offset_um)), groove.offset_um) / pixel_size_um
    line = y0 + (x - x0) * sin / cos + offset / across
    half = (np.maximum(groove.left_um, groove.right_um).max() * 1.6 / pixel_size_um + 3) / abs(cos)
    rows_at = np.rint(line)[None, :].astype(np.int64) + np.arange(-int(half) - 1, int(half) + 2)[:, None]
    away = rows_at - line[None, :]
    inside = (rows_at >= 0) & (rows_at < rows) & (place >= 0)[None, :] & (place <= 2 * middle)[None, :]
    if not inside.any():
        return None
    column = np.broadcast_to(x[None, :], rows_at.shape)[inside]
    row, away = rows_at[inside], away[inside]
    index = column * shape[1] + row if steep else row * shape[1] + column
    u_um = (away * across * pixel_size_um).astype(np.float32)
    place = (place[column] + away * sin * pixel_size_um / groove.step_um).astype(np.float32)
    # Metal moves along the stroke, so the front of a closure runs along it and not square to the groove.
    turn = stroke_rad - groove.angle_rad
    lean = np.clip(np.cos(turn) / np.where(abs(np.sin(turn)) < 0.2, 0.2, np.sin(turn)), -2.5, 2.5)
    closure = place + (u_um * lean + ragged[index]) / groove.step_um
    last = len(groove.depth_um) - 1.001
    return Strip(index, u_um, np.clip(place, 0, last), np.clip(closure, 0, last))


def read(values: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Values of sections, interpolated at places among them."""
    low = place.astype(np.int32)
    values = np.nan_to_num(values, posinf=50.0).astype(np.float32)
    start = values[low]
    return start + (values[low + 1] - start) * (place - low)
