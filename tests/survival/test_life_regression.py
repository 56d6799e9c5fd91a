"""Weibull accelerated-life regression."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pandas as pd
import pytest
from lifelines import WeibullAFTFitter
from published_lives import simulated_lives
from r_outputs import as_lives, r_data, r_values
from scipy.stats import binom
from test_compare_distributions import interval_lives

from pipeline.survival import CannotFit, ImpossibleLives, fit_life_regression, fit_weibull


def lives_with(ratio, units, seed, exponent=0.0):
    """Controls of two switchings whose lives differ by a ratio, and fall with stress**-exponent."""
    rng = np.random.default_rng(seed)
    plain = rng.random(units) < 0.4
    log_stress = rng.normal(0, 0.5, units)
    scale = 1500 * np.where(plain, ratio, 1.0) * np.exp(-exponent * log_stress)
    life = scale * rng.weibull(2.0, units)
    entry = np.maximum(np.floor(rng.uniform(-1500, 1500, units)), 0)
    end = entry + rng.uniform(200, 2500, units)
    seen = life > entry
    frame = pd.DataFrame(
        {
            "entry_days": entry,
            "exit_days": np.where(life <= end, life, end),
            "failed": life <= end,
            "quantity": 1,
            "switching": np.where(plain, "plain relay", "zero-cross"),
            "log_stress": log_stress,
        }
    )
    return frame[seen].reset_index(drop=True)


@pytest.mark.parametrize(
    ("name", "data", "age", "censored", "covariates"),
    [
        ("survreg_lung_weibull", "lung", "time", "c", ["age", "sex"]),
        ("survreg_ovarian_weibull", "ovarian", "futime", None, ["ecog_ps", "rx"]),
    ],
)
def test_equals_r_survreg(name, data, age, censored, covariates):
    # R survival 3.5.8, survreg(dist = "weibull"); coefficients to 1e-6, standard errors to 1e-5 relative.
    frame = r_data(data)
    if censored is None:
        frame = frame.assign(c=1 - frame.fustat)
    fit, expected = fit_life_regression(as_lives(frame, age=age), covariates), r_values(name)
    assert fit.coefficients.tolist() == pytest.approx(expected["coef"], abs=1e-6)
    assert 1 / fit.shape == pytest.approx(expected["scale"], abs=1e-6)
    assert fit.log_likelihood == pytest.approx(expected["loglik"], abs=1e-6)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(np.sqrt(np.diag(expected["var"])), rel=1e-5)


def test_interval_censoring_equals_r_survreg():
    # R survival 3.5.8: survreg(Surv(l2, r2, type = "interval2") ~ z); tolerance 1e-6.
    fit, expected = fit_life_regression(interval_lives(), ["z"]), r_values("survreg_interval_weibull")
    assert fit.coefficients.tolist() == pytest.approx(expected["coef"], abs=1e-6)
    assert fit.log_likelihood == pytest.approx(expected["loglik"], abs=1e-6)


def test_delayed_entry_and_quantities_equal_lifelines():
    lives = lives_with(0.5, 500, seed=1, exponent=0.4)
    lives["quantity"] = np.random.default_rng(1).integers(1, 4, len(lives))
    fit = fit_life_regression(lives, ["switching", "log_stress"])
    table = lives[["entry_days", "exit_days", "log_stress"]].assign(
        failed=lives.failed.astype(int),
        plain=(lives.switching == "plain relay").astype(float),
        w=lives.quantity,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        oracle = WeibullAFTFitter().fit(table, "exit_days", "failed", entry_col="entry_days", weights_col="w")
    ratios = fit.life_ratios.set_index("covariate")["life_ratio"]
    assert math.log(ratios["switching=plain relay"]) == pytest.approx(
        oracle.params_["lambda_"]["plain"], abs=1e-4
    )
    assert math.log(ratios["log_stress"]) == pytest.approx(oracle.params_["lambda_"]["log_stress"], abs=1e-4)
    assert math.log(fit.shape) == pytest.approx(oracle.params_["rho_"]["Intercept"], abs=1e-4)
    assert fit.log_likelihood == pytest.approx(oracle.log_likelihood_, rel=1e-7)


def test_levels_are_compared_with_the_commonest():
    ratios = fit_life_regression(lives_with(0.5, 400, seed=2), ["switching"]).life_ratios
    assert list(ratios.columns) == ["covariate", "life_ratio", "lower", "upper", "p_value", "compared_with"]
    assert ratios["covariate"].tolist() == ["switching=plain relay"]
    assert ratios["compared_with"].tolist() == ["zero-cross"]
    row = ratios.iloc[0]
    assert 0 < row["lower"] < row["life_ratio"] < row["upper"] < 1


def test_the_life_of_a_control_follows_from_the_ratios():
    lives = lives_with(0.5, 400, seed=2, exponent=0.4)
    fit = fit_life_regression(lives, ["switching", "log_stress"])
    plain = fit.life_for({"switching": "plain relay", "log_stress": 0.3})
    other = fit.life_for({"switching": "zero-cross", "log_stress": -0.7})
    ratios = fit.life_ratios["life_ratio"]
    assert plain.scale_days / other.scale_days == pytest.approx(ratios[0] * ratios[1], rel=1e-9)
    with pytest.raises(ValueError, match="give a value for log_stress"):
        fit.life_for({"switching": "zero-cross"})


def test_splitting_lives_and_quantities_changes_nothing():
    lives = lives_with(0.5, 200, seed=4, exponent=0.3).assign(quantity=2)
    fit = fit_life_regression(lives, ["switching", "log_stress"])
    middle = (lives["entry_days"] + lives["exit_days"]) / 2
    halves = pd.concat(
        [lives.assign(exit_days=middle, failed=False), lives.assign(entry_days=middle)], ignore_index=True
    )
    singles = pd.concat([lives.assign(quantity=1)] * 2, ignore_index=True).sample(frac=1, random_state=0)
    for other in (halves, singles):
        again = fit_life_regression(other, ["switching", "log_stress"])
        assert again.log_likelihood == pytest.approx(fit.log_likelihood, rel=1e-10)
        assert again.life_ratios["life_ratio"].tolist() == pytest.approx(
            fit.life_ratios["life_ratio"].tolist(), rel=1e-6
        )


def test_a_change_of_load_is_followed_when_the_life_is_split_there():
    # Each control's load changes at 600 days and its hazard follows the load of the moment (shape 2, life ratio 0.4).
    rng = np.random.default_rng(7)
    units, change = 4000, 600.0
    start, after = rng.random(units) < 0.5, rng.random(units) < 0.5
    scale = lambda heavy: 2000 * np.where(heavy, 0.4, 1.0)  # noqa: E731
    hazard = rng.exponential(size=units)
    first = (change / scale(start)) ** 2
    early = hazard < first
    life = np.where(
        early,
        scale(start) * np.sqrt(hazard),
        scale(after) * np.sqrt(np.maximum(hazard - first, 0) + (change / scale(after)) ** 2),
    )
    end = np.minimum(life, 2500)
    one = pd.DataFrame(
        {"entry_days": 0.0, "exit_days": np.minimum(end, change), "failed": early, "heavy": start}
    )
    two = pd.DataFrame({"entry_days": change, "exit_days": end, "failed": life <= 2500, "heavy": after})[
        ~early
    ]
    lives = pd.concat([one, two[two.exit_days > change]], ignore_index=True).assign(quantity=1)
    row = fit_life_regression(lives, ["heavy"]).life_ratios.iloc[0]
    ratio = row["life_ratio"] if row["covariate"] == "heavy=True" else 1 / row["life_ratio"]
    assert ratio == pytest.approx(0.4, rel=0.05)


def test_limits_cover_the_true_life_ratio_as_often_as_they_say():
    runs, hits = 130, 0
    for seed in range(runs):
        lives = lives_with(0.6, 120, 1000 + seed)
        row = fit_life_regression(lives, ["switching"], confidence=0.9).life_ratios.iloc[0]
        truth = 0.6 if row["covariate"] == "switching=plain relay" else 1 / 0.6
        hits += row["lower"] <= truth <= row["upper"]
    # Wald limits from about 65 failures: allow 86 to 92 % true coverage and 0.1 % binomial scatter.
    assert binom.ppf(0.001, runs, 0.86) <= hits <= binom.ppf(0.999, runs, 0.92)


def test_an_effect_of_nothing_leaves_the_plain_fit():
    lives = simulated_lives(2.0, 1500, 300, seed=3)
    both = pd.concat([lives.assign(side="a"), lives.assign(side="b")], ignore_index=True)
    fit, plain = fit_life_regression(both, ["side"]), fit_weibull(both)
    assert fit.life_ratios["life_ratio"][0] == pytest.approx(1, abs=1e-8)
    assert fit.shape == pytest.approx(plain.shape, rel=1e-7)


GOOD = lives_with(0.5, 120, seed=9)


@pytest.mark.parametrize(
    ("lives", "covariates", "error", "reason"),
    [
        (GOOD, "switching", TypeError, "list of column names, not one text"),
        (GOOD, "__import__('os').getcwd()", TypeError, "list of column names"),
        (GOOD, [], ValueError, "at least one column"),
        (GOOD, ["exit_days"], ValueError, "none of them part of the lives form"),
        (GOOD, ["switching", "switching"], ValueError, "different columns"),
        (GOOD, ["colour"], ImpossibleLives, "column colour: is missing"),
        (GOOD.assign(log_stress=[np.nan] + [0.1] * (len(GOOD) - 1)), ["log_stress"], ImpossibleLives,
         "row 0: log_stress is missing"),
        (GOOD.assign(site="S1"), ["site"], CannotFit, "same value in every row"),
        (GOOD.assign(kind=np.where(GOOD.failed, "a", np.where(GOOD.index % 2, "a", "b"))), ["kind"], CannotFit,
         "No control with kind = b failed"),
        (GOOD.assign(twice=2 * GOOD.log_stress), ["log_stress", "twice"], CannotFit, "determine one another"),
        (GOOD[~GOOD.failed | (GOOD.failed.cumsum() < 4)], ["log_stress"], CannotFit, "3 failures are too few"),
    ],
)  # fmt: skip
def test_refusals_say_why(lives, covariates, error, reason):
    with pytest.raises(error, match=reason):
        fit_life_regression(lives, covariates)
