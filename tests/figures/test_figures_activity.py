from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from figures.small_store import add, small_store
from pipeline import figures
from pipeline.figures import Filters
from pipeline.store import Store


def test_burning_now_lists_open_day_burning_the_dearest_first(small: Store) -> None:
    frame = figures.burning_now(small)
    assert list(frame["incident_id"]) == ["i07", "i08"]
    first = frame.iloc[0]
    assert (first["site"], first["control_id"], first["lamps"], first["age_days"]) == (
        "North Yard",
        "C2",
        "HPS",
        20,
    )
    assert (first["kwh_per_day"], first["cost_per_day"], first["flags"]) == (14.0, 1.4, "stale order")
    assert list(frame["days_since_evidence"]) == [20, 10]
    assert not frame["stale"].any()  # stale_after_days is 90


def test_burning_now_names_the_lamps_that_its_control_reaches_through_a_coil() -> None:
    store = small_store()
    store.run("UPDATE fixtures SET control_id = 'C3'")
    store.run("UPDATE controls SET switched_by = 'C3' WHERE control_id = 'C2'")
    assert figures.burning_now(store).iloc[0]["lamps"] == "HPS, LED"


def test_burning_now_is_about_the_logs_end_whatever_period_is_asked(small: Store) -> None:
    year = Filters(start=date(2022, 1, 1), end=date(2022, 12, 31))
    assert len(figures.burning_now(small, year)) == 2


def test_open_incidents_of_unknown_symptom_are_said_beside_those_that_burn() -> None:
    store = small_store()
    store.run("UPDATE incidents SET symptom = 'unknown' WHERE incident_id = 'i08'")
    assert figures.open_without_symptom(store) == 1
    assert figures.open_without_symptom(store, Filters(sites=("nowhere",))) == 0


def test_every_month_of_the_log_stands_in_the_monthly_activity(small: Store) -> None:
    months = figures.monthly_activity(small)
    assert len(months) == 30  # January 2022 to June 2024
    by_month = months.set_index("month")
    # August 2022: two calls of one incident. March 2024: i06, three controls at probability 0.5.
    assert by_month.loc["2022-08-01", "lighting_calls"] == 2
    assert by_month.loc["2022-08-01", "incidents"] == 1
    assert by_month.loc["2024-03-01", "control_failures_expected"] == pytest.approx(1.5)
    assert by_month.loc["2024-03-01", "control_failures_hard"] == 3
    assert by_month.loc["2024-04-01", "lighting_calls"] == 0
    assert months["lighting_calls"].sum() == 10
    assert months["incidents"].sum() == 9


def test_monthly_activity_by_kind_adds_up_to_the_whole(small: Store) -> None:
    by_kind = figures.monthly_activity(small, by_kind=True)
    assert set(by_kind["kind"]) == {"photocontrol", "timer", "unknown"}
    assert by_kind["incidents"].sum() == figures.monthly_activity(small)["incidents"].sum()
    assert by_kind.loc[by_kind["kind"] == "timer", "incidents"].sum() == 2


def with_planned_work() -> Store:
    """The small portfolio, and a relamping project in March 2024: one order for two places, which report no fault."""
    store = small_store()
    add(
        store, "calls", call_id="p1", file_id="f1", row_number=90, source="orders", call_number="#90",
        status="completed", work_type="project", reported_at="2024-03-05 08:00", is_lighting=True,
        is_lighting_by_text=True, problem_text="Relamping project", action_text="new LED heads and photocells",
    )  # fmt: skip
    for part, control in enumerate(("C1", "C2"), start=1):
        add(
            store, "incidents", incident_id=f"p{part}", site_id="north", control_id=control,
            position=f"north / {control}", symptom="unknown", component="control",
            action="planned", failed_probability=0.02, control_failed=False, units=1,
            first_reported_at="2024-03-05 08:00", restored_low="2024-03-06", restored_central="2024-03-06",
            restored_high="2024-03-06", is_open=False, calls=1, callbacks=0, no_fault_found=False, flags=[],
        )  # fmt: skip
        add(
            store, "findings", finding_id=f"p1/{part}", call_id="p1", part_number=part, site_id="north",
            control_id=control, symptom="unknown", component="control", action="planned", units=1,
            failed_probability=0.02, incident_id=f"p{part}",
        )  # fmt: skip
    return store


def test_planned_work_that_reports_no_fault_is_no_incident_and_stands_apart(small: Store) -> None:
    store = with_planned_work()
    before, after = (
        figures.monthly_activity(one).set_index("month").loc["2024-03-01"] for one in (small, store)
    )
    assert (after["planned_calls"], after["planned_works"]) == (1, 2)
    assert (before["planned_calls"], before["planned_works"]) == (0, 0)
    assert after["incidents"] == before["incidents"]
    assert after["fault_calls"] == before["fault_calls"]
    assert after["lighting_calls"] == before["lighting_calls"] + 1
    # The same in every other count of incidents: the log's summary, rates, and time to restore.
    shown = {part.key: part.value for top in figures.log_summary(store) for part in top.flat()}
    assert (shown["incidents"], shown["planned_works"]) == (9, 2)
    for count in (lambda one: figures.incident_rates(one, "site")["incidents"].sum(),
                  lambda one: figures.time_to_restore(one)["incidents"].iloc[0],
                  lambda one: figures.count_trends(one)["total"].tolist()):  # fmt: skip
        assert count(store) == count(small)


def test_a_planned_order_that_reports_a_fault_or_found_a_failed_control_is_an_incident() -> None:
    store = with_planned_work()
    store.run("UPDATE incidents SET symptom = 'out' WHERE incident_id = 'p1'")
    store.run("UPDATE incidents SET control_failed = true WHERE incident_id = 'p2'")
    month = figures.monthly_activity(store).set_index("month").loc["2024-03-01"]
    assert (month["planned_calls"], month["planned_works"], month["incidents"]) == (0, 0, 3)


def test_monthly_activity_keeps_to_its_period(small: Store) -> None:
    months = figures.monthly_activity(small, Filters(start=date(2024, 1, 1), end=date(2024, 2, 29)))
    assert list(months["month"]) == [pd.Timestamp(2024, 1, 1), pd.Timestamp(2024, 2, 1)]
    assert months["lighting_calls"].sum() == 1


def test_open_incidents_are_censored_not_dropped_in_the_time_to_restore(small: Store) -> None:
    # 2024: restored after 2 (of 5 at risk), 20 (of 3) and 30 (of 1) days; open for 10.7 and 20.7 days.
    # Kaplan-Meier by hand: 0.8, 0.533, 0. Dropping the open ones would give a median of 20 days, not 30.
    restore = figures.time_to_restore(small).set_index(["year", "symptom"])
    year = restore.loc[("2024", "all")]
    assert (year["incidents"], year["still_open"]) == (5, 2)
    assert (year["median_days"], year["ninety_percent_days"]) == (30, 30)
    assert restore.loc[("all", "out"), "median_days"] == 2
    for share in ("median", "ninety_percent"):
        found = (
            restore[[f"{share}_lower_days", f"{share}_days", f"{share}_upper_days"]].astype(float).dropna()
        )
        assert (found.diff(axis=1).iloc[:, 1:] >= 0).all(axis=None)


def test_a_share_that_is_never_reached_is_missing(small: Store) -> None:
    restore = figures.time_to_restore(small, Filters(sites=("south",), start=date(2024, 6, 1)))
    assert restore["median_days"].isna().all()
    assert restore["still_open"].iloc[0] == 1
