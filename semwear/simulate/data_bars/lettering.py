"""Lettering of data bars: faces that come with installed libraries, at a wanted height of the digits.

Faces: DejaVu, STIX and Computer Modern (shipped by matplotlib, whose files are used without importing it), the default
face of Pillow, OpenCV's plain strokes, and Pillow's small bitmap face enlarged by whole numbers as on old displays.
"""

import importlib.util
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont


@dataclass(frozen=True, kw_only=True)
class Face:
    """One face: its name, the file that holds it ("" when a library draws it) and what it can print."""

    name: str
    file: str = ""
    has_micro_sign: bool = True
    smallest_px: int = 8


FACES: dict[str, Face] = {
    face.name: face
    for face in (
        Face(name="sans", file="DejaVuSans.ttf", smallest_px=7),
        Face(name="sans bold", file="DejaVuSans-Bold.ttf"),
        Face(name="sans italic", file="DejaVuSans-Oblique.ttf", smallest_px=9),
        Face(name="sans bold italic", file="DejaVuSans-BoldOblique.ttf", smallest_px=9),
        Face(name="mono", file="DejaVuSansMono.ttf", smallest_px=7),
        Face(name="mono bold", file="DejaVuSansMono-Bold.ttf"),
        Face(name="serif", file="DejaVuSerif.ttf"),
        Face(name="serif bold", file="DejaVuSerif-Bold.ttf"),
        Face(name="serif italic", file="DejaVuSerif-Italic.ttf", smallest_px=10),
        Face(name="roman", file="STIXGeneral.ttf", smallest_px=9),
        Face(name="roman bold", file="STIXGeneralBol.ttf", smallest_px=9),
        Face(name="roman italic", file="STIXGeneralItalic.ttf", smallest_px=11),
        Face(name="modern", file="cmr10.ttf", has_micro_sign=False, smallest_px=11),
        Face(name="modern sans", file="cmss10.ttf", has_micro_sign=False, smallest_px=9),
        Face(name="typewriter", file="cmtt10.ttf", has_micro_sign=False, smallest_px=9),
        Face(name="plain", has_micro_sign=False, smallest_px=7),
        Face(name="plotter", has_micro_sign=False, smallest_px=8),
        Face(name="pixel", smallest_px=6),
    )
}

_BITMAP_DIGIT_PX = 7


def _font_file(name: str) -> str:
    package = importlib.util.find_spec("matplotlib").submodule_search_locations[0]
    return str(Path(package) / "mpl-data" / "fonts" / "ttf" / name)


def _scalable(face: Face, size: float):
    return ImageFont.truetype(_font_file(face.file), size) if face.file else ImageFont.load_default(size)


@lru_cache(maxsize=64)
def _digit_share(name: str) -> float:
    """Height of a digit zero as a share of the nominal size of the face."""
    top, bottom = _scalable(FACES[name], 200).getbbox("0")[1::2]
    return (bottom - top) / 200


@lru_cache(maxsize=256)
def _sized(name: str, digit_px: int):
    return _scalable(FACES[name], digit_px / _digit_share(name))


def printed_height_px(name: str, digit_px: float) -> int:
    """Return the height of the digits that face ``name`` prints when asked for ``digit_px``, in whole pixels."""
    if name == "pixel":
        return _BITMAP_DIGIT_PX * max(1, round(digit_px / _BITMAP_DIGIT_PX))
    return max(FACES[name].smallest_px, round(digit_px))


def _trim(coverage: np.ndarray) -> np.ndarray:
    inked = np.flatnonzero(coverage.max(axis=0) > 0)
    return coverage[:, inked[0] : inked[-1] + 1] if inked.size else coverage


def _bitmap(text: str, digit_px: int) -> np.ndarray:
    mask = ImageFont.load_default_imagefont().getmask(text)
    small = (np.array(mask, np.float32).reshape(mask.size[::-1]) > 0).astype(np.float32)
    scale = max(1, round(digit_px / _BITMAP_DIGIT_PX))
    return np.kron(small[1:], np.ones((scale, scale), np.float32))


def _plotted(text: str, scale: float, thickness: int, smooth: bool) -> np.ndarray:
    import cv2

    face, line = cv2.FONT_HERSHEY_SIMPLEX, cv2.LINE_AA if smooth else cv2.LINE_8
    (cols, rows), below = cv2.getTextSize(text, face, scale, thickness)
    canvas = np.zeros((rows + below + 2 * thickness + 2, cols + 4 * thickness + 4), np.uint8)
    cv2.putText(canvas, text, (2 * thickness, rows + thickness), face, scale, 255, thickness, line)
    return canvas.astype(np.float32) / 255


@lru_cache(maxsize=1)
def _plotted_digit_px() -> float:
    """Height of a digit zero that OpenCV plots at scale 10, over 10: versions differ in their strokes."""
    return float(np.count_nonzero(_plotted("0", 10.0, 1, True).max(axis=1) > 0.5)) / 10


def _plotter(text: str, digit_px: int, smooth: bool) -> np.ndarray:
    return _plotted(text, digit_px / _plotted_digit_px(), max(1, round(digit_px / 11)), smooth)


def render_text(text: str, face: str, digit_px: int, *, smooth: bool = True) -> np.ndarray:
    """Return the coverage of one line of text, (rows, cols) float32 in 0..1.

    ``digit_px`` is the height of the digits; the rows run from the top of the tallest letter to below the descenders,
    the same for every text of one face and height, so that lines of text stand on one base line. ``smooth`` says
    whether the edges are anti-aliased. Columns are cut to the ink.

    >>> coverage = render_text("10 µm", "sans", 20)
    >>> coverage.dtype.name, bool(20 <= coverage.shape[0] <= 32)
    ('float32', True)
    """
    if face == "pixel":
        return _trim(_bitmap(text, digit_px))
    if face == "plotter":
        return _trim(_plotter(text, digit_px, smooth))
    font = _sized(face, digit_px)
    left, _, right, _ = font.getbbox(text, anchor="ls")
    top, bottom = font.getbbox("0Hdl(", anchor="ls")[1], font.getbbox("gpµ,)", anchor="ls")[3]
    margin = 2 + abs(int(left))
    image = Image.new("L", (int(1.3 * right) + 2 * margin, bottom - top + 2), 0)
    draw = ImageDraw.Draw(image)
    draw.fontmode = "L" if smooth else "1"
    draw.text((margin, 1 - top), text, fill=255, font=font, anchor="ls")
    return _trim(np.asarray(image, np.float32) / 255)
