"""Draws the data bar: the scale bar is exactly bar_px from outer edge to outer edge.

Everything drawn lies outside the assessed area: strips and insets whole, burnt-in marks with a narrow hem.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from .layouts import Layout, length_text
from .recipe import Specimen


@dataclass(frozen=True, kw_only=True)
class Marked:
    """grey: the picture with its data bar; codes: its mask; bar: row and first and last column of the scale bar's
    ink."""

    grey: np.ndarray
    codes: np.ndarray
    bar: tuple[int, int, int]


@cache
def _font(face: str, size: int) -> ImageFont.FreeTypeFont:
    names = {"sans": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf", "mono": "DejaVuSansMono.ttf"}
    if face in names:
        try:
            import matplotlib

            return ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts/ttf" / names[face]), size)
        except (ImportError, OSError):
            pass
    return ImageFont.load_default(size)


def lettering(text: str, face: str, size: int) -> np.ndarray:
    """Return a text's ink, 0 to 1, cut to its box."""
    if face == "stroke":
        scale, thick = size / 30, max(1, round(size / 13))
        (wide, high), base = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, thick)
        ink = np.zeros((high + base + 4, wide + 4), np.uint8)
        cv2.putText(ink, text, (2, high + 2), cv2.FONT_HERSHEY_SIMPLEX, scale, 255, thick, cv2.LINE_AA)
        return ink.astype(np.float32) / 255
    font = _font(face, size)
    left, top, right, bottom = (int(v) for v in font.getbbox(text))
    canvas = Image.new("L", (right + 4, bottom + 4), 0)
    ImageDraw.Draw(canvas).text((2, 2), text, fill=255, font=font)
    return np.asarray(canvas, np.float32)[max(top, 0) :, max(left, 0) :] / 255


def pen_px(layout: Layout) -> int:
    """Return the columns by which a bar's ink is wider than the bar is long: ticks mark its ends by their middles."""
    return _pen(layout.letters_px) if layout.bar in ("ticks", "bracket") else 0


def _pen(letters_px: int) -> int:
    return max(2, letters_px // 8)


def bar_ink(length: int, kind: str, letters_px: int) -> np.ndarray:
    """Return the scale bar's ink, exactly length columns wide; its row of full length is the middle one (top for bracket)."""
    thick = _pen(letters_px)
    high = max(8, letters_px // 2) | 1
    ink = np.zeros((high, length), np.float32)
    if kind == "filled":
        return np.ones((max(4, letters_px // 4), length), np.float32)
    if kind == "hollow":
        ink[:] = 1
        ink[thick:-thick, thick:-thick] = 0
        ink[thick:-thick, : length // 2] = 1
    elif kind == "bracket":
        ink[-thick:] = 1
        ink[:, :thick] = ink[:, -thick:] = 1
    elif kind == "ticks":
        middle = high // 2
        ink[middle - thick // 2 : middle - thick // 2 + thick] = 1
        ink[:, :thick] = ink[:, -thick:] = 1
    else:
        ink[high // 2 - thick // 2 : high // 2 - thick // 2 + thick] = 1
    return ink


def _group(specimen: Specimen, layout: Layout) -> tuple[np.ndarray, int, int]:
    """Return bar and label in one box of ink, and the row and first column of the bar in it."""
    bar = bar_ink(specimen.bar_px + pen_px(layout), layout.bar, layout.letters_px)
    label = lettering(length_text(specimen.label_um, layout), layout.face, layout.letters_px)
    gap = max(5, layout.letters_px // 3)
    if layout.side in ("above", "below"):
        wide = max(bar.shape[1], label.shape[1])
        ink = np.zeros((bar.shape[0] + gap + label.shape[0], wide), np.float32)
        bar_row = label.shape[0] + gap if layout.side == "above" else 0
        label_row = 0 if layout.side == "above" else bar.shape[0] + gap
        bar_col, label_col = (wide - bar.shape[1]) // 2, (wide - label.shape[1]) // 2
    else:
        gap *= 2
        high = max(bar.shape[0], label.shape[0])
        ink = np.zeros((high, bar.shape[1] + gap + label.shape[1]), np.float32)
        bar_row, label_row = (high - bar.shape[0]) // 2, (high - label.shape[0]) // 2
        bar_col = 0 if layout.side == "right" else label.shape[1] + gap
        label_col = bar.shape[1] + gap if layout.side == "right" else 0
    ink[label_row : label_row + label.shape[0], label_col : label_col + label.shape[1]] = label
    ink[bar_row : bar_row + bar.shape[0], bar_col : bar_col + bar.shape[1]] = bar
    full = {"bracket": bar.shape[0] - 1}.get(layout.bar, bar.shape[0] // 2 if layout.bar != "hollow" else 0)
    return ink, bar_row + full, bar_col


def _put(grey: np.ndarray, ink: np.ndarray, row: int, col: int, level: float) -> None:
    part = grey[row : row + ink.shape[0], col : col + ink.shape[1]]
    ink = ink[: part.shape[0], : part.shape[1]]
    part += ink * (level - part)


def draw_data_bar(grey: np.ndarray, codes: np.ndarray, specimen: Specimen, layout: Layout) -> Marked:
    """Return the picture with its data bar, the mask with 255 there, and where the scale bar stands."""
    ink, bar_row, bar_col = _group(specimen, layout)
    size = {"sans": 0.8, "bold": 0.75}.get(layout.face, 0.95)
    text = layout.words.format(specimen=specimen.name, kv=specimen.setting.kv, detector=specimen.setting.detector)
    words = lettering(text, layout.face, max(12, int(layout.letters_px * size)))
    cols, pad = grey.shape[1], 12
    if layout.place in ("dark", "light"):
        beside = ink.shape[1] + words.shape[1] + 5 * pad < cols
        high = (max(ink.shape[0], words.shape[0]) if beside else ink.shape[0] + words.shape[0] + pad) + 2 * pad
        back, front = (8.0, 235.0) if layout.place == "dark" else (245.0, 12.0)
        strip = np.full((high, cols), back, np.float32)
        col = 2 * pad if layout.at == "left" else cols - ink.shape[1] - 2 * pad
        row = (high - ink.shape[0]) // 2 if beside else high - pad - ink.shape[0]
        _put(strip, ink, row, col, front)
        words_col = cols - words.shape[1] - 2 * pad if layout.at == "left" else 2 * pad
        _put(strip, words, (high - words.shape[0]) // 2 if beside else pad, max(words_col, 4), front)
        top = grey.shape[0] + row
        grey = np.vstack([grey, strip])
        codes = np.vstack([codes, np.full(strip.shape, 255, np.uint8)])
        return Marked(
            grey=grey,
            codes=codes,
            bar=(top + bar_row, col + bar_col, col + bar_col + specimen.bar_px + pen_px(layout) - 1),
        )
    grey, codes = grey.copy(), codes.copy()
    gap = pad // 2
    both = np.zeros((words.shape[0] + gap + ink.shape[0], max(words.shape[1], ink.shape[1])), np.float32)
    both[: words.shape[0], : words.shape[1]] = words
    both[words.shape[0] + gap :, : ink.shape[1]] = ink
    row = grey.shape[0] - both.shape[0] - 2 * pad
    col = 2 * pad if layout.at == "left" else cols - both.shape[1] - 2 * pad
    if layout.place == "inset":
        box = (slice(row - pad, row + both.shape[0] + pad), slice(col - pad, col + both.shape[1] + pad))
        grey[box], codes[box] = 20.0, 255
        inner = (
            slice(row - pad + 2, row + both.shape[0] + pad - 2),
            slice(col - pad + 2, col + both.shape[1] + pad - 2),
        )
        grey[inner] = 240.0
        _put(grey, both, row, col, 15.0)
    else:
        shadow = cv2.dilate(both, np.ones((3, 3), np.uint8)) * 0.85
        shadow[words.shape[0] + gap :] = 0
        _put(grey, shadow, row, col, 10.0)
        _put(grey, both, row, col, 252.0)
        hem = cv2.dilate(np.pad(both > 0.05, 2).astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
        codes[row - 2 : row + both.shape[0] + 2, col - 2 : col + both.shape[1] + 2][hem] = 255
    row += words.shape[0] + gap
    return Marked(
        grey=grey, codes=codes, bar=(row + bar_row, col + bar_col, col + bar_col + specimen.bar_px + pen_px(layout) - 1)
    )
