"""Data bars of invented layouts: strips, boxed insets and burnt-in scales, whose bar is exact to the pixel.

The length is counted from outer edge to outer edge. Layouts are this package's own and copy no instrument. Each picture
with a bar says that it is a simulation.
"""

from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

UNITS = {"nm": 1000.0, "µm": 1.0, "um": 1.0, "mm": 0.001}


@dataclass(frozen=True)
class Layout:
    """Place of the bar, its ground, style, the label's side and unit, letters in px and the font."""

    name: str
    place: str  # bottom, top, inset, burnt
    dark: bool
    style: str  # filled, ticks, bracket, hollow, dumbbell
    side: str  # above, below, left, right
    unit: str
    letters_px: int
    font: str = "DejaVuSans"


LAYOUTS = (
    Layout("dark strip, filled, right", "bottom", True, "filled", "right", "µm", 26),
    Layout("light strip, ticks, above", "bottom", False, "ticks", "above", "um", 20, "DejaVuSerif"),
    Layout("dark strip, bracket, above", "bottom", True, "bracket", "above", "µm", 22, "DejaVuSansMono"),
    Layout("light strip, filled, left", "bottom", False, "filled", "left", "mm", 30),
    Layout("top strip, ticks, right", "top", True, "ticks", "right", "um", 24, "default"),
    Layout("light box, filled, above", "inset", False, "filled", "above", "µm", 24),
    Layout("dark box, ticks, below", "inset", True, "ticks", "below", "um", 18, "stroke"),
    Layout("burnt white, filled, above", "burnt", True, "filled", "above", "µm", 34, "DejaVuSans-Bold"),
    Layout("burnt white, ticks, below", "burnt", True, "ticks", "below", "um", 28, "stroke"),
    Layout("burnt edged, dumbbell, right", "burnt", True, "dumbbell", "right", "µm", 26),
    Layout("grey strip, hollow, below", "bottom", False, "hollow", "below", "nm", 16, "DejaVuSans"),
    Layout("burnt white, bracket, above", "burnt", True, "bracket", "above", "um", 22, "default"),
)


@dataclass(frozen=True)
class Bar:
    """Picture with its bar, the pixels that it hides, the label, and the bar's outer columns and middle row."""

    grey: np.ndarray
    hidden: np.ndarray
    label: str
    x0: int
    x1: int
    row: int


def bar_label(length_um: float, unit: str) -> str:
    """Return the label of a bar; takes µm where the unit asked would give an unwieldy figure."""
    value = length_um * UNITS[unit]
    if unit == "nm" and value > 50000.5:
        unit, value = "µm", length_um
    return f"{round(value, 6):g} {unit}"


def add_bar(
    grey: np.ndarray, layout: Layout, length_um: float, bar_px: int, facts: str, rng: np.random.Generator
) -> Bar:
    """Return the picture with a data bar; grey in 0 to 1."""
    label = bar_label(length_um, layout.unit)
    word = _text(label, layout.font, layout.letters_px)
    group, x0, row = _group(word, layout, bar_px)
    rows, cols = grey.shape
    if layout.place in ("bottom", "top"):
        return _strip(grey, layout, group, x0, row, bar_px, label, facts, rng)
    margin = 10
    top = rows - group.shape[0] - 3 * margin
    left = cols - group.shape[1] - 3 * margin if rng.random() < 0.7 else 3 * margin
    left = max(left, margin)
    out, hidden = grey.copy(), np.zeros(grey.shape, bool)
    window = (slice(top, top + group.shape[0]), slice(left, left + group.shape[1]))
    ink, ground = (0.98, 0.03) if layout.dark else (0.02, 0.96)
    if layout.place == "inset":
        box = (slice(top - margin, top + group.shape[0] + margin), slice(left - margin, left + group.shape[1] + margin))
        out[box] = ground
        hidden[box] = True
    elif layout.style == "dumbbell":
        shade = cv2.dilate(group, np.ones((3, 3), np.uint8))
        out[window] = out[window] * (1 - shade) + 0.02 * shade
    out[window] = out[window] * (1 - group) + ink * group
    mark = _text("simulated " + facts, layout.font, max(14, layout.letters_px - 8))
    if layout.place == "burnt":
        hidden[window] |= cv2.dilate(group, np.ones((7, 7), np.uint8)) > 0
    if mark.shape[1] < cols - 2 * margin:
        place = (slice(margin, margin + mark.shape[0]), slice(margin, margin + mark.shape[1]))
        out[place] = out[place] * (1 - mark) + 0.98 * mark
        hidden[place] |= cv2.dilate(mark, np.ones((7, 7), np.uint8)) > 0
    return Bar(out, hidden, label, left + x0, left + x0 + bar_px, top + row)


def _strip(grey, layout: Layout, group, x0: float, row: int, bar_px: int, label: str, facts: str, rng) -> Bar:
    rows, cols = grey.shape
    tall = group.shape[0] + 2 * int(rng.integers(8, 16))
    ink, ground = (0.97, rng.uniform(0.0, 0.12)) if layout.dark else (0.03, rng.uniform(0.82, 1.0))
    strip = np.full((tall, cols), ground, np.float32)
    top = (tall - group.shape[0]) // 2
    left = int(rng.integers(14, 40)) if rng.random() < 0.5 else cols - group.shape[1] - int(rng.integers(14, 40))
    left = max(left, 2)
    window = strip[top : top + group.shape[0], left : left + group.shape[1]]
    window[:] = window * (1 - group) + ink * group
    text = _text(facts + "  simulated", layout.font, max(12, layout.letters_px - 6))
    room = (left + group.shape[1] + 30, cols - 14) if left < cols / 2 else (14, left - 30)
    if text.shape[1] <= room[1] - room[0] and text.shape[0] <= tall:
        y = (tall - text.shape[0]) // 2
        spot = strip[y : y + text.shape[0], room[0] : room[0] + text.shape[1]]
        spot[:] = spot * (1 - text) + ink * text
    below = layout.place == "bottom"
    out = np.vstack([grey, strip] if below else [strip, grey])
    hidden = np.zeros(out.shape, bool)
    hidden[rows:] = below
    if not below:
        hidden[:tall] = True
    start = rows if below else 0
    return Bar(out, hidden, label, left + x0, left + x0 + bar_px, start + top + row)


def _group(word: np.ndarray, layout: Layout, bar_px: int) -> tuple[np.ndarray, float, int]:
    """Return bar and label as ink in 0 to 1, the edge at which the bar's length starts and its middle row."""
    bar = _bar(layout, bar_px)
    drawn_px = bar.shape[1]
    gap = 6
    beside = layout.side in ("left", "right")
    if beside:
        height, width = max(word.shape[0], bar.shape[0]), word.shape[1] + 2 * gap + drawn_px
        bar_at = ((height - bar.shape[0]) // 2, word.shape[1] + 2 * gap if layout.side == "left" else 0)
        word_at = ((height - word.shape[0]) // 2, 0 if layout.side == "left" else drawn_px + 2 * gap)
    else:
        height, width = word.shape[0] + gap + bar.shape[0], max(word.shape[1], drawn_px)
        bar_at = (word.shape[0] + gap if layout.side == "above" else 0, (width - drawn_px) // 2)
        word_at = (0 if layout.side == "above" else bar.shape[0] + gap, (width - word.shape[1]) // 2)
    group = np.zeros((height, width), np.float32)
    for part, (y, x) in ((bar, bar_at), (word, word_at)):
        group[y : y + part.shape[0], x : x + part.shape[1]] = part
    return group, bar_at[1] + (drawn_px - bar_px) / 2, bar_at[0] + bar.shape[0] // 2


def _bar(layout: Layout, bar_px: int) -> np.ndarray:
    """Return the bar's ink; its first and last columns are inked. Ticks mark its ends by their middles."""
    thick = max(2, layout.letters_px // 9)
    if layout.style in ("ticks", "bracket"):
        bar_px += thick
    tall = {"filled": max(5, layout.letters_px // 3)}.get(
        layout.style, max(11, layout.letters_px * 2 // 3)
    ) // 2 * 2 + 1
    bar = np.zeros((tall, bar_px), np.float32)
    middle = tall // 2
    if layout.style == "filled":
        bar[:] = 1
    elif layout.style == "hollow":
        bar[:] = 1
        bar[2:-2, 2:-2] = 0
        bar[middle, 2:-2] = 1
    else:
        line = tall - thick if layout.style == "bracket" else middle - thick // 2
        bar[line : line + thick] = 1
        wide = thick * (3 if layout.style == "dumbbell" else 1)
        bar[:, :wide] = bar[:, -wide:] = 1
    return bar


def _text(text: str, font: str, letters_px: int) -> np.ndarray:
    """Return a line of text as ink in 0 to 1, cut to its letters; letters_px is about a capital's height."""
    if font == "stroke":
        text = text.replace("µ", "u")
        scale, thick = letters_px / 22, max(1, letters_px // 12)
        (width, height), base = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, thick)
        sheet = np.zeros((height + base + 8, width + 8), np.uint8)
        cv2.putText(sheet, text, (4, height + 4), cv2.FONT_HERSHEY_SIMPLEX, scale, 255, thick, cv2.LINE_AA)
    else:
        face = _face(font, round(letters_px * 1.38))
        box = face.getbbox(text)
        image = Image.new("L", (int(box[2]) + 8, int(box[3]) + 8))
        ImageDraw.Draw(image).text((4, 4), text, font=face, fill=255)
        sheet = np.asarray(image)
    ys, xs = np.nonzero(sheet > 40)
    return sheet[ys.min() : ys.max() + 1, xs.min() : xs.max() + 1].astype(np.float32) / 255


def _face(font: str, size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    spec = find_spec("matplotlib")
    if font != "default" and spec is not None and spec.origin:
        path = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / f"{font}.ttf"
        if path.is_file():
            return ImageFont.truetype(str(path), size)
    return ImageFont.load_default(size)
