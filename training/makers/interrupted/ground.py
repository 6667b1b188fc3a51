"""The honed ground in picture space: life lines drawn by the signed distance of each pixel to a groove's centre line."""

from dataclasses import dataclass

import numpy as np

from .grain import log_uniform
from .lifeline import LifeLine, live
from .story import Story


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Maps of the picture. cut: depth of the hone's grooves in µm; left_open: the same where no moved metal covers them;
    ghost: 0–1 over covered grooves, strongest at their rims."""

    cut: np.ndarray
    left_open: np.ndarray
    ghost: np.ndarray

    @classmethod
    def blank(cls, shape: tuple[int, int]) -> "Ground":
        return cls(cut=np.zeros(shape, np.float32), left_open=np.zeros(shape, np.float32), ghost=np.zeros(shape, np.float32))


def run_length(shape: tuple[int, int]) -> int:
    return int(np.hypot(*shape)) + 4


def draw(ground: Ground, line: LifeLine, angle_rad: float, offset_px: float, pixel_size_um: float) -> None:
    """Lay one groove into the maps, its line `offset_px` from the picture's middle; the deeper of two crossing grooves stays."""
    rows, cols = ground.cut.shape
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    reach = max(line.left.max(), line.right.max()) + abs(line.centre).max() + 2
    # Only a strip of pixels is visited: one cell a step along the steeper axis.
    if abs(c) >= abs(s):
        x = np.arange(cols)[:, None] - cols / 2
        middle = (x * s + offset_px) / c
        y = np.floor(middle) + np.arange(-int(reach / abs(c)) - 1, int(reach / abs(c)) + 2)
        x = np.broadcast_to(x, y.shape)
    else:
        y = np.arange(rows)[:, None] - rows / 2
        middle = (y * c - offset_px) / s
        x = np.floor(middle) + np.arange(-int(reach / abs(s)) - 1, int(reach / abs(s)) + 2)
        y = np.broadcast_to(y, x.shape)
    row, col = np.rint(y + rows / 2).astype(np.int32), np.rint(x + cols / 2).astype(np.int32)
    kept = (row >= 0) & (row < rows) & (col >= 0) & (col < cols)
    row, col = row[kept], col[kept]
    x, y = col - cols / 2, row - rows / 2
    t = np.clip((x * c + y * s + len(line.depth) / 2).astype(np.int32), 0, len(line.depth) - 1)
    d = y * c - x * s - offset_px - line.centre[t]
    left, right = line.left[t], line.right[t]
    within = (d > -left) & (d < right)
    row, col, t, d, left, right = row[within], col[within], t[within], d[within], left[within], right[within]
    from_rim_px = np.minimum(d + left, right - d)
    depth = np.minimum(line.depth[t], from_rim_px * pixel_size_um * np.tan(np.radians(line.wall_deg)))
    share = (d + left) / (left + right)
    # The ring drags metal along the stroke, so a closure's ends follow the stroke and not the groove's cross-section.
    ragged = line.ends[np.clip((d + len(line.ends) / 2).astype(np.int32), 0, len(line.ends) - 1)]
    k = np.clip((t - line.skew * d + ragged).astype(np.int32), 0, len(line.depth) - 1)
    covered = (share < line.cover_left[k]) | (1 - share < line.cover_right[k])
    ground.cut[row, col] = np.maximum(ground.cut[row, col], depth)
    ground.left_open[row, col] = np.maximum(ground.left_open[row, col], np.where(covered, 0, depth))
    rim = np.exp(-from_rim_px / 1.2) + 0.06
    ground.ghost[row, col] = np.maximum(ground.ghost[row, col], np.where(covered, line.ghost[t] * rim, 0))


def honed(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, story: Story) -> Ground:
    """Both bands, in random order and groups, until the grooves take about the story's share of the area."""
    ground = Ground.blank(shape)
    size_px = run_length(shape)
    strong, weak = story.lays_deg if rng.random() < 0.5 else story.lays_deg[::-1]
    wanted = story.valley_share / (1 + story.weak_band)
    for lay, share in ((strong, wanted), (weak, wanted * story.weak_band)):
        budget = share * size_px
        grouped = rng.random() < 0.5
        hubs = rng.uniform(-0.5, 0.5, rng.integers(2, 6)) * size_px
        for _ in range(45):
            strength = log_uniform(rng, 0.5, 1.7)
            budget -= story.width_um * strength / pixel_size_um
            offset = rng.uniform(-0.45, 0.45) * size_px
            if grouped and rng.random() < 0.8:
                offset = rng.choice(hubs) + rng.normal(0, 0.04) * size_px
            angle = np.radians(lay + rng.normal(0, 1.2))
            across_stroke = np.tan(np.radians(story.stroke_deg) - angle)
            skew = np.clip(1 / across_stroke, -2, 2) * rng.uniform(0.3, 1.2) + rng.normal(0, 0.3)
            draw(ground, live(rng, size_px, pixel_size_um, story, strength, skew), angle, offset, pixel_size_um)
            if budget < 0:
                break
    return ground
