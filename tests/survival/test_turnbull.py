"""Turnbull's curve for interval-censored lives."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest
from published_lives import NIST, simulated_lives
from r_outputs import r_values
from test_compare_distributions import interval_lives

from pipeline.survival import CannotFit, kaplan_meier, turnbull


def test_equals_the_maximum_likelihood_of_npsurv():
    # R npsurv 0.5.0, npsurv(L, R) by the constrained Newton method; tolerance 1e-4 of survival.
    expected = r_values("npmle_interval", "r_npsurv.json")
    curve = turnbull(interval_lives())
    left = 1 - np.cumsum(expected["p"])
    for high, survival in zip(expected["right"], left, strict=True):
        at = curve[curve.age_days <= high + 1e-9]["survival"].iloc[-1]
        assert at == pytest.approx(survival, abs=1e-4)


def test_known_ages_give_the_kaplan_meier_curve():
    curve = turnbull(NIST)
    assert curve["survival"].to_numpy() == pytest.approx(kaplan_meier(NIST)["survival"].to_numpy(), abs=1e-7)
    assert curve["age_days"].tolist() == kaplan_meier(NIST)["age_days"].tolist()
    assert curve["age_low_days"].tolist() == curve["age_days"].tolist()


def test_known_ages_under_delayed_entry_give_the_kaplan_meier_curve():
    lives = simulated_lives(2.0, 1500, 60, seed=2)
    lives = lives[lives.entry_days < 500].assign(quantity=2)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        expected = kaplan_meier(lives)
    assert expected["survival"].min() > 0  # else the curves have nothing left to compare
    curve = turnbull(lives)
    assert curve["age_days"].to_numpy() == pytest.approx(expected["age_days"].to_numpy())
    assert curve["survival"].to_numpy() == pytest.approx(expected["survival"].to_numpy(), abs=1e-6)


def test_monthly_inspection_of_a_known_life_recovers_it():
    rng = np.random.default_rng(4)
    life = 1000 * rng.weibull(2.0, 1500)
    high = np.ceil(life / 30) * 30
    lives = pd.DataFrame(
        {"entry_days": 0.0, "exit_days": high, "failed": True, "quantity": 1, "exit_low_days": high - 30}
    )
    curve = turnbull(lives)
    truth = np.exp(-((curve["age_days"] / 1000) ** 2))
    # Kolmogorov's 99.9 % bound for 1500 lives.
    assert np.abs(curve["survival"] - truth).max() < 1.95 / np.sqrt(1500)


def test_no_lives_and_no_failures_are_refused():
    with pytest.raises(CannotFit, match="no lives"):
        turnbull(NIST.iloc[:0])
    with pytest.raises(CannotFit, match="stays at 1"):
        turnbull(NIST.assign(failed=False))
