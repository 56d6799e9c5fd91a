"""Where the data do not carry an answer: a sentence, and the best bounded answer, never a silent number."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pandas as pd
import pytest
from published_lives import frame, simulated_lives

from pipeline.survival import (
    CannotFit,
    ImpossibleLives,
    SmallRiskSetWarning,
    check_life_regression,
    compare_distributions,
    cumulative_incidence,
    dense_from,
    fit_life_regression,
    fit_life_regression_imputed,
    fit_weibull,
    fit_weibull_fixed_shape,
    forecast,
    kaplan_meier,
    life_ratio_per_doubling,
    log_rank,
    mean_cumulative_function,
    median_life,
    probability_plot,
    restricted_mean_life,
    turnbull,
)

LONG_NAME = "x" * 10_000


def test_two_failures_are_fitted_with_limits_that_say_how_little_is_known():
    fit = fit_weibull(frame([400, 700], [800] * 20))
    low, high = fit.b_life_limits(10)
    assert high / low > 3
    assert fit.shape_limits[1] / fit.shape_limits[0] > 5


def test_with_no_failures_a_stated_shape_gives_a_lower_limit_and_no_estimate():
    lives = frame([], [900] * 40)
    with pytest.raises(CannotFit, match="fit_weibull_fixed_shape gives a lower limit"):
        fit_weibull(lives)
    fit = fit_weibull_fixed_shape(lives, 2.0)
    assert fit.scale_days is None
    # (sum of ages squared / -log 0.05)^(1/2), by hand
    assert fit.scale_lower_days == pytest.approx(math.sqrt(40 * 900**2 / -math.log(0.05)), rel=1e-9)


def test_a_refusal_says_why_without_the_names_of_functions_too():
    with pytest.raises(CannotFit) as caught:
        fit_weibull(frame([300] * 8, [400] * 8))
    assert caught.value.why.startswith("All failures (8) lie at 300 days")
    assert "fit_weibull" not in caught.value.why
    assert str(caught.value).startswith(caught.value.why)


def test_with_no_failures_the_curve_is_empty_and_its_median_unknown():
    curve = kaplan_meier(frame([], [900] * 40))
    assert curve.empty
    assert median_life(curve) == (None, None, None)
    assert restricted_mean_life(curve, 500).value == 500


def test_a_curve_that_stays_above_one_half_has_no_median_but_a_bounded_mean():
    curve = kaplan_meier(frame([100, 200], [900] * 40))
    assert median_life(curve).value is None
    mean = restricted_mean_life(curve, 900)
    assert 0 < mean.lower <= mean.value <= mean.upper <= 900


def test_one_group_cannot_be_compared():
    with pytest.raises(CannotFit, match="holds 1 group; comparing needs at least two"):
        log_rank(frame([100, 200]).assign(kind="a"), "kind")


def test_groups_in_which_nothing_failed_cannot_be_compared():
    with pytest.raises(CannotFit, match="None of the lives failed"):
        log_rank(frame([], [100, 200]).assign(kind=["a", "b"]), "kind")


def test_all_failures_on_one_day_are_refused_for_a_fit_and_drawn_as_a_curve():
    lives = frame([300] * 8, [400] * 8)
    with pytest.raises(CannotFit, match=r"All failures \(8\) lie at 300 days"):
        fit_weibull(lives)
    assert kaplan_meier(lives)["survival"].tolist() == [0.5]


def test_tied_days_are_fitted_as_they_stand():
    tied = frame([300] * 8 + [500] * 8, [600] * 8)
    one_by_one = fit_weibull(frame([300, 500], [600]).assign(quantity=8))
    assert fit_weibull(tied).shape == pytest.approx(one_by_one.shape, rel=1e-9)


def test_a_life_with_no_time_is_refused_with_what_to_do():
    with pytest.raises(ImpossibleLives, match=r"is not after entry_days 0\. A failure on the day of"):
        fit_weibull(frame([0, 100]))


def test_a_covariate_that_separates_failures_is_refused():
    rng = np.random.default_rng(1)
    x = rng.uniform(0, 1, 60)
    failed = x > 0.8
    lives = pd.DataFrame(
        {
            "entry_days": 0.0,
            "exit_days": np.where(failed, rng.uniform(10, 30, 60).round(), 5000.0),
            "failed": failed,
            "quantity": 1,
            "kind": np.where(failed, "a", "b"),
        }
    )
    with pytest.raises(CannotFit, match="No control with kind = b failed"):
        fit_life_regression(lives, ["kind"])
    for numbers in (np.where(failed, 1.0, -x), np.where(failed, 1.0, rng.choice([0.0, -1.0], 60))):
        with pytest.raises(CannotFit, match="separates the failures from the rest"):
            fit_life_regression(lives.assign(x=numbers), ["x"])


def test_a_search_that_does_not_settle_is_said(monkeypatch):
    monkeypatch.setattr("pipeline.survival.turnbull_estimate._MOST_ROUNDS", 2)
    lives = frame([90, 180, 180, 270, 360]).assign(exit_low_days=[0.0, 60.0, 90.0, 100.0, 200.0])
    with pytest.warns(UserWarning, match="has not settled"):
        turnbull(lives)


def test_a_regression_that_does_not_settle_is_refused(monkeypatch):
    from scipy.optimize import OptimizeResult

    import pipeline.survival.regression as regression

    lives = simulated_lives(2.0, 1500, 200, 3)
    lives["x"] = np.random.default_rng(0).normal(size=len(lives))
    monkeypatch.setattr(regression, "minimize", lambda loss, start, **_: OptimizeResult(x=start + 40.0))
    with pytest.raises(CannotFit, match=r"no maximum|cannot be told apart"):
        fit_life_regression(lives, ["x"])


def test_a_forecast_from_no_failures_says_what_is_not_excluded():
    fit = fit_weibull_fixed_shape(frame([], [900] * 40), 2.0)
    ahead = forecast(fit, pd.DataFrame({"age_days": [900.0], "quantity": [40]}), 365)
    assert ahead.expected == 0
    assert ahead.lower == 0
    assert ahead.upper >= 1


def test_one_unit_has_a_mean_count_but_no_limits():
    events = pd.DataFrame({"unit": ["A", "A"], "age_days": [10.0, 20.0]})
    exposure = pd.DataFrame({"unit": ["A"], "entry_days": [0.0], "exit_days": [30.0]})
    frame_ = mean_cumulative_function(events, exposure)
    assert frame_["mean_count"].tolist() == [1, 2]
    assert frame_["lower"].isna().all()


@pytest.mark.parametrize(
    "call",
    [
        lambda lives: log_rank(lives, "group"),
        lambda lives: fit_life_regression(lives, ["group"]),
        lambda lives: cumulative_incidence(lives.assign(end_reason=lives["group"]), "b"),
    ],
    ids=["test", "regression", "competing ends"],
)
def test_a_group_name_of_ten_thousand_characters_is_refused_with_its_row(call):
    lives = simulated_lives(2.0, 1500, 100, 3)
    lives["group"] = ["a", LONG_NAME, *(["b", "a"] * len(lives))][: len(lives)]
    with pytest.raises(ImpossibleLives, match=r"row 1: .* has 10000 characters; a name has at most 200"):
        call(lives)


TAKES_LIVES = {
    "Weibull": fit_weibull,
    "curve": kaplan_meier,
    "Turnbull": turnbull,
    "stated shape": lambda lives: fit_weibull_fixed_shape(lives, 2.0),
    "distributions": compare_distributions,
    "first dense age": dense_from,
    "plot": lambda lives: probability_plot(lives, fit_weibull(simulated_lives(2.0, 1500, 50, 1))),
    "test": lambda lives: log_rank(lives, "group"),
    "regression": lambda lives: fit_life_regression(lives, ["group"]),
    "regression over draws": lambda lives: fit_life_regression_imputed([lives, lives], ["group"]),
    "stress": lambda lives: life_ratio_per_doubling(lives, "stress"),
    "stress over draws": lambda lives: life_ratio_per_doubling(GROUPED, "stress", draws=[lives, lives]),
    "competing ends": lambda lives: cumulative_incidence(lives, "fails on"),
    "diagnostics": lambda lives: check_life_regression(lives, fit_life_regression(GROUPED, ["group"])),
}
GROUPED = simulated_lives(2.0, 1500, 120, 4).assign(
    group=lambda lives: np.where(np.arange(len(lives)) % 2, "a", "b"),
    stress=lambda lives: 1.0 + np.arange(len(lives)) % 5,
    end_reason=lambda lives: np.where(lives["failed"], "fails on", None),
)


@pytest.mark.parametrize("call", TAKES_LIVES.values(), ids=TAKES_LIVES.keys())
@pytest.mark.parametrize(
    ("column", "value", "reason"),
    [
        ("exit_days", 0.0, "exit_days 0 is not after entry_days"),
        ("entry_days", 1e9, "is not after entry_days 1e[+]09"),
        ("entry_days", -5.0, "entry_days -5 is negative"),
        ("exit_days", math.nan, "exit_days is missing"),
        ("entry_days", math.nan, "entry_days is missing"),
        ("exit_days", math.inf, "exit_days is infinite"),
        ("quantity", 0, "quantity 0 is less than 1"),
        ("quantity", math.nan, "quantity is missing"),
        ("quantity", 1.5, "quantity 1.5 is not a whole number"),
    ],
)
def test_every_function_of_lives_refuses_the_same_impossible_rows_by_row(call, column, value, reason):
    bad = GROUPED.assign(**{column: GROUPED[column].astype(float)})
    bad.loc[3, column] = value
    with pytest.raises(ImpossibleLives, match=f"row 3: .*{reason}"):
        call(bad)


def test_limits_are_finite_or_say_infinity_and_never_nan():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SmallRiskSetWarning)
        for failures in range(2, 12):
            rng = np.random.default_rng(failures)
            fit = fit_weibull(frame(rng.uniform(100, 900, failures).round(), [1000] * 5))
            for low, high in (
                fit.shape_limits,
                fit.scale_limits,
                fit.b_life_limits(10),
                fit.mean_life_limits,
            ):
                assert not math.isnan(low)
                assert low < high
