"""A second scale bar on the same picture, as an image program or a montage adds one, and whether it says the same."""

from collections.abc import Iterable

from semwear.data_bar.bar_ends import Bar
from semwear.data_bar.ink import Ink
from semwear.data_bar.labels import facts_in
from semwear.data_bar.pairing import Decision, Pair, decide, refused, said
from semwear.metadata_scale.facts import CONTRADICTION

FARTHEST_BESIDE, SHORTEST_BESIDE = 6.0, 2.0
"""Distance of a bar from a plate with its label at most, and its length at least, in heights of the label's letters."""


def read_by_itself(pairs: list[Pair], widths_px: tuple[int, ...]) -> Pair | None:
    """Return the pair that is sure without any printed fact, or None."""
    return decide(pairs, facts=facts_in([], []), widths_px=widths_px, texts=[]).pair


def contradiction(pair: Pair, others: list[Pair]) -> Decision | None:
    """Return the refusal of a pair that another one contradicts, or None."""
    for other in others:
        if abs(other.pixel_size_um / pair.pixel_size_um - 1) > CONTRADICTION:
            return refused(f"two scale bars contradict each other: {said(pair)} and {said(other)}", final=True)
    return None


def stands_beside(pair: Pair, ink: Ink, bars: Iterable[Bar]) -> bool:
    """Tell whether one of the sure bars of a layer stands near a burnt-in bar that holds its label, which may be a mere plate then."""
    if pair.label.printed.inside is None or pair.ink.on_panel or ink.on_panel:
        return False
    tall, own = pair.label.printed.line.letter_px, pair.bar

    def is_near(bar: Bar) -> bool:
        down = max(own.row_0 - bar.row_1, bar.row_0 - own.row_1)
        across = max(own.col_0 - bar.col_1, bar.col_0 - own.col_1)
        return 0 <= max(down, across) <= FARTHEST_BESIDE * tall

    return any(not bar.doubt and bar.length_px >= SHORTEST_BESIDE * tall and is_near(bar) for bar in bars)
