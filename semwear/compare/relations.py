"""How the figures of the specimens go together: rank correlations, and wear and friction that go opposite ways."""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import stats

from semwear.compare.matrix import Effect, MatrixModel
from semwear.compare.orders import orders_of, share_as_strong

LEAST_SPECIMENS = 5
"""Specimens below which a rank correlation isn't given: its interval would span nearly everything."""
WEAR_RESPONSES = ("iron_ppm", "valley_retention", "smeared_gain", "scuffed_gain")
"""Figures that stand for wear; each falls with less wear except retention, which rises."""


ALL_ORDERS_UP_TO, MOST_ORDERED = 8, 30
"""Pairs up to which p values count all their orders, and up to which random ones."""
CLEARLY_NOTHING = 0.3
"""p value above which a change, where one can be given, is no ground for calling out opposite directions."""


@dataclass(frozen=True, kw_only=True)
class RankCorrelation:
    """Spearman's rank correlation of two figures over specimens, with its 95 % interval and p value adjusted by Holm."""

    first: str
    second: str
    specimens: int
    value: float
    low: float
    high: float
    p: float
    p_holm: float = math.nan


@dataclass(frozen=True, kw_only=True)
class OppositeEffect:
    """A change of level with which one figure gets better and another worse."""

    factor: str
    change: str
    better: str
    worse: str
    is_settled: bool
    sentence: str


def rank_correlations(figures: Mapping[str, Sequence[float]]) -> list[RankCorrelation]:
    """Return the rank correlation of each pair of figures over the specimens that have both.

    figures: name to (specimens,) values, nan where unknown. Intervals by Fisher's z with the variance
    (1 + r²/2)/(n − 3) of Bonett and Wright (Psychometrika 65 (2000) 23); p values as in :func:`rank_correlation`. Pairs of fewer than five specimens, or of a
    figure that doesn't vary, are left out.
    """
    from statsmodels.stats.multitest import multipletests

    found = []
    for first, second in itertools.combinations(figures, 2):
        pair = np.array([figures[first], figures[second]], dtype=float)
        pair = pair[:, np.isfinite(pair).all(axis=0)]
        count = pair.shape[1]
        if count < LEAST_SPECIMENS or np.ptp(pair, axis=1).min() == 0:
            continue
        value, p = rank_correlation(*pair)
        low, high = rank_interval(value, count)
        found.append(RankCorrelation(first=first, second=second, specimens=count, value=value, low=low, high=high, p=p))
    if not found:
        return []
    adjusted = multipletests([each.p for each in found], method="holm")[1]
    return [
        RankCorrelation(**{**each.__dict__, "p_holm": float(own)}) for each, own in zip(found, adjusted, strict=True)
    ]


def rank_correlation(first: np.ndarray, second: np.ndarray) -> tuple[float, float]:
    """Return Spearman's rank correlation of two figures (n,) and its two-sided p value.

    p is the share of all orders of one figure that give a correlation as strong, for up to eight pairs; of as many random orders
    as there are of eight up to MOST_ORDERED pairs; and by Student's approximation for more.

    >>> [round(number, 4) for number in rank_correlation(np.arange(5.0), np.array([0.0, 1, 2, 4, 3]))]
    [0.9, 0.0833]
    """
    value, p = (float(number) for number in stats.spearmanr(first, second))
    if len(first) > MOST_ORDERED:
        return value, p
    one, other = (ranks - ranks.mean() for ranks in (stats.rankdata(first), stats.rankdata(second)))
    return value, share_as_strong(np.abs(other[_orders(len(first))] @ one))


@lru_cache(maxsize=4)
def _orders(count: int) -> np.ndarray:
    """Return all orders, or as many random ones as there are of eight places; always the same."""
    return orders_of(count, np.random.default_rng(count), all_up_to=ALL_ORDERS_UP_TO, drawn=math.factorial(ALL_ORDERS_UP_TO))


def rank_interval(value: float, count: int) -> tuple[float, float]:
    """Return the 95 % interval of a rank correlation of ``count`` pairs.

    >>> [round(end, 2) for end in rank_interval(0.5, 30)]
    [0.15, 0.74]
    """
    if abs(value) > 1 - 1e-9:
        # Fisher's z has no end for a perfect order: half a step of the smallest possible change is taken off.
        value = math.copysign(1 - 6 / (count * (count**2 - 1)), value)
    half = float(stats.norm.ppf(0.975)) * math.sqrt((1 + value**2 / 2) / (count - 3))
    return math.tanh(math.atanh(value) - half), math.tanh(math.atanh(value) + half)


def improvement(effect: Effect, better: str) -> float:
    """Return the effect as a relative change towards the better: above 0 better, below 0 worse, nan for neither."""
    if better not in ("lower", "higher"):
        return math.nan
    size = math.log(effect.estimate) if effect.is_ratio else effect.estimate
    return -size if better == "lower" else size


def opposite_effects(
    models: Mapping[str, MatrixModel],
    better: Mapping[str, str],
    least: Mapping[str, float],
    means: Mapping[str, float],
) -> list[OppositeEffect]:
    """Return each change of level that betters wear and worsens friction, or the other way round.

    models: of each response by name; better: ``lower`` or ``higher`` for each; least: smallest relative change of a
    response that is worth a word; means: mean of each response, to make differences relative. A change counts from
    ``least`` on even where the interval can't be given, and is then said to be unsettled.
    """
    if "friction" not in models:
        return []
    found = []
    friction_effects = {(each.term, each.first, each.second): each for each in models["friction"].effects}
    for name in WEAR_RESPONSES:
        if name not in models:
            continue
        for effect in models[name].effects:
            twin = friction_effects.get((effect.term, effect.first, effect.second))
            if twin is None or len(effect.first) > 1:
                continue
            found += _opposite(name, effect, twin, better, least, means)
    return found


def _opposite(name, effect: Effect, friction: Effect, better, least, means) -> list[OppositeEffect]:
    changes = {}
    for own, response in ((effect, name), (friction, "friction")):
        scale = 1.0 if own.is_ratio else abs(means.get(response, math.nan))
        change = improvement(own, better[response]) / scale if scale else math.nan
        if not math.isfinite(change) or abs(change) < least.get(response, 0.0):
            return []
        changes[response] = change
    if changes[name] * changes["friction"] >= 0 or any(own.p > CLEARLY_NOTHING for own in (effect, friction)):
        return []
    gains = name if changes[name] > 0 else "friction"
    loses = "friction" if gains == name else name
    settled = effect.excludes_null and friction.excludes_null
    pair = {name: effect, "friction": friction}
    others = f" (or {', '.join(effect.aliased_with)}, which can't be told from it)" if effect.aliased_with else ""
    sentence = (
        f"{effect.term}{others} {effect.contrast}: {words_of(gains)} gets better ({change_text(pair[gains])}) while "
        f"{words_of(loses)} gets worse ({change_text(pair[loses])}). Wear and friction go opposite ways here"
    )
    sentence += "." if settled else "; with these specimens this isn't settled yet."
    return [
        OppositeEffect(
            factor=effect.term,
            change=effect.contrast,
            better=gains,
            worse=loses,
            is_settled=settled,
            sentence=sentence,
        )
    ]


RESPONSE_WORDS = {
    "valley_retention": "valley retention",
    "iron_ppm": "iron in the oil",
    "friction": "friction",
    "smeared_gain": "smear",
    "scuffed_gain": "scuff",
}


def words_of(response: str) -> str:
    """Return a response's name in words.

    >>> words_of("iron_ppm"), words_of("wear_depth")
    ('iron in the oil', 'wear depth')
    """
    return RESPONSE_WORDS.get(response, response.replace("_", " "))


def change_text(effect: Effect) -> str:
    """Return an effect as a change in words, with its interval where there is one."""
    if effect.is_ratio:
        text = f"× {effect.estimate:.2f}"
        ends = f"{effect.low:.2f} to {effect.high:.2f}"
    else:
        text = f"{effect.estimate:+.3g}"
        ends = f"{effect.low:+.3g} to {effect.high:+.3g}"
    return f"{text}, 95 % {ends}" if math.isfinite(effect.low) else f"{text}, no interval"
