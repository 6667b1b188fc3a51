"""The layers of ink of a picture with the words and bars in them: those on panels, and those burnt over the picture."""

import math
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from semwear.data_bar.bar_ends import Bar
from semwear.data_bar.dot_print import joined_dots
from semwear.data_bar.ink import Ink, burnt_ink, panel_ink
from semwear.data_bar.labels import Facts, facts_in
from semwear.data_bar.panel import Panel
from semwear.data_bar.plates import is_bar_itself
from semwear.data_bar.strip import find_panels
from semwear.data_bar.text_finder import TextFinder
from semwear.data_bar.words import Words, read_words, rows_read_again

PANEL_RIM_PX = 3
"""Columns between a panel and a bar that ends there."""
BLOCK_SHARE = 0.6
"""Height of a mark over that of the seeming panel around it from which both are blocks of one bar: a box leaves more room."""
EDGE_SHARE = 0.05
"""Share of the height within which a strip lies at the picture's edge."""
FACT_WAYS = ((False, 0.85), (True, 0.78), (False, 0.6))
"""Ways in which the lines of a data bar are read again: near to binary or not, and the share of the reader's height."""
LOOKED_AT_WITH_NEXT = ("level white ink", "outlined white ink")
"""Layers that settle nothing before the next one is seen."""


@dataclass(frozen=True, kw_only=True)
class Layer:
    """A layer of ink and what was read in it."""

    ink: Ink
    words: Words


def texts_of(layers: list[Layer]) -> list[str]:
    return [text for layer in layers for text in layer.words.rows]


def facts_of(layers: list[Layer]) -> Facts:
    return facts_in(texts_of(layers), [pair for layer in layers for pair in layer.words.columns])


def facts_read_again(layers: list[Layer], facts: Facts) -> Facts:
    """Return the facts as most of several readings have them; what comes out in as many ways as readings is unread."""
    columns = [pair for layer in layers for pair in layer.words.columns]
    others = [facts]
    for hard, share in FACT_WAYS:
        rows = [row for layer in layers for row in rows_read_again(layer.words, hard=hard, height_share=share)]
        others.append(facts_in(rows, columns))
    settled = {}
    for name in ("magnification", "pixel_size_um", "field_width_um"):
        ranked = Counter(
            value for value in (getattr(one, name) for one in others) if not math.isnan(value)
        ).most_common(2)
        sure = bool(ranked) and (len(ranked) == 1 or ranked[0][1] > ranked[1][1])
        settled[name] = ranked[0][0] if sure else math.nan
    return replace(facts, **settled)


def panels_of(
    grey: np.ndarray, rgb: np.ndarray | None, finder: TextFinder
) -> tuple[tuple[Panel, ...], list[Layer], tuple[Panel, ...]]:
    """Return panels, what is on them, and plates: rectangles that hold a label alone and may be the bar, looked at as burnt in.

    A small rectangle that holds neither text nor bar may be the bar, too.
    """
    panels, layers, plates = [], [], []
    for panel in find_panels(grey):
        drawn = panel_ink(grey, rgb, panel)
        ink = None if drawn is None else (joined_dots(drawn) or drawn)
        layer = None
        if ink is not None:
            layer = Layer(ink=ink, words=read_words(ink, width_px=grey.shape[1], finder=finder, drawn=drawn))
        printed = layer is not None and (
            any(not bar.doubt for bar in layer.words.bars) or any(item.is_text for item in layer.words.printed)
        )
        if layer is not None and is_bar_itself(layer.words, panel, grey.shape):
            plates.append(panel)
            continue
        if layer is not None and (_is_cut_through(layer, panel, grey.shape) or _is_of_blocks(layer.words, panel)):
            continue
        if printed or _is_strip(panel, layer, grey.shape):
            panels.append(panel)
            layers += [] if layer is None else [layer]
    return tuple(panels), layers, tuple(plates)


def _is_strip(panel: Panel, layer: Layer | None, shape: tuple[int, int]) -> bool:
    """Tell whether a rectangle in which nothing was read is a strip: as wide as the picture, and marked or at its edge. A blank
    band with picture on either side is charging or a loss of signal."""
    at_edge = panel.row_0 < EDGE_SHARE * shape[0] or panel.row_1 > (1 - EDGE_SHARE) * shape[0]
    quarter = (panel.row_1 - panel.row_0) // 4
    marked = layer is not None and bool(layer.ink.mask[quarter:-quarter or None].any())  # its sides may be ragged
    return (at_edge or marked) and panel.col_1 - panel.col_0 >= 0.9 * shape[1]


def _is_cut_through(layer: Layer, panel: Panel, shape: tuple[int, int]) -> bool:
    """Tell whether a bar or a line of text runs into a side of a seeming panel: then it is a smooth part of the picture, or
    of a box whose sides weren't found."""
    words, mask = layer.words, layer.ink.mask
    rows, cols = panel.row_1 - panel.row_0, panel.col_1 - panel.col_0
    if cols >= 0.9 * shape[1] or rows >= 0.9 * shape[0]:
        return False
    lines = [item.line for item in words.printed if item.is_text]
    boxes = [bar.box for bar in words.bars] + [(line.row_0, line.row_1, line.col_0, line.col_1) for line in lines]
    begun = [line for line in lines if mask[max(line.row_0, 0) : line.row_1, 0].any() and line.col_0 < line.letter_px / 2]
    return bool(begun) or any(box[0] <= 0 or box[1] >= rows or box[2] <= 0 or box[3] >= cols for box in boxes)


def _is_of_blocks(words: Words, panel: Panel) -> bool:
    """Tell whether a seeming panel holds no text and a mark nearly as high as itself: then both are blocks of one bar."""
    high = panel.row_1 - panel.row_0
    printed = any(item.is_text for item in words.printed)
    return bool(words.bars) and not printed and all(bar.row_1 - bar.row_0 >= BLOCK_SHARE * high for bar in words.bars)


def picture_columns(panels: tuple[Panel, ...], rows: int, cols: int) -> int:
    """Width of the picture without panels at its side, which printed field widths leave out."""
    beside = sum(
        panel.col_1 - panel.col_0
        for panel in panels
        if panel.row_1 - panel.row_0 >= 0.9 * rows and (panel.col_0 == 0 or panel.col_1 == cols)
    )
    return max(cols - beside, 1)


def burnt_layers(grey: np.ndarray, rgb: np.ndarray | None, panels: tuple[Panel, ...], finder: TextFinder):
    """Yield the layers of ink over the picture that must be looked at together, likeliest first.

    What is white may be the outline of black ink, and what has one level the inside of a hollow bar, so that all are looked at.
    """
    together: list[Layer] = []
    for ink in burnt_ink(grey, rgb, panels):
        words = _off_panels(read_words(ink, width_px=grey.shape[1], finder=finder), panels)
        together.append(Layer(ink=ink, words=words))
        if ink.name not in LOOKED_AT_WITH_NEXT:
            yield together
            together = []
    if together:
        yield together


def _off_panels(words: Words, panels: tuple[Panel, ...]) -> Words:
    """Return burnt-in words and bars without those that a panel covers, or that are a frame around one."""

    def is_off(row_0: int, row_1: int, col_0: int, col_1: int) -> bool:
        for panel in panels:
            rows = min(row_1, panel.row_1) - max(row_0, panel.row_0)
            cols = min(col_1, panel.col_1) - max(col_0, panel.col_0)
            least = min((row_1 - row_0) * (col_1 - col_0), (panel.row_1 - panel.row_0) * (panel.col_1 - panel.col_0))
            if max(rows, 0) * max(cols, 0) > 0.5 * least:
                return False
        return True

    printed = tuple(
        item for item in words.printed if is_off(item.line.row_0, item.line.row_1, item.line.col_0, item.line.col_1)
    )
    bars = tuple(bar for bar in words.bars if is_off(*bar.box) and not any(_ends_at(bar, panel) for panel in panels))
    return replace(words, bars=bars, printed=printed)


def _ends_at(bar: Bar, panel: Panel) -> bool:
    """Tell whether a bar over the picture ends at a side of a panel, under which it may go on."""
    rows = min(bar.row_1, panel.row_1) - max(bar.row_0, panel.row_0)
    return rows > 0 and min(abs(bar.col_0 - panel.col_1), abs(bar.col_1 - panel.col_0)) <= PANEL_RIM_PX
