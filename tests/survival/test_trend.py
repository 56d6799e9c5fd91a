"""Trend of repeated failures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from pipeline.survival import CannotFit, trend_test

# Documentation of the Python package `reliability`, "Reliability growth": 22 failures, the last ends the test.
GROWTH = [2.7, 10.3, 12.5, 30.6, 57, 61.3, 80, 109.5, 125, 128.6, 143.8, 167.9, 229.2, 296.7, 320.6, 328.2,
          366.2, 396.7, 421.1, 438.2, 501.2, 620]  # fmt: skip
# NIST/SEMATECH e-Handbook 8.2.3.4 case: 10 failures, observed to 1500 h (recalled from memory, recomputed).
NIST_REPAIRS = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]


def test_power_law_of_the_growth_example():
    # Same documentation: shape 0.61421, rate 0.42394, mean time between failures 45.883 at the end.
    trend = trend_test(GROWTH, 620)
    assert trend.power_law_shape == pytest.approx(0.61421, abs=5e-6)
    assert trend.power_law_rate == pytest.approx(0.42394, abs=5e-6)
    assert trend.mean_time_between_failures == pytest.approx(45.883, abs=5e-4)
    assert trend.failure_terminated
    assert trend.estimator.startswith("failure-terminated")


def test_laplace_of_the_nist_repairs():
    # NIST/SEMATECH e-Handbook 8.2.3.4: z = -1.327.
    trend = trend_test(NIST_REPAIRS, 1500)
    assert trend.laplace_z == pytest.approx(-1.327, abs=5e-4)
    assert 0.18 < trend.p_value < 0.19
    assert trend.estimator.startswith("time-terminated")


def test_the_last_failure_is_no_news_when_it_ended_the_observation():
    trend = trend_test([10, 20, 30, 40], 40)
    assert trend.laplace_z == pytest.approx(0.0, abs=1e-12)
    assert trend.power_law_shape == pytest.approx(4 / math.log(4 * 2 * 4 / 3), rel=1e-12)


def test_growing_failures_have_a_positive_z_and_a_shape_above_one():
    trend = trend_test([50, 80, 90, 95, 99], 100)
    assert trend.laplace_z > 2
    assert trend.power_law_shape > 1


def test_steady_failures_are_called_a_trend_as_often_as_chance_says():
    rng = np.random.default_rng(0)
    runs = 2000
    called = sum(trend_test(rng.uniform(0, 100, 12), 100).p_value < 0.05 for _ in range(runs))
    assert binom.ppf(0.001, runs, 0.045) <= called <= binom.ppf(0.999, runs, 0.055)


def test_limits_of_the_power_law_shape_hold_as_often_as_they_say():
    # Times of a power-law process of shape 1.6 to a fixed end are, given their number, those of uniform ** (1 / 1.6).
    rng = np.random.default_rng(3)
    runs, held = 2000, {"time": 0, "failure": 0}
    for _ in range(runs):
        times = 100 * rng.uniform(size=8) ** (1 / 1.6)
        for how, end in (("time", 100.0), ("failure", float(times.max()))):
            low, high = trend_test(times, end).power_law_shape_limits
            held[how] += low <= 1.6 <= high
    for how, count in held.items():
        assert binom.ppf(0.001, runs, 0.95) <= count <= binom.ppf(0.999, runs, 0.95), how


@given(st.lists(st.floats(0.1, 99.9), min_size=3, max_size=20), st.floats(0.01, 1000), st.randoms())
def test_order_and_unit_of_time_do_not_matter(times, factor, random):
    trend = trend_test(times, 100)
    shuffled = random.sample(times, len(times))
    other = trend_test([time * factor for time in shuffled], 100 * factor)
    assert other.laplace_z == pytest.approx(trend.laplace_z, abs=1e-9)
    assert other.power_law_shape == pytest.approx(trend.power_law_shape, rel=1e-9)


@pytest.mark.parametrize(
    ("times", "end", "error", "reason"),
    [
        ([], 100, CannotFit, "too few"),
        ([50], 100, CannotFit, "too few"),
        ([50, 100], 100, CannotFit, "too few"),
        ([0, 50], 100, ValueError, "above 0"),
        ([50, 101], 100, ValueError, "not after end"),
        ([50, math.nan], 100, ValueError, "got nan"),
        ([50, 60], 0, ValueError, "end must be"),
        ([100, 100, 100], 100, CannotFit, "very end"),
    ],
)
def test_refusals_say_why(times, end, error, reason):
    with pytest.raises(error, match=reason):
        trend_test(times, end)


def test_a_shape_too_steep_for_its_rate_to_be_written_has_a_rate_of_zero() -> None:
    """All failures a hair before the end: end**shape is beyond what a number can hold."""
    found = trend_test([99.5, 99.5, 99.5], 100.0)
    assert found.power_law_shape == pytest.approx(3 / (3 * math.log(100 / 99.5)))
    assert found.power_law_rate == 0.0
