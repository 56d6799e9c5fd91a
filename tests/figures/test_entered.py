"""What entered which analysis, and how controls end."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from figures.small_store import small_store
from pipeline import figures
from pipeline.figures.filters import Filters
from pipeline.store import Store
from pipeline.survival import kaplan_meier


@pytest.mark.parametrize("grouping", ["all", "kind", "model and lamp"])
@pytest.mark.parametrize("filters", [Filters(), Filters(start=date(2021, 1, 1), end=date(2023, 12, 31))])
def test_what_enters_adds_up_to_the_rates(demo_store: Store, grouping: str, filters: Filters) -> None:
    counted = figures.entered(demo_store, grouping, filters)
    rates = figures.failure_groups(demo_store, grouping, filters).set_index("group_name")
    inside = (
        counted[counted["counted_in"] != "left out"]
        .groupby("group_name")[["failures", "control_years"]]
        .sum()
    )
    both = inside.join(rates[["failures_in_rate", "control_years_in_rate"]], how="inner")
    assert len(both) == len(rates)
    assert list(both["failures"]) == list(both["failures_in_rate"])
    assert list(both["control_years"]) == pytest.approx(list(both["control_years_in_rate"]), rel=1e-9)


def test_every_failure_is_counted_once_and_says_why_it_is_not_in_ages(demo_store: Store) -> None:
    counted = figures.entered(demo_store)
    told = demo_store.value("SELECT sum(units) FROM incidents WHERE control_failed")
    by_register = demo_store.value("SELECT sum(quantity) FROM lives WHERE failed AND incident_id IS NULL")
    assert counted["failures"].sum() == told + by_register
    assert counted.loc[counted["counted_in"] == "ages", "reason"].isna().all()
    assert counted.loc[counted["counted_in"] != "ages", "reason"].notna().all()
    years = demo_store.value("SELECT control_years FROM life_fits WHERE grouping = 'all'")
    # half a day at risk for a failure on its first day is what the fits add
    assert counted.loc[counted["counted_in"] == "ages", "control_years"].sum() == pytest.approx(
        years, abs=0.1
    )


def test_a_failure_reported_when_nobody_kept_the_log_is_left_out() -> None:
    store = small_store()
    store.run("UPDATE observation_windows SET observed_to = DATE '2020-01-01'")
    counted = figures.entered(store)
    assert set(counted.loc[counted["failures"] > 0, "counted_in"]) >= {"left out"}
    assert "reported while the log of its site was not kept" in set(counted["reason"])


def test_an_unknown_grouping_is_refused(demo_store: Store) -> None:
    with pytest.raises(ValueError, match="is not one of"):
        figures.entered(demo_store, "colour")


def test_ends_of_a_kind_that_ends_in_one_way_are_kaplan_meiers() -> None:
    store = small_store()
    curves = figures.ends_of_lives(store)
    assert set(zip(curves["kind"], curves["end"], strict=True)) == {("photocontrol", "fails on")}
    lives = store.frame(
        "SELECT entry_days, exit_central_days AS exit_days, failed, quantity FROM lives"
        " WHERE kind = 'photocontrol' AND excluded_reason IS NULL"
    )
    survival = kaplan_meier(lives)
    assert list(curves["age_days"]) == list(survival["age_days"])
    assert list(1 - curves["incidence"]) == pytest.approx(list(survival["survival"]))


def test_ways_of_ending_share_what_has_ended(demo_store: Store) -> None:
    shares = figures.ended_by_age(figures.ends_of_lives(demo_store))
    together = shares.groupby(["kind", "years"])["incidence"].sum()
    assert ((together > 0) & (together < 1)).all()
    assert (shares["lower"] <= shares["incidence"]).all()
    for _, kind in shares.groupby(["kind", "end"]):
        assert kind["incidence"].is_monotonic_increasing


def test_an_age_that_nothing_reached_is_left_out() -> None:
    curves = pd.DataFrame(
        {"kind": "timer", "end": "other", "age_days": [800.0], "incidence": 0.1, "lower": 0.05, "upper": 0.2}
    )
    shares = figures.ended_by_age(curves)
    assert set(shares["years"]) == {2}
    assert list(shares.loc[shares["end"] == "fails on", "incidence"]) == [0.0]


def test_a_period_without_ends_has_no_curve() -> None:
    none = figures.ends_of_lives(small_store(), Filters(end=date(2010, 1, 1)))
    assert none.empty
    assert figures.ended_by_age(none).empty
