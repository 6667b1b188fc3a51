"""The reading of a data bar: panels and ink, words and shapes, and the one pair of label and bar that nothing contradicts.

Refusing is right and a wrong scale is the worst failure. A pair is accepted only if its label reads alike at several
stretches and sizes, no other pair of comparable standing says another scale, and field width, pixel size and
magnification agree where they are printed and readable.
"""

import math
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from semwear.data_bar.bar_ends import Bar
from semwear.data_bar.ink import Ink, burnt_ink, eight_bit, panel_ink, thickened
from semwear.data_bar.labels import Facts, facts_in
from semwear.data_bar.nested import (
    lies_around_another,
    with_shared_doubt,
    without_boxes,
    without_letters,
    without_other_tones,
    without_outlines,
    without_parts,
)
from semwear.data_bar.other_layers import reads_otherwise
from semwear.data_bar.pairing import Decision, Pair, decide, labels_of, pairs_of
from semwear.data_bar.pieces import stretches_of
from semwear.data_bar.strip import Panel, find_panels
from semwear.data_bar.text_finder import TextFinder
from semwear.data_bar.words import Words, read_words, rows_read_again

SMALLEST_PICTURE_PX = 48
"""Below this many rows or columns nothing printed could be read."""
PANEL_RIM_PX = 3
"""Columns between a panel and a bar that ends there."""
FACT_WAYS = ((False, 0.85), (True, 0.78), (False, 0.6))
"""Ways in which the lines of a data bar are read again: near to binary or not, and the share of the reader's height."""
LOOKED_AT_WITH_NEXT = ("level white ink", "outlined white ink")
"""Layers that settle nothing before the next one is seen."""
KEPT_SHARE = 0.1
"""Picture on the far side of a strip counts as picture from this share of the height on."""


@dataclass(frozen=True, kw_only=True)
class DataBar:
    """What the data bar says and which pixels it covers.

    marks: (rows, cols) bool, True where pixels are strip, inset, burnt-in text or bar, not micrograph. picture: slices
    (rows, cols) of the micrograph proper. bar_label: as read, with its unit, "" if none was accepted. bar_um: its
    length in µm; bar_px: the bar's length in px by the convention of :mod:`semwear.data_bar.bar_ends`; bar_u_px:
    standard uncertainty of bar_px, from both ends and the label's last decimal; all NaN if no bar was accepted.
    ends_px: ((row, col), (row, col)) of the ends, whole numbers at the middle of pixels, or None. kv, magnification,
    printed_pixel_size_um, printed_field_width_um: NaN if unread. detector: "" if unread. texts: every line read.
    reason: why no bar was accepted, "" if one was.
    """

    marks: np.ndarray
    picture: tuple[slice, slice]
    bar_label: str = ""
    bar_um: float = float("nan")
    bar_px: float = float("nan")
    bar_u_px: float = float("nan")
    ends_px: tuple[tuple[float, float], tuple[float, float]] | None = None
    kv: float = float("nan")
    detector: str = ""
    magnification: float = float("nan")
    printed_pixel_size_um: float = float("nan")
    printed_field_width_um: float = float("nan")
    texts: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class _Layer:
    ink: Ink
    words: Words


def read_data_bar(micrograph) -> DataBar:
    """Read the data bar of a micrograph (`pixels`, `rgb` and `white_level` are used); odd pictures give a reason.

    Panels are read first; ink burnt over the picture is searched only if they gave no bar, since that is slower.
    """
    grey = eight_bit(micrograph.pixels, micrograph.white_level)
    rows, cols = grey.shape
    if min(rows, cols) < SMALLEST_PICTURE_PX:
        return _nothing(grey.shape, "the picture is too small to hold a scale bar")
    rgb = micrograph.rgb
    finder = TextFinder(grey)
    panels, layers = _panels(grey, rgb, finder)
    widths_px = tuple({cols, _picture_columns(panels, rows, cols)})
    pairs = [pair for layer in layers for pair in _pairs([layer], width_px=cols)]
    decision, facts = _decided(pairs, layers, widths_px, _texts(layers))
    if decision.pair is None and not decision.final:
        burnt: list[_Layer] = []
        for undecided in _burnt_layers(grey, rgb, panels, finder):
            burnt += undecided
            latest, facts = _decided(_pairs(burnt, width_px=cols), layers + burnt, widths_px, _texts(burnt))
            if latest.pair is not None or latest.final or latest.weight >= decision.weight:
                decision = latest
            if decision.pair is not None or decision.final:
                break
        layers += burnt
    marks = _marks(grey.shape, panels, layers, decision.pair)
    common = dict(
        marks=marks,
        picture=_picture(marks, panels),
        kv=facts.kv,
        detector=facts.detector,
        magnification=facts.magnification,
        printed_pixel_size_um=facts.pixel_size_um,
        printed_field_width_um=facts.field_width_um,
        texts=tuple(_texts(layers)),
    )
    if decision.pair is None:
        return DataBar(**common, reason=decision.reason)
    pair = decision.pair
    bar, ink, label = pair.bar, pair.ink, pair.label.length
    row = ink.row_0 + bar.row_px
    return DataBar(
        **common,
        bar_label=label.text,
        bar_um=label.um,
        bar_px=bar.length_px,
        bar_u_px=float(np.hypot(bar.u_px, bar.length_px * label.rounding_um / label.um / np.sqrt(3))),
        ends_px=((row, ink.col_0 + bar.start_px), (row, ink.col_0 + bar.stop_px)),
    )


def _burnt_layers(grey: np.ndarray, rgb: np.ndarray | None, panels: tuple[Panel, ...], finder: TextFinder):
    """Yield the layers of ink over the picture that must be looked at together, likeliest first.

    What is white may be the outline of black ink, and what has one level the inside of a hollow bar, so that all are looked at.
    """
    together: list[_Layer] = []
    for ink in burnt_ink(grey, rgb, panels):
        words = _off_panels(read_words(ink, width_px=grey.shape[1], finder=finder), panels)
        together.append(_Layer(ink=ink, words=words))
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


def _pairs(layers: list[_Layer], *, width_px: int) -> list[Pair]:
    """Pairs of layers that lie over each other: an outlined label may be readable in one tone and its bar in another."""
    labels = [label for layer in layers for label in labels_of(layer.ink, layer.words)]
    pairs = [pair for layer in layers for pair in pairs_of(layer.ink, layer.words, labels, width_px=width_px)]
    lines = [item.line for layer in layers for item in layer.words.printed if item.is_text]
    pairs = without_parts(without_boxes(with_shared_doubt(without_letters(pairs, lines))))
    return without_other_tones(without_outlines(pairs))


def _texts(layers: list[_Layer]) -> list[str]:
    return [text for layer in layers for text in layer.words.rows]


def _facts(layers: list[_Layer]) -> Facts:
    return facts_in(_texts(layers), [pair for layer in layers for pair in layer.words.columns])


def _decided(
    pairs: list[Pair], layers: list[_Layer], widths_px: tuple[int, ...], texts: list[str]
) -> tuple[Decision, Facts]:
    """Decide for a pair; what contradicts a bar is read again before it is believed."""
    facts = _facts(layers)
    decision = decide(pairs, facts=facts, widths_px=widths_px, texts=texts)
    if decision.pair is None and decision.contradicted:
        facts = _facts_read_again(layers, facts)
        decision = decide(pairs, facts=facts, widths_px=widths_px, texts=texts)
    if decision.pair is not None:
        labels = [label for layer in layers for label in labels_of(layer.ink, layer.words)]
        more = reads_otherwise(decision.pair.label, labels)
        if more:
            text = decision.pair.label.length.text
            decision = Decision(
                pair=None, reason=f"the bar's label reads as {text} and as {more}", final=True, weight=2
            )
    if decision.pair is not None and any(
        lies_around_another(decision.pair, layer.ink, layer.words.bars) for layer in layers
    ):
        text = decision.pair.label.length.text
        decision = Decision(pair=None, reason=f"the bar at the label {text} may be the outline of another", weight=2)
    return decision, facts


def _facts_read_again(layers: list[_Layer], facts: Facts) -> Facts:
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


def _panels(grey: np.ndarray, rgb: np.ndarray | None, finder: TextFinder) -> tuple[tuple[Panel, ...], list[_Layer]]:
    """Find panels and what is on them; a small rectangle that holds neither text nor bar may be the bar itself."""
    panels, layers = [], []
    for panel in find_panels(grey):
        ink = panel_ink(grey, rgb, panel)
        layer = None if ink is None else _Layer(ink=ink, words=read_words(ink, width_px=grey.shape[1], finder=finder))
        printed = layer is not None and (
            any(not bar.doubt for bar in layer.words.bars) or any(item.is_text for item in layer.words.printed)
        )
        if layer is not None and _is_cut_through(layer.words, panel, grey.shape):
            continue
        if printed or panel.col_1 - panel.col_0 >= 0.9 * grey.shape[1]:
            panels.append(panel)
            layers += [] if layer is None else [layer]
    return tuple(panels), layers


def _is_cut_through(words: Words, panel: Panel, shape: tuple[int, int]) -> bool:
    """Tell whether a bar or a line of text runs into a side of a seeming panel: then it is a smooth part of the picture."""
    rows, cols = panel.row_1 - panel.row_0, panel.col_1 - panel.col_0
    if cols >= 0.9 * shape[1] or rows >= 0.9 * shape[0]:
        return False
    boxes = [bar.box for bar in words.bars]
    boxes += [
        (item.line.row_0, item.line.row_1, item.line.col_0, item.line.col_1) for item in words.printed if item.is_text
    ]
    return any(box[0] <= 0 or box[1] >= rows or box[2] <= 0 or box[3] >= cols for box in boxes)


def _picture_columns(panels: tuple[Panel, ...], rows: int, cols: int) -> int:
    """Width of the picture without panels at its side, which printed field widths leave out."""
    beside = sum(
        panel.col_1 - panel.col_0
        for panel in panels
        if panel.row_1 - panel.row_0 >= 0.9 * rows and (panel.col_0 == 0 or panel.col_1 == cols)
    )
    return max(cols - beside, 1)


def _nothing(shape: tuple[int, int], reason: str) -> DataBar:
    return DataBar(marks=np.zeros(shape, bool), picture=(slice(0, shape[0]), slice(0, shape[1])), reason=reason)


def _marks(shape, panels: tuple[Panel, ...], layers: list[_Layer], pair: Pair | None) -> np.ndarray:
    marks = np.zeros(shape, bool)
    for layer in layers:
        if layer.ink.on_panel:
            continue
        ink = np.zeros(shape, bool)
        for printed in layer.words.printed:
            if printed.is_text:
                line = printed.line
                box = np.s_[max(line.row_0 - 2, 0) : line.row_1 + 2, max(line.col_0 - 2, 0) : line.col_1 + 2]
                ink[box] |= layer.ink.plane[box] > (layer.ink.low + layer.ink.high) / 2
        if pair is not None and pair.ink is layer.ink:
            for row_0, row_1, col_0, col_1 in pair.bar.parts:
                ink[max(row_0, 0) : row_1, max(col_0, 0) : col_1] = True
        marks |= thickened(ink, 3)
    for panel in panels:
        marks[panel.slices] = True
        if panel.col_1 - panel.col_0 >= 0.9 * shape[1]:
            marks[panel.slices[0]] = True
            for rest in (slice(0, panel.row_0), slice(panel.row_1, shape[0])):
                if rest.stop - rest.start < 0.05 * shape[0]:
                    marks[rest] = True
    return marks


def _picture(marks: np.ndarray, panels: tuple[Panel, ...]) -> tuple[slice, slice]:
    """Return the smallest box of rows that holds every stretch of picture worth keeping, and the same for columns."""

    def kept(covered: np.ndarray) -> slice:
        large = [stretch for stretch in stretches_of(~covered) if stretch[1] - stretch[0] >= KEPT_SHARE * len(covered)]
        if not large:
            return slice(0, len(covered))
        return slice(int(large[0][0]), int(large[-1][1]))

    return kept(marks.mean(axis=1) > 0.9), kept(marks.mean(axis=0) > 0.9)
