"""Letters and marks for data bars: Pillow's bundled face, or opencv's stroke letters. Canvas values are 0 to 1."""

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont


def outlined(text, size):
    """Coverage (0-1) of a text in the bundled face, which lacks µ: it is drawn as a u with a tail."""
    face = ImageFont.load_default(size)
    pieces = text.split("µ")
    width = int(face.getlength(text.replace("µ", "u"))) + 8
    image = Image.new("L", (width, int(size * 1.5) + 2), 0)
    draw = ImageDraw.Draw(image)
    x = 2.0
    for number, piece in enumerate(pieces):
        if number:
            box = draw.textbbox((x, 0), "u", font=face)
            draw.text((x, 0), "u", font=face, fill=255)
            thick = max(1, round(size / 11))
            draw.rectangle((box[0], box[1], box[0] + thick - 1, box[3] + round(size * 0.22)), fill=255)
            x += face.getlength("u")
        draw.text((x, 0), piece, font=face, fill=255)
        x += face.getlength(piece)
    return _cropped(np.asarray(image, np.float32) / 255)


def stroked(text, size):
    """Coverage of a text in opencv's plain letters; they have no µ, so µm is written um, as old frame stores did."""
    scale, thick = size / 30, max(1, round(size / 14))
    text = text.replace("µ", "u").replace("°", " deg")
    (width, height), below = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, thick)
    canvas = np.zeros((height + below + 6, width + 6), np.uint8)
    cv2.putText(canvas, text, (3, height + 3), cv2.FONT_HERSHEY_SIMPLEX, scale, 255, thick, cv2.LINE_AA)
    return _cropped(canvas.astype(np.float32) / 255)


def _cropped(coverage):
    rows, columns = np.flatnonzero(coverage.max(axis=1) > 0.1), np.flatnonzero(coverage.max(axis=0) > 0.1)
    return coverage[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def stamp(canvas, coverage, x, y, ink, touched=None):
    """Lay ink with its top left at x, y; touched takes note of the pixels."""
    x, y = int(round(x)), int(round(y))
    height, width = coverage.shape
    height, width = min(height, canvas.shape[0] - y), min(width, canvas.shape[1] - x)
    coverage = coverage[:height, :width]
    window = (slice(y, y + height), slice(x, x + width))
    canvas[window] = canvas[window] * (1 - coverage) + ink * coverage
    if touched is not None:
        touched[window] |= coverage > 0.02


def block(canvas, x, y, width, height, ink, touched=None):
    window = (slice(max(int(y), 0), int(y) + int(height)), slice(max(int(x), 0), int(x) + int(width)))
    canvas[window] = ink
    if touched is not None:
        touched[window] = True


def ruler(canvas, style, x, y, length, thick, ink, paper, touched=None):
    """A scale bar from column x, exactly `length` columns long, centred on row y."""
    if style == "solid":
        block(canvas, x, y - thick // 2, length, thick, ink, touched)
    elif style == "ends":
        tall = 4 * thick
        block(canvas, x, y - thick // 2, length, thick, ink, touched)
        for end in (x, x + length - thick):
            block(canvas, end, y - tall // 2, thick, tall, ink, touched)
    elif style == "chequered":
        tall = 3 * thick
        block(canvas, x, y - tall // 2 - 1, length, tall + 2, ink, touched)
        cuts = np.round(np.linspace(0, length, 6)).astype(int)
        for left, right in zip(cuts[1::2], cuts[2::2], strict=False):
            block(canvas, x + left, y - tall // 2, right - left, tall, paper, touched)
    elif style == "comb":
        block(canvas, x, y, length, thick, ink, touched)
        for number, place in enumerate(np.round(np.linspace(0, length - thick, 11)).astype(int)):
            tall = (5 if number % 5 == 0 else 3) * thick
            block(canvas, x + place, y - tall, thick, tall, ink, touched)
    elif style == "hollow":
        tall = 3 * thick
        block(canvas, x, y - tall // 2, length, tall, ink, touched)
        block(canvas, x + thick, y - tall // 2 + thick, length - 2 * thick, tall - 2 * thick, paper, touched)
    elif style == "arrows":
        block(canvas, x, y - thick // 2, length, thick, ink, touched)
        for step in range(4 * thick):
            tall = step // 2 + thick
            block(canvas, x + step, y - tall // 2, 1, tall, ink, touched)
            block(canvas, x + length - 1 - step, y - tall // 2, 1, tall, ink, touched)
    else:
        raise ValueError(style)
