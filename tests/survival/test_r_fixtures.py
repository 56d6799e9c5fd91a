"""Curves and fits against R's package survival 3.5.3; the calls stand here, the script is r_fixtures.R."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from r_fixtures import FIXTURES, r_interval_lives, r_lives

from pipeline.survival import (
    LifeMargins,
    SmallRiskSetWarning,
    check_life_regression,
    fit_life_regression,
    fit_weibull,
    kaplan_meier,
    median_life,
)


def test_curve_limits_and_median_with_delayed_entry_and_quantities():
    # survfit(Surv(entry, exit, failed) ~ 1, rep(lives, quantity), conf.type = "log-log"); tolerance 1e-9 of survival.
    expected = FIXTURES["km_delayed_weighted"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SmallRiskSetWarning)
        curve = kaplan_meier(r_lives())
    assert curve["age_days"].tolist() == expected["time"]
    assert curve["at_risk"].tolist() == expected["n_risk"]
    for mine, theirs in (("survival", "surv"), ("lower", "lower"), ("upper", "upper")):
        assert curve[mine].tolist() == pytest.approx(expected[theirs], abs=1e-9)
    assert list(median_life(curve)) == pytest.approx(expected["median"], abs=1e-9)


def test_interval_censoring_with_quantities():
    # survreg(Surv(left, right, type = "interval2") ~ 1, weights = quantity, dist = "weibull"); 1e-6 relative.
    fit, expected = fit_weibull(r_interval_lives()), FIXTURES["interval_weighted"]
    assert fit.shape == pytest.approx(expected["shape"], rel=1e-6)
    assert fit.scale_days == pytest.approx(expected["scale"], rel=1e-6)
    assert fit.log_likelihood == pytest.approx(expected["loglik"], abs=1e-6)


def test_interval_margins_counted_elsewhere_give_the_same_fit():
    lives = r_interval_lives()
    late = lives.assign(
        entry_days=np.where(lives["exit_low_days"].fillna(lives["exit_days"]) > 200, 100.0, 0.0)
    )
    known, between = late[~late["failed"]], late[late["failed"]]
    count = lambda column, rows: rows.groupby(column)["quantity"].sum()  # noqa: E731
    exits, entries = count("exit_days", known), count("entry_days", late)
    spans = between.groupby(["exit_low_days", "exit_days"])["quantity"].sum()
    margins = LifeMargins.from_counts(
        ([], []),
        (exits.index, exits),
        (entries.index, entries),
        (spans.index.get_level_values(0), spans.index.get_level_values(1), spans),
    )
    grouped, rows = fit_weibull(margins), fit_weibull(late)
    assert grouped.shape == pytest.approx(rows.shape, rel=1e-10)
    assert grouped.b_life_limits(10) == pytest.approx(rows.b_life_limits(10), rel=1e-8)


def _regression():
    lives = r_lives().assign(entry_days=0.0, quantity=1)  # survreg knows no delayed entry
    return lives, fit_life_regression(lives, ["log_stress", "group"])


def test_regression_on_log_stress():
    # survreg(Surv(exit, failed) ~ log(stress) + group, dist = "weibull"); 1e-6, standard errors 1e-5 relative.
    lives, fit = _regression()
    expected = FIXTURES["stress_regression"]
    intercept, slope, group_b = expected["coef"]
    commonest = lives["group"].value_counts().index[0]
    signs = 1 if commonest == "a" else -1
    assert fit.coefficients[1] == pytest.approx(slope, abs=1e-6)
    assert signs * fit.coefficients[2] == pytest.approx(group_b, abs=1e-6)
    assert fit.coefficients[0] + (0 if signs > 0 else fit.coefficients[2]) == pytest.approx(
        intercept, abs=1e-6
    )
    assert 1 / fit.shape == pytest.approx(expected["scale"], abs=1e-6)
    assert fit.log_likelihood == pytest.approx(expected["loglik"], abs=1e-6)
    assert np.sqrt(fit.covariance[1, 1]) == pytest.approx(expected["se"][1], rel=1e-5)


def test_cox_snell_residuals():
    # (exit / exp(predict(fit, type = "lp")))^(1 / fit$scale) of the regression above; 1e-5 relative.
    lives, fit = _regression()
    residuals = check_life_regression(lives, fit).residuals["exit"]
    assert residuals.tolist() == pytest.approx(FIXTURES["stress_regression"]["cox_snell"], rel=1e-5)


def test_proportionality_is_the_likelihood_ratio_of_a_shape_for_each_group():
    # survreg(Surv(exit, failed) ~ group + strata(group)) against survreg(Surv(exit, failed) ~ group); 1e-5 of
    # chi-square.
    lives = r_lives().assign(entry_days=0.0, quantity=1)
    result = check_life_regression(lives, fit_life_regression(lives, ["group"]))
    expected = FIXTURES["shape_by_group"]
    assert result.proportionality["statistic"].tolist() == pytest.approx([expected["statistic"]], abs=1e-5)
    assert result.shapes["shape"].tolist() == pytest.approx(expected["shapes"], rel=1e-4)
