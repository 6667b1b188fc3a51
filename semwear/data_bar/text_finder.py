"""Where text stands on a picture, found by the detector that ships in the wheel of rapidocr, run by onnxruntime.

Over a textured picture the letters of a label touch grooves and grains of the same tone, so that they can't be found as
pieces of ink. The detector (differentiable binarisation, Liao et al. 2020, 10.1609/aaai.v34i07.6812) sees text on any
ground. It costs about half a second per million pixels, so that it looks only around what may be a scale bar.
"""

from functools import lru_cache

import cv2
import numpy as np

LEAST_TEXT = 0.3
"""Value of the detector's map from which a pixel is text."""
SURE_TEXT = 0.55
"""Mean of the map over a box from which it is a line of text."""
MOST_PIXELS = 160_000
"""Larger windows are reduced to this many pixels."""
REACH_SHARE = (0.06, 0.13)
"""Rows and columns around a bar in which its label is looked for, as shares of the picture's width."""
LEAST_REACH_PX = (56, 120)
MEAN, SPREAD = np.array((0.485, 0.456, 0.406), np.float32), np.array((0.229, 0.224, 0.225), np.float32)
"""Mean and spread of the three channels that the detector was trained with."""

Box = tuple[int, int, int, int]


class TextFinder:
    """Finds lines of text around given places of one picture, and looks at no window twice."""

    def __init__(self, grey: np.ndarray) -> None:
        self._grey = grey
        self._windows: list[Box] = []
        self._found: list[Box] = []

    def near(self, box: Box) -> list[Box]:
        """Return the lines of text (row_0, row_1, col_0, col_1) around a box of the picture, as the letters' cores."""
        rows, cols = self._grey.shape
        down, across = (max(least, int(share * cols)) for share, least in zip(REACH_SHARE, LEAST_REACH_PX, strict=True))
        window = (max(box[0] - down, 0), min(box[1] + down, rows), max(box[2] - across, 0), min(box[3] + across, cols))
        if not any(_share_inside(window, searched) > 0.9 for searched in self._windows):
            self._windows.append(window)
            for found in text_boxes(self._grey[window[0] : window[1], window[2] : window[3]]):
                moved = (found[0] + window[0], found[1] + window[0], found[2] + window[2], found[3] + window[2])
                if not any(_share_inside(moved, other) > 0.5 for other in self._found):
                    self._found.append(moved)
        return [found for found in self._found if _share_inside(found, window) > 0.5]


def _share_inside(box: Box, other: Box) -> float:
    rows = min(box[1], other[1]) - max(box[0], other[0])
    cols = min(box[3], other[3]) - max(box[2], other[2])
    return max(rows, 0) * max(cols, 0) / max((box[1] - box[0]) * (box[3] - box[2]), 1)


@lru_cache(maxsize=1)
def _detector():
    """Load the detector once per process: (session, input name)."""
    from semwear.data_bar.text import load_session

    session = load_session("*_det_*.onnx")
    return session, session.get_inputs()[0].name


def text_boxes(grey: np.ndarray) -> list[Box]:
    """Return the lines of text in a (rows, cols) uint8 picture as boxes (row_0, row_1, col_0, col_1) of their cores."""
    rows, cols = grey.shape
    if rows < 8 or cols < 8:
        return []
    scale = min(1.0, (MOST_PIXELS / (rows * cols)) ** 0.5)
    part = grey if scale == 1.0 else cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    high, wide = part.shape
    canvas = np.full(((high + 31) // 32 * 32, (wide + 31) // 32 * 32), float(part.mean()), np.float32)
    canvas[:high, :wide] = part
    values = (canvas / 255 - MEAN[:, None, None]) / SPREAD[:, None, None]
    session, name = _detector()
    chance = session.run(None, {name: values[None]})[0][0, 0][:high, :wide]
    count, labels, stats, _ = cv2.connectedComponentsWithStats((chance > LEAST_TEXT).astype(np.uint8), connectivity=8)
    boxes = []
    for index in range(1, count):
        left, top, width, height, area = (int(value) for value in stats[index])
        if width < 4 or height < 3 or width < 0.8 * height:
            continue
        if float(chance[labels == index].mean()) < SURE_TEXT:
            continue
        edges = np.array((top, top + height, left, left + width)) / scale
        boxes.append(tuple(int(round(edge)) for edge in edges))
    return boxes
