"""Printing the data bar: the bar is exactly as long as its label over the pixel size.

A filled bar measures from outer edge to outer edge, one with end ticks from the middle of the first to that of the last, for
a tick marks a place and is as wide as the pen (common practice, no source).
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .bar_layouts import Layout, label_of, lengths_um
from .lettering import letters
from .randomness import Rng
from .specimen import Specimen

HIDDEN = 255


@dataclass(frozen=True, kw_only=True)
class Printed:
    """A picture with its data bar: grey 0-1 and codes on the whole grid, label, the bar's rows and columns (half open), and
    the width of its end ticks in px, 0 without ticks."""

    grey: np.ndarray
    codes: np.ndarray
    label: str
    rows: tuple[int, int]
    columns: tuple[int, int]
    pen_px: int

    @property
    def bar_px(self) -> int:
        return self.columns[1] - self.columns[0] - self.pen_px


def print_bar(grey: np.ndarray, codes: np.ndarray, specimen: Specimen, layout: Layout, rng: Rng) -> Printed:
    """Return the picture with the layout's data bar; without one for the layout ``none`` (label empty)."""
    if layout.place == "none":
        return Printed(grey=grey, codes=codes, label="", rows=(0, 0), columns=(0, 0), pen_px=0)
    length = float(rng.choice(lengths_um(specimen.pixel_um, grey.shape[1])))
    label = label_of(length, layout.unit)
    height = int(rng.integers(12, 27)) if layout.texts else int(rng.integers(14, 37))
    pen = int(rng.integers(2, 4))
    bar = _bar(layout.bar, int(round(length / specimen.pixel_um)), height, pen)
    block, at = _block(layout, bar, letters(label, layout.face, height), height)
    pen = 0 if layout.bar == "filled" else pen
    if layout.place in ("footer", "header"):
        return _strip(grey, codes, specimen, layout, block, at, height, label, pen)
    return _over(grey, codes, layout, block, at, height, label, pen)


def _bar(style: str, length: int, height: int, thick: int) -> np.ndarray:
    if style == "filled":
        return np.ones((max(4, height // 3), length), np.float32)
    tall = max(9, int(height * 0.7))
    ink = np.zeros((tall, length + thick), np.float32)
    line = tall // 2 - thick // 2 if style == "ticks" else tall - thick
    ink[line : line + thick] = 1
    ink[:, :thick] = ink[:, -thick:] = 1
    return ink


def _block(layout: Layout, bar: np.ndarray, text: np.ndarray, height: int) -> tuple[np.ndarray, tuple]:
    """Return bar and label as one patch of ink, and where in it the bar lies (row, row end, col, col end)."""
    gap = max(5, height // 2)
    if layout.label in ("above", "below"):
        wide = max(bar.shape[1], text.shape[1])
        ink = np.zeros((bar.shape[0] + gap + text.shape[0], wide), np.float32)
        top = text.shape[0] + gap if layout.label == "above" else 0
        text_top = 0 if layout.label == "above" else bar.shape[0] + gap
        left, text_left = (wide - bar.shape[1]) // 2, (wide - text.shape[1]) // 2
    else:
        high = max(bar.shape[0], text.shape[0])
        ink = np.zeros((high, bar.shape[1] + gap + text.shape[1]), np.float32)
        top, text_top = (high - bar.shape[0]) // 2, (high - text.shape[0]) // 2
        left = 0 if layout.label == "right" else text.shape[1] + gap
        text_left = bar.shape[1] + gap if layout.label == "right" else 0
    ink[text_top : text_top + text.shape[0], text_left : text_left + text.shape[1]] = text
    ink[top : top + bar.shape[0], left : left + bar.shape[1]] = bar
    return ink, (top, top + bar.shape[0], left, left + bar.shape[1])


def _strip(
    grey: np.ndarray,
    codes: np.ndarray,
    specimen: Specimen,
    layout: Layout,
    block: np.ndarray,
    at: tuple,
    height: int,
    label: str,
    pen: int,
) -> Printed:
    """Put the data bar on a strip below or above the picture."""
    cols = grey.shape[1]
    high = block.shape[0] + 2 * max(8, height // 2)
    ink = np.zeros((high, cols), np.float32)
    left = 14 if layout.side == "left" else cols - 14 - block.shape[1]
    top = (high - block.shape[0]) // 2
    ink[top : top + block.shape[0], left : left + block.shape[1]] = block
    facts = {"kv": specimen.setting.kv, "detector": specimen.setting.detector, "tilt": specimen.setting.tilt_deg,
             "specimen": specimen.name, "field": f"{specimen.pixel_um * cols:.0f}"}  # fmt: skip
    place = left + block.shape[1] + 2 * height if layout.side == "left" else 14
    limit = cols - 14 if layout.side == "left" else left - 2 * height
    for text in (layout.note, *(one.format(**facts) for one in layout.texts)):
        for size in (height, 12):
            patch = letters(text, layout.face, size)
            if place + patch.shape[1] <= limit:
                row = (high - patch.shape[0]) // 2
                ink[row : row + patch.shape[0], place : place + patch.shape[1]] = patch
                place += patch.shape[1] + 2 * height
                break
    strip = layout.ground + (layout.ink - layout.ground) * ink
    if layout.frame:
        strip[[0, 1, -1]] = 0.5
    hidden = np.full(strip.shape, HIDDEN, np.uint8)
    parts = ((grey, strip), (codes, hidden)) if layout.place == "footer" else ((strip, grey), (hidden, codes))
    down = top + (grey.shape[0] if layout.place == "footer" else 0)
    return Printed(
        grey=np.vstack(parts[0]).astype(np.float32), codes=np.vstack(parts[1]), label=label,
        rows=(down + at[0], down + at[1]), columns=(left + at[2], left + at[3]), pen_px=pen,
    )  # fmt: skip


def _over(
    grey: np.ndarray, codes: np.ndarray, layout: Layout, block: np.ndarray, at: tuple, height: int, label: str, pen: int
) -> Printed:
    """Lay the data bar over a lower corner of the picture, in a box or burnt in, with a small note that it is simulated."""
    note = letters(layout.note, layout.face, max(12, height // 2))
    wide, gap = max(block.shape[1], note.shape[1]), max(7, height // 2)
    ink = np.zeros((block.shape[0] + gap + note.shape[0], wide), np.float32)
    shift = 0 if layout.side == "left" else wide - block.shape[1]
    ink[: block.shape[0], shift : shift + block.shape[1]] = block
    ink[-note.shape[0] :, : note.shape[1]] = note
    pad = max(10, height // 2)
    ink = np.pad(ink, pad)
    rows, cols = grey.shape
    edge = 0 if layout.place == "inset" and not layout.frame else 12
    top, left = rows - edge - ink.shape[0], edge if layout.side == "left" else cols - edge - ink.shape[1]
    here = np.s_[top : top + ink.shape[0], left : left + ink.shape[1]]
    grey, codes = grey.copy(), codes.copy()
    if layout.place == "inset":
        grey[here] = layout.ground + (layout.ink - layout.ground) * ink
        if layout.frame:
            cv2.rectangle(grey, (left, top), (left + ink.shape[1] - 1, top + ink.shape[0] - 1), layout.ink, 2)
        codes[here] = HIDDEN
    else:
        reach = 5 if layout.halo else 3
        around = cv2.dilate(ink, np.ones((reach, reach), np.uint8))
        if layout.halo:
            grey[here] += (layout.ground - grey[here]) * around
        grey[here] += (layout.ink - grey[here]) * ink
        codes[here][around > 0] = HIDDEN
    down, right = top + pad, left + pad + shift
    return Printed(
        grey=grey, codes=codes, label=label, rows=(down + at[0], down + at[1]), columns=(right + at[2], right + at[3]),
        pen_px=pen,
    )  # fmt: skip
