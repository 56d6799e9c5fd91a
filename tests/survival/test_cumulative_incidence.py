"""Competing ends of life."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import AalenJohansenFitter
from published_lives import NIST, simulated_lives
from r_outputs import r_data, r_values

from pipeline.survival import CannotFit, ImpossibleLives, cumulative_incidence, kaplan_meier

CAUSES = {0: None, 1: "fails on", 2: "fails off"}


def competing():
    data = r_data("competing")
    return pd.DataFrame(
        {
            "entry_days": 0.0,
            "exit_days": data.x.astype(float),
            "failed": data.cause > 0,
            "quantity": 1,
            "end_reason": data.cause.map(CAUSES),
        }
    )


@pytest.mark.parametrize(("cause", "reason"), [(0, "fails on"), (1, "fails off")])
def test_estimate_equals_r(cause, reason):
    # R cmprsk 2.2.11: cuminc(x, cause), read at 2, 5, 10, 15 and 20; tolerance 1e-10 of incidence.
    expected = r_values("cuminc_competing_pooled", "r_cmprsk.json")
    curve = cumulative_incidence(competing(), reason)
    assert list(curve.columns) == ["age_days", "incidence", "lower", "upper"]
    found = [curve[curve.age_days <= age]["incidence"].iloc[-1] for age in expected["times"]]
    assert found == pytest.approx(expected["est"][cause], abs=1e-10)


def test_estimate_and_variance_equal_lifelines():
    # lifelines 0.30: AalenJohansenFitter, delta-method variance; ages without ties, where it needs no jitter.
    lives = simulated_lives(1.5, 1500, 200, seed=3).assign(entry_days=0.0)
    lives["end_reason"] = np.where(
        lives.failed, np.where(np.arange(len(lives)) % 3, "fails on", "damage"), None
    )
    codes = lives["end_reason"].map({"fails on": 1, "damage": 2}).fillna(0).astype(int)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        oracle = AalenJohansenFitter().fit(lives.exit_days, codes, event_of_interest=1)
    curve = cumulative_incidence(lives, "fails on").set_index("age_days")
    expected = oracle.cumulative_density_.loc[curve.index].iloc[:, 0].to_numpy()
    assert curve["incidence"].to_numpy() == pytest.approx(expected, rel=1e-9)
    rest = 1 - curve["incidence"]
    error = np.log(np.log(1 - curve["upper"]) / np.log(rest)) / 1.959963984540054 * -rest * np.log(rest)
    variance = oracle.variance_.loc[curve.index].to_numpy()
    assert error.to_numpy() ** 2 == pytest.approx(variance, rel=1e-6)


def test_with_one_reason_it_is_the_complement_of_kaplan_meier_with_its_limits():
    lives = simulated_lives(2.0, 1500, 200, seed=15)
    lives = lives[lives.entry_days < 800]
    lives = lives.assign(end_reason=np.where(lives.failed, "fails on", "in service"))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        survival = kaplan_meier(lives)
    curve = cumulative_incidence(lives, "fails on")
    assert curve["incidence"].to_numpy() == pytest.approx(1 - survival["survival"].to_numpy(), abs=1e-12)
    inside = (survival["survival"] > 0).to_numpy()
    assert curve["lower"][inside].to_numpy() == pytest.approx(
        1 - survival["upper"][inside].to_numpy(), abs=1e-9
    )
    assert curve["upper"][inside].to_numpy() == pytest.approx(
        1 - survival["lower"][inside].to_numpy(), abs=1e-9
    )


def test_in_service_and_load_changed_are_no_ends():
    lives = competing()
    named = lives.assign(end_reason=lives["end_reason"].fillna("in service"))
    changed = lives.assign(end_reason=lives["end_reason"].fillna("load changed"))
    plain = cumulative_incidence(lives, "fails on")
    pd.testing.assert_frame_equal(cumulative_incidence(named, "fails on"), plain)
    pd.testing.assert_frame_equal(cumulative_incidence(changed, "fails on"), plain)


def test_planned_removal_competes_though_it_is_no_failure():
    lives = NIST.assign(end_reason=np.where(NIST.failed, "fails on", "planned"))
    lives.loc[10:14, "exit_days"] = 200.0  # five replaced by plan before most failures
    with_plan = cumulative_incidence(lives, "fails on")["incidence"].iloc[-1]
    censored = cumulative_incidence(
        lives.assign(end_reason=lives["end_reason"].replace("planned", None)), "fails on"
    )
    assert with_plan < censored["incidence"].iloc[-1]


@settings(max_examples=50, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 20), st.integers(1, 30), st.sampled_from([None, "a", "b"]), st.integers(1, 3)
        ),
        min_size=1,
        max_size=25,
    ).filter(lambda rows: {row[2] for row in rows} >= {"a", "b"})
)
def test_the_incidences_and_survival_add_up_to_one(rows):
    lives = pd.DataFrame(
        [(float(e), float(e + s), reason is not None, q, reason) for e, s, reason, q in rows],
        columns=["entry_days", "exit_days", "failed", "quantity", "end_reason"],
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        left = kaplan_meier(lives)["survival"].iloc[-1]
    curves = [cumulative_incidence(lives, reason) for reason in ("a", "b")]
    assert sum(curve["incidence"].iloc[-1] for curve in curves) + left == pytest.approx(1, abs=1e-9)
    for curve in curves:
        assert curve["incidence"].is_monotonic_increasing
        assert (curve["lower"] <= curve["incidence"] + 1e-12).all()
        assert (curve["upper"] >= curve["incidence"] - 1e-12).all()
        assert curve[["lower", "upper"]].stack().between(-1e-12, 1 + 1e-12).all()


@pytest.mark.parametrize(
    ("lives", "reason", "error", "message"),
    [
        (competing(), "fails sideways", CannotFit, "Reasons there are: fails off, fails on"),
        (competing().assign(end_reason=None, failed=False), "fails on", CannotFit, "Reasons there are: none"),
        (competing().assign(end_reason=None), "fails on", ImpossibleLives, "row 0: failed, but end_reason is None"),
        (competing().drop(columns="end_reason"), "fails on", ImpossibleLives, "column end_reason: is missing"),
        (competing().assign(exit_low_days=lambda f: f.exit_days.where(~f.failed, f.exit_days - 0.5)), "fails on",
         CannotFit, "within an interval"),
    ],
)  # fmt: skip
def test_refusals_say_why(lives, reason, error, message):
    with pytest.raises(error, match=message):
        cumulative_incidence(lives, reason)
