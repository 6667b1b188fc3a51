"""One lay of hone grooves, drawn in its own frame and then turned into the picture.

In the lay's frame every groove runs along a row of a table (axis 0 across the lay, axis 1 along it, one picture pixel a
cell), so that a groove is a slab of the table, and a smear event is a stretch of that slab whose ends lie along the
stroke, the way the metal was moved.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .specimen import Specimen

DEPTH_LIMIT_UM = 0.5
KINDS = ("cap", "bridge", "lip", "fold", "burnished")


@dataclass(frozen=True, kw_only=True)
class Lay:
    """A lay in the picture: (rows, cols) float32 depth in µm as honed and as worn, and uint8 kind of smear (0 none)."""

    honed_um: np.ndarray
    worn_um: np.ndarray
    kind: np.ndarray
    burr_um: np.ndarray
    loss_um: float
    area_px: int


def frame(direction_deg: float, shape: tuple[int, int], margin: int = 8) -> tuple[np.ndarray, tuple[int, int]]:
    """Return the affine map (2, 3) from picture (col, row) to table (along, across), and the table's (across, along) size."""
    rows, cols = shape
    cos, sin = np.cos(np.deg2rad(direction_deg)), np.sin(np.deg2rad(direction_deg))
    across = int(np.ceil(abs(cols * sin) + abs(rows * cos))) + 2 * margin
    along = int(np.ceil(abs(cols * cos) + abs(rows * sin))) + 2 * margin
    centre = np.array([(cols - 1) / 2, (rows - 1) / 2])
    turn = np.array([[cos, -sin], [sin, cos]])
    shift = np.array([(along - 1) / 2, (across - 1) / 2]) - turn @ centre
    return np.column_stack([turn, shift]), (across, along)


def turn_into_picture(
    table: np.ndarray, mapping: np.ndarray, shape: tuple[int, int], *, nearest: bool = False
) -> np.ndarray:
    """Sample a table of ``frame`` on the picture's grid."""
    way = cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR
    return cv2.warpAffine(table, mapping, shape[::-1], flags=way | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT)


def wander(length: int, step: float, rng: np.random.Generator) -> np.ndarray:
    """Return a smooth random curve of unit spread, (length,) float32, with features of about ``step`` cells."""
    knots = rng.standard_normal(max(int(length / max(step, 1)), 1) + 3)
    return np.interp(np.linspace(1, knots.size - 2, length), np.arange(knots.size), knots).astype(np.float32)


def draw_lay(
    specimen: Specimen, which: int, *, worn: bool, severity: float, bands: np.ndarray, rng: np.random.Generator
) -> Lay:
    """Draw lay 0 or 1 of a field.

    ``severity`` multiplies the specimen's closed share and loss of height; ``bands``, (n,) around 0, says where across
    the stroke, over the picture's diagonal, more or less is closed.
    """
    shape = specimen.shape
    mapping, (across, along) = frame(specimen.lays_deg[which], shape)
    honed, after, burr = (np.zeros((across, along), np.float32) for _ in range(3))
    kind = np.zeros((across, along), np.uint8)
    towards = np.deg2rad(specimen.stroke_deg - specimen.lays_deg[which])
    slant = float(np.clip(-np.cos(towards) / np.sin(towards), -2.5, 2.5))
    middle_of_frame = (along / 2, across / 2, float(np.hypot(*shape)))
    loss = specimen.shallow_um * severity if worn else 0.0
    bend = rng.uniform(-1, 1) * 0.008 * along * np.linspace(-1, 1, along, dtype=np.float32) ** 2
    for centre, half, depth in _places(specimen, which, across, rng):
        curve = centre + bend + 0.08 * half * wander(along, 60 * half, rng)
        halves = half * (1 + 0.08 * wander(along, 25 * half, rng) + 0.035 * wander(along, 1.5 + 0.2 * half, rng))
        top, bottom = int(max(curve.min() - 1.6 * half - 2, 0)), int(min(curve.max() + 1.6 * half + 3, across))
        if bottom <= top:
            continue
        strength = _length_envelope(along, half, rng)
        offset = (np.arange(top, bottom, dtype=np.float32)[:, None] - curve) / halves
        deep = depth * (1 + 0.1 * wander(along, 30 * half, rng)) * strength
        cut = deep * np.maximum(1 - np.abs(offset) ** specimen.bowl, 0)
        shallower = np.maximum(cut - loss, 0)
        slab = slice(top, bottom)
        now, names = shallower.copy(), np.zeros(cut.shape, np.uint8)
        if worn and specimen.closed_share > 0:
            _close(
                now,
                names,
                offset,
                cut,
                (centre, top),
                half,
                slant,
                towards,
                (bands, middle_of_frame),
                specimen,
                severity,
                rng,
            )
        honed[slab] = np.maximum(honed[slab], cut)
        deeper = now > after[slab]
        after[slab] = np.where(deeper, now, after[slab])
        kind[slab] = np.maximum(kind[slab], names)
        if specimen.burr_um > 0.05 and not worn:
            burr[slab] = np.maximum(
                burr[slab], specimen.burr_um * np.exp(-(((np.abs(offset) - 1.1) / 0.12) ** 2)) * strength
            )
    return Lay(
        honed_um=turn_into_picture(honed, mapping, shape),
        worn_um=turn_into_picture(after, mapping, shape),
        kind=turn_into_picture(kind, mapping, shape, nearest=True),
        burr_um=turn_into_picture(burr, mapping, shape),
        loss_um=loss,
        area_px=int(np.count_nonzero(honed >= DEPTH_LIMIT_UM)),
    )


def _places(specimen: Specimen, which: int, across: int, rng) -> list[tuple[float, float, float]]:
    """Centres, half widths (px) and depths (µm) of grooves placed at random until the lay has its share of the ground."""
    mean_px = specimen.width_um / specimen.pixel_size_um
    shares = specimen.valley_shares[which] * 1.25
    pitch, places, centre = mean_px / shares, [], -rng.uniform(0, mean_px / shares)
    while centre < across + mean_px:
        size = float(np.clip(np.exp(rng.normal(0, specimen.width_spread)), 0.45, 2.2))
        half = max(mean_px * size / 2, 1.8)
        depth = max(specimen.depth_um * size ** rng.uniform(0.4, 1.0) * rng.uniform(0.8, 1.25), 0.9)
        places.append((centre, half, depth))
        centre += half * 2 * 0.8 + rng.exponential(max(pitch - 1.6 * half, 0.3 * pitch))
    return places


def _length_envelope(along: int, half: float, rng) -> np.ndarray:
    """Most grooves cross the field; some begin or end in it, feathering out over a few widths."""
    place, ends = np.arange(along, dtype=np.float32), np.ones(along, np.float32)
    if rng.random() < 0.25:
        end, run = rng.uniform(0.1, 0.9) * along, half * rng.uniform(3, 12)
        ends = np.clip((end - place) / run, 0, 1) ** 0.6
        ends = ends if rng.random() < 0.5 else ends[::-1]
    return np.ascontiguousarray(ends)


def _close(now, names, offset, cut, where, half, slant, towards, bands, specimen: Specimen, severity, rng) -> None:
    """Close stretches of one groove in place: ``now`` gets the depth left, ``names`` the number of the kind (1–5)."""
    rows, along = now.shape
    centre, top = where
    bands, (half_along, half_across, diagonal) = bands
    across_px = np.arange(rows, dtype=np.float32)[:, None] - (centre - top)
    typical = np.array([3.5, 0.9, 8.0, 3.0, 16.0])
    chances = np.array(specimen.closing) / typical
    mean_um = float(np.dot(chances / chances.sum(), typical)) * 2 * half
    place = -rng.uniform(0, 2) * mean_um
    while place < along:
        position = (place - half_along) * np.sin(towards) + (centre - half_across) * np.cos(towards)
        band = bands[int(np.clip(position / diagonal + 0.5, 0, 1) * (bands.size - 1))]
        share = specimen.closed_share * severity * np.clip(1 + 1.2 * specimen.closing_bands * band, 0.05, 2.2)
        share = float(np.clip(share, 0.004, 0.93))
        place += rng.exponential(mean_um * (1 - share) / share)
        which = int(rng.choice(5, p=chances / chances.sum()))
        length = 2 * half * typical[which] * float(np.clip(rng.gamma(2.5, 0.4), 0.3, 2.5))
        first = int(max(place - abs(slant) * 2 * half, 0))
        last = int(min(place + length + abs(slant) * 2 * half + 2, along))
        if last - first > 2:
            _one_closing(
                now, names, offset, cut, across_px, slice(first, last), place, length, which, half, slant, specimen, rng
            )
        place += length


def _one_closing(now, names, offset, cut, across_px, span, place, length, which, half, slant, specimen, rng) -> None:
    rows = now.shape[0]
    column = np.arange(span.start, span.stop, dtype=np.float32)
    ragged = {0: 0.25, 1: 0.2, 2: 0.15, 3: 0.35, 4: 0.45}[which] * half
    teeth = [0.6 * wander(rows, 0.9 * half, rng) + 0.35 * wander(rows, 1 + 0.15 * half, rng) for _ in range(2)]
    lead = place + slant * across_px + ragged * teeth[0][:, None]
    tail = place + length + slant * across_px + ragged * teeth[1][:, None]
    inside = (column > lead) & (column < tail)
    x = offset[:, span]
    if which == 2:
        side, reach = rng.choice([-1, 1]), rng.uniform(0.5, 1.5)
        edge = 1 - reach * np.clip(np.minimum(column - place, place + length - column) / (1.5 * half), 0, 1)
        inside = inside & (side * x > edge + 0.1 * wander(column.size, 1 + 0.3 * half, rng))
    elif which == 0 and rng.random() < 0.5:
        side = rng.choice([-1, 1])
        inside = inside & (side * x > -0.75 + 0.12 * wander(column.size, 1 + 0.5 * half, rng))
    shapely = np.maximum(1 - np.abs(x) ** 2.5, 0)
    if which == 4:
        left = rng.uniform(0.16, 0.4) * shapely
    elif which == 3:
        wave = np.sin((column + slant * across_px) * (2 * np.pi / max(half * rng.uniform(0.35, 0.8), 3.0)))
        left = 0.1 + 0.12 * wave + 0.0 * x
    else:
        seam = np.exp(-(((np.abs(x) - 0.9) / 0.1) ** 2))
        left = rng.uniform(-0.12, 0.1) + 0.35 * seam * (rng.random() < 0.7) + 0.0 * x
    met = inside & (cut[:, span] > 0.08) & (now[:, span] > left)
    now[:, span] = np.where(met, left, now[:, span])
    names[:, span] = np.where(met, which + 1, names[:, span])
