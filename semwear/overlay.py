"""The micrograph with thin outlines of its states, to look at: legend, own scale bar and a title line around it.

States differ in hue, lightness and line style, so that the picture reads without colour too. The hues are from the
palette of Okabe and Ito ("Color Universal Design", 2008), which people with any colour vision can tell apart; its
vermilion is brightened to stand out on grey. Smeared and scuffed areas carry a light tint and thin rulings as well: they
form networks with islands of plateau in them, and an outline alone doesn't tell which of its sides is the smeared one.
Open valleys are dark by themselves and stay as they are.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from semwear.terms import MaskCode

LEAST_WIDTH_PX, MOST_WIDTH_PX = 960, 1800
"""Width of the drawn picture: small fields are enlarged to the first, large ones reduced to the second."""
PAPER, INK, FAINT = (250, 250, 248), (24, 26, 30), (104, 108, 116)


@dataclass(frozen=True, kw_only=True)
class LineStyle:
    """How a state is drawn: RGB colour, dash and gap along the outline (gap 0: unbroken), and rulings on the area.

    rulings: 1 rises to the right, -1 falls; an area without any isn't tinted either.
    """

    name: str
    colour: tuple[int, int, int]
    dash: float
    gap: float
    rulings: tuple[int, ...] = ()


STYLES: Mapping[MaskCode, LineStyle] = {
    MaskCode.OPEN_VALLEY: LineStyle(name="open valley", colour=(86, 180, 233), dash=1, gap=0),
    MaskCode.SMEARED: LineStyle(name="smeared", colour=(240, 228, 66), dash=8, gap=5, rulings=(-1,)),
    MaskCode.SCUFFED: LineStyle(name="scuffed", colour=(255, 92, 0), dash=3, gap=2.5, rulings=(1, -1)),
}
"""Dash and gap are in units of the line's thickness."""
TINT, RULING = 0.15, 0.5
"""Share of the state's colour on its area and on its rulings: light enough to see the micrograph through."""
RULING_SPACING = 10
"""Distance of the rulings along a row, in units of the line's thickness."""
HATCH_COLOUR, HATCH_SPACING = (200, 200, 200), 9
"""Light rulings, each with a dark one beside it, over what is not assessed; their distance as RULING_SPACING."""
CASING = 0.5
"""Share of black in the dark lines beside light ones, which keep those visible on white ground."""


def draw_overlay(
    grey: np.ndarray,
    codes: np.ndarray,
    *,
    picture: np.ndarray,
    pixel_size_um: float,
    pixel_height_um: float | None = None,
    title: str,
    subtitle: str = "",
) -> np.ndarray:
    """Return the overlay as (rows, cols, 3) uint8 RGB.

    grey: (rows, cols) float 0..1 or uint8; codes: (rows, cols) uint8 mask codes; picture: (rows, cols) bool, False on
    the data bar. Smeared and scuffed areas are tinted and ruled inside their outlines. What is not assessed inside the
    picture is hatched; the data bar is left as it is. The legend states each state's share of the assessed area.
    """
    rows, cols = codes.shape
    aspect = (pixel_height_um or pixel_size_um) / pixel_size_um
    width = int(np.clip(cols, LEAST_WIDTH_PX, MOST_WIDTH_PX))
    scale = width / cols
    size = (width, max(1, round(rows * scale * aspect)))
    canvas = _grey_rgb(grey, size)
    large_codes = cv2.resize(codes, size, interpolation=cv2.INTER_NEAREST)
    inside = cv2.resize(picture.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST).astype(bool)
    thickness = 1 if width < 1100 else 2
    _hatch(canvas, (large_codes == MaskCode.NOT_ASSESSED) & inside, thickness)
    areas = [(large_codes == code, style) for code, style in STYLES.items()]
    for where, style in areas:
        _fill(canvas, where, style, thickness)
    for where, style in areas:
        _outline(canvas, where, style, thickness)
    assessed = codes < 4
    shares = {code: float((codes == code).sum() / max(1, assessed.sum())) for code in STYLES}
    header = _header(width, title, subtitle)
    footer = _footer(width, shares, pixel_size_um / scale, bool((inside & (large_codes > 3)).any()))
    return np.vstack([header, canvas, footer])


def round_length_um(most_um: float) -> float:
    """Return the largest 1, 2 or 5 times a power of ten that isn't longer than ``most_um``.

    >>> round_length_um(130.0), round_length_um(0.7)
    (100.0, 0.5)
    """
    power = 10.0 ** np.floor(np.log10(most_um))
    return float(max(step * power for step in (1, 2, 5) if step * power <= most_um * (1 + 1e-9)))


def length_text(length_um: float) -> str:
    """Return a length with the unit that keeps it short.

    >>> length_text(0.5), length_text(200), length_text(2000)
    ('500 nm', '200 µm', '2 mm')
    """
    if length_um < 1:
        return f"{length_um * 1000:g} nm"
    return f"{length_um:g} µm" if length_um < 1000 else f"{length_um / 1000:g} mm"


@lru_cache(maxsize=16)
def _font(size_px: int) -> ImageFont.FreeTypeFont:
    """Return the sans-serif face that travels with matplotlib (found without importing it), or Pillow's own."""
    package = find_spec("matplotlib")
    if package is not None and package.origin:
        face = Path(package.origin).parent / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
        if face.is_file():
            return ImageFont.truetype(str(face), size_px)
    return ImageFont.load_default(size_px)


def _grey_rgb(grey: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Return the picture stretched between its 0.2 and 99.8 % grey levels at the wanted size, as RGB."""
    grey = np.asarray(grey, dtype=np.float32)
    low, high = np.percentile(grey[::4, ::4], (0.2, 99.8))
    levels = np.clip((grey - low) / max(high - low, 1e-6), 0, 1) * 255
    method = cv2.INTER_AREA if size[0] < grey.shape[1] else cv2.INTER_CUBIC
    drawn = np.clip(cv2.resize(levels, size, interpolation=method), 0, 255).astype(np.uint8)
    return np.repeat(drawn[:, :, None], 3, axis=2)


def _hatch(canvas: np.ndarray, where: np.ndarray, thickness: int) -> None:
    """Rule thin light diagonals, dark beside, over what is not assessed: debris is white, what lies beyond the edge black."""
    light, dark = hatching(where, thickness)
    _darken(canvas, dark)
    canvas[light] = HATCH_COLOUR


def hatching(where: np.ndarray, thickness: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Return the light and the dark rulings over an area, (rows, cols) bool each."""
    spacing = HATCH_SPACING * thickness
    light = where & ruled(where.shape, 1, spacing, thickness)
    return light, where & ruled(where.shape, 1, spacing, 2 * thickness) & ~light


def _darken(canvas: np.ndarray, where: np.ndarray) -> None:
    canvas[where] = (canvas[where] * (1 - CASING)).astype(np.uint8)


def ruled(shape: tuple[int, int], ruling: int, spacing: int, thickness: int = 1) -> np.ndarray:
    """Return where diagonals run that rise (1) or fall (-1) to the right.

    Grooves, scratches and scuffing lie near the rows or near the columns: diagonals are unlike all of them.
    """
    rows, cols = shape
    line = np.arange(rows + cols - 1) % spacing < thickness
    rising = np.lib.stride_tricks.sliding_window_view(line, cols)  # a view, as a remainder per pixel takes far longer
    return rising[:, ::ruling]


def _fill(canvas: np.ndarray, where: np.ndarray, style: LineStyle, thickness: int) -> None:
    """Lay a tint and thin rulings in the state's colour over its area, the micrograph showing through."""
    if not style.rulings or not where.any():
        return
    rulings = [ruled(where.shape, ruling, RULING_SPACING * thickness, thickness) for ruling in style.rulings]
    for share, place in [(TINT, where), *((RULING, where & ruled) for ruled in rulings)]:
        levels = (1 - share) * np.arange(256)[:, None] + share * np.array(style.colour)
        blended = cv2.LUT(canvas, levels[None].astype(np.uint8))
        cv2.copyTo(blended, place.astype(np.uint8), canvas)


def _outline(canvas: np.ndarray, where: np.ndarray, style: LineStyle, thickness: int) -> None:
    """Draw the edge of a region in a line style, with a dark casing that keeps it visible on light ground."""
    line, casing = outline(where, style, thickness)
    _darken(canvas, casing)
    canvas[line] = style.colour


def outline(where: np.ndarray, style: LineStyle, thickness: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Return the edge of an area, dashed as a state's style says, and the casing around it, (rows, cols) bool each."""
    line = np.zeros(where.shape, np.uint8)
    contours, _ = cv2.findContours(where.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    period = (style.dash + style.gap) * thickness
    for contour in contours:
        points = contour[:, 0, :]
        if style.gap:
            points = points[np.arange(len(points)) % period < style.dash * thickness]
        line[points[:, 1], points[:, 0]] = 1
    if thickness > 1:
        line = cv2.dilate(line, np.ones((thickness, thickness), np.uint8))
    casing = cv2.dilate(line, np.ones((3, 3), np.uint8)).astype(bool) & ~line.astype(bool)
    return line.astype(bool), casing


def _header(width: int, title: str, subtitle: str) -> np.ndarray:
    size = max(15, width // 62)
    strip = Image.new("RGB", (width, round(size * 2.1)), PAPER)
    pen = ImageDraw.Draw(strip)
    bold, plain = _font(size), _font(max(13, round(size * 0.86)))
    middle, margin = strip.height / 2, size // 2
    room = width - 3 * margin - pen.textlength(subtitle, font=plain)
    pen.text((margin, middle), _shorten(pen, title, bold, max(room, width * 0.3)), font=bold, fill=INK, anchor="lm")
    if subtitle:
        pen.text((width - margin, middle), subtitle, font=plain, fill=FAINT, anchor="rm")
    return np.asarray(strip)


def _shorten(pen, text: str, font, room_px: float) -> str:
    """Return text cut at its start, where folders stand, until it fits."""
    if pen.textlength(text, font=font) <= room_px:
        return text
    while text and pen.textlength("…" + text, font=font) > room_px:
        text = text[max(1, len(text) // 40) :]
    return "…" + text


def _footer(width: int, shares: Mapping, pixel_um: float, hatched: bool) -> np.ndarray:
    """Return the strip with the legend on the left and the scale bar on the right, as many lines as it takes."""
    size = max(14, width // 72)
    font = _font(size)
    margin, sample, height = size // 2 + 2, size * 2, round(size * 1.9)
    pen = ImageDraw.Draw(Image.new("RGB", (1, 1)))
    bar_um = round_length_um(0.22 * width * pixel_um)
    bar_px = round(bar_um / pixel_um)
    label = length_text(bar_um)
    bar_room = bar_px + pen.textlength(label, font=font) + 4 * margin
    entries = [(style, f"{style.name} {100 * shares[code]:.1f} %") for code, style in STYLES.items()]
    if hatched:
        entries.append((None, "not assessed"))
    places, left, line = [], margin, 0
    for style, text in entries:
        need = sample + margin / 2 + pen.textlength(text, font=font) + 2 * margin
        if left + need > width - (bar_room if line == 0 else 0) and left > margin:
            left, line = margin, line + 1
        places.append((style, text, left, line))
        left += need
    strip = np.empty((height * (line + 1), width, 3), np.uint8)
    strip[:] = PAPER
    for style, _, left, line in places:
        _sample(strip, style, round(left), round((line + 0.5) * height), sample, size)
    drawn = Image.fromarray(strip)
    pen = ImageDraw.Draw(drawn)
    for _, text, left, line in places:
        pen.text((left + sample + margin / 2, (line + 0.5) * height), text, font=font, fill=INK, anchor="lm")
    right = width - margin
    pen.text((right, height / 2), label, font=font, fill=INK, anchor="rm")
    end = round(right - pen.textlength(label, font=font) - margin)
    half = max(2, size // 6)
    pen.rectangle((end - bar_px, height // 2 - half, end - 1, height // 2 + half), fill=INK)
    return np.asarray(drawn)


def _sample(strip, style: LineStyle | None, left: int, middle: int, length: int, size: int) -> None:
    """Draw the key of one state into a strip of paper."""
    half = round(0.7 * size)
    strip[middle - half : middle + half, left : left + length] = key(style, (2 * half, length), 2)


def key(style: LineStyle | None, shape: tuple[int, int], thickness: int = 1) -> np.ndarray:
    """Return the key of one state, (rows, cols, 3) uint8: outline and area on a grey ground like that of a micrograph.

    style: None for what is not assessed; thickness: of the outline.
    """
    ground = np.full((*shape, 3), 128, np.uint8)
    if style is None:
        _hatch(ground, np.ones(shape, bool), 1)
        return ground
    block = np.zeros(shape, bool)
    block[3:-3, 3:-3] = True
    _fill(ground, block, style, 1)
    _outline(ground, block, style, thickness)
    return ground
