"""A second scale bar on the same picture, as an image program or a montage adds one, and whether it says the same."""

from semwear.data_bar.labels import facts_in
from semwear.data_bar.pairing import Decision, Pair, decide, refused, said
from semwear.metadata_scale.facts import CONTRADICTION


def read_by_itself(pairs: list[Pair], widths_px: tuple[int, ...]) -> Pair | None:
    """Return the pair that is sure without any printed fact, or None."""
    return decide(pairs, facts=facts_in([], []), widths_px=widths_px, texts=[]).pair


def contradiction(pair: Pair, others: list[Pair]) -> Decision | None:
    """Return the refusal of a pair that another one contradicts, or None."""
    for other in others:
        if abs(other.pixel_size_um / pair.pixel_size_um - 1) > CONTRADICTION:
            return refused(f"two scale bars contradict each other: {said(pair)} and {said(other)}", final=True)
    return None
