"""Layouts of data bars, of no instrument in particular, and how one is set on a picture.

A layout says where the scale is shown (a strip below, above or within the picture, over half of it, a veil, a boxed inset,
or straight on the picture), how the scale bar looks, where its label stands and in what colours.
"""

from dataclasses import dataclass

import numpy as np

from .lettering import ASCII_FACES, FACES, Sheet, letters, scale_cover
from .wording import choose_length_um, other_texts, write_length

WHITE, BLACK, GREY, PALE, NAVY, GREEN = (255,) * 3, (0,) * 3, (96,) * 3, (214,) * 3, (16, 30, 92), (8, 70, 40)
YELLOW, RED, CYAN, ORANGE = (255, 232, 40), (240, 40, 30), (70, 240, 255), (255, 150, 20)


@dataclass(frozen=True, kw_only=True)
class Layout:
    """One way to show the scale. ``place``: strip, top, middle, half, veil, inset or bare. ``label``: above, below, left, right, within."""

    name: str
    place: str
    scale: str
    label: str
    ink: tuple[int, int, int] = WHITE
    paper: tuple[int, int, int] = BLACK
    halo: str = ""
    rows: int = 1
    cells: bool = False
    odd: bool = False
    smooth: bool = True
    fine: bool = False
    faces: tuple[str, ...] = ()


LAYOUTS = (
    Layout(name="dark strip, ticked line", place="strip", scale="ticked", label="above"),
    Layout(name="dark strip, cells", place="strip", scale="beam", label="left", cells=True),
    Layout(name="light strip, cells", place="strip", scale="ticked", label="above", ink=BLACK, paper=WHITE, cells=True),
    Layout(
        name="light strip, filled bar", place="strip", scale="filled", label="above", ink=BLACK, paper=WHITE, rows=2
    ),
    Layout(name="dark strip, ruler", place="strip", scale="ruler", label="right", odd=True, fine=True),
    Layout(name="dark strip, comb", place="strip", scale="comb", label="below", odd=True, fine=True, rows=2),
    Layout(
        name="dots at the right",
        place="bare",
        scale="dots",
        label="below",
        odd=True,
        smooth=False,
        faces=("terminal", "mono"),
    ),
    Layout(
        name="dark strip, dots", place="strip", scale="dots", label="right", odd=True, faces=("mono bold", "typewriter")
    ),
    Layout(name="broken line", place="strip", scale="broken", label="within", cells=True),
    Layout(name="two rows, filled bar", place="strip", scale="filled", label="left", rows=2),
    Layout(name="strip on top", place="top", scale="line", label="above"),
    Layout(name="strip on top, light", place="top", scale="bracket", label="right", ink=BLACK, paper=PALE),
    Layout(name="white on picture", place="bare", scale="filled", label="above"),
    Layout(name="white on picture, outlined", place="bare", scale="ticked", label="above", halo="outline"),
    Layout(name="white on picture, shadow", place="bare", scale="line", label="left", halo="shadow"),
    Layout(
        name="black on picture, pale outline",
        place="bare",
        scale="filled",
        label="below",
        ink=BLACK,
        paper=WHITE,
        halo="outline",
    ),
    Layout(name="white box in corner", place="inset", scale="filled", label="above", ink=BLACK, paper=WHITE),
    Layout(name="black box in corner", place="inset", scale="bracket", label="above"),
    Layout(name="box with ruler", place="inset", scale="numbered", label="above", ink=BLACK, paper=PALE, fine=True),
    Layout(name="strip within", place="middle", scale="ticked", label="right"),
    Layout(name="veil", place="veil", scale="ticked", label="above"),
    Layout(name="half strip", place="half", scale="filled", label="right"),
    Layout(name="half strip, light", place="half", scale="broken", label="within", ink=BLACK, paper=WHITE),
    Layout(name="blue strip", place="strip", scale="beam", label="above", ink=YELLOW, paper=NAVY),
    Layout(name="green strip", place="strip", scale="segmented", label="right", paper=GREEN, cells=True),
    Layout(name="yellow on picture", place="bare", scale="line", label="above", ink=YELLOW, fine=True),
    Layout(
        name="red on picture", place="bare", scale="beam", label="above", ink=RED, faces=("plain bold", "sans bold")
    ),
    Layout(name="cyan box", place="inset", scale="ticked", label="below", ink=CYAN, paper=NAVY),
    Layout(name="segmented bar", place="strip", scale="segmented", label="below", ink=BLACK, paper=WHITE),
    Layout(name="hollow bar", place="strip", scale="hollow", label="right", cells=True),
    Layout(name="arrows", place="strip", scale="arrows", label="above", ink=BLACK, paper=PALE),
    Layout(name="grey strip", place="strip", scale="beam", label="left", paper=GREY, rows=2, cells=True),
    Layout(name="terminal strip", place="strip", scale="ticked", label="left", smooth=False, faces=("terminal",)),
    Layout(
        name="terminal on picture",
        place="bare",
        scale="filled",
        label="right",
        smooth=False,
        faces=("terminal", "mono"),
    ),
)


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A picture with its scale: picture (rows, cols) or (rows, cols, 3) float32 0..1; marks bool; the bar's truth."""

    picture: np.ndarray
    marks: np.ndarray
    picture_rows: slice
    label: str
    bar_um: float
    bar_px: float
    row_px: float
    first_col_px: float
    last_col_px: float


class _Block:
    """The scale bar with its label as one block: where its parts go, relative to its upper left corner."""

    def __init__(self, layout: Layout, label: np.ndarray, length: int, height_px: int):
        space = max(3, height_px // 3)
        gap = label.shape[1] + 2 * space if layout.label == "within" else 0
        self.cover, self.first, middle = scale_cover(layout.scale, length, height_px, gap, fine=layout.fine)
        inked_rows, inked_cols = np.flatnonzero(self.cover.any(1)), np.flatnonzero(self.cover.any(0))
        self.cover = self.cover[inked_rows[0] : inked_rows[-1] + 1, inked_cols[0] : inked_cols[-1] + 1]
        self.first, self.measured_row, self.label, self.length = (
            self.first - inked_cols[0],
            middle - inked_rows[0],
            label,
            length,
        )
        bar_rows, bar_cols = self.cover.shape
        text_rows, text_cols = label.shape
        if layout.label in ("above", "below"):
            self.rows, self.cols = bar_rows + text_rows + space, max(bar_cols, text_cols)
            self.bar_at = (text_rows + space if layout.label == "above" else 0, (self.cols - bar_cols) // 2)
            self.label_at = (0 if layout.label == "above" else bar_rows + space, (self.cols - text_cols) // 2)
        elif layout.label == "within":
            self.rows, self.cols = max(bar_rows, text_rows), bar_cols
            self.bar_at = ((self.rows - bar_rows) // 2, 0)
            self.label_at = ((self.rows - text_rows) // 2, (bar_cols - text_cols) // 2)
        else:
            self.rows, self.cols = max(bar_rows, text_rows), bar_cols + text_cols + 2 * space
            self.bar_at = ((self.rows - bar_rows) // 2, 0 if layout.label == "right" else text_cols + 2 * space)
            self.label_at = ((self.rows - text_rows) // 2, bar_cols + 2 * space if layout.label == "right" else 0)

    def draw(self, sheet: Sheet, row: int, col: int, ink, halo) -> tuple[float, float, float]:
        """Draw it; return the row it's measured on and the columns of its ends."""
        sheet.ink(row + self.bar_at[0], col + self.bar_at[1], self.cover, ink, halo)
        sheet.ink(row + self.label_at[0], col + self.label_at[1], self.label, ink, halo)
        first = col + self.bar_at[1] + self.first
        return float(row + self.bar_at[0] + self.measured_row), float(first), float(first + self.length)


def show_scale(picture: np.ndarray, specimen, layout: Layout, rng: np.random.Generator) -> Shown:
    """Set a layout on a (rows, cols) picture, 0..1. A strip below or above either replaces rows or is added to them."""
    rows, cols = picture.shape
    face = str(rng.choice(layout.faces or tuple(name for name in FACES if name != "terminal")))
    height_px = int(np.clip(round(cols * rng.uniform(0.0095, 0.0185)), 8, 32))
    height_px = max(height_px, 11) if layout.halo else height_px
    bar_um = choose_length_um(specimen.pixel_size_um, cols, odd=layout.odd, rng=rng)
    ascii_only = face in ASCII_FACES
    label = write_length(bar_um, ascii_only=ascii_only, rng=rng)
    length = round(bar_um / specimen.pixel_size_um)
    cover = letters(label, face, height_px, smooth=layout.smooth)
    while layout.label == "within" and cover.shape[1] > 0.6 * length and height_px > 8:
        height_px -= 1
        cover = letters(label, face, height_px, smooth=layout.smooth)
    if layout.label == "within" and cover.shape[1] > 0.7 * length:
        layout = Layout(**{**layout.__dict__, "label": "right", "scale": "ticked"})
    block = _Block(layout, cover, length, height_px)
    texts = [letters(text, face, height_px, smooth=layout.smooth) for text in other_texts(specimen, ascii_only, rng)]
    added = 0
    if layout.place not in ("inset", "bare"):
        line = max([block.rows, *(text.shape[0] for text in texts)]) + max(6, height_px // 2) * 2
        high = line if layout.rows == 1 else line + height_px * 2
        if layout.place in ("strip", "top") and rng.random() < 0.5:
            added = high
        grown = np.zeros((rows + added, cols), np.float32)
        start = added if layout.place == "top" else 0
        grown[start : start + rows] = picture
        sheet = Sheet(grown.shape)
        ends = _in_strip(sheet, layout, block, texts, high, height_px, rng)
    else:
        start, grown, sheet = 0, picture, Sheet(picture.shape)
        ends = (_in_box if layout.place == "inset" else _on_picture)(sheet, layout, block, texts, height_px, rng)
    shown = sheet.lay_over(grown)
    coloured = any(len(set(colour)) > 1 for colour in (layout.ink, layout.paper))
    return Shown(
        picture=shown if coloured else shown[..., 0], marks=sheet.marks, picture_rows=slice(start, start + rows), label=label,
        bar_um=bar_um, bar_px=float(length), row_px=ends[0], first_col_px=ends[1], last_col_px=ends[2],
    )  # fmt: skip


def _halo(layout: Layout):
    return (layout.halo, layout.paper if layout.paper != layout.ink else BLACK) if layout.halo else None


def _in_strip(
    sheet: Sheet, layout: Layout, block: _Block, texts, high: int, height_px: int, rng
) -> tuple[float, float, float]:
    """A strip over the whole width, or over half of it, with the block among the texts that fit."""
    rows, cols = sheet.cover.shape
    left, right = 0, cols
    if layout.place == "half":
        width = max(cols // 2, block.cols + 2 * height_px)
        left, right = (0, width) if rng.random() < 0.5 else (cols - width, cols)
    top = {"top": 0, "middle": int(rows * rng.uniform(0.55, 0.88))}.get(layout.place, rows - high)
    sheet.box(top, left, high, right - left, layout.paper, 0.55 if layout.place == "veil" else 1.0)
    space = height_px
    second = layout.rows == 2
    line_high = high if not second else high - 2 * height_px
    items: list = [block] if second else [*texts]
    if not second:
        items.insert(int(rng.choice([0, len(items) // 2, len(items)])), block)
    if second and texts:
        col = left + space
        for text in texts:
            if col + text.shape[1] + space > right:
                break
            sheet.ink(top + max(2, height_px // 2), col, text, layout.ink)
            col += text.shape[1] + 2 * space

    def widths():
        return [item.cols if isinstance(item, _Block) else item.shape[1] for item in items]

    while len(items) > 1 and sum(widths()) + space * (len(items) + 1) > right - left:
        items.pop(next(n for n in reversed(range(len(items))) if not isinstance(items[n], _Block)))
    spare = (right - left - sum(widths())) / (len(items) + 1)
    spare = spare if layout.cells or rng.random() < 0.5 else min(spare, 2.5 * space)
    line_top = top + high - line_high
    col, ends = left + spare, (0.0, 0.0, 0.0)
    if second:
        col = left + rng.uniform(0.5, 1) * (right - left - block.cols - space) if rng.random() < 0.5 else left + space
    for item, width in zip(items, widths(), strict=True):
        if isinstance(item, _Block):
            ends = item.draw(sheet, line_top + (line_high - item.rows) // 2, round(col), layout.ink, None)
        else:
            sheet.ink(line_top + (line_high - item.shape[0]) // 2, round(col), item, layout.ink)
        if layout.cells and item is not items[-1]:
            rule = round(col + width + spare / 2)
            sheet.ink(line_top + 2, rule, np.full((line_high - 4, 1), 160, np.uint8), layout.ink)
        col += width + spare
    return ends


def _in_box(sheet: Sheet, layout: Layout, block: _Block, texts, height_px: int, rng) -> tuple[float, float, float]:
    """A box in a corner, some pixels off the edges or flush with them, with a line of text under the block now and then."""
    rows, cols = sheet.cover.shape
    pad, off = max(5, height_px // 2), int(rng.choice([0, 4, 12, 30]))
    under = [texts[0]] if texts and rng.random() < 0.4 and texts[0].shape[1] <= block.cols else []
    high = block.rows + 2 * pad + sum(text.shape[0] + pad for text in under)
    wide = block.cols + 2 * pad
    row = off if rng.random() < 0.25 else rows - high - off
    col = off if rng.random() < 0.35 else cols - wide - off
    if rng.random() < 0.4:
        sheet.box(row, col, high, wide, layout.ink)
        sheet.box(row + 1, col + 1, high - 2, wide - 2, layout.paper)
    else:
        sheet.box(row, col, high, wide, layout.paper)
    for text in under:
        sheet.ink(row + 2 * pad + block.rows, col + (wide - text.shape[1]) // 2, text, layout.ink)
    return block.draw(sheet, row + pad, col + pad, layout.ink, None)


def _on_picture(sheet: Sheet, layout: Layout, block: _Block, texts, height_px: int, rng) -> tuple[float, float, float]:
    """Straight on the picture: the block at one side, the texts at the other or along the same edge."""
    rows, cols = sheet.cover.shape
    off, halo = int(height_px * rng.uniform(0.6, 1.6)), _halo(layout)
    at_right = rng.random() < 0.6
    row = rows - block.rows - off
    col = cols - block.cols - off if at_right else off
    ends = block.draw(sheet, row, col, layout.ink, halo)
    free = (off, cols - block.cols - 3 * off) if at_right else (block.cols + 3 * off, cols - off)
    place = free[0]
    for text in texts[: int(rng.integers(0, len(texts) + 1))]:
        if place + text.shape[1] > free[1]:
            break
        sheet.ink(rows - off - text.shape[0], place, text, layout.ink, halo)
        place += text.shape[1] + 2 * height_px
    return ends
