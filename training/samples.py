"""Training samples: square pieces of normalised fields at a working pixel size, with their states and worn grid.

Samples are kept as bytes so that tens of thousands fit in memory: grey values in [-6, 6] map to 0–255.
"""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from semwear.calibrate import Calibration
from semwear.data_bar import DataBar
from semwear.labels import LabelledField
from semwear.network import WORN_STRIDE_PX
from semwear.prepare import PreparedField, prepare
from semwear.read import Micrograph
from semwear.score import INPUT_LIMIT, network_input, working_pixel_size

UNKNOWN, BLANK = 255, 254
"""Codes beside the states: something hides the surface there, as debris does, and nothing is known at all: no picture, or no
label."""
EMPTY_BYTE = 128
"""What :func:`to_bytes` makes of pixels without a picture, which are 0."""


@dataclass(kw_only=True)
class Samples:
    """n samples: image (n, s, s) uint8, codes (n, s, s) uint8 a state, UNKNOWN or BLANK, worn (n, s/16, s/16) uint8 0, 1 or
    255 (unknown), kind (n,) uint8 1 for a liner surface, group (n,) text (where the sample comes from)."""

    image: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    kind: np.ndarray
    group: np.ndarray

    def __len__(self) -> int:
        return len(self.image)


def to_bytes(image: np.ndarray) -> np.ndarray:
    return np.clip(np.round((image + INPUT_LIMIT) * (255 / (2 * INPUT_LIMIT))), 0, 255).astype(np.uint8)


def from_bytes(image: np.ndarray) -> np.ndarray:
    return image.astype(np.float32) * (2 * INPUT_LIMIT / 255) - INPUT_LIMIT


def join(parts: list[Samples]) -> Samples:
    return Samples(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in vars(parts[0])})


def save(samples: Samples, path: Path) -> None:
    partial = path.with_suffix(".part")
    with open(partial, "wb") as stream:
        np.savez(stream, **vars(samples))
    partial.replace(path)


def load(path: Path) -> Samples:
    with np.load(path) as content:
        return Samples(**{name: content[name] for name in content.files})


def shard_length(path: Path) -> int:
    """Return how many samples a file holds without reading their pictures."""
    with np.load(path) as content:
        return len(content["kind"])


def prepared_array(pixels: np.ndarray, pixel_size_um: float, assessed: np.ndarray | None = None) -> PreparedField:
    """Prepare a picture that is in memory, exactly as one read from a file with a known scale."""
    hidden = np.zeros(pixels.shape, bool) if assessed is None else ~assessed
    white = float(np.iinfo(pixels.dtype).max) if pixels.dtype.kind == "u" else 1.0
    micrograph = Micrograph(path=Path("memory"), file="memory", sha256="", pixels=pixels, white_level=white)
    whole = (slice(0, pixels.shape[0]), slice(0, pixels.shape[1]))
    calibration = Calibration(
        pixel_size_um=pixel_size_um,
        pixel_size_u_um=0.0,
        pixel_size_source="given",
        pixel_height_um=pixel_size_um,
        bar_label="",
        bar_px=float("nan"),
        kv=float("nan"),
        detector="",
        tilt_deg=float("nan"),
        flags=(),
        data_bar=DataBar(marks=hidden, picture=whole),
    )
    return prepare(micrograph, calibration)


def pieces(prepared: PreparedField, codes: np.ndarray, worn: np.ndarray, *, sizes_um, crop_px: int, group: str):
    """Cut a field into samples that cover it, overlapping where they must; codes and worn on the picture's own grid
    (worn uint8 0, 1 or 255)."""
    working_um = working_pixel_size(prepared.pixel_size_um, sizes_um)
    image, assessed = network_input(prepared, working_um)
    rows, cols = image.shape
    codes = cv2.resize(codes, (cols, rows), interpolation=cv2.INTER_NEAREST)
    worn = cv2.resize(worn, (cols, rows), interpolation=cv2.INTER_NEAREST)
    codes = np.where(assessed, codes, BLANK).astype(np.uint8)
    pad_rows, pad_cols = max(0, crop_px - rows), max(0, crop_px - cols)
    if pad_rows or pad_cols:
        edges = ((0, pad_rows), (0, pad_cols))
        image = np.pad(image, edges)
        codes = np.pad(codes, edges, constant_values=BLANK)
        worn = np.pad(worn, edges, constant_values=UNKNOWN)
        rows, cols = image.shape
    parts = []
    for top in _tops(rows, crop_px):
        for left in _tops(cols, crop_px):
            window = np.s_[top : top + crop_px, left : left + crop_px]
            parts.append((to_bytes(image[window]), codes[window], _worn_grid(worn[window])))
    images, states, grids = (np.stack(column) for column in zip(*parts, strict=True))
    return Samples(
        image=images, codes=states, worn=grids, kind=np.ones(len(parts), np.uint8), group=np.array([group] * len(parts))
    )


def from_label(field: LabelledField, *, sizes_um, crop_px: int) -> Samples:
    """Samples of one labelled picture; regions say what is worn, else the whole field's zone, else it is unknown."""
    prepared = prepare(field.micrograph, field.calibration)
    codes = np.where(field.codes == UNKNOWN, BLANK, field.codes)  # a person leaves unlabelled what isn't hidden, too
    return pieces(
        prepared, codes, field.worn_map(), sizes_um=sizes_um, crop_px=crop_px, group=field.specimen
    )


def _tops(length: int, crop_px: int) -> list[int]:
    count = -(-length // crop_px)
    return [round(index * (length - crop_px) / max(1, count - 1)) for index in range(count)]


def _worn_grid(worn: np.ndarray) -> np.ndarray:
    """Reduce a worn map (rows, cols) 0, 1, 255 to the network's 16-pixel grid: unknown where the cell is mixed."""
    side = worn.shape[0] // WORN_STRIDE_PX
    cells = worn.reshape(side, WORN_STRIDE_PX, side, WORN_STRIDE_PX).swapaxes(1, 2).reshape(side, side, -1)
    low, high = cells.min(-1), cells.max(-1)
    return np.where(low == high, low, UNKNOWN).astype(np.uint8)
