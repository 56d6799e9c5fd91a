"""Four distributions on the same lives: published likelihoods and independent programs."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from lifelines import LogLogisticFitter, LogNormalFitter
from published_lives import NIST, channing_males, frame, simulated_lives
from r_outputs import as_lives, r_data, r_values

from pipeline.survival import CannotFit, compare_distributions, fit_weibull


def by_name(lives):
    return compare_distributions(lives).set_index("distribution")


def test_nist_aic():
    # NIST/SEMATECH e-Handbook 8.4.1.3 with R survival 3.5: aic 154.27 Weibull, 154.39 lognormal.
    table = by_name(NIST)
    assert table.loc["weibull", "aic"] == pytest.approx(154.27, abs=0.005)
    assert table.loc["lognormal", "aic"] == pytest.approx(154.39, abs=0.005)
    # One parameter less, by hand: 10 failures in 7771 unit-hours.
    hours = NIST.exit_days.sum()
    assert table.loc["exponential", "log_likelihood"] == pytest.approx(
        10 * math.log(10 / hours) - 10, rel=1e-12
    )


@pytest.mark.parametrize("name", ["weibull", "lognormal", "loglogistic", "exponential"])
def test_log_likelihoods_equal_r_survreg(name):
    # R survival 3.5.8: survreg(Surv(time, status) ~ 1, dist = name) on lung; tolerance 1e-6 of log-likelihood.
    table = by_name(as_lives(r_data("lung"), age="time"))
    expected = r_values(f"survreg_lung_null_{name}")["loglik"]
    assert table.loc[name, "log_likelihood"] == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("name", ["weibull", "lognormal", "loglogistic", "exponential"])
def test_interval_censored_log_likelihoods_equal_r_survreg(name):
    # R survival 3.5.8: survreg(Surv(l2, r2, type = "interval2") ~ 1, dist = name); tolerance 1e-5. R takes the
    # exact ages in its data as densities of the age, as we do.
    table = by_name(interval_lives())
    expected = r_values(f"survreg_interval_null_{name}")["loglik"]
    assert table.loc[name, "log_likelihood"] == pytest.approx(expected, abs=1e-5)


def interval_lives():
    import pandas as pd

    data = r_data("interval")
    right = data.right.astype(float)
    return pd.DataFrame(
        {
            "entry_days": 0.0,
            "exit_days": right.fillna(data.left),
            "failed": right.notna(),
            "quantity": 1,
            "exit_low_days": np.where(right.notna(), data.left, np.nan),
            "z": data.z,
        }
    )


@pytest.mark.parametrize(
    ("name", "oracle"), [("lognormal", LogNormalFitter), ("loglogistic", LogLogisticFitter)]
)
def test_delayed_entry_equals_lifelines(name, oracle):
    lives = simulated_lives(2.0, 1500, 400, seed=6)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitted = oracle().fit(lives.exit_days, lives.failed, entry=lives.entry_days)
    assert by_name(lives).loc[name, "log_likelihood"] == pytest.approx(fitted.log_likelihood_, abs=1e-4)


def test_the_table_is_in_order_and_its_criteria_follow_from_the_likelihood():
    table = compare_distributions(channing_males())
    assert list(table.columns) == ["distribution", "log_likelihood", "aic", "bic"]
    assert table["aic"].is_monotonic_increasing
    first = table.iloc[0]
    assert first["distribution"] == "weibull"
    assert first["log_likelihood"] == fit_weibull(channing_males()).log_likelihood
    assert first["aic"] == pytest.approx(4 - 2 * first["log_likelihood"])
    assert first["bic"] == pytest.approx(2 * math.log(96) - 2 * first["log_likelihood"])


def test_quantities_and_split_lives_leave_the_table_alone():
    import pandas as pd

    lives = simulated_lives(2.0, 1500, 80, seed=5).assign(quantity=3)
    table = by_name(lives)
    tripled = by_name(pd.concat([lives.assign(quantity=1)] * 3, ignore_index=True))
    middle = (lives["entry_days"] + lives["exit_days"]) / 2
    halves = by_name(
        pd.concat(
            [lives.assign(exit_days=middle, failed=False), lives.assign(entry_days=middle)], ignore_index=True
        )
    )
    for other in (tripled, halves):
        assert other["log_likelihood"][table.index].to_numpy() == pytest.approx(
            table["log_likelihood"].to_numpy(), abs=1e-6
        )


def test_the_true_family_wins_with_many_failures():
    rng = np.random.default_rng(3)
    for name, ages in [
        ("lognormal", np.exp(7 + 0.5 * rng.standard_normal(3000))),
        ("weibull", 1500 * rng.weibull(2.5, 3000)),
        ("loglogistic", np.exp(7 + 0.3 * rng.logistic(size=3000))),
    ]:
        assert compare_distributions(frame(ages)).iloc[0]["distribution"] == name


def test_a_family_without_a_maximum_is_nan_and_says_so():
    with pytest.warns(UserWarning, match="weibull: .*shape runs to infinity") as caught:
        table = by_name(frame([1000, 1000.5, 1001], [500, 600]))
    assert len(caught) == 3  # the other two with a spread run away as well
    assert table["log_likelihood"].isna().sum() == 3
    assert math.isfinite(table.loc["exponential", "log_likelihood"])


def test_too_few_failures_are_refused():
    with pytest.raises(CannotFit, match="None of the 2 lives failed"):
        compare_distributions(frame([], [1, 2]))
