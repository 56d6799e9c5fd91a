"""Best replacement age against a published case, simulation and direct search."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from pipeline.payback import age_replacement


def _cost_rate(age, shape, scale, planned, failure):
    """Long-run cost per unit of time by its definition, integral taken numerically."""
    alive = np.exp(-((age / scale) ** shape))
    time = quad(lambda t: np.exp(-((t / scale) ** shape)), 0, age)[0]
    return (planned * alive + failure * (1 - alive)) / time


def test_the_published_case():
    # Documentation of the Python package "reliability", optimal replacement time: planned 1, failure 5, scale 1000,
    # shape 2.5 gives 493.19 on its grid; solved exactly 493.047, rate .00346204, run to failure .00563530.
    best = age_replacement(shape=2.5, scale=1000, planned_cost=1, failure_cost=5)
    assert best.best_age == pytest.approx(493.19, abs=0.2)
    assert best.best_age == pytest.approx(493.047, abs=0.0005)
    assert best.cost_rate == pytest.approx(0.00346204, abs=5e-9)
    assert best.run_to_failure_rate == pytest.approx(0.00563530, abs=5e-9)


def test_simulated_cost_at_the_best_age():
    shape, scale, planned, failure = 3.0, 2000.0, 80.0, 300.0
    best = age_replacement(shape, scale, planned, failure)
    lives = scale * np.random.default_rng(7).weibull(shape, 400_000)
    cost = np.where(lives < best.best_age, failure, planned).sum()
    assert cost / np.minimum(lives, best.best_age).sum() == pytest.approx(best.cost_rate, rel=0.01)


@settings(max_examples=60, deadline=None)
@given(st.floats(1.2, 8), st.floats(100, 10_000), st.floats(1, 100), st.floats(1.3, 20))
def test_no_other_age_costs_less(shape, scale, planned, ratio):
    best = age_replacement(shape, scale, planned, planned * ratio)
    assert best.cost_rate <= best.run_to_failure_rate * (1 + 1e-9)
    if best.best_age is not None:
        own = _cost_rate(best.best_age, shape, scale, planned, planned * ratio)
        assert best.cost_rate == pytest.approx(own, rel=1e-5)
        for factor in (0.5, 0.9, 1.1, 2.0):
            assert _cost_rate(best.best_age * factor, shape, scale, planned, planned * ratio) >= own * (
                1 - 1e-7
            )


@pytest.mark.parametrize(
    ("shape", "planned", "failure", "reason"),
    [
        (1.0, 1, 5, "no likelier to fail"),
        (0.7, 1, 5, "no likelier to fail"),
        (2.5, 5, 5, "costs no more than"),
        (2.5, 6, 5, "costs no more than"),
        (1.01, 1, 5, "one control in a million"),
    ],
)
def test_never_where_no_age_is_best(shape, planned, failure, reason):
    best = age_replacement(shape, 1000, planned, failure)
    assert best.best_age is None
    assert best.cost_rate == best.run_to_failure_rate
    assert reason in best.reason


def test_the_age_scales_with_the_life():
    assert age_replacement(2, 500, 1, 4).best_age == pytest.approx(age_replacement(2, 1, 1, 4).best_age * 500)


def test_values_that_are_not_above_zero_are_all_named():
    with pytest.raises(ValueError, match=r"shape 0 is not above 0; planned_cost -1 is not above 0"):
        age_replacement(0, 1000, -1, 5)
