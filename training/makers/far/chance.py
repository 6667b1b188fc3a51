"""Random lines and cloths, and turning a canvas drawn along a direction into the picture."""

import math

import cv2
import numpy as np


def line(rng, length, cell):
    """Smooth random curve of unit-like spread; cell is its correlation length in pixels."""
    cell = max(cell, 1.0)
    knots = rng.normal(size=(1, int(length / cell) + 5)).astype(np.float32)
    size = int(knots.shape[1] * cell) + 1
    start = int(rng.uniform(0, size - length))
    return cv2.resize(knots, (size, 1), interpolation=cv2.INTER_CUBIC)[0, start : start + length]


def cloth(rng, shape, rows, columns=None):
    """Smooth random picture; rows and columns are its correlation lengths in pixels."""
    columns = rows if columns is None else columns
    rows, columns = max(rows, 1.0), max(columns, 1.0)
    knots = rng.standard_normal((int(shape[0] / rows) + 4, int(shape[1] / columns) + 4), dtype=np.float32)
    size = (int(knots.shape[1] * columns), int(knots.shape[0] * rows))
    if size != knots.shape[::-1]:
        knots = cv2.resize(knots, size, interpolation=cv2.INTER_CUBIC)
    top, left = rng.integers(0, size[1] - shape[0] + 1), rng.integers(0, size[0] - shape[1] + 1)
    return np.ascontiguousarray(knots[top : top + shape[0], left : left + shape[1]])


def ramp(values, low, high):
    """0 below low, 1 above high, smooth between."""
    share = np.clip((values - low) / (high - low), 0, 1)
    return share * share * (3 - 2 * share)


def canvas_side(shape):
    """Side of a square canvas that covers the picture at any turn."""
    return math.ceil(math.hypot(*shape)) + 8


def turned(canvas, degrees, shape, nearest=False):
    """The picture's window of a canvas whose rows run along `degrees` (anticlockwise on the screen, 0 along a row)."""
    side = canvas.shape[0]
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    x0, y0, middle = (shape[1] - 1) / 2, (shape[0] - 1) / 2, (side - 1) / 2
    matrix = np.array([[cos, -sin, middle - cos * x0 + sin * y0], [sin, cos, middle - sin * x0 - cos * y0]])
    how = (cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR) | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(canvas, matrix, shape[::-1], flags=how, borderMode=cv2.BORDER_REFLECT)


def stroke_cloth(rng, shape, degrees, across, along):
    """Random picture drawn out along a direction."""
    side = canvas_side(shape)
    return turned(cloth(rng, (side, side), across, along), degrees, shape)


def blur(picture, sigma):
    """Gaussian; wide ones are done on a shrunken picture."""
    if sigma < 0.25:
        return picture
    if sigma > 8:
        step = sigma / 3
        small = cv2.resize(picture, None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), 3, borderType=cv2.BORDER_REFLECT)
        return cv2.resize(small, picture.shape[::-1], interpolation=cv2.INTER_CUBIC)
    return cv2.GaussianBlur(picture, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
