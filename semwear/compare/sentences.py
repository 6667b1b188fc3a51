"""The comparison in sentences: what a reader should know before looking at any table."""

import math
from collections.abc import Sequence

from semwear.compare.evidence import interval_text
from semwear.compare.matrix import Effect
from semwear.compare.relations import change_text, words_of
from semwear.compare.study import GEOMETRY_ALONE, Comparison
from semwear.compare.verdict import CANT_TELL, READINGS

MOST_NAMED = 8


def named(names: Sequence[str]) -> str:
    """Return names as a list in words, the rest counted.

    >>> named(["A", "B", "C"])
    'A, B and C'
    """
    names = list(names)
    if len(names) > MOST_NAMED:
        return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def summary(found: Comparison) -> list[str]:
    """Return the findings, most important first."""
    sentences = [_extent(found)]
    for reading in READINGS:
        own = [each.specimen for each in found.verdicts if each.reading == reading]
        if own and reading != CANT_TELL:
            sentences.append(f"{named(own)}: {reading}; {READINGS[reading]}.")
    untold = [each for each in found.verdicts if each.reading == CANT_TELL]
    if untold:
        sentences.append(
            f"No reading can be given for {named([each.specimen for each in untold])}; the reasons stand below."
        )
    settled = [
        effect for model in found.models for effect in model.effects if effect.is_settled and "×" not in effect.term
    ]
    sentences += [effect_sentence(effect) for effect in settled[:6]]
    for each in sorted(found.interactions, key=lambda each: each.effect.p)[:4]:
        sentences.append(each.sentence + ("" if each.effect.is_settled else " This is suggested, not settled."))
    sentences += [each.sentence for each in found.opposites][:4]
    if found.models and not any(effect.is_settled for model in found.models for effect in model.effects):
        sentences.append("No effect of a factor is settled after the adjustment for many tests.")
    if GEOMETRY_ALONE in found.cautions:
        sentences.append(f"Read with reserve: {GEOMETRY_ALONE}.")
    return sentences


def _extent(found: Comparison) -> str:
    used = sum(len(own.run_files) + len(own.reference_files) for own in found.figures)
    known = [own for own in found.figures if math.isfinite(own.retention.value)]
    said = f"{len(found.figures)} specimens, {used} of {len(found.rows)} fields used"
    if not known:
        return said + "; no valley retention can be given."
    least = min(known, key=lambda own: own.retention.value)
    most = max(known, key=lambda own: own.retention.value)
    if len(known) == 1:
        return f"{said}; valley retention of {least.specimen} is {_retention(least)}."
    return (
        f"{said}; valley retention is known for {len(known)} and goes from {_retention(least)} ({least.specimen}) "
        f"to {_retention(most)} ({most.specimen})."
    )


def _retention(own) -> str:
    return interval_text(own.retention.value, own.retention.low, own.retention.high)


def effect_sentence(effect: Effect) -> str:
    """Return an effect of one factor in a sentence, size and interval first."""
    alias = f" (or {', '.join(effect.aliased_with)}, which can't be told from it)" if effect.aliased_with else ""
    how = "multiplies" if effect.is_ratio else "changes"
    said = f"{effect.term}{alias}, {effect.contrast}, {how} {words_of(effect.response)}: {change_text(effect)}"
    return said + (f" (adjusted p {effect.p_holm:.2g})." if math.isfinite(effect.p_holm) else ".")
