"""Expected failures of a renewed population against closed forms, limit theorems and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import gamma

from pipeline.payback import expected_failures_by_row, expected_failures_by_year
from pipeline.payback.renewal import DAYS_PER_YEAR


def _simulated(shape, scale_days, age_days, years, renewed_shape, renewed_scale_days, runs=100_000):
    """Mean failures per year of one control replaced on failure, and its standard error."""
    random = np.random.default_rng(11)
    left = -np.log(random.uniform(size=runs)) + (age_days / scale_days) ** shape
    at_days = scale_days * left ** (1 / shape) - age_days
    counts = np.zeros((runs, years))
    while np.any(at_days < years * DAYS_PER_YEAR):
        failing = np.flatnonzero(at_days < years * DAYS_PER_YEAR)
        np.add.at(counts, (failing, (at_days[failing] / DAYS_PER_YEAR).astype(int)), 1)
        at_days[failing] += renewed_scale_days * random.weibull(renewed_shape, failing.size)
    return counts.mean(axis=0), counts.std(axis=0) / np.sqrt(runs)


def test_exponential_lives_fail_at_a_level_rate_whatever_their_ages():
    # Closed form: a Poisson process, quantity * time / mean life.
    got = expected_failures_by_year(1.0, 1500.0, [0, 900, 4000], [10, 5, 1], 20)
    np.testing.assert_allclose(got, 16 * DAYS_PER_YEAR / 1500, rtol=1e-4)


@pytest.mark.parametrize("shape", [0.7, 1.5, 2.5, 4.0])
def test_the_rate_settles_at_one_failure_per_mean_life(shape):
    # Renewal theorem: the expected count of a year tends to the year over the mean life.
    scale_days = 600.0
    last = expected_failures_by_year(shape, scale_days, 0, 1, 40)[-1]
    assert last == pytest.approx(DAYS_PER_YEAR / (scale_days * gamma(1 + 1 / shape)), rel=0.001)


@pytest.mark.parametrize("shape", [1.5, 2.5, 4.0])
def test_the_count_lags_the_settled_rate_by_the_known_constant(shape):
    # M(t) - t/mean tends to (variance - mean^2) / (2 mean^2): Smith's second-order renewal theorem.
    scale_days, years = 500.0, 40
    mean = scale_days * gamma(1 + 1 / shape)
    variance = scale_days**2 * gamma(1 + 2 / shape) - mean**2
    total = expected_failures_by_year(shape, scale_days, 0, 1, years).sum()
    lag = total - years * DAYS_PER_YEAR / mean
    assert lag == pytest.approx((variance - mean**2) / (2 * mean**2), abs=0.005)


@pytest.mark.parametrize(
    ("shape", "scale_days", "age_days", "renewed_shape", "renewed_scale_days"),
    [
        (2.2, 2200, 0, 2.2, 2200),
        (2.2, 2200, 1800, 2.2, 2200),
        (3.5, 1500, 1400, 2.0, 5000),
        (0.7, 900, 300, 0.7, 900),
        (5.0, 1000, 0, 5.0, 1000),
    ],
)
def test_agrees_with_simulation(shape, scale_days, age_days, renewed_shape, renewed_scale_days):
    years = 12
    mean, error = _simulated(shape, scale_days, age_days, years, renewed_shape, renewed_scale_days)
    got = expected_failures_by_year(shape, scale_days, age_days, 1, years, renewed_shape, renewed_scale_days)
    assert np.all(np.abs(got - mean) < 4 * error + 0.0005)


def test_without_a_second_failure_the_first_year_is_the_conditional_chance():
    # Successors of so long a life do not fail: P(fail within a year | alive at the age), exact.
    got = expected_failures_by_year(2.0, 3000, 2500, 8, 1, 2.0, 1e9)[0]
    chance = -np.expm1((2500 / 3000) ** 2 - ((2500 + DAYS_PER_YEAR) / 3000) ** 2)
    assert got == pytest.approx(8 * chance, rel=1e-9)


def test_rows_of_many_groups_equal_each_group_alone():
    random = np.random.default_rng(3)
    shape, scale, age = (
        random.uniform(0.8, 4, 40),
        random.uniform(2000, 5000, 40),
        random.uniform(0, 3000, 40),
    )
    scale[0] = 1900.0
    together = expected_failures_by_row(shape, scale, age, 2, 15)
    assert together.shape == (40, 15)
    for row in range(40):
        alone = expected_failures_by_year(shape[row], scale[row], age[row], 2, 15)
        np.testing.assert_allclose(together[row], alone, rtol=2e-3)
    np.testing.assert_allclose(expected_failures_by_year(shape, scale, age, 2, 15), together.sum(axis=0))


@settings(max_examples=40, deadline=None)
@given(st.floats(0.6, 5), st.floats(200, 8000), st.floats(0, 5000), st.floats(0, 500), st.integers(1, 25))
def test_counts_are_never_negative_and_grow_with_quantity(shape, scale_days, age_days, quantity, years):
    got = expected_failures_by_year(shape, scale_days, age_days, quantity, years)
    assert got.shape == (years,)
    assert np.all(got >= -1e-9)
    twice = expected_failures_by_year(shape, scale_days, age_days, 2 * quantity, years)
    np.testing.assert_allclose(twice, 2 * got, atol=1e-300)  # a float this near to 0 has few digits left


def test_a_longer_life_after_replacement_never_adds_failures():
    like_for_like = expected_failures_by_year(2.0, 1500, 700, 1, 20)
    rated = expected_failures_by_year(2.0, 1500, 700, 1, 20, 2.0, 4000)
    assert np.all(rated <= like_for_like + 1e-12)


def test_an_empty_population_has_no_failures():
    assert expected_failures_by_year(2.0, 1500, [], [], 3).tolist() == [0, 0, 0]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"shape": 0}, "shape 0.0 of row 1 is not above 0"),
        ({"scale_days": 0.5}, "scale_days 0.5 of row 1 is not 1 or more"),
        ({"ages_days": [5, -1]}, "ages_days -1.0 of row 2 is not 0 or more"),
        ({"quantities": float("nan")}, "quantities nan"),
        ({"renewed_shape": -2}, "renewed_shape -2.0"),
        ({"years": 0}, "years 0"),
        ({"years": 2.5}, "years 2.5"),
    ],
)
def test_unusable_arguments_are_refused(change, message):
    good = {"shape": 2, "scale_days": 1500, "ages_days": 5, "quantities": 1, "years": 3}
    with pytest.raises(ValueError, match=message):
        expected_failures_by_year(**(good | change))
