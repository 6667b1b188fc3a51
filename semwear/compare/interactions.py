"""Interactions in words: above all two levels that each help and together don't."""

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

from semwear.compare.matrix import Effect, MatrixModel
from semwear.compare.relations import words_of

LEAST_STEP = 0.05
"""Relative step between two cells that counts as better or worse in the wording of an interaction."""


@dataclass(frozen=True, kw_only=True)
class InteractionReading:
    """What an interaction looks like: ``pattern`` is ``together no better``, ``reversed`` or ``unlike``."""

    response: str
    factors: tuple[str, str]
    pattern: str
    sentence: str
    effect: Effect


def read_interaction(model: MatrixModel, effect: Effect, better: str) -> InteractionReading:
    """Return an interaction effect in words, from the model's means of its four cells.

    ``better``: ``lower`` or ``higher`` for the response. ``together no better``: from some pair of levels each change
    alone is a gain, and both changes together gain no more than the better one alone. ``reversed``: a factor's effect
    changes its sense with the other's level. ``unlike``: it changes its size only.
    """
    one, other = effect.term.split(" × ")[:2]
    cells = model.cells[(one, other)]
    sense = -1.0 if better == "lower" else 1.0
    scale = max(abs(value) for value in cells.values()) or 1.0

    def gain(start: tuple[str, str], end: tuple[str, str]) -> float:
        if model.is_log:
            return sense * math.log(cells[end] / cells[start])
        return sense * (cells[end] - cells[start]) / scale

    corner_one, corner_other = (effect.second[0], effect.first[0]), (effect.second[1], effect.first[1])
    word = words_of(model.response)
    for start_one, start_other in itertools.product(corner_one, corner_other):
        end_one = next(level for level in corner_one if level != start_one)
        end_other = next(level for level in corner_other if level != start_other)
        start, joint = (start_one, start_other), (end_one, end_other)
        alone = ((end_one, start_other), (start_one, end_other))
        gains = [gain(start, cell) for cell in alone]
        if min(gains) > LEAST_STEP and gain(start, joint) < max(gains) and better in ("lower", "higher"):
            verb = "lower" if better == "lower" else "raise"
            outcome = "they don't" if gain(start, joint) <= LEAST_STEP else "no further than the stronger one alone"
            sentence = (
                f"{end_one} ({one}) and {end_other} ({other}) each {verb} {word} when they come alone, "
                f"but together {outcome}: {_cell_words(cells, start)}; {_cell_words(cells, alone[0])}; "
                f"{_cell_words(cells, alone[1])}; together {_number(cells[joint])}{' (geometric means)' if effect.is_ratio else ''}."
            )
            return _reading(model, effect, one, other, "together no better", sentence)
    by_level = [gain((corner_one[0], level), (corner_one[1], level)) for level in corner_other]
    listed = "; ".join(_cell_words(cells, cell) for cell in itertools.product(corner_one, corner_other))
    if by_level[0] * by_level[1] < 0 and min(abs(step) for step in by_level) > LEAST_STEP:
        sentence = f"The effect of {one} on {word} turns round with {other}: {listed}."
        return _reading(model, effect, one, other, "reversed", sentence)
    sentence = f"The effect of {one} on {word} depends on {other}: {listed}."
    return _reading(model, effect, one, other, "unlike", sentence)


def _reading(model, effect, one, other, pattern, sentence) -> InteractionReading:
    return InteractionReading(
        response=model.response, factors=(one, other), pattern=pattern, sentence=sentence, effect=effect
    )


def _number(value: float) -> str:
    return f"{value:.3g}"


def _cell_words(cells: Mapping[tuple[str, str], float], cell: tuple[str, str]) -> str:
    return f"{cell[0]} with {cell[1]} {_number(cells[cell])}"
