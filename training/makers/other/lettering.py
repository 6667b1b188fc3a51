"""Letters and scale marks for a data bar, drawn on a transparent sheet that is later laid over the picture.

Where a bar ends. A filled, hollow, segmented, plain or arrowed bar of length L covers exactly L columns: its ends are the
outer edges. A bar with end ticks, a ruler or a row of dots measures L from the middle of the first mark to the middle of
the last. Ends are stated in column coordinates whose whole numbers are pixel centres, so that last - first = L always.
"""

from pathlib import Path

import cv2
import matplotlib
import numpy as np
from PIL import Image, ImageDraw, ImageFont

SHIPPED = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
FACES = {
    "sans": "DejaVuSans.ttf", "sans bold": "DejaVuSans-Bold.ttf", "mono": "DejaVuSansMono.ttf", "mono bold": "DejaVuSansMono-Bold.ttf",
    "serif": "DejaVuSerif.ttf", "times": "STIXGeneral.ttf", "times bold": "STIXGeneralBol.ttf", "thin sans": "cmss10.ttf",
    "plain": "LiberationSans-Regular.ttf", "plain bold": "LiberationSans-Bold.ttf", "narrow": "LiberationSansNarrow-Regular.ttf",
    "typewriter": "LiberationMono-Regular.ttf", "terminal": "", "plotter": "",
}  # fmt: skip
"""Faces by what they look like. Those not shipped with matplotlib fall back to DejaVu Sans where they aren't installed."""

ASCII_FACES = ("thin sans", "plotter")


def letters(text: str, face: str, height_px: int, *, smooth: bool = True) -> np.ndarray:
    """Return a text as (rows, cols) uint8 cover; its digits are about ``height_px`` high, its last rows hold descenders."""
    if face == "plotter":
        scale, thick = height_px / 21, max(1, round(height_px / 12))
        (width, high), below = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, thick)
        cover = np.zeros((high + below + 2, width + 2), np.uint8)
        cv2.putText(
            cover,
            text,
            (1, high + 1),
            cv2.FONT_HERSHEY_SIMPLEX,
            scale,
            255,
            thick,
            cv2.LINE_AA if smooth else cv2.LINE_8,
        )
        return cover
    if face == "terminal":
        text = text.replace("\u03bc", "\u00b5")
        font = ImageFont.load_default_imagefont()
        left, top, right, bottom = font.getbbox(text)
        sheet = Image.new("1", (right - left + 1, bottom - top + 1))
        ImageDraw.Draw(sheet).text((0, 0), text, fill=1, font=font)
        times = max(1, round(height_px / 8))
        return np.kron(np.asarray(sheet, np.uint8), np.full((times, times), 255, np.uint8))
    size = round(height_px / 0.72)
    font = _truetype(face, size)
    ascent, descent = font.getmetrics()
    left, _, right, _ = font.getbbox(text)
    sheet = Image.new("L", (max(right - min(left, 0), 1) + 2, ascent + descent))
    pen = ImageDraw.Draw(sheet)
    pen.fontmode = "L" if smooth else "1"
    pen.text((1 - min(left, 0), 0), text, fill=255, font=font)
    cover = np.asarray(sheet)
    return cover[max(ascent - round(0.8 * size), 0) : min(ascent + round(0.24 * size) + 1, cover.shape[0])]


def _truetype(face: str, size: int):
    for name in (str(SHIPPED / FACES[face]), FACES[face]):
        try:
            return ImageFont.truetype(name, size)
        except OSError:
            continue
    return ImageFont.truetype(str(SHIPPED / "DejaVuSans.ttf"), size)


class Sheet:
    """A transparent sheet: colour (rows, cols, 3) uint8, cover (rows, cols) float32 0..1, marks (rows, cols) bool."""

    def __init__(self, shape: tuple[int, int]):
        self.colour = np.zeros((*shape, 3), np.uint8)
        self.cover = np.zeros(shape, np.float32)
        self.marks = np.zeros(shape, bool)

    def box(self, row: int, col: int, rows: int, cols: int, colour, cover: float = 1.0) -> None:
        """Fill a rectangle; all of it is data bar."""
        where = np.s_[max(row, 0) : max(row + rows, 0), max(col, 0) : max(col + cols, 0)]
        self.colour[where] = colour
        self.cover[where] = cover
        self.marks[where] = True

    def ink(self, row: int, col: int, cover: np.ndarray, colour, halo=None) -> None:
        """Lay a uint8 cover down in a colour; ``halo`` is None, ("outline", colour) or ("shadow", colour)."""
        if halo is not None:
            reach = 1 if cover.shape[0] < 22 else 2
            around = cv2.copyMakeBorder(cover, reach, reach, reach, reach, cv2.BORDER_CONSTANT)
            if halo[0] == "outline":
                self._lay(
                    row - reach, col - reach, cv2.dilate(around, np.ones((2 * reach + 1,) * 2, np.uint8)), halo[1]
                )
            else:
                self._lay(row, col, around, halo[1])
        self._lay(row, col, cover, colour)

    def _lay(self, row: int, col: int, cover: np.ndarray, colour) -> None:
        top, left = max(row, 0), max(col, 0)
        bottom, right = min(row + cover.shape[0], self.cover.shape[0]), min(col + cover.shape[1], self.cover.shape[1])
        if bottom <= top or right <= left:
            return
        part = cover[top - row : bottom - row, left - col : right - col].astype(np.float32) / 255
        where = np.s_[top:bottom, left:right]
        old, both = self.cover[where], part + self.cover[where] * (1 - part)
        share = np.where(both > 0, part / np.maximum(both, 1e-6), 0)[..., None]
        self.colour[where] = np.round(self.colour[where] * (1 - share) + np.array(colour) * share)
        self.cover[where] = np.where(part > 0, both, old)
        grown = cv2.dilate((part > 0).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        self.marks[where] |= grown

    def lay_over(self, picture: np.ndarray) -> np.ndarray:
        """Return the (rows, cols) picture, 0..1, with the sheet on it, (rows, cols, 3) float32 0..1."""
        out = np.repeat(picture[..., None].astype(np.float32), 3, axis=2)
        drawn = self.cover > 0
        cover = self.cover[drawn][:, None]
        out[drawn] = out[drawn] * (1 - cover) + cover * self.colour[drawn].astype(np.float32) / 255
        return out


SCALES = (
    "filled",
    "line",
    "hollow",
    "segmented",
    "ticked",
    "bracket",
    "beam",
    "ruler",
    "comb",
    "dots",
    "broken",
    "arrows",
    "numbered",
)


def scale_cover(
    style: str, length: int, height_px: int, gap: int = 0, *, fine: bool = False
) -> tuple[np.ndarray, float, int]:
    """Draw a scale bar of ``length`` px for letters ``height_px`` high.

    Returns its cover (rows, cols) uint8, the column of its first end (see the module) and the row it's measured on.
    ``gap``: columns to leave open in the middle of a broken bar. ``fine``: thin strokes.
    """
    thick = max(1, round(height_px / (12 if fine else 8)))
    tall = max(3, round(height_px * (0.5 if fine else 0.7))) | 1
    pad = tall + 2
    cover = np.zeros((2 * pad + 1, length + 2 * pad + 1), np.uint8)
    middle, first, last = pad, pad, pad + length

    def block(top, bottom, left, right):
        cover[top : bottom + 1, left : right + 1] = 255

    half = thick // 2
    body = max(2, round(height_px * (0.22 if fine else 0.4)))
    if style in ("filled", "hollow", "segmented"):
        block(middle - body // 2, middle - body // 2 + body + 1, first, last - 1)
        if style == "hollow":
            cover[middle - body // 2 + 1 : middle - body // 2 + body + 1, first + 1 : last - 1] = 0
        elif style == "segmented":
            stops = np.round(np.linspace(first, last, 6)).astype(int)
            for left, right in ((stops[1], stops[2]), (stops[3], stops[4])):
                cover[middle - body // 2 + 1 : middle - body // 2 + body + 1, left:right] = 0
        return cover, first - 0.5, middle
    if style == "line":
        block(middle - half, middle - half + thick - 1, first, last - 1)
        return cover, first - 0.5, middle
    if style == "arrows":
        block(middle - half, middle - half + thick - 1, first, last - 1)
        for step in range(tall):
            spread = step // 2 + half
            block(middle - spread, middle + spread, first + step, first + step)
            block(middle - spread, middle + spread, last - 1 - step, last - 1 - step)
        return cover, first - 0.5, middle
    wide = 2 * (thick // 2)
    if style in ("ticked", "beam", "broken", "bracket"):
        stroke = thick if style != "beam" else max(2, body)
        line = middle if style != "bracket" else middle + tall // 2
        block(line - stroke // 2, line - stroke // 2 + stroke - 1, first, last)
        if style == "broken" and gap > 0:
            cover[:, (first + last - gap) // 2 : (first + last + gap) // 2] = 0
        for end in (first, last):
            block(
                middle - tall // 2, middle + tall // 2 + (style == "bracket") * half, end - wide // 2, end + wide // 2
            )
        return cover, float(first), middle
    parts = 10 if length > 90 else 5
    stops = np.round(np.linspace(first, last, parts + 1)).astype(int)
    if style == "dots":
        radius = max(1, round(height_px / 9))
        for stop in stops:
            cv2.circle(cover, (int(stop), middle), radius, 255, -1)
        return cover, float(first), middle
    if style in ("ruler", "numbered"):
        block(middle + tall // 2, middle + tall // 2 + thick - 1, first, last)
    for number, stop in enumerate(stops):
        long = tall if number % 5 == 0 or (style == "comb" and number in (0, parts)) else max(2, tall // 2)
        block(middle + tall // 2 - long + 1, middle + tall // 2, stop - wide // 2, stop + wide // 2)
    return cover, float(first), middle
