"""Pairs of label and bar, and the decision for one of them or for none."""

import math
from dataclasses import dataclass, replace

import numpy as np

from semwear.data_bar.bar_ends import BOX_OF_LABEL, LEAST_SOLID, Bar
from semwear.data_bar.bars import SHORTEST_BAR_PX
from semwear.data_bar.ink import Ink
from semwear.data_bar.label_check import VOTES_NEEDED, label_doubt
from semwear.data_bar.label_point import Label, end_columns, label_columns, leaves_room
from semwear.data_bar.labels import PIXEL_SIZES_UM, Facts, lengths_in
from semwear.data_bar.lines import Line
from semwear.data_bar.surroundings import doubt_on_panel, doubt_over_picture
from semwear.data_bar.words import Words

SHAPE_STANDING = {"ticked": 1.0, "split": 1.0, "ticks": 1.0, "filled": 0.9, "line": 0.75}
"""How telling a shape is (this project's own weights)."""
RIVAL_SHARE = 0.6
"""A pair of at least this share of the best pair's standing is a rival."""
FARTHEST_ON_PANEL = 6.0
"""Distance in letter heights beyond which a label on the bar's own panel loses no more standing."""
FARTHEST_OVER_PICTURE = 10.0
"""Distance in letter heights beyond which a label over the picture doesn't belong to a bar."""
LEAST_SHARE = 0.25
"""A pair that printed facts speak for needs this share of the standing of the best pair, which they speak against."""
LONGEST_SHARE = 0.8
"""Longest bar, as a share of the picture's width."""
SAME_SCALE = 0.02
"""Relative difference of pixel size up to which two pairs say the same."""
FACT_TOLERANCE = 0.03
"""Relative difference from a printed field width or pixel size, besides the bar's own uncertainty."""
SAME_BAR_PX = 1.5
"""Length by which the same bar may differ from one layer of ink to another."""
ROW_TOUCHES = 0.1
"""Share of the height of a row of ticks up to which it only touches the box of a line, which facts beside a label make higher."""
CLOSE_PX = 1.5
"""Length by which a doubted bar may differ from what is printed."""
DISPLAY_WIDTH_MM = (40.0, 900.0)
"""Field width times magnification: displays and prints on which instruments base their magnification."""
INSIDE_ASIDE = 0.15
"""Share of a bar's length by which a label inside it may lie off its middle: in a box without a bar it may stand anywhere."""
FEWEST_TICKS, TICK_BESIDE = 5, 1.5
"""Ticks of a bar at least whose last one may be read as a figure of its label, and how near it stands, in heights of a letter: no 1
stands in the rhythm of so many ticks by chance."""
ON_TICK = 0.5
"""How far a 1 may stand from the last tick of a row that it was read from, in heights of a letter."""
FULL_INK, THICK_PX = 230.0, 5
"""Grey of a layer's plane from which a pixel is at the end of the range; rows of a bar of which some are ink all over."""
SOFT_WALL = 128.0
"""Grey from which the walls of a bar that isn't solid are ink."""
HUNG = 1.5
"""How far the middle of two ticks may lie above or below the label between them, in heights of a letter: halves of a line may not."""
SHORTEST_OVER_PICTURE = 1.5
"""Length of a bar over the picture at least, in letter heights: shorter pieces are strokes and cells of other marks."""
SHORTEST_SHAPE = 1.5
"""Length over height of a plain bar at least: a shorter one is a mark of another kind."""
MOST_INKS = 3
"""Layers of ink in which a label is read before it counts as unsure."""


@dataclass(frozen=True, kw_only=True)
class Pair:
    """A label and a bar; standing 0..1 by shape and nearness. ink: the layer of the bar."""

    ink: Ink
    label: Label
    bar: Bar
    standing: float

    @property
    def pixel_size_um(self) -> float:
        return self.label.length.um / self.bar.length_px


@dataclass(frozen=True, kw_only=True)
class Decision:
    """The accepted pair, or None with the reason; final: whether looking at other ink can't lift the refusal.

    contradicted: whether printed facts speak against every pair, so that they must be read again.
    weight: how much was seen, to keep the most telling reason: 0 nothing, 1 a label, 2 a label and a bar.
    """

    pair: Pair | None
    reason: str
    final: bool = False
    contradicted: bool = False
    weight: int = 0


def says_the_same(one: Pair, other: Pair) -> bool:
    """Tell whether two pairs have labels of the same length and bars that differ by no more than their ends may."""
    return one.label.length.um == other.label.length.um and abs(one.bar.length_px - other.bar.length_px) <= SAME_BAR_PX


def labels_of(ink: Ink, words: Words) -> list[Label]:
    """Return the lengths of a layer that may label a bar."""
    return [
        Label(ink=ink if printed.inside else words.ink, printed=printed, length=length)
        for printed in words.printed
        for length in printed.lengths
        if length.may_label
    ]


def pairs_of(ink: Ink, words: Words, labels: list[Label], *, width_px: int, any_size: bool = False) -> list[Pair]:
    """Return every pair of one of the labels and a bar of a layer that is possible at all, best first.

    any_size: also those by which a pixel would have a size that no micrograph has.
    """
    pairs = []
    for label in labels:
        foreign = _is_of_another_tone(label.ink, ink)
        for bar in words.bars:
            if foreign and not (label.ink.cut_out and ink.cut_out and _is_full_ink(ink, bar, solid=True)):
                continue
            thick = bar.kind in ("filled", "line") and bar.thickness_px >= THICK_PX
            if thick and ink.name.startswith("outlined") and not _is_full_ink(ink, bar):
                continue
            standing = _standing(ink, label, bar, width_px)
            possible = any_size or PIXEL_SIZES_UM[0] <= label.length.um / bar.length_px <= PIXEL_SIZES_UM[1]
            if standing > 0.05 and possible:
                if not bar.doubt:
                    doubt = doubt_on_panel if ink.on_panel else doubt_over_picture
                    bar = replace(bar, doubt=doubt(ink, label, bar))
                pairs.append(Pair(ink=ink, label=label, bar=bar, standing=standing))
    return sorted(pairs, key=lambda pair: -pair.standing)


def _is_of_another_tone(one: Ink, other: Ink) -> bool:
    """Tell whether two layers over the picture are of different tones."""
    return not one.on_panel and not other.on_panel and one.tone != other.tone


def _is_full_ink(ink: Ink, bar: Bar, *, solid: bool = False) -> bool:
    """Tell whether a bar is of full ink all along, in most of its rows if it must be solid: the picture inside a hollow bar or an outline is not."""
    row_0, row_1, col_0, col_1 = bar.parts[0]
    part = ink.plane[row_0:row_1, col_0 + 1 : col_1 - 1]
    if not part.size:
        return False
    along = np.median(part, axis=0) if solid else part.max(axis=0)
    # The thin walls of a hollow or chequered bar may be soft; the picture inside one has no walls of its own.
    walled = not solid and 0 < ink.mask[row_0:row_1, col_0:col_1].mean() < LEAST_SOLID
    return float(np.percentile(along, 10)) >= (SOFT_WALL if walled else FULL_INK)


def _standing(ink: Ink, label: Label, bar: Bar, width_px: int) -> float:
    line = label.printed.line
    tall = line.letter_px
    rows, cols = ink.mask.shape
    least = 0.9 if ink.on_panel else SHORTEST_OVER_PICTURE
    if not max(SHORTEST_BAR_PX, least * tall) <= bar.length_px <= LONGEST_SHARE * width_px:
        return 0.0
    if bar.doubt and bar.length_px < 2.5 * tall:
        return 0.0
    if bar.kind in ("filled", "line") and bar.length_px < SHORTEST_SHAPE * (bar.row_1 - bar.row_0):
        return 0.0
    if ink.on_panel:
        at_rim = bar.row_0 <= 3 or bar.row_1 >= rows - 3
        rule = bar.length_px > (0.5 if bar.thickness_px <= 2 else 0.95) * cols
        if at_rim and rule or bar.length_px > 0.995 * cols:
            return 0.0
    col_0, col_1 = label_columns(label)
    if label.printed.inside is None and _is_made_of(bar, label):
        return 0.0
    if (
        bar.kind != "split"
        and bar.doubt != BOX_OF_LABEL  # A hollow bar with its label inside looks the same: what else is printed may prove it.
        and label.printed.inside is None
        and (_is_part_of_text(bar, label) or _is_ground(bar, label))
    ):
        return 0.0
    if bar.kind == "split":
        upright = all(row_1 - row_0 > right - left for row_0, row_1, left, right in bar.parts)
        hung = HUNG * tall if upright else 0.0
        if not (_fills_gap(label, bar) and line.row_0 - 2 - hung <= bar.row_px <= line.row_1 + 2 + hung):
            return 0.0
        distance = 0.0
    elif label.printed.inside is not None:
        aside = abs((bar.col_0 + bar.col_1) - sum(end_columns(label))) / 2
        if label.printed.inside is not bar or aside > INSIDE_ASIDE * bar.length_px:
            return 0.0
        distance = 0.0
    else:
        across = max(0.0, bar.col_0 - col_1, col_0 - bar.col_1)
        down = max(0.0, bar.row_0 - line.row_1, line.row_0 - bar.row_1)
        if across == 0 and down <= 0.15 * tall and bar.length_px < 2 * tall:
            return 0.0  # A stroke of a letter, or of its outline.
        distance = (0.5 * across + down) / tall
        if not ink.on_panel and distance > FARTHEST_OVER_PICTURE:
            return 0.0
        if ink.on_panel:
            distance = min(distance, FARTHEST_ON_PANEL)
        if across == 0:
            offset = abs((bar.col_0 + bar.col_1) - (col_0 + col_1)) / 2
            distance += 0.1 * offset / tall
    doubted = 0.5 if bar.doubt else 1.0
    long = min(1.0, bar.length_px / (2.5 * tall))
    return SHAPE_STANDING[bar.kind] * doubted * long / (1 + 0.2 * distance)


def _is_made_of(bar: Bar, label: Label) -> bool:
    """Tell whether an end of the bar stands where a figure or letter of the label was read."""
    line = label.printed.line
    first, last = end_columns(label)
    for row_0, row_1, left, right in bar.parts:
        rows = min(row_1, line.row_1) - max(row_0, line.row_0)
        beside = right - left < line.letter_px and rows > 0.4 * (row_1 - row_0)
        if beside and right > first - 0.3 * line.letter_px and left < last + 0.3 * line.letter_px:
            return True
    return False


def _is_part_of_text(bar: Bar, label: Label) -> bool:
    """Tell whether a shape lies within the box of the label's own line, where it is made of letters."""
    line, places = label.printed.line, label.printed.reading.places
    row_0, row_1, col_0, col_1 = bar.box if bar.is_row else bar.parts[0]
    rows = min(row_1, line.row_1) - max(row_0, line.row_0)
    cols = min(col_1, line.col_1) - max(col_0, line.col_0)
    if bar.is_row and places:
        # The box of a line may be wider than what was read in it.
        first, last = (line.col_0 + (line.col_1 - line.col_0) * place for place in (places[0], places[-1]))
        cols = min(cols, col_1 - first + 0.5 * line.letter_px, last + 0.5 * line.letter_px - col_0)
    if bar.is_row and rows > ROW_TOUCHES * (row_1 - row_0) and cols > 2:
        return True
    return rows > 0.4 * (row_1 - row_0) and cols > 0.4 * (col_1 - col_0)


def _is_ground(bar: Bar, label: Label) -> bool:
    """Tell whether a shape lies behind the label's line: the ground of a box, in another tone than the label."""
    line = label.printed.line
    row_0, row_1, col_0, col_1 = bar.parts[0]
    rows = min(row_1, line.row_1) - max(row_0, line.row_0)
    cols = min(col_1, line.col_1) - max(col_0, line.col_0)
    return rows > 0.6 * (line.row_1 - line.row_0) and cols > 0.6 * (line.col_1 - line.col_0)


def _fills_gap(label: Label, bar: Bar) -> bool:
    """Tell whether a label stands in the gap of a split bar and nothing else does: its line may be boxed more widely."""
    reading, length = label.printed.reading, label.length
    first, last = end_columns(label)
    alone = not (reading.text[: length.start] + reading.text[length.stop :]).strip()
    low, high = bar.gap
    if not alone:
        col_0, col_1 = label_columns(label)
        return low - 2 <= col_0 and col_1 <= high + 2
    return low <= first and last <= high


def decide(pairs: list[Pair], *, facts: Facts, widths_px: tuple[int, ...], texts: list[str]) -> Decision:
    """Choose the one pair that nothing contradicts, or give the reason why none is accepted."""
    pairs = sorted(_without_ticks_read_as_1(pairs), key=lambda pair: -pair.standing)
    if not pairs:
        lengths = [length for text in texts for length in lengths_in(text) if length.may_label]
        if lengths:
            return Decision(pair=None, reason=f"a label {lengths[0].text} was read, but no bar near it", weight=1)
        return Decision(pair=None, reason="no scale bar with a readable label was found")
    agreements = {id(pair): _agreement(pair, facts, widths_px) for pair in pairs}
    rare = pairs[0].label.length.text
    pairs = [pair for pair in pairs if not pair.label.length.needs_proof or agreements[id(pair)] == "proven"]
    if not pairs:
        return refused(f"few instruments print a bar of {rare}, and nothing printed beside it proves that it is one")
    best = pairs[0]
    viable = [pair for pair in pairs if agreements[id(pair)] in VOTES_NEEDED]
    proven = [pair for pair in viable if agreements[id(pair)] == "proven"]
    for chosen in (proven, viable):
        if chosen and chosen[0].standing >= LEAST_SHARE * best.standing:
            best, pairs = chosen[0], chosen
            break
    else:
        reason = f"the scale bar ({said(best)}) contradicts {agreements[id(best)]}"
        return replace(refused(reason, final=not best.bar.doubt), contradicted=True)
    rivals = [
        pair
        for pair in pairs
        if pair.standing >= RIVAL_SHARE * best.standing
        and abs(pair.pixel_size_um / best.pixel_size_um - 1) > SAME_SCALE
        and not says_the_same(pair, best)
        and not _is_rule_beside(pair, best)
        and not _is_rim_at_edge(pair)
        and not _has_its_own_bar(pair, best, pairs)
    ]
    if rivals and best not in proven:
        settled = _settled([best, *rivals], pairs, agreements)
        if settled is not None:
            return Decision(pair=settled, reason="")
        return refused(
            f"two readings compete: {said(best)} and {said(rivals[0])}",
            final=not (best.bar.doubt and rivals[0].bar.doubt),
        )
    if best.bar.doubt and not (best in proven and fits_closely(best, facts, widths_px)):
        return refused(f"the bar at the label {best.label.length.text} isn't sure: {best.bar.doubt}")
    reason, accepted = "", None
    same = [best, *_same_in_other_ink(best, pairs)]
    for pair in same[:MOST_INKS]:
        doubt, contradicted = _label_doubt(pair, agreements[id(pair)])
        if not doubt:
            accepted = pair
            break
        reason = reason or doubt
        if contradicted:
            break
    # A layer that holds nothing but print is the better witness against a label.
    witnesses = [pair.label for pair in same if pair.label.ink.cut_out]
    if accepted is not None and agreements[id(accepted)] != "proven" and any(leaves_room(label) for label in witnesses):
        return refused(f"the bar's label {best.label.length.text} may hold a decimal point that wasn't read")
    return refused(reason) if accepted is None else Decision(pair=accepted, reason="")


def _label_doubt(pair: Pair, agreement: str) -> tuple[str, bool]:
    return label_doubt(
        pair.label,
        agreement,
        bar_px=pair.bar.length_px,
        bar_col=pair.ink.col_0 + pair.bar.col_0,
        after_tick=_ends_in_tick_before(pair),
    )


def _ends_in_tick_before(pair: Pair) -> bool:
    """Tell whether the label stands so close behind the last of many ticks that this one may be read with it."""
    line, bar = pair.label.printed.line, pair.bar
    if not (bar.kind in ("ticks", "ticked") and bar.outer_ticks[1] and len(bar.parts) >= FEWEST_TICKS):
        return False
    first = pair.label.ink.col_0 + label_columns(pair.label)[0]
    beside = bar.row_0 + pair.ink.row_0 < line.row_1 + pair.label.ink.row_0
    beside &= bar.row_1 + pair.ink.row_0 > line.row_0 + pair.label.ink.row_0
    return beside and abs(first - (pair.ink.col_0 + bar.col_1)) <= TICK_BESIDE * line.letter_px


def _without_ticks_read_as_1(pairs: list[Pair]) -> list[Pair]:
    """Return the pairs without those whose label begins with a 1 that is the last tick of its own bar, where another reading has the rest."""

    def is_tick(pair: Pair) -> bool:
        text, line = pair.label.length.text, pair.label.printed.line
        if not text.startswith("1") or pair.bar.kind != "ticks" or len(pair.bar.parts) < FEWEST_TICKS:
            return False
        first = pair.label.ink.col_0 + pair.label.printed.reading.column(line, pair.label.length.start)
        on_tick = abs(first - (pair.ink.col_0 + pair.bar.stop_px)) <= ON_TICK * line.letter_px
        return on_tick and any(other.label.length.text == text[1:] and _same_bar(pair, other) for other in pairs)

    return [pair for pair in pairs if not is_tick(pair)]


def _same_bar(one: Pair, other: Pair) -> bool:
    """Tell whether two pairs have the same stretch of the picture as their bar."""
    ends = ((pair.ink.col_0 + pair.bar.start_px, pair.ink.col_0 + pair.bar.stop_px) for pair in (one, other))
    return all(abs(left - right) <= SAME_BAR_PX for left, right in zip(*ends, strict=True))


def _is_rim_at_edge(pair: Pair) -> bool:
    """Tell whether a line over the picture lies in its first or last rows, as the rim of a box that the edge cuts does."""
    rows, bar = len(pair.ink.mask), pair.bar
    return not pair.ink.on_panel and bar.kind == "line" and (bar.row_0 <= 0 or bar.row_1 >= rows)


def _has_its_own_bar(pair: Pair, best: Pair, pairs: list[Pair]) -> bool:
    """Tell whether the label of a pair at the best pair's bar fits another bar better, which says what the best pair says by other
    figures: then two bars are drawn, and each has its own label."""
    return pair.bar.box == best.bar.box and any(
        own.label.printed is pair.label.printed
        and own.bar.box != best.bar.box
        and not own.bar.doubt
        and own.standing > pair.standing
        and abs(own.pixel_size_um / best.pixel_size_um - 1) <= SAME_SCALE
        for own in pairs
    )


def _is_rule_beside(pair: Pair, best: Pair) -> bool:
    """Tell whether a pair's bar is a rule of the panel on which the best pair has a bar with end ticks: longer, and without any."""
    rule, bar = pair.bar, best.bar
    ticked = best.ink.on_panel and bar.kind == "ticked" and not bar.doubt
    along = rule.col_0 <= bar.col_0 and bar.col_1 <= rule.col_1
    return ticked and pair.ink is best.ink and rule.kind == "line" and not any(rule.outer_ticks) and along


def _settled(rivals: list[Pair], pairs: list[Pair], agreements: dict[int, str]) -> Pair | None:
    """Return the one pair whose label is sure, where the same printed words were read in several ways at one bar."""
    best = rivals[0]
    for pair in rivals[1:]:
        same_bar = abs(pair.bar.length_px - best.bar.length_px) <= SAME_BAR_PX
        if not same_bar or not _overlap(pair.label.printed.line, best.label.printed.line):
            return None
    sure: dict[float, Pair] = {}
    for first in {pair.label.length.um: pair for pair in reversed(rivals)}.values():
        for pair in [first, *_same_in_other_ink(first, pairs)][:MOST_INKS]:
            if not pair.bar.doubt and not _label_doubt(pair, agreements[id(pair)])[0]:
                sure[pair.label.length.um] = pair
                break
    if len(sure) != 1:
        return None
    settled = next(iter(sure.values()))
    return None if any(_holds_more(pair.label, settled.label) for pair in rivals) else settled


def _holds_more(label: Label, other: Label) -> bool:
    """Tell whether a label has figures before those of the other: what lost its first figures reads surely too."""
    number, part = (one.length.text.split()[0] for one in (label, other))
    return len(number) > len(part) and number.endswith(part)


def _overlap(line: Line, other: Line) -> bool:
    rows = min(line.row_1, other.row_1) - max(line.row_0, other.row_0)
    cols = min(line.col_1, other.col_1) - max(line.col_0, other.col_0)
    return rows > 0.5 * (line.row_1 - line.row_0) and cols > 0.5 * min(
        line.col_1 - line.col_0, other.col_1 - other.col_0
    )


def _same_in_other_ink(best: Pair, pairs: list[Pair]) -> list[Pair]:
    """Pairs that say what the best one says, whose label was read in another layer of ink."""
    inks, others = {id(best.label.ink)}, []
    for pair in pairs:
        same = pair.label.length.um == best.label.length.um and abs(pair.bar.length_px - best.bar.length_px) <= 1
        if same and id(pair.label.ink) not in inks and not pair.bar.doubt:
            inks.add(id(pair.label.ink))
            others.append(pair)
    return others


def refused(reason: str, *, final: bool = False) -> Decision:
    """Return the refusal where a label and a bar were seen."""
    return Decision(pair=None, reason=reason, final=final, weight=2)


def said(pair: Pair) -> str:
    return f"{pair.label.length.text} over {pair.bar.length_px:.1f} px"


def _stated_sizes(facts: Facts, widths_px: tuple[int, ...]) -> list[tuple[str, list[float]]]:
    """Return what is printed about the size of a pixel: its name, and the sizes in µm that it may mean."""
    stated = [
        ("the printed pixel size", [facts.pixel_size_um]),
        ("the printed field width", [facts.field_width_um / width for width in widths_px]),
    ]
    return [(name, sizes) for name, sizes in stated if not math.isnan(sizes[0])]


def fits_closely(pair: Pair, facts: Facts, widths_px: tuple[int, ...], *, within_px: float = CLOSE_PX) -> bool:
    """Tell whether a bar has the printed size to a pixel: an outline of the bar, which is a little longer, hasn't."""
    sizes_um = [size for _, sizes in _stated_sizes(facts, widths_px) for size in sizes]
    return any(abs(pair.label.length.um / size - pair.bar.length_px) <= within_px for size in sizes_um)


def _agreement(pair: Pair, facts: Facts, widths_px: tuple[int, ...]) -> str:
    """Compare with what is printed: "proven", "supported", "silent", or the name of what it contradicts.

    widths_px: widths that a printed field width may refer to, with and without a panel at the side.
    """
    size = pair.pixel_size_um
    slack = FACT_TOLERANCE + 2 * pair.bar.u_px / pair.bar.length_px
    proven = False
    for name, stated in _stated_sizes(facts, widths_px):
        if all(abs(size / value - 1) > slack for value in stated):
            return name
        proven = True
    if proven:
        return "proven"
    if math.isnan(facts.magnification):
        return "silent"
    display_mm = size * max(widths_px) * facts.magnification / 1000
    if DISPLAY_WIDTH_MM[0] <= display_mm <= DISPLAY_WIDTH_MM[1]:
        return "supported"
    return f"the printed magnification of {facts.magnification:g}"
