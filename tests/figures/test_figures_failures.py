from __future__ import annotations

import math
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures.small_store import SETTINGS, small_store
from pipeline import figures
from pipeline.figures import Filters
from pipeline.figures.counts import reading_limits
from pipeline.lives.groups import fill_groups
from pipeline.payback.lives_in_use import LivesInUse
from pipeline.progress import Silent
from pipeline.store import Store
from pipeline.survival import StatedLife, fit_weibull, forecast, kaplan_meier


def lives(*ages: float, still: float) -> pd.DataFrame:
    """Failures at ``ages`` and one control still working at ``still``."""
    return pd.DataFrame(
        {
            "entry_days": 0.0,
            "exit_days": [*ages, still],
            "failed": [True] * len(ages) + [False],
            "quantity": 1,
        }
    )


A_LED = lives(200, 400, 600, 800, 1000, 1200, still=1300)


def test_a_groups_figures_are_those_of_the_survival_functions(small: Store) -> None:
    fit = fit_weibull(A_LED)
    row = figures.failure_groups(small).set_index("group_name").loc["A / LED"]
    assert row["failures"] == 6
    assert row["shape"] == pytest.approx(fit.shape, rel=1e-9)
    assert row["b10_days"] == pytest.approx(fit.b_life(10), rel=1e-9)
    assert (row["b10_days_lower"], row["b10_days_upper"]) == pytest.approx(fit.b_life_limits(10), rel=1e-6)


def test_filtered_groups_are_refitted_by_the_same_functions(small: Store) -> None:
    everything = figures.failure_groups(small, "model").set_index("group_name")
    north = figures.failure_groups(small, "model", Filters(sites=("north",))).set_index("group_name")
    assert set(north.index) == {"A", "B"}
    shared = ["units", "failures", "control_years", "shape", "scale_days", "b10_days", "b10_days_lower"]
    for name in north.index:
        assert list(north.loc[name, shared]) == pytest.approx(list(everything.loc[name, shared]), rel=1e-9)


def test_filtered_rates_equal_the_builds_rates_where_the_filter_takes_all(small: Store) -> None:
    rates = [
        name for name in figures.failure_groups(small, "kind").columns if "rate" in name or "per_100" in name
    ]
    everything = figures.failure_groups(small, "kind").set_index("group_name")[rates].astype(float)
    same = figures.failure_groups(small, "kind", Filters(sites=("north", "south"))).set_index("group_name")
    pd.testing.assert_frame_equal(same[rates].astype(float).sort_index(), everything.sort_index())


def test_a_period_cuts_lives_at_its_edges(small: Store) -> None:
    # Failures of A / LED lie on one day, 100 days before the log's end: 22 March 2024. Up to the day before it,
    # nothing has failed; in the last 200 days all six have, each after at most 100 days under observation.
    before = figures.failure_groups(small, "model and lamp", Filters(end=date(2024, 3, 21)))
    last = figures.failure_groups(small, "model and lamp", Filters(start=date(2023, 12, 13)))
    a_before = before.set_index("group_name").loc["A / LED"]
    a_last = last.set_index("group_name").loc["A / LED"]
    assert a_before["failures"] == 0
    assert a_last["failures"] == 6
    assert a_last["control_years"] * 365.25 == pytest.approx(6 * 100 + 200)


def test_the_curve_of_a_group_is_kaplan_meiers(small: Store) -> None:
    expected = kaplan_meier(A_LED)
    for filters in (Filters(), Filters(sites=("north",))):
        curve = figures.curve(small, "model and lamp", "A / LED", filters)
        pd.testing.assert_frame_equal(curve.astype(float), expected.astype(float))


def test_a_group_without_failures_has_no_curve(small: Store) -> None:
    assert figures.curve(small, "model and lamp", "T / LED").empty
    assert figures.curve(small, "model and lamp", "T / LED", Filters(sites=("south",))).empty


def test_failures_are_counted_by_control_and_probability(small: Store) -> None:
    # 12 months to 30 June 2024: .6 + .1 + .95 + 3 * .5 + .9 + 2 * .7 = 5.45; at .5 or more: 1+1+3+1+2 = 8.
    count = figures.failures_between(small, date(2023, 7, 1), date(2024, 6, 30))
    assert count.expected == pytest.approx(5.45)
    assert count.hard == 8
    assert count.incidents == 6
    assert count.lower <= count.expected <= count.upper


def test_lamps_counted_in_a_text_are_not_controls() -> None:
    store = small_store()
    store.run("UPDATE incidents SET component = 'lamp', units = 250 WHERE incident_id = 'i03'")
    count = figures.failures_between(store, date(2023, 7, 1), date(2024, 6, 30))
    assert count.expected == pytest.approx(5.45)
    assert count.hard == 8


def test_reading_limits_are_those_of_the_exact_distribution() -> None:
    # Ten fair coins: P(at most 1) = 11/1024 < .025 < P(at most 2) = 56/1024, so the limits are 2 and 8.
    assert reading_limits(_verdicts([(0.5, 1)] * 10), 0.95) == (2, 8)
    assert reading_limits(_verdicts([(1.0, 3), (0.0, 5)]), 0.95) == (3, 3)


def test_odds_that_nobody_checked_widen_the_limits_of_a_count() -> None:
    # Odds of Beta(1, 1) make every count from 0 to 9 as likely as another: with .1 left in each tail, 1 to 8.
    assert reading_limits(_verdicts([(0.5, 1)] * 9, 1.0, 1.0), 0.80 - 1e-9) == (1, 8)
    unchecked = reading_limits(_verdicts([(0.9, 1)] * 200, 9.0, 1.0), 0.95)
    checked = reading_limits(_verdicts([(0.9, 1)] * 200, 900.0, 100.0), 0.95)
    known = reading_limits(_verdicts([(0.9, 1)] * 200), 0.95)
    assert unchecked[0] < checked[0] <= known[0]
    assert known[1] <= checked[1] < unchecked[1]


def test_a_rules_odds_limit_the_count_of_a_build() -> None:
    # Six incidents of one unchecked rule: their doubt is shared, so the limits are wider than of six coins.
    store = small_store()
    store.run("UPDATE incidents SET failed_probability = 0.5, units = 1, component = 'lamp'")
    store.run("INSERT INTO verdict_rules BY NAME SELECT 'a rule' AS rule, 1 AS place, 'built in' AS origin,"
              " 0.5 AS prior_probability, 1 AS prior_cases, 0 AS decided_yes, 0 AS decided_no, 0.5 AS cases_failed,"
              " 0.5 AS cases_not_failed, 0.5 AS probability, 6 AS findings")  # fmt: skip
    span = date(2023, 7, 1), date(2024, 6, 30)
    alone = figures.failures_between(store, *span)
    store.run("UPDATE findings SET rule = 'a rule'")
    shared = figures.failures_between(store, *span)
    assert shared.expected == alone.expected
    assert (shared.upper - shared.lower) > (alone.upper - alone.lower)


def _verdicts(
    rows: list[tuple[float, int]], cases_failed: float = math.nan, cases_not_failed: float = math.nan
) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["failed_probability", "units"])
    return frame.assign(cases_failed=cases_failed, cases_not_failed=cases_not_failed)


@given(
    st.lists(st.tuples(st.floats(0, 1), st.integers(1, 6)), max_size=12),
    st.sampled_from([0.5, 0.8, 0.95]),
)
def test_reading_limits_hold_the_stated_share_of_outcomes(
    verdicts: list[tuple[float, int]], confidence: float
) -> None:
    frame = _verdicts(verdicts)
    low, high = reading_limits(frame, confidence)
    rng = np.random.default_rng(1)
    drawn = rng.random((4000, len(frame))) < frame["failed_probability"].to_numpy()
    counts = drawn @ frame["units"].to_numpy(dtype=int)
    assert 0 <= low <= high <= int(frame["units"].sum())
    assert (
        (counts >= low) & (counts <= high)
    ).mean() >= confidence - 0.04  # four standard errors of 4000 draws


def test_the_forecast_adds_controls_by_age_and_by_rate(small: Store) -> None:
    # In service: a7 and b6 with fits of their own; the timer t1 by the fit of all; the batch of ten by the rate of
    # its group: 5 failures (i01, i05, 3 of i06) in its control-years.
    year = figures.next_year(small)
    assert year is not None
    assert (year.controls_by_age, year.controls_by_rate, year.unforeseen) == (3, 10, 0)
    rate = figures.failure_groups(small).set_index("group_name").loc["A / LED"]
    per_year = rate["failures_in_rate"] / rate["control_years_in_rate"]
    # At a constant rate what fails is renewed as it was: ten controls fail ten times as often as one, for the year.
    assert year.expected_by_rate == pytest.approx(10 * per_year, rel=1e-4)
    everyone = figures.failure_groups(small, "all").iloc[0]
    fits = [
        (fit_weibull(A_LED), 1300),
        (fit_weibull(lives(1000, 1200, 1400, 1600, 1800, 2000, still=2100)), 2100),
        (StatedLife(everyone["shape"], everyone["scale_days"]), 731),
    ]
    aged = sum(
        forecast(fit, pd.DataFrame({"age_days": [age], "quantity": [1]}), 365.25, renewed_by=fit).expected
        for fit, age in fits
    )
    assert year.expected - year.expected_by_rate == pytest.approx(aged, rel=1e-4)
    assert year.lower <= year.expected <= year.upper


def test_the_forecast_of_a_site_takes_its_controls_only(small: Store) -> None:
    south = figures.next_year(small, Filters(sites=("south",)))
    assert south is not None
    assert (south.controls_by_age, south.controls_by_rate) == (1, 0)
    assert figures.next_year(small, Filters(sites=("nowhere",))) is None


def test_the_forecast_and_the_payback_hear_the_same_life(small: Store) -> None:
    lives = LivesInUse(small)
    heard = {
        lives.present(*control).source for control in (("photocontrol", "A", "LED"), ("timer", "T", "LED"))
    }
    assert heard == {"fitted to A / LED (6 failures)", "fitted to all controls, kinds mixed (12 failures)"}
    year = figures.next_year(small)
    assert year is not None
    # A's life is that of its own model on its lamps; the timer's is not, and says so.
    assert year.less_particular == (("life fitted to all controls, kinds mixed (12 failures)", 1),)


def test_one_failure_of_a_model_does_not_forecast_it_where_its_kind_has_a_full_fit() -> None:
    store = small_store()
    store.run(
        "UPDATE life_fits SET method = 'fixed shape', failures = 1 WHERE group_name IN ('A / LED', 'A')"
    )
    year = figures.next_year(store)
    assert year is not None
    assert ("life fitted to every photocontrol, models mixed (12 failures)", 1) in year.less_particular
    shown = {figure.key: figure for figure in figures.headline(store)}
    note = shown["expected_next_12_months"].note
    assert "1 by the life fitted to every photocontrol, models mixed (12 failures)" in note


def test_a_rate_with_enough_failures_speaks_before_one_of_a_few() -> None:
    store = small_store()
    store.run("UPDATE failure_rates SET failures = 1 WHERE group_name IN ('A / LED', 'A')")
    year = figures.next_year(store)
    assert year is not None
    failures = store.value("SELECT failures FROM failure_rates WHERE group_name = 'photocontrol'")
    assert (f"rate of every photocontrol, models mixed ({failures} failures)", 10) in year.less_particular


def test_a_lamp_of_unknown_technology_is_no_group_of_that_name() -> None:
    store = small_store()
    store.run("UPDATE lives SET lamp = NULL WHERE life_id = 'a7'")
    year = figures.next_year(store)
    assert year is not None
    assert ("life fitted to A whatever its lamps (6 failures)", 1) in year.less_particular


def test_controls_followed_are_counted_alike_by_the_build_and_with_filters() -> None:
    # The control a7 gets a first stretch on another load: A's model has two stretches of it, and one control.
    store = small_store()
    store.run(
        "INSERT INTO lives SELECT * REPLACE (0 AS segment, 'HPS' AS lamp, 100.0 AS exit_days, false AS failed,"
        " 100.0 AS exit_central_days, 'load changed' AS end_reason) FROM lives WHERE life_id = 'a7'"
    )
    store.run("UPDATE lives SET entry_days = 100 WHERE life_id = 'a7' AND segment = 1")
    for table in ("life_fits", "life_fits_as_read", "life_curves", "failure_rates"):
        store.run(f"DELETE FROM {table}")
    fill_groups(store, SETTINGS.assumptions, Silent())
    for filters in (Filters(), Filters(sites=("north", "south"))):
        units = figures.failure_groups(store, "model", filters).set_index("group_name")["units"]
        assert dict(units) == {"A": 7, "B": 7, "T": 1}
    cut = figures.failure_groups(store, "model", Filters(start=date(2024, 1, 1))).set_index("group_name")[
        "units"
    ]
    assert cut["A"] == 7  # its earlier stretch lies before the period
    shown = {figure.key: figure for figure in figures.headline(store)}
    assert "6 failures among 7 controls" in shown["soonest_to_fail"].note
