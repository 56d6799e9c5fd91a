"""Rates without ages, and counts by month with season and exposure."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest
from scipy.stats import binom, chi2

from figures.small_store import add, small_store
from pipeline import figures
from pipeline.figures import Filters
from pipeline.store import Store


def watched() -> Store:
    """The small portfolio with its log kept at both sites from 2022 on."""
    store = small_store()
    for site in ("north", "south"):
        add(store, "observation_windows", site_id=site, observed_from="2022-01-01", observed_to="2024-06-30",
            origin="settings")  # fmt: skip
    return store


def test_rates_count_incidents_and_failures_over_control_years_with_exact_limits() -> None:
    rates = figures.incident_rates(watched(), "kind").set_index("part")
    row = rates.loc["photocontrol"]
    years = 0.0
    for ages in ([200, 400, 600, 800, 1000, 1200, 1300], [1000, 1200, 1400, 1600, 1800, 2000, 2100]):
        years += sum(ages) / 365.25
    years += 10 * 731 / 365.25
    assert row["control_years"] == pytest.approx(years)
    # i01, i02, i05, i06 and i07 at controls with lives; i08's control C5 has none. Failures in units: 1+1+1+3+1, and
    # eleven lives whose failure only the register tells of (all but a1).
    assert (row["incidents"], row["failures"]) == (5, 7 + 11)
    assert row["failures_per_100_control_years"] == pytest.approx(18 / years * 100)
    assert row["failures_per_100_control_years_lower"] == pytest.approx(chi2.ppf(0.025, 36) / 2 / years * 100)
    assert row["failures_per_100_control_years_upper"] == pytest.approx(chi2.ppf(0.975, 38) / 2 / years * 100)


def test_a_site_counts_incidents_tied_to_no_control() -> None:
    rates = figures.incident_rates(watched(), "site").set_index("part")
    assert rates.loc["south", "label"] == "South Yard"
    assert rates.loc["south", "incidents"] == 4  # i03, i04, i08 and i09, which has no control


@pytest.mark.parametrize("by", ["kind", "model", "switching", "lamp", "model and lamp"])
def test_failures_are_those_of_the_lives_pages_rates(demo_store: Store, by: str) -> None:
    rates = figures.incident_rates(demo_store, by).set_index("part")
    lives = figures.failure_groups(demo_store, by).set_index("group_name")
    assert set(rates.index) == set(lives.index)
    for name, theirs in (("failures", "failures_in_rate"), ("control_years", "control_years_in_rate"),
                         ("failures_per_100_control_years_upper", "failures_per_100_control_years_upper")):  # fmt: skip
        assert rates[name].to_dict() == pytest.approx(lives[theirs].astype(float).to_dict(), rel=1e-9)


def test_a_row_opens_to_the_incidents_it_counts(demo_store: Store) -> None:
    for by, failures_only, column in (("model", False, "incidents"), ("site", False, "incidents")):
        row = figures.incident_rates(demo_store, by).iloc[0]
        ids = figures.incidents_of_part(demo_store, by, row["part"], failures_only=failures_only)
        assert len(ids) == row[column]
    assert set(figures.incidents_of_part(watched(), "site", "north", failures_only=True)) == {
        "i01", "i02", "i05", "i06", "i07",
    }  # fmt: skip


def test_a_period_cuts_time_and_incidents() -> None:
    last_year = Filters(start=date(2023, 7, 1), end=date(2024, 6, 30))
    rates = figures.incident_rates(watched(), "site", last_year).set_index("part")
    assert rates.loc["north", "incidents"] == 3  # i05, i06, i07
    assert rates.loc["south", "control_years"] == pytest.approx(365 / 365.25)


def test_unlike_the_rest_is_the_exact_conditional_test_with_holms_adjustment() -> None:
    # South: 3 of 18 + 3 failures (i03, and i08 in units 2) with its share of the time; two parts, so Holm doubles the
    # smaller of two equal probabilities.
    rates = figures.incident_rates(watched(), "site").set_index("part")
    south, share = (
        int(rates.loc["south", "failures"]),
        rates.loc["south", "control_years"] / rates["control_years"].sum(),
    )
    total = int(rates["failures"].sum())
    chances = binom.pmf(range(total + 1), total, share)
    p_value = chances[chances <= chances[south] * (1 + 1e-7)].sum()
    assert rates.loc["south", "unlike_the_rest_p"] == pytest.approx(min(1, 2 * p_value), rel=1e-6)


def test_one_part_alone_has_nothing_to_be_compared_with() -> None:
    rates = figures.incident_rates(watched(), "kind", Filters(kinds=("timer",)))
    assert rates["unlike_the_rest_p"].isna().all()


def test_an_unknown_part_is_refused(small: Store) -> None:
    with pytest.raises(ValueError, match="'colour' is not one of"):
        figures.incident_rates(small, "colour")


def test_exposure_is_the_mean_number_of_controls_under_observation(small: Store) -> None:
    months = figures.activity_with_exposure(small).set_index("month")["controls_observed"]
    # May 2024: a7, b6, the timer and the batch of ten; March: the twelve that failed on the 22nd too, 21 days.
    assert months[pd.Timestamp("2024-05-01")] == pytest.approx(13)
    assert months[pd.Timestamp("2024-03-01")] == pytest.approx(13 + 12 * 21 / 31)


def test_growth_per_control_is_that_of_the_count_less_that_of_the_controls(demo_store: Store) -> None:
    trends = figures.count_trends(demo_store).set_index("what")
    assert list(trends.index) == [
        "lighting calls, planned work left out", "incidents", "day-burning incidents", "control failures, hard count",
    ]  # fmt: skip
    calls = trends.loc["lighting calls, planned work left out"]
    assert calls["model"] == "negative binomial"
    assert calls["dispersion"] > 1.5
    assert calls["percent_a_year_per_control"] < calls["percent_a_year"]
    assert calls["percent_a_year_per_control_lower"] < calls["percent_a_year_per_control"]
    assert calls["season"] == "taken out"
    growth = {figure.key: figure for top in figures.log_summary(demo_store) for figure in top.flat()}[
        "calls_growth"
    ]
    assert growth.value == pytest.approx(calls["percent_a_year"], rel=1e-9)


def test_the_demos_relamping_project_makes_no_month_of_many_incidents(demo_store: Store) -> None:
    months = figures.monthly_activity(demo_store).set_index("month")
    project = months.loc["2022-07-01"]
    assert project["planned_works"] > 100  # docs/demo-model.md: the campaign of July 2022
    assert project["incidents"] <= months.loc["2022-01-01":"2022-06-01", "incidents"].max()


def test_too_few_events_are_told_and_not_fitted(small: Store) -> None:
    trends = figures.count_trends(small, Filters(sites=("south",)))
    assert len(trends) == 4
    assert trends["percent_a_year"].isna().all()
    assert trends["note"].str.contains("too few").all()


def test_an_empty_database_has_no_rates_and_no_trends(empty: Store) -> None:
    assert figures.incident_rates(empty, "site").empty
    assert figures.count_trends(empty).empty
