"""Weibull scale for a stated shape, down to no failure at all."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from published_lives import NIST, channing_males, frame, simulated_lives
from scipy.stats import binom

from pipeline.survival import CannotFit, fit_weibull, fit_weibull_fixed_shape


def test_at_the_fitted_shape_the_scale_is_the_fitted_scale():
    free = fit_weibull(channing_males())
    fixed = fit_weibull_fixed_shape(channing_males(), free.shape)
    assert fixed.scale_days == pytest.approx(free.scale_days, rel=1e-12)
    assert fixed.log_likelihood == pytest.approx(free.log_likelihood, rel=1e-12)


def test_without_failures_the_limit_is_the_life_that_would_rarely_show_none():
    # Zero-failure bound worked by hand: survival of all to their ends equals 1 - confidence at the limit.
    lives = frame([], [1000, 2000, 3000])
    fit = fit_weibull_fixed_shape(lives, shape=2.0, confidence=0.9)
    assert fit.scale_days is None
    assert fit.mean_life is None
    assert fit.b_life(10) is None
    assert fit.failures == 0
    assert np.prod(fit.lower.survival(np.array([1000.0, 2000.0, 3000.0]))) == pytest.approx(0.1, rel=1e-12)
    assert fit.mean_life_lower == pytest.approx(fit.scale_lower_days * math.gamma(1.5), rel=1e-12)
    assert fit.b_life_lower(10) == pytest.approx(fit.lower.b_life(10), rel=1e-12)
    with pytest.raises(CannotFit, match="Nothing failed"):
        fit.survival(100)


def test_delayed_entry_takes_the_unseen_time_away():
    seen = fit_weibull_fixed_shape(frame([], [1000], entry=900), shape=1.0, confidence=0.95)
    assert seen.scale_lower_days == pytest.approx(100 / -math.log(0.05), rel=1e-12)


def test_exponential_mean_life_limit_equals_the_poisson_limit():
    # With shape 1 the limit on the rate is the exact one-sided Poisson limit: at it, seeing so few is 5 % likely.
    from scipy.stats import poisson

    fit = fit_weibull_fixed_shape(NIST, shape=1.0, confidence=0.95)
    assert poisson.cdf(10, fit.exposure * fit.longest_days / fit.scale_lower_days) == pytest.approx(
        0.05, rel=1e-9
    )


def test_the_estimate_lies_above_its_lower_limit():
    fit = fit_weibull_fixed_shape(NIST, shape=1.5)
    assert fit.scale_lower_days < fit.scale_days
    assert fit.b_life_lower(10) < fit.b_life(10)
    assert fit.mean_life_lower < fit.mean_life
    assert fit.survival(0) == 1
    assert fit.hazard(100) > 0


def test_interval_failures_count_and_their_limit_stays_on_the_safe_side():
    exact = frame([300, 600], [900])
    between = exact.assign(exit_low_days=[200, 500, np.nan])
    fit = fit_weibull_fixed_shape(between, 2.0)
    assert fit.failures == 2
    assert fit.scale_lower_days < fit_weibull_fixed_shape(exact, 2.0).scale_lower_days
    assert fit.scale_days < fit_weibull_fixed_shape(exact, 2.0).scale_days


def test_the_lower_limit_holds_as_often_as_it_says():
    runs, hits = 400, 0
    for seed in range(runs):
        lives = simulated_lives(2.0, 12000, 60, seed)  # a handful of failures, often none
        hits += fit_weibull_fixed_shape(lives, 2.0, confidence=0.9).scale_lower_days <= 12000
    # At least 90 % (it errs on the safe side, being exact only for a count); binomial scatter at 0.1 %.
    assert hits >= binom.ppf(0.001, runs, 0.9)


@pytest.mark.parametrize("shape", [0, -1, math.nan, math.inf])
def test_a_senseless_shape_is_refused(shape):
    with pytest.raises(ValueError, match="shape must be"):
        fit_weibull_fixed_shape(NIST, shape)


def test_no_lives_and_no_observation_are_refused():
    with pytest.raises(CannotFit, match="no lives"):
        fit_weibull_fixed_shape(frame([]), 2.0)
    unseen = pd.DataFrame(
        {"entry_days": [0.0], "exit_days": [30.0], "failed": [True], "quantity": [1], "exit_low_days": [0.0]}
    )
    with pytest.raises(CannotFit, match="seen to work"):
        fit_weibull_fixed_shape(unseen, 2.0)
