"""Height maps as they are read: ISO 25178-72 (x3p) files, and plain grids of numbers (.csv, .txt, .npy).

An x3p file states its units; a plain grid states nothing, so that pixel size and height unit have to be given.
"""

import hashlib
import io
import math
import re
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from semwear.errors import ReadError, ScaleError

UNIT_UM = {"m": 1e6, "mm": 1e3, "um": 1.0, "µm": 1.0, "μm": 1.0, "nm": 1e-3}
"""Micrometres in one unit of height."""
SUFFIXES = (".x3p", ".csv", ".txt", ".tsv", ".npy")
FEWEST_POINTS = 32
"""Fewest points a side that a height map may have."""
MOST_POINTS = 100_000_000
SCALE_TOLERANCE = 0.01
"""Relative difference up to which a given pixel size agrees with the file's own."""
_MISSING = {"", "nan", "na", "n/a", "bad", "null", "-", "--", "***", "*"}


@dataclass(frozen=True, kw_only=True)
class HeightMap:
    """A map of heights: (rows, cols) float64 µm, NaN where nothing was measured; row 0 on top, as in pictures.

    ``pixel_width_um`` is the step along a row, ``pixel_height_um`` the step along a column; they may differ.
    """

    file: str
    sha256: str
    heights_um: np.ndarray
    pixel_width_um: float
    pixel_height_um: float
    source: str

    @property
    def missing_fraction(self) -> float:
        """Share of points without a height, 0..1."""
        return float(np.mean(~np.isfinite(self.heights_um)))


def read_height_map(path, *, pixel_size_um: float | None = None, height_unit: str | None = None) -> HeightMap:
    """Return the height map of a file.

    ``pixel_size_um``: step between points, µm, for grids that state none; ``height_unit``: m, mm, um or nm, likewise.
    Raises ReadError for a file that isn't such a map, ScaleError when step or unit are unknown or contradict the file.
    """
    path = Path(path)
    if pixel_size_um is not None and not 0 < pixel_size_um < math.inf:
        raise ScaleError(f"pixel size {pixel_size_um:g}: the step between points is positive; state it in micrometres")
    if height_unit is not None and height_unit not in UNIT_UM:
        raise ScaleError(f"height unit {height_unit!r}: state one of m, mm, um, nm")
    try:
        if path.suffix.lower() not in SUFFIXES and path.exists():
            raise ReadError(f"{path}: a height map is an .x3p, .csv or .npy file; export it as one of these")
        content = path.read_bytes()
    except FileNotFoundError as error:
        raise ReadError(f"{path}: there is no such file or folder; check the name") from error
    except OSError as error:
        raise ReadError(f"{path}: can't be opened ({error.strerror or error}); check the name") from error
    if not content:
        raise ReadError(f"{path}: the file is empty; export the height map again")
    shared = {"file": str(path), "sha256": hashlib.sha256(content).hexdigest()}
    if path.suffix.lower() == ".x3p":
        heights, width_um, height_um = _read_x3p(path, content)
        for stated in (width_um, height_um):
            if pixel_size_um is not None and abs(stated / pixel_size_um - 1) > SCALE_TOLERANCE:
                raise ScaleError(
                    f"{path}: states a step of {stated:.6g} µm, but {pixel_size_um:g} µm was given; leave "
                    "--pixel-size-um out to use the file's own"
                )
        source = "file"
    else:
        if pixel_size_um is None:
            raise ScaleError(f"{path}: a plain grid states no pixel size; give the step between points by --pixel-size-um")
        if height_unit is None:
            raise ScaleError(f"{path}: a plain grid states no unit of height; give it by --height-unit um (or nm, mm, m)")
        grid = _read_npy(path, content) if path.suffix.lower() == ".npy" else _read_text(path, content)
        heights = grid * UNIT_UM[height_unit]
        width_um = height_um = float(pixel_size_um)
        source = "given"
    _check(path, heights)
    return HeightMap(
        **shared, heights_um=heights, pixel_width_um=width_um, pixel_height_um=height_um, source=source
    )


def _check(path: Path, heights: np.ndarray) -> None:
    rows, cols = heights.shape
    if min(rows, cols) < FEWEST_POINTS:
        raise ReadError(
            f"{path}: {rows} rows of {cols} points; a height map needs {FEWEST_POINTS} a side at least, so measure more"
        )
    known = np.isfinite(heights)
    if known.mean() < 0.5:
        raise ReadError(f"{path}: {100 * (1 - known.mean()):.0f} % of the points are missing; measure again with more light")
    if np.ptp(heights[known]) == 0:
        raise ReadError(f"{path}: all heights are the same; this is no measurement, so export the map again")


def _read_x3p(path: Path, content: bytes) -> tuple[np.ndarray, float, float]:
    import x3pio

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = x3pio.read(io.BytesIO(content))
    except x3pio.X3pChecksumError as error:
        raise ReadError(f"{path}: its checksum doesn't fit its content; the file is damaged, so copy it again") from error
    except (x3pio.X3pError, OSError, ValueError, EOFError, MemoryError) as error:
        raise ReadError(f"{path}: no readable x3p file ({_one_line(error)}); export it again") from error
    if not isinstance(found, x3pio.Surface):
        raise ReadError(f"{path}: holds a {type(found).__name__.lower()}, not a surface on a grid; export the surface")
    layer = found.layers[0]
    if layer.header.x.is_incremental and layer.header.y.is_incremental:
        width, height = layer.header.x.increment, layer.header.y.increment
    else:
        width, height = _steps(path, layer.points())
    # y of the file grows with the row; a picture's rows run downwards: row 0 stays the first row that was stored.
    return np.where(np.isfinite(layer.z), layer.z, np.nan) * 1e6, width * 1e6, height * 1e6


def _steps(path: Path, points: np.ndarray) -> tuple[float, float]:
    """Return the steps of a surface whose coordinates are stored point by point, if they form a regular grid."""
    along, down = np.diff(points[..., 0], axis=1), np.diff(points[..., 1], axis=0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        steps = abs(np.nanmedian(along)), abs(np.nanmedian(down))
    regular = all(
        step > 0 and np.nanmax(np.abs(np.abs(found) / step - 1)) < 0.01
        for step, found in zip(steps, (along, down), strict=True)
    )
    if not regular:
        raise ReadError(f"{path}: its points don't lie on a regular grid; export it resampled to equal steps")
    return float(steps[0]), float(steps[1])


def _read_npy(path: Path, content: bytes) -> np.ndarray:
    try:
        grid = np.load(io.BytesIO(content), allow_pickle=False)
    except (ValueError, OSError, EOFError) as error:
        raise ReadError(f"{path}: no readable .npy array ({_one_line(error)}); save it again with numpy.save") from error
    if not isinstance(grid, np.ndarray) or grid.ndim != 2 or grid.dtype.kind not in "fiu":
        kind = f"{grid.ndim}-dimensional {grid.dtype}" if isinstance(grid, np.ndarray) else "not one array"
        raise ReadError(f"{path}: is {kind}; a height map is one array (rows, cols) of numbers")
    grid = grid.astype(float)
    return np.where(np.isfinite(grid), grid, np.nan)


def _read_text(path: Path, content: bytes) -> np.ndarray:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    numbered = [
        (number, line.rstrip("\r\n"))
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise ReadError(f"{path}: holds no numbers; export the heights as rows of numbers")
    separator, comma = _separator(numbered[len(numbered) // 2][1])
    split = [(number, line.split(separator or None)) for number, line in numbered]
    if separator and all(not cells[-1].strip() for _, cells in split):
        split = [(number, cells[:-1]) for number, cells in split]  # a separator at the end of every line
    if len(split) * len(split[0][1]) > MOST_POINTS:
        raise ReadError(f"{path}: more than {MOST_POINTS} points; export a smaller part or wider steps")
    rows: list[np.ndarray] = []
    for number, cells in split:
        try:
            row = np.array([_number(cell, comma) for cell in cells])
        except ValueError:
            what_to_do = "export the grid again" if rows else "put # before lines of text above the heights, or delete them"
            raise ReadError(f"{path}: line {number} holds text, not heights; {what_to_do}") from None
        if rows and row.size != rows[0].size:
            raise ReadError(
                f"{path}: line {number} has {row.size} heights, the first has {rows[0].size}; the file is cut off or no "
                "grid, so export it again"
            )
        rows.append(row)
    grid = np.array(rows)
    if grid.shape[1] == 3 and grid.shape[0] > 3 * FEWEST_POINTS:
        raise ReadError(f"{path}: looks like a list of x, y and z; export the heights as a grid, one line a row")
    if _is_even(grid[0, 1:]) and not _is_even(grid[grid.shape[0] // 2, 1:]):
        raise ReadError(f"{path}: its first line counts in even steps, as coordinates do; delete it, or put # before it")
    if _is_even(grid[1:, 0]) and not _is_even(grid[1:, grid.shape[1] // 2]):
        raise ReadError(f"{path}: its first column counts in even steps, as coordinates do; export the heights alone")
    return grid


def _is_even(values: np.ndarray) -> bool:
    """True for five values or more that grow or fall in equal steps."""
    steps = np.diff(values)
    return bool(steps.size >= 4 and steps[0] and np.allclose(steps, steps[0], rtol=1e-3, atol=0))


def _separator(line: str) -> tuple[str, bool]:
    """Return the separator of a line ('' for blanks) and whether decimals are written with a comma.

    >>> _separator("1,5;2,5"), _separator("1.5,2.5"), _separator("1.5 2.5")
    ((';', True), (',', False), ('', False))
    """
    for separator in (";", "\t"):
        if separator in line:
            return separator, "," in line and "." not in line
    if "," in line and re.search(r"\d,\d+\s+[-+]?\d+,\d", line):
        return "", True
    return (",", False) if "," in line else ("", False)


def _number(cell: str, comma: bool) -> float:
    cell = cell.strip().strip('"')
    if cell.lower() in _MISSING:
        return math.nan
    value = float(cell.replace(",", ".") if comma else cell)
    return value if math.isfinite(value) else math.nan


def _one_line(error: BaseException) -> str:
    return " ".join(str(error).split())[:160] or type(error).__name__
