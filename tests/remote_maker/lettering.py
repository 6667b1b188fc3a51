"""Letters for data bars: free typefaces and stroke letters, as patches of ink cropped to what is inked."""

import importlib.util
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

FACES = ("plain", "DejaVuSans", "DejaVuSans-Bold", "DejaVuSansMono", "DejaVuSerif", "strokes")


@lru_cache
def _font(face: str, size: int) -> ImageFont.FreeTypeFont:
    found = importlib.util.find_spec("matplotlib")
    file = Path(found.origin).parent / "mpl-data/fonts/ttf" / f"{face}.ttf" if found and found.origin else Path(face)
    return ImageFont.truetype(str(file), size) if file.is_file() else ImageFont.load_default(size)


def letters(text: str, face: str, height_px: int) -> np.ndarray:
    """Return the ink (rows, cols) float32 0-1 of a text whose capitals are about ``height_px`` high.

    Stroke letters have no Greek and no degree sign: µm is written um there.
    """
    if face == "strokes":
        text = text.replace("µ", "u").replace("°", " deg")
        thick = max(1, height_px // 10)
        scale = cv2.getFontScaleFromHeight(cv2.FONT_HERSHEY_SIMPLEX, height_px, thick)
        (wide, high), below = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, thick)
        ink = np.zeros((high + below + 8, wide + 12), np.uint8)
        cv2.putText(ink, text, (6, high + 4), cv2.FONT_HERSHEY_SIMPLEX, scale, 255, thick, cv2.LINE_AA)
    else:
        font = _font(face, round(height_px / 0.72))
        box = font.getbbox(text)
        picture = Image.new("L", (int(box[2]) + 8, int(box[3]) + 8))
        ImageDraw.Draw(picture).text((3, 3), text, fill=255, font=font)
        ink = np.asarray(picture)
    rows, cols = np.flatnonzero(ink.max(1)), np.flatnonzero(ink.max(0))
    return ink[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1].astype(np.float32) / 255
