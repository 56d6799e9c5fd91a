"""Kaplan-Meier curves: published values, an independent program, invariants and refusals."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter
from published_lives import AML_MAINTAINED, AML_NOT_MAINTAINED, NIST, channing_males, frame, simulated_lives
from r_outputs import as_lives, r_data, r_values

from pipeline.survival import (
    CannotFit,
    LifeMargins,
    SmallRiskSetWarning,
    dense_from,
    kaplan_meier,
    median_life,
    restricted_mean_life,
    survival_at,
)

AGE = {"lung": "time", "ties": "x", "left_truncation": "x"}  # the name of the age in each data set


def quiet_curve(lives, **keywords):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SmallRiskSetWarning)
        return kaplan_meier(lives, **keywords)


def test_nist_curve_steps_down_by_one_twentieth():
    # NIST/SEMATECH e-Handbook 8.4.1.3 (20 units, 10 failures).
    curve = kaplan_meier(NIST)
    assert list(curve.columns) == ["age_days", "at_risk", "failures", "survival", "lower", "upper"]
    assert curve["survival"].tolist() == pytest.approx(np.arange(0.95, 0.49, -0.05), abs=1e-12)
    assert curve["at_risk"].tolist() == list(range(20, 10, -1))


def test_nist_log_log_limits_at_386_hours():
    # R 4, survival 3.5: survfit(Surv(t, d) ~ 1, conf.type = "log-log"): 0.271 and 0.692; tolerance 0.0005 of survival.
    last = kaplan_meier(NIST).iloc[-1]
    assert last["lower"] == pytest.approx(0.2713, abs=5e-4)
    assert last["upper"] == pytest.approx(0.6919, abs=5e-4)


def test_aml_medians():
    # R package survival, data aml: medians 31 and 23 weeks.
    assert median_life(kaplan_meier(AML_MAINTAINED)).value == 31
    assert median_life(kaplan_meier(AML_NOT_MAINTAINED)).value == 23


def test_channing_males_from_816_months():
    # R survival 3.5 on boot::channing, males, given survival to 816 months; tolerance 0.0005 of survival.
    curve = quiet_curve(channing_males(), start_days=816)
    found = [survival_at(curve, age) for age in (900, 960, 1020, 1080)]
    assert found == pytest.approx([0.805, 0.638, 0.454, 0.223], abs=5e-4)


def test_a_tiny_early_risk_set_is_warned_of_with_a_start_that_helps():
    with pytest.warns(SmallRiskSetWarning, match="start_days=781"):
        curve = kaplan_meier(channing_males())
    assert curve["survival"].iloc[-1] == 0  # the trap the warning speaks of
    assert dense_from(channing_males()) == 781
    assert dense_from(NIST) == 0
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        kaplan_meier(channing_males(), start_days=816)
        kaplan_meier(NIST)  # a small sample without delayed entry is no such trap


def test_curve_and_variance_equal_lifelines_under_delayed_entry():
    lives = simulated_lives(2.0, 1500, 400, seed=11)
    lives["quantity"] = np.random.default_rng(3).integers(1, 4, len(lives))
    curve = quiet_curve(lives)
    oracle = KaplanMeierFitter().fit(
        lives.exit_days, lives.failed, entry=lives.entry_days, weights=lives.quantity
    )
    assert curve["survival"].to_numpy() == pytest.approx(
        oracle.survival_function_at_times(curve["age_days"]).to_numpy(), rel=1e-6
    )
    limits = oracle.confidence_interval_survival_function_.loc[curve["age_days"]].to_numpy()
    alive = curve["survival"].to_numpy() > 0
    assert curve[["lower", "upper"]].to_numpy()[alive] == pytest.approx(limits[alive], rel=1e-6)


def test_starting_later_conditions_on_survival_to_the_start():
    whole, later = quiet_curve(NIST), quiet_curve(NIST, start_days=244)
    assert later["survival"].iloc[-1] == pytest.approx(0.5 / 0.75, rel=1e-12)
    assert later["age_days"].min() > 244
    assert whole["age_days"].size > later["age_days"].size


def test_margins_and_frame_give_the_same_curve():
    pd.testing.assert_frame_equal(kaplan_meier(LifeMargins.from_lives(NIST)), kaplan_meier(NIST))


def test_restricted_mean_of_complete_lives_is_the_mean_of_the_capped_lives():
    lives = frame([100, 200, 300, 400])
    mean = restricted_mean_life(kaplan_meier(lives), until_days=350)
    assert mean.value == pytest.approx((100 + 200 + 300 + 350) / 4, rel=1e-12)
    assert mean.lower < mean.value < mean.upper


@pytest.mark.parametrize(
    ("name", "data"), [("rmst_ties_15", "ties"), ("rmst_lung_500", "lung"), ("rmst_lung_1000", "lung")]
)
def test_restricted_mean_and_its_standard_error_equal_r(name, data):
    # R survival 3.5.8: summary(survfit(...), rmean = tau)$table; tolerance 1e-6 of the age unit.
    expected, lives = r_values(name), as_lives(r_data(data), age=AGE[data])
    mean = restricted_mean_life(kaplan_meier(lives), until_days=expected["tau"])
    assert mean.value == pytest.approx(expected["rmean"], abs=1e-6)
    assert (mean.upper - mean.value) / 1.959963985 == pytest.approx(expected["se_rmean"], abs=1e-6)


@pytest.mark.parametrize(
    ("name", "data", "entry"),
    [("km_lung", "lung", None), ("km_ties", "ties", None), ("km_left_truncation", "left_truncation", "tl")],
)
def test_curve_and_limits_equal_r(name, data, entry):
    # R survival 3.5.8: survfit(..., conf.type = "log-log"); tolerance 1e-8 of survival. R also lists ages
    # at which nothing failed; ours lists failures alone.
    expected = pd.DataFrame({k: v for k, v in r_values(name).items() if isinstance(v, list)}).set_index(
        "time"
    )
    curve = quiet_curve(as_lives(r_data(data), age=AGE[data], entry=entry)).set_index("age_days")
    at = expected.loc[curve.index]
    assert curve["survival"].to_numpy() == pytest.approx(at["surv"].to_numpy(float), abs=1e-8)
    alive = at["surv"].to_numpy(float) > 0
    assert curve["lower"].to_numpy()[alive] == pytest.approx(at["lower"].to_numpy(float)[alive], abs=1e-8)
    assert curve["upper"].to_numpy()[alive] == pytest.approx(at["upper"].to_numpy(float)[alive], abs=1e-8)


def test_when_all_have_failed_the_limits_still_hold_the_curve():
    last = kaplan_meier(frame([10, 20, 30])).iloc[-1]
    assert (last["survival"], last["lower"]) == (0, 0)
    assert 0 < last["upper"] < 1


def test_no_failure_gives_an_empty_curve_that_reads_one():
    curve = kaplan_meier(frame([], [100, 200]))
    assert len(curve) == 0
    assert survival_at(curve, 150) == 1
    assert median_life(curve).value is None


def test_interval_censored_lives_are_refused_naming_turnbull():
    lives = NIST.assign(exit_low_days=np.where(NIST.failed, NIST.exit_days - 10, np.nan))
    with pytest.raises(CannotFit, match="turnbull"):
        kaplan_meier(lives)


@pytest.mark.parametrize(
    ("keywords", "reason"),
    [
        ({"start_days": 500}, "No control was under observation after 500 days"),
        ({"start_days": -1}, "start_days must be"),
        ({"confidence": 95}, "confidence must lie between 0 and 1"),
    ],
)
def test_senseless_requests_are_refused(keywords, reason):
    with pytest.raises(ValueError, match=reason):
        kaplan_meier(NIST, **keywords)


def test_no_lives_are_refused():
    with pytest.raises(CannotFit, match="no lives"):
        kaplan_meier(NIST.iloc[:0])


rows = st.lists(
    st.tuples(st.integers(0, 50), st.integers(1, 60), st.booleans(), st.integers(1, 4)),
    min_size=1,
    max_size=25,
)


def drawn_lives(drawn):
    return pd.DataFrame(
        [(float(e), float(e + span), failed, q) for e, span, failed, q in drawn],
        columns=["entry_days", "exit_days", "failed", "quantity"],
    )


@settings(max_examples=60, deadline=None)
@given(rows)
def test_the_curve_never_rises_and_its_limits_hold_it(drawn):
    curve = quiet_curve(drawn_lives(drawn))
    survival = curve["survival"].to_numpy()
    assert ((survival >= 0) & (survival <= 1)).all()
    assert (np.diff(survival) <= 1e-15).all()
    assert (curve["lower"] <= survival + 1e-12).all()
    assert (curve["upper"] >= survival - 1e-12).all()
    assert (curve["at_risk"] >= curve["failures"]).all()


@settings(max_examples=40, deadline=None)
@given(rows, st.randoms())
def test_order_quantities_and_split_lives_leave_the_curve_alone(drawn, random):
    lives = drawn_lives(drawn)
    curve = quiet_curve(lives)
    one_each = lives.loc[lives.index.repeat(lives["quantity"])].assign(quantity=1)
    shuffled = one_each.sample(frac=1, random_state=random.randrange(2**31)).reset_index(drop=True)
    pd.testing.assert_frame_equal(quiet_curve(shuffled), curve)
    middle = (lives["entry_days"] + lives["exit_days"]) / 2
    halves = pd.concat(
        [lives.assign(exit_days=middle, failed=False), lives.assign(entry_days=middle)], ignore_index=True
    )
    pd.testing.assert_frame_equal(quiet_curve(halves), curve)
