"""Invented data bars: dark and light strips, boxed insets and marks burnt over the picture, each with its own scale bar.

The bar's outer edges are exactly its label's length apart: the pixel size is the label over a whole number of pixels.
"""

from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.sheet_maker.noise import Rng
from tests.sheet_maker.setting import Specimen


@dataclass(frozen=True, kw_only=True)
class Layout:
    """place: strip, inset, burnt or none; ground and ink in grey; bar: filled, ticks, bracket, hollow or stepped."""

    name: str
    place: str
    ground: int = 0
    ink: int = 255
    bar: str = "filled"
    label: str = "above"
    unit: str = "um"
    at: float = 0.7
    on_top: bool = False


LAYOUTS = (
    Layout(name="dark strip, filled bar", place="strip", label="above", unit="µm", at=0.72),
    Layout(name="dark strip, end ticks", place="strip", ground=18, ink=235, bar="ticks", label="right", at=0.06),
    Layout(
        name="light strip, bracket", place="strip", ground=245, ink=0, bar="bracket", label="above", unit="µm", at=0.1
    ),
    Layout(name="light strip, filled bar", place="strip", ground=255, ink=10, label="below", at=0.4),
    Layout(
        name="grey strip on top", place="strip", ground=60, ink=255, bar="hollow", label="left", at=0.68, on_top=True
    ),
    Layout(name="dark strip, stepped bar", place="strip", bar="stepped", label="below", unit="mm", at=0.66),
    Layout(name="boxed inset, light", place="inset", ground=250, ink=0, bar="filled", label="below", unit="µm"),
    Layout(name="boxed inset, dark", place="inset", ground=8, ink=250, bar="ticks", label="above", unit="nm"),
    Layout(name="burnt, end ticks", place="burnt", bar="ticks", label="below", unit="um", at=0.64),
    Layout(name="burnt, filled bar", place="burnt", bar="filled", label="above", unit="µm", at=0.08),
    Layout(name="burnt, bracket", place="burnt", bar="bracket", label="right", unit="nm", at=0.45),
    Layout(name="no bar, text metadata", place="none"),
    Layout(name="no bar, OME metadata", place="none"),
    Layout(name="no bar, given in the plan", place="none"),
)
SHARES = np.array([1.2] * 6 + [1] * 5 + [0.6, 0.6, 0.4])
IN_UM = {"nm": 1e-3, "um": 1.0, "µm": 1.0, "mm": 1e3}


@dataclass(frozen=True, kw_only=True)
class Scale:
    """A specimen's scale bar: label, length in px; ``letters`` the height of its letters in px."""

    layout: Layout
    label: str
    bar_px: int
    pixel_size_um: float
    letters: int


def draw_scale(rng: Rng, specimen: Specimen) -> Scale:
    """Choose a layout and a round length, and take the pixel size so that the bar has a whole number of px."""
    layout = LAYOUTS[rng.choice(len(LAYOUTS), p=SHARES / SHARES.sum())]
    cols, pixel = specimen.shape[1], specimen.pixel_size_um
    lengths = [m * 10**e for e in range(4) for m in (1, 2, 5)]
    fitting = [length for length in lengths if 0.06 * cols < length / pixel < 0.28 * cols]
    length = float(fitting[rng.integers(0, len(fitting))])
    bar_px = round(length / pixel)
    unit = layout.unit
    if (unit == "nm" and length > 10) or (unit == "mm" and length < 100):
        unit = "um"
    gap = " " if rng.random() < 0.8 else ""
    label = f"{length / IN_UM[unit]:g}{gap}{unit}"
    if layout.place == "none":
        return Scale(layout=layout, label="", bar_px=0, pixel_size_um=round(pixel, 4), letters=0)
    return Scale(
        layout=layout, label=label, bar_px=bar_px, pixel_size_um=length / bar_px, letters=int(rng.integers(12, 37))
    )


def lettering(size: int) -> ImageFont.FreeTypeFont:
    """Return a font whose capitals are about ``size`` px tall."""
    try:
        from matplotlib import get_data_path

        return ImageFont.truetype(f"{get_data_path()}/fonts/ttf/DejaVuSans.ttf", round(size * 1.3))
    except (ImportError, OSError):
        return ImageFont.load_default(round(size * 1.3))


def draw_bar(draw: ImageDraw.ImageDraw, x: int, y: int, width: int, thick: int, style: str, ink: int) -> None:
    """Draw a bar of exactly ``width`` px whose left edge is column x, centred at row y; ticks stand at both ends so that
    their middles are ``width`` px apart."""
    left, right, tick = x, x + width - 1, 3 * thick
    pen = 1 + max(1, thick // 2)
    if style == "filled":
        draw.rectangle((left, y - thick, right, y + thick), fill=ink)
    elif style == "hollow":
        draw.rectangle((left, y - thick - 1, right, y + thick + 1), outline=ink, width=max(1, thick // 2))
    elif style == "stepped":
        for part in range(4):
            ends = (left + width * part // 4, left + width * (part + 1) // 4 - 1)
            draw.rectangle((ends[0], y - thick if part % 2 else y, ends[1], y + thick), fill=ink)
    else:
        low, high = y + tick, y - (tick if style == "ticks" else 0)
        left, right = left - pen // 2, right + pen - pen // 2
        draw.rectangle((left, high, left + pen - 1, low), fill=ink)
        draw.rectangle((right - pen + 1, high, right, low), fill=ink)
        draw.rectangle((left, y, right, y + max(0, thick // 2)), fill=ink)


def _placed(
    scale: Scale, font: ImageFont.FreeTypeFont, thick: int
) -> tuple[tuple[int, int], tuple[int, int], int, int]:
    """Return offsets of label and bar centre from a block's corner, and the block's size."""
    left, top, right, bottom = font.getbbox(scale.label)
    wide, high, gap = right - left, bottom - top, max(6, scale.letters // 3)
    half = 3 * thick + 1
    if scale.layout.label in ("left", "right"):
        size = (wide + gap + scale.bar_px, max(high, 2 * half))
        ahead = wide + gap if scale.layout.label == "left" else 0
        behind = 0 if scale.layout.label == "left" else scale.bar_px + gap
        return (behind - left, (size[1] - high) // 2 - top), (ahead, size[1] // 2), *size
    size = (max(wide, scale.bar_px), high + gap + 2 * half)
    middle = (size[0] - scale.bar_px) // 2
    text_x = (size[0] - wide) // 2 - left
    if scale.layout.label == "above":
        return (text_x, -top), (middle, high + gap + half), *size
    return (text_x, 2 * half + gap - top), (middle, half), *size


def add_data_bar(
    picture: np.ndarray, codes: np.ndarray, scale: Scale, words: str
) -> tuple[np.ndarray, np.ndarray, tuple[int, int, int] | None]:
    """Return picture (0-255 float), codes with 255 on all marks, and the bar's left edge, row and width."""
    layout = scale.layout
    if layout.place == "none":
        return picture, codes, None
    rows, cols = picture.shape
    font, thick = lettering(scale.letters), max(1, scale.letters // 9)
    label_at, bar_at, wide, high = _placed(scale, font, thick)
    margin = max(8, scale.letters // 2)
    foot = 16 if layout.place == "inset" else 0
    wide = max(wide, 84) if foot else wide
    band = high + 2 * margin + foot
    ink_only = Image.new("L", (cols, rows + (band if layout.place == "strip" else 0)), 0)
    draw = ImageDraw.Draw(ink_only)
    top = {"strip": 0 if layout.on_top else rows, "inset": rows - band - 10, "burnt": rows - band}[layout.place]
    x = cols - wide - margin - 12 if layout.place == "inset" else int(min(layout.at * cols, cols - wide - margin))
    x, y = max(x, margin), top + margin
    draw.text((x + label_at[0], y + label_at[1]), scale.label, fill=255, font=font)
    bar = (x + bar_at[0], y + bar_at[1], scale.bar_px)
    draw_bar(draw, *bar, thick, layout.bar, 255)
    if foot:
        draw.text((x, top + band - 6), words.split()[0], fill=255, font=lettering(9), anchor="ls")
    else:
        free = (x + wide + 2 * margin, cols) if x < cols - x - wide else (margin, x - margin)
        small = lettering(max(10, min(scale.letters, 18) * 3 // 4))
        if small.getlength(words) < free[1] - free[0]:
            draw.text((free[0], top + band // 2), words, fill=255, font=small, anchor="lm")
    marks = np.asarray(ink_only, np.float32) / 255
    if layout.place == "strip":
        blank = np.full((band, cols), float(layout.ground), np.float32)
        picture = np.vstack([blank, picture] if layout.on_top else [picture, blank])
        hidden = np.full((band, cols), 255, np.uint8)
        codes = np.vstack([hidden, codes] if layout.on_top else [codes, hidden])
    elif layout.place == "inset":
        box = (slice(top, top + band), slice(x - margin, min(x + wide + margin, cols)))
        picture, codes = picture.copy(), codes.copy()
        picture[box], codes[box] = layout.ground, 255
    else:
        codes = codes.copy()
        near = np.asarray(marks > 0)
        for axis in (0, 1):
            near = near | np.roll(near, 1, axis) | np.roll(near, -1, axis)
        codes[near] = 255
    return picture * (1 - marks) + layout.ink * marks, codes, bar
