"""Pictures that stand in a run more than once: a copy is no second field, and would make intervals too narrow.

A picture saved in two formats is one picture. Formats without loss give equal pixels. What JPEG and its like lose leaves the
means of 8 × 8 px blocks within about half a grey level of 255; those of two fields differ by tens, and a second exposure of
the very place by its noise.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

import numpy as np

from semwear.errors import SemwearError
from semwear.terms import join_flags

COPY_FLAG = "same picture twice"
PICTURE_ID = "picture_id"
"""Key that rows carry beside the columns of the fields table: equal for all that hold one picture, however it was saved."""

BLOCK_PX = 8
"""Side of the blocks whose means are compared, px: those of JPEG, whose means it keeps to a step of its table."""
NEAR_LEVELS, NEAR_SHARE = 0.6, 0.99
"""Pictures are one where the means of this share of their blocks agree within this many of 255 levels. JPEG of quality 75 and
above leaves 0.53, another exposure of the same place with a noise of 2 levels a pixel 0.9, and the likest two of 41 sample fields, one
place before and after the test, 34."""
CLIPPED_LEVELS = 8
"""Blocks that reach within this many levels of black or white don't count: they are alike by being clipped."""
LEAST_COUNTED, LEAST_SPREAD = 0.25, 2.0
"""Share of the blocks that must count, and the standard deviation of their means, levels, below which nothing is said."""
NEAR_BITS = 20
"""Bits in which the fingerprints of one picture differ at most; it only chooses which pictures are compared."""


@dataclass(frozen=True, kw_only=True)
class PicturePrint:
    """What tells one picture from others without its file: checksum of its grey pixels, and 256-bit fingerprint as hex."""

    pixels_sha256: str
    fingerprint: str


def is_copy(row: Mapping) -> bool:
    """True for a row that holds the picture of another row (see :func:`mark_copies`)."""
    return COPY_FLAG in row["flags"].split(";")


def mark_copies(rows: Iterable[Mapping]) -> list[dict]:
    """Return the rows of the fields table with a flag on each measured one whose picture another row stands for.

    Of the rows that hold one picture, the first that the plan names (it has a specimen) is no copy, or else the first. Rows
    hold one picture where ``picture_id`` is the same, or the file's checksum where they carry none.

    >>> rows = [{"status": "measured", "sha256": "ab", "flags": "", "specimen": name} for name in ("", "A")]
    >>> [row["flags"] for row in mark_copies(rows)]
    ['same picture twice', '']
    """
    rows = list(rows)
    pictures = [(row.get(PICTURE_ID) or row["sha256"]) if row["status"] == "measured" else "" for row in rows]
    standing: dict[str, int] = {}
    for place, picture in enumerate(pictures):
        first = standing.setdefault(picture, place)
        if rows[place]["specimen"] and not rows[first]["specimen"]:
            standing[picture] = place
    marked = []
    for place, (row, picture) in enumerate(zip(rows, pictures, strict=True)):
        flags = set(row["flags"].split(";")) - {"", COPY_FLAG}
        flags |= {COPY_FLAG} if picture and standing[picture] != place else set()
        marked.append({**row, "flags": join_flags(flags)})
    return marked


def picture_print(micrograph) -> PicturePrint:
    """Return the print of a micrograph (its ``pixels`` are used)."""
    from semwear.labels import fingerprint

    pixels = _few_bits(micrograph)
    digest = sha256(f"{pixels.shape} {pixels.dtype}".encode())
    digest.update(np.ascontiguousarray(pixels).data)
    return PicturePrint(pixels_sha256=digest.hexdigest(), fingerprint=f"{fingerprint(pixels):064x}")


def picture_ids(prints: Mapping[str, PicturePrint | None], paths: Mapping[str, Path], *, page: int = 1) -> dict[str, str]:
    """Return one id for each picture that has a print, by file: the checksum of its pixels, or of the first that shows the same.

    prints, paths: print and place of each picture. The files are opened only where fingerprints are close.
    """
    known = {file: own for file, own in prints.items() if own is not None}
    marks = np.zeros((len(known), 32), np.uint8)
    for place, own in enumerate(known.values()):
        marks[place] = np.frombuffer(bytes.fromhex(own.fingerprint), np.uint8)
    files, ids, first_of = list(known), {}, {}
    firsts: list[int] = []
    means = lru_cache(maxsize=64)(lambda file: _block_means(paths[file], page))
    for place, (file, own) in enumerate(known.items()):
        if own.pixels_sha256 not in first_of:
            near = np.bitwise_count(marks[firsts] ^ marks[place]).sum(axis=1, dtype=int) <= NEAR_BITS
            close = [files[first] for first, is_near in zip(firsts, near, strict=True) if is_near]
            same = next((other for other in close if _show_the_same(means(other), means(file))), None)
            first_of[own.pixels_sha256] = own.pixels_sha256 if same is None else ids[same]
            if same is None:
                firsts.append(place)
        ids[file] = first_of[own.pixels_sha256]
    return ids


def _few_bits(micrograph) -> np.ndarray:
    """Return the grey pixels, (rows, cols): in 8 bits where they are 8 bits that were written as 16."""
    pixels = micrograph.pixels
    if pixels.dtype != np.uint16:
        return pixels
    upper = pixels >> 8
    if (pixels == upper * np.uint16(257)).all() or (pixels == upper << 8).all():
        return upper.astype(np.uint8)
    return pixels


def _block_means(path: Path, page: int) -> tuple[tuple[int, int], np.ndarray, np.ndarray] | None:
    """Return shape, means of the blocks in levels of 255, and which of them count; None for a picture that can't be read."""
    from semwear.read import read_micrograph

    try:
        micrograph = read_micrograph(path, page=page)
    except (SemwearError, MemoryError):
        return None
    pixels, black, white = _few_bits(micrograph), micrograph.black_level, micrograph.white_level
    if pixels.dtype == np.uint8:
        black, white = 0.0, 255.0
    rows, cols = (side // BLOCK_PX for side in pixels.shape)
    blocks = pixels[: rows * BLOCK_PX, : cols * BLOCK_PX].reshape(rows, BLOCK_PX, cols, BLOCK_PX)
    means, low, high = (
        (values - black) * (255.0 / (white - black))
        for values in (blocks.mean(axis=(1, 3)), blocks.min(axis=(1, 3)), blocks.max(axis=(1, 3)))
    )
    return pixels.shape, means, (low > CLIPPED_LEVELS) & (high < 255 - CLIPPED_LEVELS)


def _show_the_same(one: Sequence | None, other: Sequence | None) -> bool:
    """True when two pictures (see :func:`_block_means`) are one but for what saving lost."""
    if one is None or other is None or one[0] != other[0]:
        return False
    counted = one[2] & other[2]
    if counted.mean() < LEAST_COUNTED or min(one[1][counted].std(), other[1][counted].std()) < LEAST_SPREAD:
        return False
    return bool(np.quantile(np.abs(one[1] - other[1])[counted], NEAR_SHARE) <= NEAR_LEVELS)
