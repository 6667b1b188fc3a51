"""Hone grooves as bands about bent lines, with a soft cross-section.

A honed bore is two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503). Included hone
angles of 30–60° are usual and 140–150° in helical slide honing, depths 1–10 µm, widths 5–50 µm (from memory); walls slope by
6–27°. The angle is bisected by the circumference, the direction across the stroke."""

from dataclasses import dataclass

import numpy as np

from .frames import Frame, wander

VALLEY_DEPTH_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Groove:
    """row: of its middle on the lay's board, a number for each column; width_px: between rims; depth_um: at each column;
    power: of the cross-section 1 − |q|^power, from about 1 (a notch) to 6 (a trough)."""

    row: np.ndarray
    width_px: np.ndarray
    depth_um: np.ndarray
    power: float

    def band(self, side: int, overhang: float = 1.1) -> tuple[slice, np.ndarray]:
        """The board's rows that the groove takes up, and the place between its rims, −1 to 1, of each pixel there."""
        reach = overhang * self.width_px / 2
        first = int(np.clip(np.floor((self.row - reach).min()), 0, side))
        last = int(np.clip(np.ceil((self.row + reach).max()) + 1, first, side))
        rows = np.arange(first, last, dtype=np.float32)[:, None]
        return slice(first, last), ((rows - self.row) / (self.width_px / 2)).astype(np.float32)

    def valley_width_px(self) -> np.ndarray:
        """Where the ground lies 0.5 µm down or more, at each column, from the cross-section's formula."""
        below = np.clip(1 - VALLEY_DEPTH_UM / np.maximum(self.depth_um, 1e-6), 0, 1)
        return self.width_px * below ** (1 / self.power)


def hone_angle_deg(rng: np.random.Generator) -> float:
    return float(rng.uniform(140, 150) if rng.random() < 0.12 else rng.uniform(30, 60))


def lay_angles(stroke: float, hone_deg: float) -> tuple[float, float]:
    """Two directions, placed evenly about the one across the stroke."""
    half = np.radians(hone_deg) / 2
    return stroke + np.pi / 2 - half, stroke + np.pi / 2 + half


def groove(rng: np.random.Generator, side: int, row: float, width_px: float, depth_um: float, power: float) -> Groove:
    bend = wander(rng, side, side / 2.5) * rng.uniform(0, 0.004) * side
    ragged = wander(rng, side, rng.uniform(5, 14)) * min(0.07, rng.uniform(0.2, 1.6) / width_px)
    swell = wander(rng, side, side / 6) * rng.uniform(0, 0.06)
    depth = depth_um * np.clip(1 + 0.08 * wander(rng, side, side / 8), 0.85, 1.2)
    if rng.random() < 0.2:  # a groove that begins or ends within the field
        end = rng.uniform(0.15, 0.85) * side
        ramp = np.clip((np.arange(side) - end) / (4 * width_px + 10), 0, 1)
        depth = depth * (ramp if rng.random() < 0.5 else 1 - ramp)
    width = width_px * np.clip(1 + ragged + swell, 0.6, 1.5)
    return Groove(row=(row + bend).astype(np.float32), width_px=width.astype(np.float32), depth_um=depth, power=power)


def population(rng: np.random.Generator, side: int, pixel_size_um: float, lays: int) -> tuple[list[list[Groove]], str]:
    """Grooves of every lay, all of one finish: few broad ones, many thin ones, or a mixture."""
    finish = str(rng.choice(["broad", "mixed", "thin"], p=[0.3, 0.4, 0.3]))
    share = rng.uniform(0.14, 0.48) / lays
    middle = {
        "broad": rng.uniform(0.05, 0.11) * side,
        "mixed": rng.uniform(0.012, 0.04) * side,
        "thin": rng.uniform(3.5, 8),
    }[finish]
    middle = float(np.clip(middle, max(3.5, 1.5 / pixel_size_um), max(8, min(60 / pixel_size_um, 0.12 * side))))
    count = int(np.clip(share * side / middle, 2, 70))
    spread = {"broad": 0.25, "mixed": 0.5, "thin": 0.3}[finish]
    slope = np.tan(np.radians(rng.uniform(10, 27)))
    power = rng.uniform(1.2, 5)
    shallow = rng.choice([0.02, 0.1, 0.25])
    drawn = []
    for _ in range(lays):
        rows = (np.arange(count) + rng.uniform(-0.1, 1.1, count)) * side / count
        widths = np.clip(middle * np.exp(spread * rng.standard_normal(count)), 3.2, 0.16 * side)
        lay = []
        for row, width in zip(rows, widths, strict=True):
            depth = float(np.clip(width / 2 * pixel_size_um * slope * np.exp(0.25 * rng.standard_normal()), 1.3, 10))
            if rng.random() < shallow:
                depth = float(rng.uniform(0.15, 0.45))
            lay.append(groove(rng, side, row, float(width), depth, float(np.clip(power + rng.normal(0, 0.4), 1.1, 6))))
        drawn.append(lay)
    return drawn, finish


def cut(grooves: list[Groove], side: int, worn_off_um: float = 0.0) -> np.ndarray:
    """Depth in µm on the lay's board, after truncation took its share off the plateau."""
    board = np.zeros((side, side), np.float32)
    for one in grooves:
        rows, q = one.band(side, 1.0)
        section = (one.depth_um * (1 - np.abs(q) ** one.power) - worn_off_um).astype(np.float32)
        np.maximum(board[rows], section, out=board[rows])
    return board


def scratches(rng: np.random.Generator, frame: Frame, count: int, deepest_um: float, widest_px: float) -> np.ndarray:
    """Fine straight marks along a frame's columns, each with an end or two, all shallower than 0.5 µm."""
    board = np.zeros((frame.side, frame.side), np.float32)
    for _ in range(count):
        width, length = rng.uniform(1, max(widest_px, 1.2)), int(rng.uniform(0.2, 1.4) * frame.side)
        row, first = rng.uniform(0, frame.side - width - 1), int(rng.uniform(-0.4, 0.9) * frame.side)
        last = min(first + length, frame.side)
        first = max(first, 0)
        if last - first < 4:
            continue
        rows = slice(int(row), int(row + width) + 1)
        bump = 1 - np.abs((np.arange(rows.start, rows.stop) - row) / width * 2 - 1) * 0.6
        ends = np.clip(np.minimum(np.arange(last - first), np.arange(last - first)[::-1]) / 12, 0, 1)
        mark = rng.uniform(0.15, 1) * deepest_um * np.clip(bump, 0, 1)[:, None] * ends
        np.maximum(board[rows, first:last], mark.astype(np.float32), out=board[rows, first:last])
    return np.minimum(frame.show(board), np.float32(0.45))
