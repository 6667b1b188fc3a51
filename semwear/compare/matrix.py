"""Effect of each factor on each response, with interactions, the specimen being the unit.

The fields of a specimen are nested in it: they make its figure, and never count as specimens. A linear model (ordinary
least squares of statsmodels, factors coded about their mean) gives differences between levels, averaged over the other
factors with equal weight, with t intervals. Retention and iron are taken on the log scale, where effects are ratios.

A full two-level factorial with one specimen a cell leaves next to no scatter between like specimens; there the pseudo
standard error of Lenth stands in (semwear.compare.lenth).

With few specimens each term is tested by permutation too: the values are dealt out to the specimens anew, and the term's
F ratio (with Lenth's method the ratio to the pseudo standard error) is compared with the observed one (Manly,
Randomization, Bootstrap and Monte Carlo Methods in Biology); all orders up to 7 specimens, 1,999 at random above. Holm's step-down keeps the chance
of any false finding among the effects on one response at 5 %.
"""

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from semwear.compare.design import Design, Term, build_design, is_single_two_level_factorial, term_codes
from semwear.compare.lenth import lenth_critical, lenth_p, lenth_pseudo_error
from semwear.compare.orders import orders_of, share_as_strong

LOG_RESPONSES = ("valley_retention", "iron_ppm")
MOST_PERMUTED = 40
"""Specimens up to which the permutation test is made; above, the t test needs no help."""
RANDOM_ORDERS = 1999
ALL_ORDERS_UP_TO = 7
SIGNIFICANCE = 0.05
LARGEST_LOGARITHM = 700.0
NO_SCATTER = 1e-9
"""Scatter over range of a response from rounding in the last places of a number alone."""


@dataclass(frozen=True, kw_only=True)
class Effect:
    """One effect on one response.

    ``contrast`` names what is compared, first less (or over) second. On the log scale ``is_ratio`` is True, and estimate
    and ends are ratios; otherwise differences in the response's unit. Ends and p values are nan when there is no scatter
    to judge by. ``p_holm`` is adjusted over the terms of one response.
    """

    response: str
    term: str
    contrast: str
    first: tuple[str, ...]
    second: tuple[str, ...]
    estimate: float
    low: float
    high: float
    is_ratio: bool
    p: float
    p_permutation: float = math.nan
    p_holm: float = math.nan
    aliased_with: tuple[str, ...] = ()

    @property
    def null(self) -> float:
        """The value of no effect: 1 for a ratio, 0 for a difference."""
        return 1.0 if self.is_ratio else 0.0

    @property
    def excludes_null(self) -> bool:
        """True when the 95 % interval leaves no effect out."""
        return math.isfinite(self.low) and not self.low <= self.null <= self.high

    @property
    def is_settled(self) -> bool:
        """True when no effect is left out even after the adjustment for many tests."""
        return self.excludes_null and self.p_holm <= SIGNIFICANCE


@dataclass(frozen=True, kw_only=True)
class MatrixModel:
    """The model of one response: effects, what couldn't be told apart, and what it rests on.

    ``cells``: for each pair of factors with an interaction, the model's mean at each pair of levels, on the response's own
    scale. ``residual_deviation`` is the standard deviation between like specimens on the model's scale (log or plain).
    """

    response: str
    specimens: int
    is_log: bool
    method: str
    freedom: int
    residual_deviation: float
    effects: tuple[Effect, ...]
    cells: Mapping[tuple[str, str], Mapping[tuple[str, str], float]]
    levels: Mapping[str, tuple[str, ...]]
    dropped: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def fit_matrix(
    response: str,
    levels: Sequence[Mapping[str, str]],
    values: Sequence[float],
    factors: Sequence[str],
    *,
    is_log: bool | None = None,
    seed: int = 0,
) -> MatrixModel:
    """Return the model of one response over specimens.

    levels: of each specimen by factor; values: (specimens,) float, nan where unknown (left out). ``is_log``: take the
    logarithm; by default for retention and iron. Values of zero or less rule the logarithm out, which is then noted.
    """
    kept = [place for place, value in enumerate(values) if math.isfinite(value)]
    rows = [levels[place] for place in kept]
    plain = np.array([values[place] for place in kept], dtype=float)
    notes = []
    wants_log = response in LOG_RESPONSES if is_log is None else is_log
    if wants_log and plain.size and plain.min() <= 0:
        notes.append("a value of zero has no logarithm: differences are given instead of ratios")
    log = bool(wants_log and plain.size and plain.min() > 0)
    y = np.log(plain) if log else plain
    if len(rows) < 2 or not any(len({row[factor] for row in rows}) > 1 for factor in factors):
        reason = "no factor has two levels" if len(rows) > 1 else f"{len(rows)} specimens have a value"
        return _empty(response, len(rows), log, f"no effect can be given: {reason}", notes)
    use_lenth = is_single_two_level_factorial(rows, factors)
    if use_lenth:
        varied = [factor for factor in factors if len({row[factor] for row in rows}) > 1]
        design = build_design(rows, factors, largest_interaction=len(varied))
    else:
        design = _affordable(rows, factors, notes)
    fit = _fit(design, y, use_lenth, rounding_deviation(plain) / (abs(float(plain.mean())) if log else 1.0))
    effects = _effects(response, design, fit, log, y)
    if len(rows) <= MOST_PERMUTED:
        effects = _with_permutation(effects, design, y, np.random.default_rng(seed), use_lenth)
    return MatrixModel(
        response=response,
        specimens=len(rows),
        is_log=log,
        method=fit.method,
        freedom=fit.freedom,
        residual_deviation=fit.deviation,
        effects=tuple(effects),
        cells=_cells(design, fit.coefficients, log),
        levels=design.levels,
        dropped=design.dropped,
        notes=tuple(notes),
    )


def _empty(response: str, specimens: int, log: bool, method: str, notes) -> MatrixModel:
    return MatrixModel(
        response=response,
        specimens=specimens,
        is_log=log,
        method=method,
        freedom=0,
        residual_deviation=math.nan,
        effects=(),
        cells={},
        levels={},
        notes=tuple(notes),
    )


def _affordable(rows, factors, notes: list[str]) -> Design:
    """Return the design with interactions if two degrees of freedom remain for the scatter, else without."""
    whole = build_design(rows, factors)
    mains = build_design(rows, factors, largest_interaction=1)
    if whole.freedom >= 2 or len(whole.terms) == len(mains.terms):
        return whole
    if mains.freedom > whole.freedom and mains.freedom >= 1:
        more = 2 - whole.freedom
        notes.append(
            f"{len(rows)} specimens are too few for interactions, which are left out: about {more} more in cells that "
            "have one already are needed; effects hold only if there are none"
        )
        return replace(mains, aliases=whole.aliases, dropped=whole.dropped)
    return whole


@dataclass(frozen=True, kw_only=True)
class _Fit:
    """Coefficients with what they are judged by: error of a contrast, factor of the 95 % interval, p of a strength."""

    coefficients: np.ndarray
    error_of: Callable[[np.ndarray], float]
    critical: float
    p_of: Callable[[float], float]
    freedom: int
    deviation: float
    method: str


def rounding_deviation(values: np.ndarray) -> float:
    """Return the standard deviation that rounding to the last printed place gives, step / √12 (JCGM 100:2008, 4.3.7).

    >>> [round(rounding_deviation(np.array(values)), 5) for values in ([0.11, 0.12], [90.0, 52.0])]
    [0.00289, 0.28868]
    """
    places = next((places for places in range(16) if np.allclose(np.round(values, places), values, rtol=1e-12, atol=0)), 16)
    return 10.0**-places / math.sqrt(12)


def _fit(design: Design, y: np.ndarray, use_lenth: bool, rounding: float) -> _Fit:
    """Fit the model; the scatter is never taken to be less than what rounding gives (``rounding``, in y's unit)."""
    import statsmodels.api as sm

    nothing = max(rounding, NO_SCATTER * float(np.ptp(y)))

    fitted = sm.OLS(y, design.columns).fit()
    coefficients = np.asarray(fitted.params)
    if use_lenth:
        # With ±1 columns every coefficient has the same variance, so that the PSE of the coefficients serves all.
        count = coefficients.size - 1
        pseudo = max(float(lenth_pseudo_error(coefficients[1:])), nothing / math.sqrt(len(y)))
        return _Fit(
            coefficients=coefficients,
            error_of=lambda contrast: pseudo * float(np.linalg.norm(contrast)),
            critical=lenth_critical(count),
            p_of=lambda strength: lenth_p(strength, count),
            freedom=0,
            deviation=pseudo * math.sqrt(len(y)),
            method="two-level factorial, one specimen a cell: pseudo standard error after Lenth",
        )
    freedom = design.freedom
    if freedom < 1:
        return _Fit(
            coefficients=coefficients,
            error_of=lambda contrast: math.nan,
            critical=math.nan,
            p_of=lambda strength: math.nan,
            freedom=0,
            deviation=math.nan,
            method="as many unknowns as specimens: estimates without intervals",
        )
    variance = max(fitted.mse_resid, nothing**2)
    covariance = np.asarray(fitted.normalized_cov_params) * variance
    return _Fit(
        coefficients=coefficients,
        error_of=lambda contrast: math.sqrt(max(0.0, float(contrast @ covariance @ contrast))),
        critical=float(stats.t.ppf(0.975, freedom)),
        p_of=lambda strength: float(2 * stats.t.sf(strength, freedom)),
        freedom=freedom,
        deviation=math.sqrt(variance),
        method=f"linear model over specimens, {freedom} degrees of freedom",
    )


def _contrasts(design: Design, term: Term):
    """Yield (words, first levels, second levels, contrast over the columns) for all pairs of levels of a term."""
    pairs = [list(itertools.combinations(range(len(design.levels[factor])), 2)) for factor in term.factors]
    for chosen in itertools.product(*pairs):
        differences, first, second = {}, [], []
        for factor, (one, other) in zip(term.factors, chosen, strict=True):
            vector = np.zeros(len(design.levels[factor]))
            # The level that appears first is the base: the effect is that of going to the later one.
            vector[one], vector[other] = -1.0, 1.0
            differences[factor] = vector
            first.append(design.levels[factor][other])
            second.append(design.levels[factor][one])
        contrast = np.zeros(design.columns.shape[1])
        contrast[list(design.places[term.name])] = term_codes(design.levels, term, differences)
        yield tuple(first), tuple(second), contrast


def _effects(response, design: Design, fit: _Fit, log: bool, y) -> list[Effect]:
    effects = []
    for term in design.terms:
        found = []
        for first, second, contrast in _contrasts(design, term):
            estimate, error = float(contrast @ fit.coefficients), fit.error_of(contrast)
            half = fit.critical * error
            p = fit.p_of(abs(estimate) / error) if error > 0 else math.nan
            found.append((first, second, estimate, half, p))
        p_term = found[0][4] if len(found) == 1 else _term_p(design, term, y)
        if len(term.factors) > 1:
            found = [max(found, key=lambda each: abs(each[2]))]  # the largest of an interaction stands for it
        for first, second, estimate, half, p in found:
            to_own = _ratio if log else float
            effects.append(
                Effect(
                    response=response,
                    term=term.name,
                    contrast=_contrast_words(term, first, second),
                    first=first,
                    second=second,
                    estimate=to_own(estimate),
                    low=to_own(estimate - half) if math.isfinite(half) else math.nan,
                    high=to_own(estimate + half) if math.isfinite(half) else math.nan,
                    is_ratio=log,
                    p=p if len(term.factors) == 1 else p_term,
                    aliased_with=tuple(design.aliases.get(term.name, ())),
                )
            )
    return effects


def _ratio(logarithm: float) -> float:
    """Return the ratio that a logarithm stands for, infinite beyond what a number holds."""
    return math.exp(logarithm) if logarithm < LARGEST_LOGARITHM else math.inf


def _contrast_words(term: Term, first: tuple[str, ...], second: tuple[str, ...]) -> str:
    if len(term.factors) == 1:
        return f"{first[0]} against {second[0]}"
    return " × ".join(f"({one} against {other})" for one, other in zip(first, second, strict=True))


def _projections(design: Design, term: Term) -> tuple[np.ndarray, np.ndarray]:
    """Return orthonormal bases (specimens, k) of the whole model, and of the model without a term."""
    kept = [place for place in range(design.columns.shape[1]) if place not in design.places[term.name]]
    return np.linalg.qr(design.columns)[0], np.linalg.qr(design.columns[:, kept])[0]


def _term_p(design: Design, term: Term, y: np.ndarray) -> float:
    """Return the p value of a whole term by the F test of the model with it against the one without."""
    if design.freedom < 1:
        return math.nan
    whole, reduced = _projections(design, term)
    residual = float(((y - whole @ (whole.T @ y)) ** 2).sum())
    without = float(((y - reduced @ (reduced.T @ y)) ** 2).sum())
    count = len(design.places[term.name])
    if residual <= 0:
        return math.nan
    return float(stats.f.sf((without - residual) / count / (residual / design.freedom), count, design.freedom))


def _with_permutation(effects, design: Design, y, rng, use_lenth: bool) -> list[Effect]:
    """Return the effects with the permutation p value of their term."""
    orders = orders_of(len(y), rng, all_up_to=ALL_ORDERS_UP_TO, drawn=RANDOM_ORDERS)
    if use_lenth:
        sizes = np.abs(y[orders] @ design.columns[:, 1:]) / len(y)
        strengths = sizes / lenth_pseudo_error(sizes)[:, None].clip(1e-300)
        found = {term.name: share_as_strong(strengths[:, design.places[term.name][0] - 1]) for term in design.terms}
    else:
        found = {term.name: share_as_strong(_strengths(design, term, y[orders])) for term in design.terms}
    return [replace(effect, p_permutation=found[effect.term]) for effect in effects]


def _strengths(design: Design, term: Term, shuffled: np.ndarray) -> np.ndarray:
    """Return the F ratio of a term for each row of values, (orders,), or its sum of squares where nothing is left over."""
    whole, reduced = _projections(design, term)
    by_whole, by_reduced = ((shuffled @ whole) ** 2).sum(1), ((shuffled @ reduced) ** 2).sum(1)
    left = (shuffled**2).sum(1) - by_whole
    return by_whole - by_reduced if design.freedom < 1 else (by_whole - by_reduced) / left.clip(1e-300)


def _cells(design: Design, coefficients, log: bool) -> dict:
    """Return the model's mean at each pair of levels of each pair of factors, the others averaged."""
    cells = {}
    for one, other in itertools.combinations(design.levels, 2):
        means = {}
        for first, second in itertools.product(design.levels[one], design.levels[other]):
            chosen = {
                one: np.array([float(level == first) for level in design.levels[one]]),
                other: np.array([float(level == second) for level in design.levels[other]]),
            }
            row = np.zeros(design.columns.shape[1])
            row[0] = 1
            for term in design.terms:
                if set(term.factors) <= {one, other}:
                    row[list(design.places[term.name])] = term_codes(design.levels, term, chosen)
            mean = float(row @ coefficients)
            means[(first, second)] = math.exp(mean) if log else mean
        cells[(one, other)] = means
    return cells


def adjust_for_many(model: MatrixModel) -> MatrixModel:
    """Return the model with p values adjusted by Holm's step-down over all its effects."""
    from statsmodels.stats.multitest import multipletests

    every = [effect.p for effect in model.effects if math.isfinite(effect.p)]
    if not every:
        return model
    adjusted = iter(multipletests(every, method="holm")[1])
    effects = (
        replace(effect, p_holm=float(next(adjusted))) if math.isfinite(effect.p) else effect for effect in model.effects
    )
    return replace(model, effects=tuple(effects))
