"""The sheet that a data bar is printed on: the picture with its strip, what is drawn, and which pixels it covers."""

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.session_maker.data_bar import USUAL_COLS, DataBar
from tests.session_maker.fonts import font

Box = tuple[float, float, float, float]
"""Left, top, right and bottom, px."""

BESIDE_PX = 2
"""Print covers so many pixels around itself too: own choice."""

LEAST_SMALL_PX = 14
"""Smallest letters of the facts beside the scale: own choice."""


class Sheet:
    """A sheet of the whole picture; ``above`` is the strip's first row, or the row below the picture where there is none.

    bar_px: length of the scale bar between the centres of its end marks, px; texts: what has been printed.
    """

    def __init__(self, picture: np.ndarray, bar: DataBar, shape: tuple[int, int], pixel_size_um: float) -> None:
        self.rows, self.cols = shape
        self.bar, self.bar_px = bar, int(round(bar.bar_um / pixel_size_um))
        self.strip_px = bar.strip_px
        self.above = 0 if bar.at_top else self.rows - self.strip_px
        self.covered = np.zeros(shape, bool)
        self.covered[self.above : self.above + self.strip_px] = True
        whole = np.zeros(shape, np.uint8)
        first = self.strip_px if bar.at_top else 0
        whole[first : first + picture.shape[0]] = picture
        self._image = Image.fromarray(whole)
        self._draw = ImageDraw.Draw(self._image)
        self._large = font(bar.face, bar.letters_px)
        self._small = font(bar.face, max(LEAST_SMALL_PX, int(bar.letters_px * 0.85)))
        self.texts: list[str] = []

    @property
    def middle(self) -> int:
        """The row in the middle of the strip."""
        return self.above + self.strip_px // 2

    @property
    def picture(self) -> np.ndarray:
        """The printed picture, (rows, cols) uint8."""
        return np.array(self._image)

    def row(self, share: float) -> float:
        """Return the row at a share of the strip's height."""
        return self.above + self.strip_px * share

    def sized(self, px: int) -> int:
        """Return ``px`` of a picture of usual width in this one's pixels."""
        return int(px * self.cols / USUAL_COLS)

    def fill(self, box: Box, grey: int, outline: int | None = None, width: int = 1) -> None:
        """Fill a box, its right column and bottom row included."""
        self._draw.rectangle(box, fill=grey, outline=outline, width=width)

    def fill_strip(self, grey: int) -> None:
        """Fill the strip."""
        self.fill((0, self.above, self.cols, self.above + self.strip_px - 1), grey)

    def line(self, ends: Box, grey: int) -> None:
        """Draw a line one px wide."""
        self._draw.line(ends, fill=grey)

    def cover(self, left: float, top: float, right: float, bottom: float) -> None:
        """Note that print lies in a box; what is off the sheet doesn't count."""
        first_col, first_row = int(left) - BESIDE_PX, int(top) - BESIDE_PX
        last_col, last_row = int(np.ceil(right)) + BESIDE_PX, int(np.ceil(bottom)) + BESIDE_PX
        self.covered[max(0, first_row) : max(0, last_row + 1), max(0, first_col) : max(0, last_col + 1)] = True

    def label_width(self) -> float:
        """Return the width of the scale bar's label, px."""
        return self._draw.textlength(self.bar.label, font=self._large)

    def label(self, x: float, y: float, grey: int, anchor: str = "lm", outline_px: int = 0) -> float:
        """Print the scale bar's label; returns the column where it ends."""
        return self._text(x, y, self.bar.label, grey, self._large, anchor, outline_px)

    def text(self, x: float, y: float, words: str, grey: int, anchor: str = "lm", outline_px: int = 0) -> float:
        """Print words in the smaller letters; returns the column where they end."""
        return self._text(x, y, words, grey, self._small, anchor, outline_px)

    def _text(
        self, x: float, y: float, words: str, grey: int, face: ImageFont.FreeTypeFont, anchor: str, outline_px: int
    ) -> float:
        dark = 0 if grey > 128 else 255
        how = {"font": face, "anchor": anchor, "stroke_width": outline_px}
        self._draw.text((x, y), words, fill=grey, stroke_fill=dark, **how)
        box = self._draw.textbbox((x, y), words, **how)
        self.cover(*box)
        self.texts.append(words)
        return box[2]

    def ticked_bar(self, x: int, y: int, grey: int, line_px: int | None = None) -> None:
        """Draw a scale bar from column ``x`` along row ``y``: a line between two ticks that stand on its ends."""
        thick, tick_px = line_px or self.bar.line_px, self.bar.tick_px
        top = y - thick // 2
        self.fill((x, top, x + self.bar_px, top + thick - 1), grey)
        for end in (x, x + self.bar_px):
            left = end - (thick - 1) // 2
            self.fill((left, y - tick_px, left + thick - 1, y + tick_px), grey)
        self.cover(x - 2, y - tick_px - 1, x + self.bar_px + 3, y + tick_px + 1)
