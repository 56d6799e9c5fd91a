"""Did a campaign work: against like-for-like replacement on the same dates, and the choice of bad sites."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from published_lives import simulated_lives
from scipy.stats import binom, gamma

from pipeline.survival import (
    CannotFit,
    ImpossibleLives,
    StatedLife,
    campaign_effect,
    fit_weibull,
    fit_weibull_fixed_shape,
)

COLUMNS = ["site", "age_days", "days", "quantity", "failures"]
LIFE = StatedLife(2.5, 1500)


def rows(*values):
    return pd.DataFrame(values, columns=COLUMNS)


def failures_of(age, days, quantity, rng, scale=1500.0, shape=2.5):
    """Failures of so many controls of an age, each replaced at once, within so many days."""
    count = 0
    for _ in range(quantity):
        when = scale * ((age / scale) ** shape + rng.exponential()) ** (1 / shape) - age
        while when <= days:
            count += 1
            when += scale * rng.weibull(shape)
    return count


def test_without_renewal_in_reach_the_forecast_is_the_chance_written_out():
    # 50 new controls for 100 days: 50 (1 - exp(-(100/1500)^2.5)), second failures being rarer than 1 in 1000 of these.
    effect = campaign_effect(LIFE, rows(("S", 0, 100, 50, 2)))
    expected = 50 * -math.expm1(-((100 / 1500) ** 2.5))
    assert effect.expected == pytest.approx(expected, rel=1e-3)
    assert effect.ratio == pytest.approx(2 / expected, rel=1e-3)
    # A stated life leaves Poisson limits alone (Garwood 1936, by the gamma distribution).
    assert effect.lower == pytest.approx(gamma.ppf(0.025, 2) / expected, rel=1e-3)
    assert effect.upper == pytest.approx(gamma.ppf(0.975, 3) / expected, rel=1e-3)


def test_renewals_add_up_to_the_long_run_rate():
    effect = campaign_effect(StatedLife(1.0, 100), rows(("S", 0, 1000, 3, 30)))
    assert effect.expected == pytest.approx(30, rel=1e-3)  # a constant hazard: 3 * 1000 / 100


def test_identical_new_controls_have_a_small_naive_ratio_but_no_effect():
    naive, ratios, hits, runs = [], [], 0, 15
    for seed in range(runs):
        rng = np.random.default_rng(seed)
        ages = rng.uniform(300, 1300, 30).round()
        before = rows(*((i, age, 730, 8, failures_of(age, 730, 8, rng)) for i, age in enumerate(ages)))
        after = rows(*((i, 0, 730, 8, failures_of(0, 730, 8, rng)) for i in range(30)))
        effect = campaign_effect(LIFE, after, before, seed=seed)
        naive.append(effect.naive_ratio)
        ratios.append(effect.ratio)
        hits += effect.lower <= 1 <= effect.upper
        assert effect.naive_ratio == pytest.approx(
            effect.ratio * effect.ages_factor * effect.regression_factor, rel=1e-9
        )
    assert np.mean(naive) < 0.35
    assert np.mean(ratios) == pytest.approx(1, abs=0.06)
    assert hits >= binom.ppf(0.001, runs, 0.93)


def test_worst_sites_have_a_naive_ratio_below_one_but_no_effect():
    # 300 sites that differ (gamma, concentration 4), none touched; the fifth with most failures is "treated".
    naive, ratios, hits, runs = [], [], 0, 15
    for seed in range(runs):
        rng = np.random.default_rng(seed)
        factor = rng.gamma(4, size=300) / 4
        mean = 2.5 * factor
        first, second = rng.poisson(mean), rng.poisson(mean)
        chance = StatedLife(1.0, 4000.0)  # constant hazard: ages play no part
        quantity = round(2.5 * 4000 / 730)
        before = rows(*((i, 0, 730, quantity, n) for i, n in enumerate(first)))
        chosen = np.argsort(-first, kind="stable")[:60]
        after = rows(*((i, 0, 730, quantity, second[i]) for i in chosen))
        effect = campaign_effect(chance, after, before, seed=seed)
        naive.append(effect.naive_ratio)
        ratios.append(effect.ratio)
        hits += effect.lower <= 1 <= effect.upper
        assert effect.ages_factor == pytest.approx(1, abs=1e-9)
    assert 0.6 < np.mean(naive) < 0.8
    assert np.mean(ratios) == pytest.approx(1, abs=0.04)
    assert hits >= binom.ppf(0.001, runs, 0.93)


def test_a_true_effect_is_found_and_said():
    rng = np.random.default_rng(3)
    after = rows(*((i, 0, 1460, 20, failures_of(0, 1460, 20, rng, scale=3000)) for i in range(20)))
    effect = campaign_effect(LIFE, after)
    assert effect.upper < 0.5
    assert effect.sentence.startswith("The campaign lowered failures.")
    assert "No period before is given" in effect.sentence
    assert effect.naive_ratio is None


def test_the_sentence_names_both_effects():
    before = rows(("A", 1000, 730, 20, 12), ("B", 1000, 730, 20, 3), ("C", 1000, 730, 20, 7))
    effect = campaign_effect(LIFE, rows(("A", 0, 730, 20, 3)), before)
    assert "The data do not show an effect" in effect.sentence
    assert "the change in the controls' ages gives" in effect.sentence
    assert "regression to the mean" in effect.sentence


def test_the_uncertainty_of_the_life_widens_the_limits():
    few, many = (fit_weibull(simulated_lives(2.5, 1500, units, seed=2)) for units in (40, 4000))
    after = rows(("S", 0, 1200, 200, 80))
    wide, narrow = campaign_effect(few, after), campaign_effect(many, after)
    assert wide.upper - wide.lower > 1.3 * (narrow.upper - narrow.lower)


@pytest.mark.parametrize(
    ("after", "before", "error", "reason"),
    [
        (rows(("S", -1, 100, 5, 0)), None, ImpossibleLives, "after row 0: age_days -1 is less than 0"),
        (rows(("S", 0, 0, 5, 0)), None, ImpossibleLives, "after row 0: days 0 is not above 0"),
        (rows(("S", 0, 100, 0, 0)), None, ImpossibleLives, "after row 0: quantity 0 is less than 1"),
        (rows(("S", 0, 100, 5, np.nan)), None, ImpossibleLives, "after row 0: failures is missing"),
        (rows((None, 0, 100, 5, 0)), None, ImpossibleLives, "after row 0: site is missing"),
        (rows(("S", 0, 100, 5, 0)), rows(("T", 0, 100, 5, -1)), ImpossibleLives, "before row 0: failures -1"),
        (rows(("S", 0, 100, 5, 0)), rows(("T", 0, 100, 5, 1)), CannotFit, "1 treated sites, such as S, are not in"),
        (rows(), None, CannotFit, "`after` has no rows"),
    ],
)  # fmt: skip
def test_impossible_periods_are_refused(after, before, error, reason):
    with pytest.raises(error, match=reason):
        campaign_effect(LIFE, after, before)


def test_a_fit_without_failures_cannot_forecast():
    none = fit_weibull_fixed_shape(simulated_lives(2.5, 1500, 50, 1).assign(failed=False), 2.5)
    with pytest.raises(CannotFit, match="no scale"):
        campaign_effect(none, rows(("S", 0, 100, 5, 0)))


def test_several_lives_give_the_sum_of_what_each_expects():
    other = StatedLife(1.2, 900)
    after = rows(("S", 0, 700, 30, 9), ("T", 400, 700, 20, 11)).assign(life=["one", "other"])
    both = campaign_effect({"one": LIFE, "other": other}, after)
    alone = [campaign_effect(LIFE, after[:1]), campaign_effect(other, after[1:])]
    assert both.expected == pytest.approx(sum(one.expected for one in alone), rel=1e-3)
    assert both.observed == 20
    assert both.lower < both.ratio < both.upper


def test_a_row_of_an_unknown_life_is_refused():
    with pytest.raises(ImpossibleLives, match="life 'third' is not among the fits"):
        campaign_effect({"one": LIFE}, rows(("S", 0, 700, 30, 9)).assign(life="third"))
