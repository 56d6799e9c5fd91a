"""Life ratio per doubling of inrush stress, and whether a regression describes the lives."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from r_fixtures import FIXTURES, r_lives
from scipy.stats import binom
from test_life_regression import lives_with

from pipeline.survival import (
    CannotFit,
    ImpossibleLives,
    check_life_regression,
    fit_life_regression,
    life_ratio_per_doubling,
)


def stressed(units, seed, exponent):
    lives = lives_with(1.0, units, seed, exponent)
    return lives.assign(stress=np.exp(lives["log_stress"]))


def test_the_ratio_is_two_to_the_coefficient_of_r():
    # survreg(Surv(exit, failed) ~ log(stress) + group, dist = "weibull"); see r_fixtures.R. 1e-5 relative.
    lives = r_lives().assign(entry_days=0.0, quantity=1)
    effect, expected = life_ratio_per_doubling(lives, "stress", ["group"]), FIXTURES["stress_regression"]
    slope, error = expected["coef"][1], expected["se"][1]
    assert effect.life_ratio == pytest.approx(2**slope, rel=1e-5)
    assert effect.lower == pytest.approx(2 ** (slope - 1.959964 * error), rel=1e-5)
    assert effect.upper == pytest.approx(2 ** (slope + 1.959964 * error), rel=1e-5)
    assert effect.exponent == pytest.approx(-slope, rel=1e-5)


def test_limits_cover_the_true_ratio():
    runs, hits = 60, 0
    for seed in range(runs):
        effect = life_ratio_per_doubling(stressed(150, 5000 + seed, 0.5), "stress")
        hits += effect.lower <= 2**-0.5 <= effect.upper
    # Wald limits from about 70 failures: allow 92 to 97 % true coverage and 0.1 % of binomial scatter.
    assert binom.ppf(0.001, runs, 0.92) <= hits <= binom.ppf(0.999, runs, 0.97)


def test_an_effect_is_claimed_only_where_the_limits_exclude_one():
    shown = life_ratio_per_doubling(stressed(600, 1, 0.8), "stress")
    assert shown.upper < 1
    assert "goes with 0.5" in shown.sentence
    none = life_ratio_per_doubling(stressed(80, 3, 0.0), "stress")
    assert none.lower < 1 < none.upper
    assert none.sentence.startswith("The data do not show")
    assert f"{none.failures} failures" in none.sentence


def test_controls_of_unknown_stress_are_left_out_and_counted():
    lives = stressed(300, 2, 0.5).assign(quantity=2)
    lives.loc[lives.index[:40], "stress"] = np.nan
    effect = life_ratio_per_doubling(lives, "stress")
    assert effect.left_out == 80
    assert effect.failures == 2 * int(lives["failed"].to_numpy()[40:].sum())


FEW = stressed(300, 4, 0.5)


@pytest.mark.parametrize(
    ("lives", "error", "reason"),
    [
        (FEW[~FEW["failed"] | (FEW["failed"].cumsum() < 10)], CannotFit, "Only 9 failed controls have a known inrush"),
        (FEW.assign(stress=np.nan), CannotFit, "Only 0 failed controls have a known inrush"),
        (FEW.assign(stress=1.5), CannotFit, r"Every control has the same inrush stress \(1.5\)"),
        (FEW.assign(stress=np.where(FEW["failed"], 1.5, 1.2)), CannotFit, "failures fell on one inrush stress"),
        (FEW.assign(stress=1 + 1e-3 * FEW["log_stress"]), CannotFit, "Stress differs too little among"),
        (FEW.assign(stress=-1.0), ImpossibleLives, r"row 0: stress -1\.0 is no number above 0"),
        (FEW.drop(columns="stress"), ImpossibleLives, "column stress: is missing"),
    ],
)  # fmt: skip
def test_no_claim_where_the_data_cannot_carry_it(lives, error, reason):
    with pytest.raises(error, match=reason):
        life_ratio_per_doubling(lives, "stress")


# --- diagnostics ----------------------------------------------------------------------------------


def test_residuals_of_a_true_model_are_accepted_as_often_as_they_should():
    runs, small, shapes = 60, 0, 0
    for seed in range(runs):
        lives = lives_with(0.6, 250, 9000 + seed, exponent=0.4)
        result = check_life_regression(lives, fit_life_regression(lives, ["switching", "log_stress"]))
        small += result.residual_p_value < 0.05
        shapes += (result.proportionality["p_value_holm"] < 0.05).any()
    assert small <= binom.ppf(0.999, runs, 0.07)
    assert shapes <= binom.ppf(0.999, runs, 0.07)


def test_expected_failures_add_up_to_those_seen():
    lives = lives_with(0.6, 250, 1, exponent=0.4).assign(quantity=2)
    result = check_life_regression(lives, fit_life_regression(lives, ["switching", "log_stress"]))
    # At the maximum of the likelihood the residuals sum to the failures; 1e-5 relative.
    assert result.bins["expected"].sum() == pytest.approx(result.bins["failures"].sum(), rel=1e-5)
    assert result.bins["failures"].sum() == 2 * lives["failed"].sum()
    assert (result.bins["expected"] >= 4.9).all()


def test_an_effect_that_changes_with_age_is_found_and_said():
    rng = np.random.default_rng(1)
    kind = np.where(np.arange(600) % 2 == 0, "early", "wearing")
    life = np.where(kind == "early", 1500 * rng.weibull(0.8, 600), 1500 * rng.weibull(3.5, 600))
    lives = pd.DataFrame(
        {
            "entry_days": 0.0,
            "exit_days": np.minimum(life, 2500),
            "failed": life < 2500,
            "quantity": 1,
            "kind": kind,
        }
    )
    result = check_life_regression(lives, fit_life_regression(lives, ["kind"]))
    assert result.proportionality["p_value_holm"].iloc[0] < 1e-6
    assert "its effect changes with age" in result.sentences[1]
    assert "early 0." in result.sentences[1]


def test_lives_that_are_not_weibull_are_found_in_the_residuals():
    rng = np.random.default_rng(2)
    life = np.where(rng.random(1500) < 0.5, rng.uniform(1, 300, 1500), rng.uniform(1500, 1800, 1500))
    lives = pd.DataFrame(
        {"entry_days": 0.0, "exit_days": life, "failed": True, "quantity": 1, "x": rng.normal(size=1500)}
    )
    result = check_life_regression(lives, fit_life_regression(lives, ["x"]))
    assert result.residual_p_value < 1e-6
    assert "do not fall where the regression expects them" in result.sentences[0]


def test_lives_on_supposed_peaks_enter_and_are_counted():
    lives = stressed(300, 1, 0.5).assign(supposed=lambda frame: frame.index % 4 == 0)
    plain = life_ratio_per_doubling(lives, "stress")
    told = life_ratio_per_doubling(lives, "stress", unverified="supposed")
    assert told.life_ratio == plain.life_ratio
    part = lives[lives["supposed"]]
    assert (told.unverified, told.unverified_failures) == (len(part), int(part["failed"].sum()))
    assert "rest on driver peaks that are unverified" in told.sentence
    assert "unverified" not in plain.sentence
    assert any("residual" in said or "regression" in said for said in told.diagnostics.sentences)
