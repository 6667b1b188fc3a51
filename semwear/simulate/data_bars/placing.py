"""Where a data bar goes: strips, panels, boxes and burnt-in ink put onto the micrograph, with marks and ends.

Every function returns or fills the same things: the canvas ((rows, cols, 3) float32, 0..1), the marks ((rows, cols)
bool), the slices of the micrograph proper, the origin of the picture given, the ends of the bar and the printed facts.
"""

from dataclasses import dataclass

import numpy as np

from semwear.simulate.data_bars.assembly import Bar, Pen, fact_lines, framed, make_logo
from semwear.simulate.data_bars.block import Block, Ends, beside, blank, burn, ink, lay_over, stack
from semwear.simulate.data_bars.layouts import Layout
from semwear.simulate.data_bars.wording import Wording

_MARGIN_OF_BURNT_INK_PX = 2


@dataclass(frozen=True, kw_only=True)
class Placed:
    """A data bar on its canvas: see the module's text."""

    canvas: np.ndarray
    marks: np.ndarray
    picture: tuple[slice, slice]
    origin_px: tuple[int, int]
    ends_px: Ends | None
    facts: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Job:
    """What the steps of one print share."""

    layout: Layout
    rng: np.random.Generator
    pen: Pen
    fact_pen: Pen
    wording: Wording
    bar: Bar | None
    ground: float

    @property
    def texts(self) -> list[str]:
        return [fact.text for fact in self.wording.facts]

    @property
    def margin_px(self) -> int:
        return max(3, round(self.pen.digit_px * 0.7))

    @property
    def line_px(self) -> int:
        return 1 if self.pen.digit_px < 14 else 2


def _strip(job: Job, width_px: int) -> tuple[Block, list[str]]:
    """Return the content of a strip (transparent ground) and the facts that it prints."""
    rng, margin, layout = job.rng, job.margin_px, job.layout
    gap = max(6, round(job.fact_pen.digit_px * rng.uniform(0.9, 2.2)))
    rows = int(rng.integers(layout.text_rows[0], layout.text_rows[1] + 1))
    if layout.bar_row_apart or job.bar is None:
        facts, printed = fact_lines(job.texts, job.fact_pen, width_px - 2 * margin, max(1, rows), gap)
        parts = [part for part in (facts, job.bar.block if job.bar else None) if part is not None]
        if rng.random() < 0.5:
            parts.reverse()
        rows_of_strip = [blank(part.shape[0], width_px) for part in parts]
        for index, part in enumerate(parts):
            at = rng.choice(layout.bar_at) if job.bar and part is job.bar.block else "left"
            rows_of_strip[index] = lay_over(rows_of_strip[index], part, 0, _column(at, part, width_px, margin))
        return stack(rows_of_strip or [blank(job.pen.digit_px, width_px)], max(2, margin // 2)), printed
    at = str(rng.choice(layout.bar_at))
    col = _column(at, job.bar.block, width_px, margin)
    pieces = [(job.bar.block, col)]
    free = [(margin, col - gap), (col + job.bar.block.shape[1] + gap, width_px - margin)]
    if job.bar.far_label is not None:
        label, (start, stop) = job.bar.far_label, free.pop(0 if at == "right" else 1)
        if stop - start < label.shape[1]:
            raise ValueError("no room for the far label")
        label_col = start if at == "right" else stop - label.shape[1]
        pieces.append((label, label_col))
        free.append((label_col + label.shape[1] + gap, stop) if at == "right" else (start, label_col - gap))
    texts, printed, borders = list(job.texts), [], [col - gap // 2, col + job.bar.block.shape[1] + gap // 2]
    for start, stop in sorted(free, key=lambda interval: interval[0] - interval[1]):
        if rng.random() < layout.logo and stop - start > 8 * job.pen.digit_px:
            logo = make_logo(round(job.pen.digit_px * rng.uniform(1.0, 1.9)), job.pen.colour, rng)
            pieces.append((logo, start))
            start += logo.shape[1] + gap
        if rows == 0 or stop - start < 3 * job.fact_pen.digit_px:
            continue
        facts, set_here = fact_lines(texts, job.fact_pen, stop - start, rows, gap)
        if facts is not None:
            pieces.append((facts, start))
            printed += set_here
            texts = [text for text in texts if text not in set_here]
    height = max(piece.shape[0] for piece, _ in pieces)
    strip = blank(height, width_px)
    for piece, piece_col in pieces:
        strip = lay_over(strip, piece, (height - piece.shape[0]) // 2, piece_col)
    if rng.random() < layout.separators:
        for border in borders:
            if margin < border < width_px - margin:
                line = ink(np.ones((height, job.line_px)), job.pen.colour)
                strip = lay_over(strip, line, 0, border - job.line_px // 2)
    return strip, printed


def _column(at: str, block: Block, width_px: int, margin_px: int) -> int:
    free = width_px - block.shape[1] - 2 * margin_px
    if free < 0:
        raise ValueError(f"a block of {block.shape[1]} px is too wide for {width_px} px")
    return margin_px + {"left": 0, "centre": free // 2, "right": free}[str(at)]


def _panel(job: Job, width_px: int) -> tuple[Block, list[str]]:
    """Return bar and facts one below the other, no wider than ``width_px``."""
    rows = int(job.rng.integers(job.layout.text_rows[0], job.layout.text_rows[1] + 1))
    gap = max(3, round(job.pen.digit_px * job.rng.uniform(0.4, 0.9)))
    parts, printed = [] if job.bar is None else [job.bar.block], []
    if rows:
        lines = []
        for text in job.texts:
            facts, printed_here = fact_lines([text], job.fact_pen, width_px, 1, 1)
            if facts is not None and len(lines) < rows:
                lines.append(facts)
                printed += printed_here
        if lines:
            at_top = job.rng.random() < 0.4
            block = stack(lines, max(2, gap // 2), str(job.rng.choice(["start", "centre"])))
            parts = [block, *parts] if at_top else [*parts, block]
    if job.rng.random() < job.layout.logo:
        parts.insert(0, make_logo(round(job.pen.digit_px * 2), job.pen.colour, job.rng))
    return stack(parts or [blank(job.pen.digit_px, job.pen.digit_px)], gap), printed


def place_strip(job: Job, picture: np.ndarray, covers: bool) -> Placed:
    """Put a strip or panel at the edge of, or across, ``picture`` ((rows, cols, 3) float32); over it where ``covers``."""
    rows, cols = picture.shape[:2]
    rng, layout, margin = job.rng, job.layout, job.margin_px
    side = layout.place == "side"
    if side:
        content, printed = _panel(job, round(cols * 0.3))
        height, width = rows, content.shape[1] + 2 * margin
        if content.shape[0] + 2 * margin > rows:
            raise ValueError("the panel is too tall")
    else:
        content, printed = _strip(job, cols)
        height, width = content.shape[0] + 2 * max(2, round(margin * rng.uniform(0.4, 1.2))), cols
        if height > 0.25 * rows:
            raise ValueError("the strip is too tall")
    band = ink(np.ones((height, width)), (job.ground,) * 3)
    if rng.random() < layout.border:
        width_of_line, edge = job.line_px, np.ones((height, width))
        edge[width_of_line:-width_of_line, width_of_line:-width_of_line] = 0
        band = lay_over(band, ink(edge, job.pen.colour), 0, 0)
    top = margin if side and rng.random() < 0.5 else (height - content.shape[0]) // 2
    band = lay_over(band, content, top, (width - content.shape[1]) // 2)
    first = layout.place == "above" or (side and rng.random() < 0.4)
    if layout.place == "middle":
        covers = True
        start = int(rng.uniform(0.4, 0.9) * (rows - height))
    else:
        start = 0 if first else (cols if side else rows) - (0 if not covers else (width if side else height))
    extra = 0 if covers else (width if side else height)
    canvas = np.zeros((rows + (0 if side else extra), cols + (extra if side else 0), 3), np.float32)
    shift = extra if first else 0
    origin = (0, shift) if side else (shift, 0)
    canvas[origin[0] : origin[0] + rows, origin[1] : origin[1] + cols] = picture
    corner = (0, start) if side else (start, 0)
    burn(canvas, band, *corner)
    marks = np.zeros(canvas.shape[:2], bool)
    marks[corner[0] : corner[0] + height, corner[1] : corner[1] + width] = True
    kept = [slice(0, canvas.shape[0]), slice(0, canvas.shape[1])]
    if layout.place != "middle":
        axis, thickness = (1, width) if side else (0, height)
        kept[axis] = slice(thickness, canvas.shape[axis]) if first else slice(0, canvas.shape[axis] - thickness)
    return Placed(canvas=canvas, marks=marks, picture=tuple(kept), origin_px=origin,
                  ends_px=_moved(band.ends_px, corner), facts=tuple(printed))


def _moved(ends: Ends | None, corner: tuple[int, int]) -> Ends | None:
    return None if ends is None else tuple((end[0] + corner[0], end[1] + corner[1]) for end in ends)


def place_inside(job: Job, picture: np.ndarray) -> Placed:
    """Put a box or burnt-in ink inside ``picture`` ((rows, cols, 3) float32)."""
    rows, cols = picture.shape[:2]
    rng, layout, printed = job.rng, job.layout, []
    canvas, marks = picture.copy(), np.zeros((rows, cols), bool)
    blocks: list[tuple[Block, str, bool]] = []
    low = bool(rng.random() < 0.78)
    if layout.place == "inset":
        content, printed = _panel(job, round(cols * 0.45))
        border = job.pen.colour if rng.random() < layout.border else None
        box = framed(content, job.margin_px, job.ground, rng.uniform(*layout.see_through), border, job.line_px)
        blocks.append((box, str(rng.choice(layout.bar_at)), low))
    elif layout.name == "burnt row of facts":
        row, printed = _strip(job, cols - 2 * job.margin_px)
        blocks.append((row, "left", low))
    else:
        at = str(rng.choice(layout.bar_at))
        if job.bar is not None:
            blocks.append((job.bar.block, at, low))
        count = int(rng.integers(layout.text_rows[0], layout.text_rows[1] + 1))
        lines = []
        for text in job.texts[:count]:
            block, set_here = fact_lines([text], job.fact_pen, cols - 2 * job.margin_px, 1, 1)
            if block is not None:
                lines.append(block)
                printed += set_here
        if lines:
            joined = stack(lines, 3, "start") if rng.random() < 0.7 else beside(lines, job.margin_px)
            blocks.append((joined, str(rng.choice(["left", "right"])), not low))
    ends, margin = None, int(rng.integers(0 if layout.place == "inset" else 3, max(5, round(cols * 0.04))))
    for block, at, at_bottom in blocks:
        col = _column(at, block, cols, margin)
        row = rows - margin - block.shape[0] if at_bottom else margin
        if block.shape[0] > 0.4 * rows:
            raise ValueError("the block is too tall")
        burn(canvas, block, row, col)
        window = np.s_[row : row + block.shape[0], col : col + block.shape[1]]
        marks[window] |= block.alpha > 0
        ends = _moved(block.ends_px, (row, col)) or ends
    if layout.ground is None:
        marks = widened(marks)
    return Placed(canvas=canvas, marks=marks, picture=(slice(0, rows), slice(0, cols)), origin_px=(0, 0), ends_px=ends,
                  facts=tuple(printed))


def widened(marks: np.ndarray) -> np.ndarray:
    """Return the marks of burnt-in ink with a margin of 2 px, where it may have bled."""
    from scipy.ndimage import binary_dilation

    return binary_dilation(marks, np.ones((3, 3), bool), iterations=_MARGIN_OF_BURNT_INK_PX)
