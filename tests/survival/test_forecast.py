"""Forecasts: arithmetic against closed forms and simulation, coverage, refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from published_lives import NIST, frame, simulated_lives
from scipy.stats import binom, poisson

from pipeline.survival import (
    ImpossibleLives,
    StatedLife,
    drawing,
    fit_weibull,
    fit_weibull_fixed_shape,
    forecast,
)


def fleet(ages, quantity=1):
    return pd.DataFrame({"age_days": np.asarray(ages, dtype=float), "quantity": quantity})


def test_expected_is_the_sum_of_conditional_failure_chances():
    fit = fit_weibull(NIST)
    found = forecast(fit, fleet([0, 300, 800], [5, 20, 10]), 200)
    by_hand = sum(
        q * (1 - fit.survival(a + 200) / fit.survival(a)) for a, q in [(0, 5), (300, 20), (800, 10)]
    )
    assert found.expected == pytest.approx(by_hand, rel=1e-12)
    assert found.lower <= found.expected <= found.upper


def test_a_known_life_leaves_only_chance():
    life = StatedLife(2.0, 1000.0)
    chance = 1 - life.survival(800) / life.survival(500)
    found = forecast(life, fleet([500], 400), 300)
    exact = binom.ppf([0.025, 0.975], 400, chance)
    assert [found.lower, found.upper] == pytest.approx(exact, abs=2)  # two failures: scatter of 4000 draws


def test_a_mixed_fleet_of_known_life_has_the_poisson_binomial_interval():
    rng = np.random.default_rng(4)
    ages = rng.integers(0, 3000, 300)
    life = StatedLife(3.0, 2000.0)
    chances = 1 - life.survival(ages + 400) / life.survival(ages)
    simulated = (rng.random((20000, 300)) < chances).sum(axis=1)
    found = forecast(life, fleet(ages), 400)
    assert [found.lower, found.upper] == pytest.approx(np.quantile(simulated, [0.025, 0.975]), abs=2)


def test_renewal_of_exponential_lives_is_a_poisson_process():
    # Exponential lives renewed at once fail as a Poisson process: 100 controls x 500 days / 1000 days = 50.
    life = StatedLife(1.0, 1000.0)
    found = forecast(life, fleet([0, 700], 50), 500, renewed_by=life)
    assert found.expected == pytest.approx(50, rel=1e-5)
    assert [found.lower, found.upper] == pytest.approx(poisson.ppf([0.025, 0.975], 50), abs=3)


@pytest.mark.parametrize(("shape", "horizon"), [(0.7, 2500), (3.0, 3500)])
def test_renewal_equals_a_simulation_of_chains(shape, horizon):
    rng = np.random.default_rng(9)
    first, later = StatedLife(2.0, 1500.0), StatedLife(shape, 800.0)
    age, chains = 600.0, 40_000
    left = (age / 1500) ** 2 + rng.exponential(size=chains)  # cumulative hazard at the first failure
    time = 1500 * np.sqrt(left) - age
    count = np.zeros(chains)
    while (time <= horizon).any():
        count += time <= horizon
        time = time + 800 * rng.weibull(shape, chains)
    found = forecast(first, fleet([age], 1000), horizon, renewed_by=later)
    scatter = 4 * 1000 * count.std() / np.sqrt(chains)
    assert found.expected == pytest.approx(1000 * count.mean(), abs=scatter + 2)
    half = 1.96 * np.sqrt(1000) * count.std()
    assert found.upper - found.lower == pytest.approx(2 * half, rel=0.1)


def test_renewal_adds_failures_and_no_renewal_cannot_exceed_the_fleet():
    life = StatedLife(2.0, 500.0)
    once = forecast(life, fleet([0], 100), 3000)
    renewed = forecast(life, fleet([0], 100), 3000, renewed_by=life)
    assert once.upper <= 100
    assert renewed.expected > 500


@pytest.mark.parametrize(
    ("units", "earliest_entry"), [(80, 0), (120, 300)], ids=["some from new", "none from new"]
)
def test_the_interval_holds_the_count_as_often_as_it_says(units, earliest_entry):
    runs, hits = 120, 0
    for seed in range(runs):
        rng = np.random.default_rng(10_000 + seed)
        lives = simulated_lives(2.0, 1500, units, seed)
        fit = fit_weibull(lives[lives.entry_days >= earliest_entry])
        ages = rng.integers(0, 1500, 60).astype(float)
        dies = 1500 * np.sqrt((ages / 1500) ** 2 + rng.exponential(size=60))
        seen = int((dies <= ages + 365).sum())
        found = forecast(fit, fleet(ages), 365, confidence=0.9, seed=seed)
        hits += found.lower <= seen <= found.upper
    # A count is covered a little more often than 90 %; allow 88 to 96 % true coverage and 0.1 % scatter.
    assert binom.ppf(0.001, runs, 0.88) <= hits <= binom.ppf(0.999, runs, 0.96)


def test_the_uncertainty_of_a_small_sample_widens_the_interval():
    small = fit_weibull(NIST)
    sure = StatedLife(small.shape, small.scale_days)
    wide, narrow = (forecast(model, fleet([300], 1000), 365) for model in (small, sure))
    assert wide.upper - wide.lower > 3 * (narrow.upper - narrow.lower)


def test_no_failure_so_far_expects_none_but_excludes_few():
    fit = fit_weibull_fixed_shape(frame([], [1000.0] * 20), 2.0)
    found = forecast(fit, fleet([1000], 20), 365)
    assert (found.expected, found.lower) == (0, 0)
    assert 1 <= found.upper <= 20


def test_the_same_seed_repeats_and_another_may_differ():
    fit = fit_weibull(NIST)
    ages = fleet([300], 500)
    assert forecast(fit, ages, 365, seed=1) == forecast(fit, ages, 365, seed=1)
    runs = {forecast(fit, ages, 365, seed=seed).upper for seed in range(8)}
    assert len(runs) > 1


def test_splitting_quantities_changes_nothing():
    fit = fit_weibull(NIST)
    assert forecast(fit, fleet([100, 100, 400]), 90) == forecast(fit, fleet([400, 100], [1, 2]), 90)


def test_a_large_fleet_of_many_ages_is_expected_exactly():
    rng = np.random.default_rng(2)
    ages = rng.uniform(0, 6000, 50_000)
    life = StatedLife(2.0, 3000.0)
    found = forecast(life, fleet(ages), 365)
    assert found.expected == pytest.approx(
        (1 - life.survival(ages + 365) / life.survival(ages)).sum(), rel=1e-12
    )


def test_an_empty_fleet_fails_never():
    assert forecast(fit_weibull(NIST), fleet([]), 365) == (0, 0, 0)


@pytest.mark.parametrize(
    ("at_risk", "horizon", "reason"),
    [
        (fleet([-1]), 365, "at_risk row 0: age_days -1 is negative"),
        (fleet([np.nan]), 365, "at_risk row 0: age_days is missing"),
        (fleet([5], 0), 365, "at_risk row 0: quantity 0 is less than 1"),
        (fleet([5]).drop(columns="quantity"), 365, "at_risk, column quantity: is missing"),
    ],
)
def test_an_impossible_fleet_is_refused(at_risk, horizon, reason):
    with pytest.raises(ImpossibleLives, match=reason):
        forecast(fit_weibull(NIST), at_risk, horizon)


@pytest.mark.parametrize("horizon", [0, -5, float("nan"), float("inf")])
def test_a_senseless_horizon_is_refused(horizon):
    with pytest.raises(ValueError, match="horizon_days must be"):
        forecast(fit_weibull(NIST), fleet([5]), horizon)


def test_a_stated_life_must_be_possible():
    with pytest.raises(ValueError, match="scale_days must be"):
        StatedLife(2.0, 0.0)


@pytest.mark.parametrize("units", [12, 300])
def test_draws_are_those_of_a_grid_reckoned_point_by_point(monkeypatch, units):
    lives = simulated_lives(2.0, 1500, units, seed=3)
    lives["exit_low_days"] = np.where(
        lives.failed, np.maximum(lives.exit_days - 60, lives.entry_days), np.nan
    )
    fit = fit_weibull(lives)
    between = fit.draw_parameters(500, np.random.default_rng(0))
    monkeypatch.setattr(drawing, "_EXACT_POINTS", 201)
    exact = fit_weibull(lives).draw_parameters(500, np.random.default_rng(0))
    assert between[0] == pytest.approx(exact[0], rel=1e-5)
    assert between[1] == pytest.approx(exact[1], abs=1e-5)
