"""Effects across the matrix against published analyses, statsmodels, and the trade's own cases."""

import itertools
import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from semwear.compare.interactions import read_interaction
from semwear.compare.lenth import lenth_critical, lenth_p, lenth_pseudo_error
from semwear.compare.matrix import Effect, adjust_for_many, fit_matrix
from semwear.compare.planning import cell_needs, question_sentence, sample_size
from semwear.compare.relations import opposite_effects, rank_correlations, rank_interval
from semwear.plan import Plan, PlannedSpecimen

BETTER = {"iron_ppm": "lower", "friction": "lower", "valley_retention": "higher"}
LEAST = {"iron_ppm": 0.1, "friction": 0.05, "valley_retention": 0.1}


def effects(model) -> dict:
    return {effect.term: effect for effect in model.effects}


def two_level(*names):
    """Return the rows of a full two-level factorial in standard order (first factor changes fastest)."""
    return [dict(zip(names, reversed(levels), strict=True)) for levels in itertools.product("-+", repeat=len(names))]


def test_an_unreplicated_factorial_gives_the_textbook_effects_and_pseudo_error():
    # Filtration-rate example of Montgomery, Design and Analysis of Experiments (2⁴, from memory): A 21.625, C 9.875,
    # D 14.625, AC −18.125, AD 16.625, Lenth's PSE 2.625.
    rate = [45, 71, 48, 65, 68, 60, 80, 65, 43, 100, 45, 104, 75, 86, 70, 96]
    found = effects(fit_matrix("rate", two_level("A", "B", "C", "D"), rate, ["A", "B", "C", "D"]))
    for name, expected in {"A": 21.625, "C": 9.875, "D": 14.625}.items():
        assert found[name].estimate == pytest.approx(expected)
        assert found[name].high - found[name].estimate == pytest.approx(lenth_critical(15) * 2.625)
        assert found[name].excludes_null
    # An interaction is given as a difference of differences: twice the textbook's interaction effect.
    assert found["A × C"].estimate == pytest.approx(2 * -18.125)
    assert found["A × D"].estimate == pytest.approx(2 * 16.625)
    assert not found["B"].excludes_null and not found["C × D"].excludes_null
    sizes = [abs(effect.estimate) / 2 ** (len(effect.first) - 1) for effect in found.values()]
    assert lenth_pseudo_error(np.array(sizes)) == pytest.approx(2.625)
    assert found["A"].p_permutation < 0.02 < 0.5 < found["B × D"].p_permutation


def test_critical_values_of_lenths_method_are_the_published_ones():
    # Ye and Hamada (2000), individual error rate 5 %: 2.297 for 7 contrasts, 2.156 for 15 (from memory).
    assert lenth_critical(7) == pytest.approx(2.297, abs=0.03)
    assert lenth_critical(15) == pytest.approx(2.156, abs=0.03)
    assert lenth_p(lenth_critical(7), 7) == pytest.approx(0.05, abs=0.001)


def test_a_shipped_factorial_gives_the_published_analysis_of_variance():
    # Days in hospital of 60 patients by treatment and weight gain, shipped with statsmodels' tests together with R's
    # result of anova(lm(log(Days + 1) ~ factor(Duration) * factor(Weight))): p 0.0415617, 3.944502e-06, 0.5567479.
    from statsmodels.stats.tests.test_anova import kidney_table as data

    rows = [{"Duration": str(one), "Weight": str(other)} for one, other in zip(data.Duration, data.Weight, strict=True)]
    model = fit_matrix("days", rows, np.log(data.Days.to_numpy() + 1.0), ["Duration", "Weight"], is_log=False)
    found = effects(model)
    assert model.freedom == 54
    assert model.residual_deviation**2 == pytest.approx(28.9892 / 54, rel=1e-5)
    assert found["Duration"].p == pytest.approx(0.0415617, abs=2e-7)
    assert found["Duration × Weight"].p == pytest.approx(0.5567479, abs=2e-7)


def test_unbalanced_effects_are_those_of_statsmodels_with_sum_coding():
    import statsmodels.formula.api as smf

    rng = np.random.default_rng(4)
    data = pd.DataFrame({"a": rng.choice(["p", "q", "r"], 40), "b": rng.choice(["s", "t"], 40)}).sort_values(["a", "b"])
    data["y"] = rng.normal(0, 1, 40) + (data.a == "q") * 2 + (data.b == "t") * (data.a == "r") * 1.5
    rows = data[["a", "b"]].to_dict("records")
    model = fit_matrix("y", rows, data.y.to_numpy(), ["a", "b"])
    fitted = smf.ols("y ~ C(a, Sum) * C(b, Sum)", data).fit()
    interval = fitted.t_test("2 * C(b, Sum)[S.s] = 0").conf_int()[0]
    own = next(effect for effect in model.effects if effect.term == "b")
    assert own.contrast == "t against s"  # statsmodels' contrast is s less t
    assert (-own.high, -own.low) == pytest.approx(tuple(interval))
    assert effects(model)["a × b"].p == pytest.approx(
        fitted.f_test("C(a, Sum)[S.p]:C(b, Sum)[S.s] = C(a, Sum)[S.q]:C(b, Sum)[S.s] = 0").pvalue
    )


@pytest.mark.filterwarnings("ignore")  # statsmodels warns while it looks for the optimum
def test_specimen_figures_carry_a_split_plot_as_the_mixed_model_does():
    # Whole plot: specimen with its oil; sub-plot: zone, three fields each. For a balanced split plot the interaction of
    # oil and zone, tested against specimens, is the effect of oil on the specimens' log ratios. Reference: MixedLM with
    # random specimen and random zone within specimen (REML).
    import statsmodels.api as sm

    rng = np.random.default_rng(12)
    records = []
    for number in range(8):
        oil, own, slope = number % 2, rng.normal(0, 0.3), rng.normal(0, 0.25)
        for zone, _ in itertools.product((0, 1), range(3)):
            log_fraction = -2 + own + zone * (-0.6 + 0.5 * oil + slope) + rng.normal(0, 0.1)
            records.append({"specimen": number, "oil": oil, "zone": zone, "y": log_fraction})
    data = pd.DataFrame(records)
    means = data.groupby(["specimen", "oil", "zone"]).y.mean().unstack("zone").reset_index()
    levels = [{"oil": ("lean", "rich")[oil]} for oil in means.oil]
    model = fit_matrix("valley_retention", levels, np.exp(means[1] - means[0]).to_numpy(), ["oil"])
    own = effects(model)["oil"]
    mixed = sm.MixedLM.from_formula("y ~ oil * zone", data, groups="specimen", re_formula="~zone").fit(reml=True)
    assert math.log(own.estimate) == pytest.approx(mixed.params["oil:zone"], abs=1e-6)
    error = math.log(own.high / own.estimate) / stats.t.ppf(0.975, 6)
    assert error == pytest.approx(mixed.bse["oil:zone"], rel=0.02)


def test_two_levels_that_each_help_and_together_do_not_come_out_as_an_interaction():
    rows = [
        {"oil": oil, "ring": ring}
        for oil, ring in itertools.product(("lean", "rich"), ("bare", "coated"))
        for _ in "123"
    ]
    iron = [100, 104, 97, 60, 63, 58, 62, 59, 61, 99, 103, 98]
    model = adjust_for_many(fit_matrix("iron_ppm", rows, iron, ["oil", "ring"]))
    effect = effects(model)["oil × ring"]
    assert effect.is_settled and effect.is_ratio
    assert effect.estimate == pytest.approx((100 / 60.6) / (60.3 / 100), rel=0.03)
    found = read_interaction(model, effect, "lower")
    assert found.pattern == "together no better"
    assert "rich (oil) and coated (ring)" in found.sentence and "together" in found.sentence
    assert not effects(model)["oil"].is_settled  # averaged over the other factor nothing is left


def test_aliased_effects_are_named_and_not_given_to_one_factor_silently():
    # Half of a 2³ (defining relation I = ABC): each main effect is aliased with the interaction of the other two.
    rows = [
        {"A": a, "B": b, "C": "+" if a == b else "-"} for a, b in itertools.product("-+", repeat=2) for _ in range(3)
    ]
    model = fit_matrix("y", rows, list(np.arange(12.0) % 5), ["A", "B", "C"])
    found = effects(model)
    assert set(found) == {"A", "B", "C"}
    assert found["A"].aliased_with == ("B × C",) and found["C"].aliased_with == ("A × B",)
    assert any("A × B can't be told from C" in sentence for sentence in model.dropped)


def test_two_factors_that_change_together_are_aliased():
    rows = [{"finish": level, "oil": level.upper()} for level in "pppsss"]
    model = fit_matrix("friction", rows, [0.1, 0.11, 0.12, 0.2, 0.21, 0.19], ["finish", "oil"])
    assert effects(model)["finish"].aliased_with[0] == "oil"
    assert any(sentence.startswith("oil can't be told from finish") for sentence in model.dropped)


def test_missing_cells_are_named():
    rows = [{"a": a, "b": b} for a, b in [("1", "x"), ("1", "y"), ("2", "x")] for _ in range(3)]
    model = fit_matrix("y", rows, [1, 2, 3, 4, 5, 6, 7, 8, 10.0], ["a", "b"])
    assert any("no specimen of 2 + y" in sentence for sentence in model.dropped)


@pytest.mark.parametrize(
    ("rows", "values", "words"),
    [
        ([{"a": "1"}, {"a": "1"}], [1.0, 2.0], "no factor has two levels"),
        ([{"a": "1"}, {"a": "2"}], [1.0, math.nan], "1 specimens have a value"),
        ([], [], "0 specimens"),
    ],
)
def test_too_little_gives_no_effect_but_the_reason(rows, values, words):
    model = fit_matrix("friction", rows, values, ["a"])
    assert model.effects == () and words in model.method


def test_two_specimens_give_an_estimate_without_interval():
    model = fit_matrix("iron_ppm", [{"oil": "x"}, {"oil": "y"}], [50.0, 100.0], ["oil"])
    assert effects(model)["oil"].estimate == pytest.approx(2.0)
    assert math.isnan(effects(model)["oil"].low) and not effects(model)["oil"].is_settled


def test_a_retention_of_zero_is_taken_as_differences_and_said():
    model = fit_matrix(
        "valley_retention", [{"a": "1"}, {"a": "1"}, {"a": "2"}, {"a": "2"}], [0.9, 1.0, 0.0, 0.1], ["a"]
    )
    assert not model.is_log and "no logarithm" in model.notes[0]
    assert effects(model)["a"].estimate == pytest.approx(-0.9)


def test_permutation_p_of_two_groups_is_the_share_of_all_splits():
    # Three against three: 20 splits, two of them as extreme as the fully separated one.
    model = fit_matrix("y", [{"g": g} for g in "aaabbb"], [1.0, 2.0, 3.0, 11.0, 12.0, 13.5], ["g"])
    assert effects(model)["g"].p_permutation == pytest.approx(2 / 20)
    equal = stats.ttest_ind([1.0, 2.0, 3.0], [11.0, 12.0, 13.5])
    assert effects(model)["g"].p == pytest.approx(equal.pvalue)


def test_holm_is_applied_over_the_effects_on_a_response():
    # Holm (Scand. J. Stat. 6 (1979) 65), written out: sorted p times the number left, never falling.
    rng = np.random.default_rng(2)
    rows = [{"a": a, "b": b} for a, b in itertools.product("12", "34") for _ in range(4)]
    model = adjust_for_many(fit_matrix("y", rows, rng.normal(0, 1, 16), ["a", "b"]))
    ordered = sorted(model.effects, key=lambda effect: effect.p)
    running = 0.0
    for left, effect in zip((3, 2, 1), ordered, strict=True):
        running = max(running, min(1.0, left * effect.p))
        assert effect.p_holm == pytest.approx(running)


def trade_models(factor, cases):
    rows = [{factor: level} for level, _, _ in cases]
    return {
        "iron_ppm": fit_matrix("iron_ppm", rows, [iron for _, iron, _ in cases], [factor]),
        "friction": fit_matrix("friction", rows, [friction for _, _, friction in cases], [factor]),
    }


def opposites(models, cases):
    means = {"iron_ppm": np.mean([iron for _, iron, _ in cases]), "friction": np.mean([each for *_, each in cases])}
    return opposite_effects(models, BETTER, LEAST, means)


def test_one_oil_two_finishes_the_finish_raises_both():
    # Common practice, no source: plateaued 80 ppm and 0.16, single-grit 142 ppm and 0.28.
    cases = [("plateaued", 80, 0.16), ("single-grit", 142, 0.28)]
    models = trade_models("finish", cases)
    assert effects(models["iron_ppm"])["finish"].estimate == pytest.approx(142 / 80)
    assert effects(models["friction"])["finish"].estimate == pytest.approx(0.12)
    assert opposites(models, cases) == []


def test_one_finish_two_oils_wear_and_friction_go_opposite_ways_and_are_called_out():
    # Common practice, no source: 53 ppm and 0.16; with more anti-wear additive iron falls clearly (35 stands for it here)
    # and friction rises to 0.22.
    cases = [("mainstream", 53, 0.16), ("more anti-wear", 35, 0.22)]
    found = opposites(trade_models("oil", cases), cases)
    assert len(found) == 1 and found[0].better == "iron_ppm" and found[0].worse == "friction"
    assert not found[0].is_settled and "isn't settled" in found[0].sentence


def test_opposite_ways_of_changes_that_cant_be_told_apart_name_both_factors():
    levels = [{"finish": "coarse", "oil": "plain"}, {"finish": "fine", "oil": "rich"}]
    figures = {"iron_ppm": (53.0, 35.0), "friction": (0.16, 0.22)}
    models = {name: fit_matrix(name, levels, values, ["finish", "oil"]) for name, values in figures.items()}
    found = opposite_effects(models, {name: "lower" for name in figures}, {}, {"iron_ppm": 44.0, "friction": 0.19})
    assert found and all("which can't be told from it" in each.sentence for each in found)


def test_opposite_ways_dont_hang_on_which_figure_has_no_p_value():
    def effect(response: str, estimate: float, p: float) -> Effect:
        return Effect(response=response, term="oil", contrast="b against a", first=("b",), second=("a",), estimate=estimate,
                      low=math.nan, high=math.nan, is_ratio=False, p=p)  # fmt: skip

    for iron_p, friction_p in ((math.nan, 0.9), (0.9, math.nan)):
        models = {"iron_ppm": effect("iron_ppm", -20.0, iron_p), "friction": effect("friction", 0.05, friction_p)}
        models = {name: SimpleNamespace(effects=(own,)) for name, own in models.items()}
        better = {"iron_ppm": "lower", "friction": "lower"}
        assert opposite_effects(models, better, {}, {"iron_ppm": 50.0, "friction": 0.2}) == []


def test_large_differences_keep_both_ends():
    # Two means of six with residuals ±100: 3000 ± t(0.975, 10)·s·√(2/6), s² = 12·100²/10.
    y = [2000 + side * 100 for side in (-1, 1) * 3] + [5000 + side * 100 for side in (-1, 1) * 3]
    effect = fit_matrix("cycles", [{"oil": "a"}] * 6 + [{"oil": "b"}] * 6, y, ["oil"], is_log=False).effects[0]
    half = 2.228139 * math.sqrt(12 * 100**2 / 10) * math.sqrt(1 / 3)
    assert (effect.low, effect.high) == pytest.approx((3000 - half, 3000 + half), abs=0.01)


def test_figures_rounded_alike_are_not_taken_for_figures_without_scatter():
    """0.11, 0.11, 0.12, 0.12: rounding alone gives a standard deviation of 0.01 / √12 (JCGM 100:2008, 4.3.7)."""
    effect = fit_matrix("friction", [{"oil": oil} for oil in "aabb"], [0.11, 0.11, 0.12, 0.12], ["oil"]).effects[0]
    # t(0.975, 2) = 4.3027; the interval is ± 4.3027 · 0.01 / √12.
    assert (effect.low, effect.high) == pytest.approx((0.01 - 0.012421, 0.01 + 0.012421), abs=1e-5)
    single = fit_matrix("friction", [{"a": a, "b": b, "c": c} for a in "xy" for b in "xy" for c in "xy"],
                        [0.11] * 4 + [0.12] * 4, ["a", "b", "c"])  # fmt: skip
    assert max(effect.p for effect in single.effects if effect.term == "a") > 1e-4


def test_three_rings_the_soft_layer_is_best_until_it_flakes_off():
    # Common practice, no source: uncoated 108 / 0.19, hard coating 67 / 0.16, soft over hard 50 / 0.15; both rise when the
    # soft layer is gone (here to the hard coating's figures and beyond).
    cases = [("uncoated", 108, 0.19), ("hard", 67, 0.16), ("soft over hard", 50, 0.15), ("soft flaked off", 80, 0.18)]
    models = trade_models("ring", cases)
    for model in models.values():
        by_pair = {(effect.first[0], effect.second[0]): effect for effect in model.effects}
        assert by_pair[("soft over hard", "uncoated")].estimate < by_pair[("hard", "uncoated")].estimate
        flaked = by_pair[("soft flaked off", "soft over hard")]
        assert flaked.estimate > flaked.null
    assert opposites(models, cases) == []


def test_rank_correlations_are_scipys_with_the_published_interval():
    rng = np.random.default_rng(6)
    one = rng.normal(size=12)
    figures = {
        "retention": tuple(one),
        "iron": tuple(-one + 0.4 * rng.normal(size=12)),
        "few": (1.0, 2.0, *[math.nan] * 10),
    }
    found = rank_correlations(figures)
    assert len(found) == 1
    assert found[0].value == pytest.approx(stats.spearmanr(figures["retention"], figures["iron"]).statistic)
    # Bonett and Wright (2000): tanh(atanh r ± 1.96·√((1 + r²/2)/(n − 3))).
    half = 1.959964 * math.sqrt((1 + found[0].value ** 2 / 2) / 9)
    assert found[0].high == pytest.approx(math.tanh(math.atanh(found[0].value) + half), abs=1e-6)
    assert -1 < rank_interval(1.0, 6)[0] < rank_interval(1.0, 6)[1] < 1


def test_rank_correlations_of_few_pairs_count_their_orders():
    """Exact tables of Spearman's test (Zar 1972; from memory): a perfect order of five has p = 2/120, of six 2/720."""
    for count, p in ((5, 2 / 120), (6, 2 / 720)):
        found = rank_correlations({"one": tuple(range(count)), "other": tuple(range(count))})[0]
        assert found.p == pytest.approx(p)
    for count in range(5, 13):
        low, high = rank_interval(float(stats.spearmanr(range(count), range(count))[0]), count)
        assert low < 0.999 and high < 1


def test_equal_effects_have_equal_p_values_after_lenth():
    strengths = [2 / 3, np.nextafter(2 / 3, 0), np.nextafter(2 / 3, 1)]
    assert len({lenth_p(strength, 7) for strength in strengths}) == 1


def test_sample_size_is_that_of_the_power_tables():
    # Cohen (1988), two-sided 5 %, power 0.80: d = 0.5 needs 64 in each group, d = 0.8 needs 26.
    rng = np.random.default_rng(1)
    model = fit_matrix("y", [{"a": level} for level in "ab" * 40], rng.normal(0, 1, 80), ["a"])
    assert sample_size(model, 0.5 * model.residual_deviation).specimens == 64
    assert sample_size(model, 0.8 * model.residual_deviation).specimens == 26


def test_thousands_of_specimens_are_modelled_in_seconds():
    rng = np.random.default_rng(0)
    rows = [{"a": str(k % 3), "b": str(k % 2), "c": str(k % 5)} for k in range(5000)]
    model = fit_matrix("friction", rows, rng.normal(0.1, 0.01, 5000), ["a", "b", "c"])
    assert model.specimens == 5000 and model.freedom > 4900


def test_an_open_question_says_how_many_specimens_more_would_settle_it():
    # The half-width falls with the root of the number: an interval of ± 2 about 1 needs four times as many specimens.
    levels = [{"a": level} for level in ("p", "q") for _ in range(4)]
    plan = Plan(
        path="",
        fields=(),
        specimens=tuple(PlannedSpecimen(specimen=str(k), levels=own) for k, own in enumerate(levels)),
        factors=("a",),
    )
    effect = Effect(
        response="friction", term="a", contrast="q against p", first=("q",), second=("p",), estimate=1.0, low=-1.0, high=3.0,
        is_ratio=False, p=0.25,
    )  # fmt: skip
    model = fit_matrix("friction", levels, [1, 2, 3, 4, 2, 3, 4, 5.0], ["a"])
    said = question_sentence(effect, plan, cell_needs(plan, []), model)
    assert "about 24 more specimens" in said and "p; q" in said
