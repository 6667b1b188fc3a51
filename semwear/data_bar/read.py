"""The reading of a data bar: panels and ink, words and shapes, and the one pair of label and bar that nothing contradicts.

Refusing is right and a wrong scale is the worst failure. A pair is accepted only if its label reads alike at several
stretches and sizes, no other pair of comparable standing says another scale, and field width, pixel size and
magnification agree where they are printed and readable.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from semwear.data_bar.bar_parts import goes_on_elsewhere, with_halves_doubted, without_parts
from semwear.data_bar.ink import eight_bit, thickened
from semwear.data_bar.labels import Facts
from semwear.data_bar.layers import (
    Layer,
    burnt_layers,
    facts_of,
    facts_read_again,
    panels_of,
    picture_columns,
    texts_of,
)
from semwear.data_bar.nearer_figures import nearer_figures
from semwear.data_bar.nested import (
    lies_around_another,
    with_inside_doubted,
    with_shared_doubt,
    without_boxes,
    without_letters,
    without_other_tones,
    without_outlines,
)
from semwear.data_bar.other_layers import reads_otherwise
from semwear.data_bar.pairing import Decision, Pair, decide, fits_closely, labels_of, pairs_of, refused
from semwear.data_bar.panel import Panel
from semwear.data_bar.pieces import stretches_of
from semwear.data_bar.plates import plate_doubt
from semwear.data_bar.second_bar import contradiction, read_by_itself, stands_beside
from semwear.data_bar.surroundings import covered_in_another_colour
from semwear.data_bar.text_finder import TextFinder

SMALLEST_PICTURE_PX = 48
"""Below this many rows or columns nothing printed could be read."""
OUTLINE_PX = 0.5
"""Length by which a bar may differ from what is printed where another bar lies within it, which is shorter by an outline of a
pixel on either side at least."""
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
    contradicted_um: pixel size by a bar that was refused since a second bar contradicts it, else NaN, µm. reason: why no
    bar was accepted, "" if one was.
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
    contradicted_um: float = float("nan")
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class _Source:
    """The picture that is read: grey (rows, cols) uint8, rgb (rows, cols, 3) or None.

    widths_px: columns that a printed field width may stand for: all, or those beside panels.
    """

    grey: np.ndarray
    rgb: np.ndarray | None
    widths_px: tuple[int, ...]

    @property
    def width_px(self) -> int:
        return self.grey.shape[1]


def read_data_bar(micrograph) -> DataBar:
    """Read the data bar of a micrograph (`pixels`, `rgb` and `white_level` are used); odd pictures give a reason.

    Panels are read first, and a bar on one of them counts; what is burnt over the picture is covered all the same, and a
    second bar that contradicts the first is a reason to refuse.
    """
    grey, rgb = eight_bit(micrograph.pixels, micrograph.white_level), micrograph.rgb
    if min(grey.shape) < SMALLEST_PICTURE_PX:
        return _nothing(grey.shape, "the picture is too small to hold a scale bar")
    finder = TextFinder(grey)
    panels, layers, plates = panels_of(grey, rgb, finder)
    source = _Source(grey=grey, rgb=rgb, widths_px=tuple({grey.shape[1], picture_columns(panels, *grey.shape)}))
    pairs_by_panel = [_pairs([layer], width_px=source.width_px) for layer in layers]
    decision, facts = _decided(sum(pairs_by_panel, []), layers, source.widths_px, texts_of(layers))
    on_panel = decision.pair is not None or decision.final
    burnt_in = burnt_layers(grey, rgb, panels, finder)
    if on_panel:
        burnt = [layer for together in burnt_in for layer in together]
    else:
        burnt, decision, facts = _decided_over_picture(source, burnt_in, layers, decision, facts)
    layers = layers + burnt
    decision = _refused_if_covered(source, plates, decision, facts)
    read_pairs = [] if decision.pair is None else [decision.pair]
    contradicted_um = float("nan")
    if on_panel and decision.pair is not None:
        read_pairs += _pairs_elsewhere(source, decision.pair, pairs_by_panel, burnt)
        if (contradicted := contradiction(decision.pair, read_pairs)) is not None:
            decision, contradicted_um = contradicted, decision.pair.pixel_size_um
    marks = _marks(grey.shape, panels + plates, layers, read_pairs)
    read = DataBar(
        marks=marks,
        picture=_picture(marks),
        **_fields_of(facts),
        texts=tuple(texts_of(layers)),
        contradicted_um=contradicted_um,
        reason=decision.reason if decision.pair is None else "",
    )
    return read if decision.pair is None else _with_bar(read, decision.pair)


def _decided_over_picture(
    source: _Source, burnt_in: Iterable[list[Layer]], on_panels: list[Layer], decision: Decision, facts: Facts
) -> tuple[list[Layer], Decision, Facts]:
    """Go through layers over the picture until a pair is accepted or no more can help; returns those seen and what they say.

    decision, facts: what the layers on panels say, where that is no answer.
    """
    burnt: list[Layer] = []
    for together in burnt_in:
        burnt += together
        pairs = _pairs(burnt, width_px=source.width_px)
        latest, facts = _decided(pairs, on_panels + burnt, source.widths_px, texts_of(burnt))
        if latest.pair is not None or latest.final or latest.weight >= decision.weight:
            decision = latest
        inside = decision.pair is not None and decision.pair.label.printed.inside is not None
        if (decision.pair is not None and not inside) or decision.final:
            break  # What holds its label may be a plate, with a bar of another tone beside it.
    return burnt, decision, facts


def _refused_if_covered(source: _Source, plates: tuple[Panel, ...], decision: Decision, facts: Facts) -> Decision:
    """Return the decision, or the refusal of a bar that is a mere plate, or of which another mark covers an end."""
    pair = decision.pair
    if pair is None:
        return decision
    if (doubt := plate_doubt(source.grey, pair, plates)) and not fits_closely(pair, facts, source.widths_px):
        return refused(doubt, final=True)
    if source.rgb is not None and _is_covered(source.rgb, pair):
        text = pair.label.length.text
        return refused(f"the bar at the label {text} isn't sure: a mark of another colour covers an end of it", final=True)
    return decision


def _pairs_elsewhere(
    source: _Source, pair: Pair, pairs_by_panel: list[list[Pair]], burnt: list[Layer]
) -> list[Pair]:
    """Return the pairs that are sure by themselves on other panels than that of the accepted pair, and over the picture."""
    elsewhere = [pairs for pairs in pairs_by_panel if pairs and pairs[0].ink is not pair.ink]
    # Nonsense on one bar makes the other doubtful, too.
    over_picture = _pairs(burnt, width_px=source.width_px, any_size=True)
    apart = [read_by_itself(pairs, source.widths_px) for pairs in [*elsewhere, over_picture]]
    return [other for other in apart if other is not None]


def _fields_of(facts: Facts) -> dict[str, float | str]:
    """Return the fields of a data bar that printed facts fill."""
    return dict(
        kv=facts.kv,
        detector=facts.detector,
        magnification=facts.magnification,
        printed_pixel_size_um=facts.pixel_size_um,
        printed_field_width_um=facts.field_width_um,
    )


def _with_bar(read: DataBar, pair: Pair) -> DataBar:
    """Return a data bar with the accepted pair of label and bar."""
    bar, ink, label = pair.bar, pair.ink, pair.label.length
    row = ink.row_0 + bar.row_px
    return replace(
        read,
        bar_label=label.text,
        bar_um=label.um,
        bar_px=bar.length_px,
        bar_u_px=float(np.hypot(bar.u_px, bar.length_px * label.rounding_um / label.um / np.sqrt(3))),
        ends_px=((row, ink.col_0 + bar.start_px), (row, ink.col_0 + bar.stop_px)),
    )


def _pairs(layers: list[Layer], *, width_px: int, any_size: bool = False) -> list[Pair]:
    """Pairs of layers that lie over each other: an outlined label may be readable in one tone and its bar in another.

    any_size: also those by which a pixel would have a size that no micrograph has.
    """
    labels = [label for layer in layers for label in labels_of(layer.ink, layer.words)]
    pairs = [
        pair
        for layer in layers
        for pair in pairs_of(layer.ink, layer.words, labels, width_px=width_px, any_size=any_size)
    ]
    lines = [item.line for layer in layers for item in layer.words.printed if item.is_text]
    pairs = with_halves_doubted(with_inside_doubted(with_shared_doubt(without_letters(pairs, lines))))
    pairs = without_parts(without_boxes(pairs))
    return without_other_tones(without_outlines(pairs))


def _decided(
    pairs: list[Pair], layers: list[Layer], widths_px: tuple[int, ...], texts: list[str]
) -> tuple[Decision, Facts]:
    """Decide for a pair; what contradicts a bar is read again before it is believed."""
    facts = facts_of(layers)
    decision = decide(pairs, facts=facts, widths_px=widths_px, texts=texts)
    if decision.pair is None and decision.contradicted:
        facts = facts_read_again(layers, facts)
        decision = decide(pairs, facts=facts, widths_px=widths_px, texts=texts)
    if decision.pair is not None:
        labels = [label for layer in layers for label in labels_of(layer.ink, layer.words)]
        more = reads_otherwise(decision.pair.label, labels)
        if more:
            text = decision.pair.label.length.text
            decision = refused(f"the bar's label reads as {text} and as {more}", final=True)
    if decision.pair is not None and (said := _objection(decision.pair, layers, facts, widths_px)):
        decision = refused(said)
    return decision, facts


def _objection(pair: Pair, layers: list[Layer], facts: Facts, widths_px: tuple[int, ...]) -> str:
    """Return what else is printed that speaks against a pair, unless a printed size proves it; "" if nothing does."""
    text = pair.label.length.text
    if nearer := nearer_figures(pair, [(layer.ink, layer.words) for layer in layers]):
        return f"{nearer} stands nearer to the bar than its seeming label {text}"

    def stands(check) -> bool:
        return any(check(pair, layer.ink, layer.words.bars) for layer in layers)

    if stands(stands_beside) and not fits_closely(pair, facts, widths_px):
        return f"the bar that holds the label {text} may be a plate, since another bar stands beside it"
    if stands(lies_around_another) and not fits_closely(pair, facts, widths_px, within_px=OUTLINE_PX):
        return f"the bar at the label {text} may be the outline of another"
    if stands(goes_on_elsewhere) and not fits_closely(pair, facts, widths_px):
        return f"the row of ticks at the label {text} goes on where its ink is harder to see"
    return ""


def _is_covered(rgb: np.ndarray, pair: Pair) -> bool:
    row_0, row_1, col_0, col_1 = pair.bar.box
    down, right = pair.ink.row_0, pair.ink.col_0
    return covered_in_another_colour(rgb, (row_0 + down, row_1 + down, col_0 + right, col_1 + right))


def _nothing(shape: tuple[int, int], reason: str) -> DataBar:
    return DataBar(marks=np.zeros(shape, bool), picture=(slice(0, shape[0]), slice(0, shape[1])), reason=reason)


def _marks(shape, panels: tuple[Panel, ...], layers: list[Layer], pairs: list[Pair]) -> np.ndarray:
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
        for pair in pairs:
            if pair.ink is not layer.ink:
                continue
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


def _picture(marks: np.ndarray) -> tuple[slice, slice]:
    """Return the smallest box of rows that holds every stretch of picture worth keeping, and the same for columns."""

    def kept(covered: np.ndarray) -> slice:
        large = [stretch for stretch in stretches_of(~covered) if stretch[1] - stretch[0] >= KEPT_SHARE * len(covered)]
        if not large:
            return slice(0, len(covered))
        return slice(int(large[0][0]), int(large[-1][1]))

    return kept(marks.mean(axis=1) > 0.9), kept(marks.mean(axis=0) > 0.9)
