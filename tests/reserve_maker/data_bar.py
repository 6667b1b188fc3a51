"""Data bars: a scale mark of exactly the label's length, and facts beside it.

Filled, hollow and halved marks measure from outer edge to outer edge; marks with end ticks from the middle of the first to
that of the last, for a tick marks a place and is as wide as the pen (common practice, no source).
"""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import matplotlib
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.reserve_maker.layouts import Layout

FACES = {"sans": "DejaVuSans", "bold": "DejaVuSans-Bold", "mono": "DejaVuSansMono", "serif": "DejaVuSerif"}
UNACCENTED = ("plotter", "plain")
"""Faces without the signs µ and °; um and deg stand for them."""


@dataclass(frozen=True, kw_only=True)
class Scale:
    """label as printed, and the mark's length: label / pixel size."""

    label: str
    length_um: float
    length_px: int


@dataclass(frozen=True, kw_only=True)
class Barred:
    """A picture with its data bar. grey: (rows, cols) float32 from 0 to 1; hidden: where the surface is not seen (bool);
    offset: row at which the micrograph begins; first_col, end_col and mark_rows: the scale mark, ends exclusive.
    """

    grey: np.ndarray
    hidden: np.ndarray
    offset: int
    first_col: int
    end_col: int
    mark_rows: tuple[int, int]


def choose_scale(pixel_size_um: float, width_px: int, rng: np.random.Generator) -> tuple[Scale, float]:
    """Return a scale with a round label, and the pixel size shifted by less than half a pixel of it so that it is exact."""
    choices = [n * 10.0**p for p in range(4) for n in (1, 2, 5)]
    fitting = [length for length in choices if 0.09 * width_px <= length / pixel_size_um <= 0.32 * width_px]
    length = float(rng.choice(fitting))
    length_px = round(length / pixel_size_um)
    if length >= 100 and rng.random() < 0.3:
        label = f"{length / 1000:g} mm"
    elif length <= 20 and rng.random() < 0.15:
        label = f"{length * 1000:g} nm"
    else:
        label = f"{length:g}" + str(rng.choice([" µm", " um", "µm", "um", " µm"]))
    return Scale(label=label, length_um=length, length_px=length_px), length / length_px


@lru_cache(maxsize=64)
def _font(face: str, size: int) -> ImageFont.FreeTypeFont:
    if face in FACES:
        return ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / f"{FACES[face]}.ttf"), size)
    return ImageFont.load_default(size)


def text_picture(text: str, face: str, size: int) -> np.ndarray:
    """Return a text as coverage, (rows, cols) float32 from 0 to 1, cropped to its ink."""
    if face in UNACCENTED:
        text = text.replace("µ", "u").replace("°", " deg")
    if face == "plotter":
        scale = size / 30
        (width, height), base = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, 2)
        canvas = np.zeros((height + base + 8, width + 8), np.uint8)
        cv2.putText(canvas, text, (4, height + 3), cv2.FONT_HERSHEY_SIMPLEX, scale, 255, 2, cv2.LINE_AA)
        ink = canvas.astype(np.float32) / 255
    else:
        font = _font(face, size)
        left, top, right, bottom = font.getbbox(text)
        image = Image.new("L", (int(right - left) + 8, int(bottom - top) + 8))
        ImageDraw.Draw(image).text((4 - left, 4 - top), text, fill=255, font=font)
        ink = np.asarray(image, np.float32) / 255
    rows, cols = np.flatnonzero(ink.max(1)), np.flatnonzero(ink.max(0))
    return ink[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]


def pen_px(kind: str, size: int) -> int:
    """Return the width of a mark's end ticks, 0 for a mark that measures between its outer edges."""
    return 0 if kind in ("filled", "hollow", "halves") else _pen(size)


def _pen(size: int) -> int:
    return max(2, size // 8)


def mark_picture(kind: str, length: int, size: int) -> np.ndarray:
    """Return a scale mark as coverage, (rows, length + pen) float32: its first and last column both carry ink."""
    thick = _pen(size)
    rows = {"filled": max(4, size // 3), "hollow": max(7, size // 2), "halves": max(8, size // 2)}.get(
        kind, max(10, size * 3 // 4)
    )
    length += pen_px(kind, size)
    mark = np.zeros((rows, length), np.float32)
    if kind == "filled":
        mark[:] = 1
    elif kind == "hollow":
        mark[:2], mark[-2:], mark[:, :2], mark[:, -2:] = 1, 1, 1, 1
    elif kind == "halves":
        mark[: rows // 2, : length // 2], mark[rows // 2 :, length // 2 :] = 1, 1
        mark[:, :2], mark[:, -2:], mark[rows // 2 - 1 : rows // 2 + 1] = 1, 1, 1
    else:
        line = {"line": rows // 2 - thick // 2, "bracket": rows - thick, "ruler": 0}[kind]
        mark[line : line + thick] = 1
        mark[:, :thick], mark[:, -thick:] = 1, 1
        if kind == "ruler":
            for number in range(1, 10):
                col = round(number * (length - thick) / 10)
                mark[: rows if number == 5 else rows * 2 // 3, col : col + thick] = 1
    return mark


def facts_text(layout: Layout, kv: float, detector: str, tilt_deg: float, field: str) -> list[str]:
    """Return lines of facts in the layout's wording, always with the word that says that the picture is simulated."""
    tilt = f" / {tilt_deg:g}°" if tilt_deg else ""
    return {
        "none": ["simulated"],
        "short": [f"{kv:g} kV  {detector}{tilt}", "simulated surface"],
        "long": [f"Beam {kv:g} kV, signal {detector}{tilt}", f"SIMULATED, field {field}"],
        "columns": [f"{field} | {kv:g} kV | {detector}{tilt}", "made by simulation"],
    }[layout.facts]


def _put(canvas: np.ndarray, ink: np.ndarray, row: int, col: int, grey: float) -> None:
    part = canvas[row : row + ink.shape[0], col : col + ink.shape[1]]
    ink = ink[: part.shape[0], : part.shape[1]]
    part[:] = part * (1 - ink) + np.float32(grey) * ink


def draw_bar(grey: np.ndarray, scale: Scale, layout: Layout, facts: list[str], size: int) -> Barred:
    """Return the picture with its data bar; size: letters in px, 12 to 36. Raises ValueError if the bar finds no room."""
    rows, cols = grey.shape
    mark = mark_picture(layout.mark, scale.length_px, size)
    label = text_picture(scale.label, layout.face, size)
    gap = max(5, size // 3)
    beside = layout.label in ("left", "right")
    wide = mark.shape[1] + label.shape[1] + gap * 2 if beside else max(mark.shape[1], label.shape[1])
    high = max(mark.shape[0], label.shape[0]) if beside else mark.shape[0] + label.shape[0] + gap
    lines = [text_picture(line, layout.face, max(12, size * 3 // 4)) for line in facts]
    facts_high, facts_wide = sum(line.shape[0] + gap for line in lines) - gap, max(line.shape[1] for line in lines)
    stacked = layout.place == "box" or wide + facts_wide + 8 * gap > cols * (0.5 if layout.side == "middle" else 1)
    pad = gap * 2
    block_high = high + gap + facts_high if stacked else max(high, facts_high)
    block_wide = max(wide, facts_wide) if stacked else wide
    if max(wide, facts_wide) + 2 * pad > cols or block_high + 2 * pad > rows // 2:
        raise ValueError(f"a data bar of {block_wide} × {block_high} px doesn't fit into {cols} × {rows} px")
    ground, ink = (0.04, 0.97) if layout.tone == "dark" else (0.95, 0.03)
    strip = block_high + 2 * pad
    canvas, hidden, offset, top = grey.copy(), np.zeros(grey.shape, bool), 0, rows - block_high - pad
    if layout.place in ("below", "above"):
        band = np.full((strip, cols), ground, np.float32)
        parts = (grey, band) if layout.place == "below" else (band, grey)
        canvas, offset = np.vstack(parts), 0 if layout.place == "below" else strip
        hidden = np.zeros(canvas.shape, bool)
        top = rows + pad if layout.place == "below" else pad
        hidden[top - pad : top + block_high + pad] = True
    left = {"left": pad * 2, "middle": (cols - block_wide) // 2, "right": cols - block_wide - pad * 2}[layout.side]
    if layout.place == "box":
        box = np.s_[top - pad - gap : top + block_high + pad - gap, left - pad : left + block_wide + pad]
        top -= gap
        canvas[box], hidden[box] = ground, True
        cv2.rectangle(canvas, (box[1].start, box[0].start), (box[1].stop - 1, box[0].stop - 1), ink, 1)
    drawn = np.zeros(canvas.shape, np.float32)
    mark_row = top + (label.shape[0] + gap if layout.label == "above" else (high - mark.shape[0]) // 2 if beside else 0)
    first = left + (
        label.shape[1] + 2 * gap if layout.label == "left" else 0 if beside else (wide - mark.shape[1]) // 2
    )
    _put(drawn, mark, mark_row, first, 1)
    label_row = top + {"above": 0, "below": mark.shape[0] + gap}.get(layout.label, (high - label.shape[0]) // 2)
    label_col = left + {"left": 0, "right": mark.shape[1] + 2 * gap}.get(layout.label, (wide - label.shape[1]) // 2)
    _put(drawn, label, label_row, label_col, 1)
    row = top + high + gap if stacked else top
    col = left if stacked else pad * 2 if layout.side == "right" else left + wide + 5 * gap
    for line in lines:
        _put(drawn, line, row, col, 1)
        row += line.shape[0] + gap
    if layout.place == "burnt":
        near = cv2.dilate((drawn > 0).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        canvas[near] *= np.float32(0.35)  # a dark seam keeps the marks apart from bright metal
        hidden |= near
    canvas = canvas * (1 - drawn) + np.float32(ink) * drawn
    return Barred(
        grey=canvas, hidden=hidden, offset=offset, first_col=first, end_col=first + mark.shape[1],
        mark_rows=(mark_row, mark_row + mark.shape[0]),
    )  # fmt: skip
