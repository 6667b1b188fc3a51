"""Blocks of ink: small transparent pictures that carry the ends of a scale bar while they are put together.

Lengths are in pixels in **pixel-edge coordinates**: column c covers the interval [c, c + 1), so that a bar that occupies
the columns 10 to 109 starts at 10.0, ends at 110.0 and is 100 px long.
"""

from dataclasses import dataclass

import numpy as np

Ends = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, kw_only=True)
class Block:
    """A transparent picture.

    colour: (rows, cols, 3) float32, 0..1; alpha: (rows, cols) float32, 0..1 (share of the pixel that the ink covers);
    ends_px: ((row, col), (row, col)) of a scale bar inside the block, left end first, or None.
    """

    colour: np.ndarray
    alpha: np.ndarray
    ends_px: Ends | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the block."""
        return self.alpha.shape


def blank(rows: int, cols: int) -> Block:
    """Return an empty, fully transparent block of ``rows`` x ``cols`` pixels."""
    return Block(colour=np.zeros((rows, cols, 3), np.float32), alpha=np.zeros((rows, cols), np.float32))


def ink(coverage: np.ndarray, colour, *, ends_px: Ends | None = None) -> Block:
    """Return a block of one colour (three values 0..1) whose alpha is ``coverage`` ((rows, cols), 0..1)."""
    coverage = np.asarray(coverage, np.float32)
    filled = np.broadcast_to(np.asarray(colour, np.float32), (*coverage.shape, 3)).copy()
    return Block(colour=filled, alpha=coverage, ends_px=ends_px)


def _moved(ends: Ends | None, row: int, col: int) -> Ends | None:
    return None if ends is None else tuple((end[0] + row, end[1] + col) for end in ends)


def lay_over(below: Block, above: Block, row: int, col: int) -> Block:
    """Return ``below`` with ``above`` laid over it, its corner at (row, col); what sticks out is an error.

    Raises ValueError when ``above`` does not lie inside ``below``: a cut bar would have no truth.
    """
    rows, cols = above.shape
    if row < 0 or col < 0 or row + rows > below.shape[0] or col + cols > below.shape[1]:
        raise ValueError(f"a block of {rows} x {cols} px at ({row}, {col}) sticks out of {below.shape} px")
    colour, alpha = below.colour.copy(), below.alpha.copy()
    window = np.s_[row : row + rows, col : col + cols]
    kept = alpha[window] * (1 - above.alpha)
    total = above.alpha + kept
    weight = np.where(total > 0, above.alpha / np.maximum(total, 1e-6), 0)[..., None]
    colour[window] = above.colour * weight + colour[window] * (1 - weight)
    alpha[window] = total
    ends = _moved(above.ends_px, row, col) or below.ends_px
    return Block(colour=colour, alpha=alpha, ends_px=ends)


def pad(block: Block, top: int, right: int, bottom: int, left: int) -> Block:
    """Return ``block`` with transparent margins, in pixels."""
    return lay_over(blank(block.shape[0] + top + bottom, block.shape[1] + left + right), block, top, left)


def _offset(free: int, align: str) -> int:
    return {"start": 0, "centre": free // 2, "end": free}[align]


def stack(blocks: list[Block], gap_px: int, align: str = "centre") -> Block:
    """Return the blocks one below the other; ``align`` is start (left), centre or end (right)."""
    cols = max(block.shape[1] for block in blocks)
    result = blank(sum(block.shape[0] for block in blocks) + gap_px * (len(blocks) - 1), cols)
    row = 0
    for block in blocks:
        result = lay_over(result, block, row, _offset(cols - block.shape[1], align))
        row += block.shape[0] + gap_px
    return result


def beside(blocks: list[Block], gap_px: int, align: str = "centre") -> Block:
    """Return the blocks side by side; ``align`` is start (top), centre or end (bottom)."""
    rows = max(block.shape[0] for block in blocks)
    result = blank(rows, sum(block.shape[1] for block in blocks) + gap_px * (len(blocks) - 1))
    col = 0
    for block in blocks:
        result = lay_over(result, block, _offset(rows - block.shape[0], align), col)
        col += block.shape[1] + gap_px
    return result


def outlined(block: Block, colour, width_px: int) -> Block:
    """Return ``block`` with an outline of ``colour`` and ``width_px`` pixels around all its ink."""
    from scipy.ndimage import grey_dilation

    wide = pad(block, width_px, width_px, width_px, width_px)
    halo = ink(grey_dilation(wide.alpha, size=(2 * width_px + 1, 2 * width_px + 1)), colour)
    return lay_over(halo, wide, 0, 0)


def softened(block: Block, sigma_px: float) -> Block:
    """Return ``block`` blurred by a Gaussian of ``sigma_px``, as interpolation does; edges stay where they were."""
    from scipy.ndimage import gaussian_filter

    margin = int(np.ceil(3 * sigma_px))
    wide = pad(block, margin, margin, margin, margin)
    alpha = gaussian_filter(wide.alpha, sigma_px)
    carried = gaussian_filter(wide.colour * wide.alpha[..., None], (sigma_px, sigma_px, 0))
    colour = carried / np.maximum(alpha, 1e-6)[..., None]
    return Block(colour=np.clip(colour, 0, 1), alpha=alpha, ends_px=wide.ends_px)


def burn(picture: np.ndarray, block: Block, row: int, col: int) -> None:
    """Burn ``block`` into ``picture`` ((rows, cols, 3) float32, 0..1) in place, its corner at (row, col).

    Raises ValueError when the block sticks out of the picture.
    """
    rows, cols = block.shape
    if row < 0 or col < 0 or row + rows > picture.shape[0] or col + cols > picture.shape[1]:
        raise ValueError(f"a block of {rows} x {cols} px at ({row}, {col}) sticks out of {picture.shape[:2]} px")
    window = picture[row : row + rows, col : col + cols]
    window += block.alpha[..., None] * (block.colour - window)
