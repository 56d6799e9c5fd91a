"""How measured onsets and ends enter incidents, where the readings saw both, one or none of them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from pipeline.meters.reconcile import reconcile
from pipeline.settings import Meters
from pipeline.store import Store

REPORTED = datetime(2021, 3, 10, 9)
ONSET, ENDED = datetime(2021, 3, 1, 7), datetime(2021, 3, 20, 12)
HOUR = timedelta(hours=1)


def add(store: Store, table: str, **values: Any) -> None:
    names = ", ".join(values)
    store.run(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(values))})", list(values.values()))


def met(restored: datetime | None, begins_before_data: bool = False, is_open: bool = False) -> Store:
    """One incident, and a stretch on its site's account that it reports."""
    store = Store.create()
    store.run(
        "INSERT INTO build_info VALUES ('b', '0', 'x', 'USD', 1, DATE '2021-01-01', DATE '2021-12-31', '{}')"
    )
    store.run("INSERT INTO sites (site_id, time_zone, account_id) VALUES ('S', 'UTC', 'A')")
    add(
        store, "incidents", incident_id="I", site_id="S", symptom="day burning", component="control", action="replaced",
        failed_probability=1.0, control_failed=True, units=1, first_reported_at=REPORTED, onset_low=REPORTED,
        onset_central=REPORTED - timedelta(days=5), onset_high=REPORTED - timedelta(days=60), restored_low=restored,
        restored_central=restored, restored_high=restored, is_open=restored is None, calls=1, callbacks=0,
        no_fault_found=False, flags=[],
    )  # fmt: skip
    add(store, "meter_accounts", account_id="A", days=90, missing_intervals=0, least_step_kw=0.05)
    add(store, "meter_days", account_id="A", day=REPORTED.date(), off_at=REPORTED, on_at=REPORTED, off_hours=12,
        readings=40, day_kw=0.2)  # fmt: skip
    add(
        store, "meter_episodes", episode_id="E", account_id="A", onset_low=ONSET + HOUR, onset_central=ONSET,
        onset_high=ONSET - HOUR, ended_low=ENDED - HOUR, ended_central=ENDED, ended_high=ENDED + HOUR,
        begins_before_data=begins_before_data, is_open=is_open, step_kw=0.2, days=19, excess_hours=228, kwh=45,
        kwh_lower=44, kwh_upper=46, filled_hours=0, found="never called in",
    )  # fmt: skip
    reconcile(store, Meters())
    return store


def ends(store: Store) -> tuple[Any, ...]:
    return store.row(
        "SELECT onset_high, onset_central, onset_low, restored_low, restored_central, restored_high, is_open"
        " FROM incidents"
    )


@pytest.mark.parametrize("restored", [datetime(2021, 4, 2, 9), None], ids=["closed late", "never closed"])
def test_both_ends_seen_replace_what_the_calls_say(restored: datetime | None) -> None:
    store = met(restored)
    assert ends(store) == (ONSET - HOUR, ONSET, ONSET + HOUR, ENDED - HOUR, ENDED, ENDED + HOUR, False)
    assert store.row("SELECT kwh_measured, onset_measured, end_measured FROM meter_matches") == (
        45,
        True,
        True,
    )
    assert store.value("SELECT found FROM meter_episodes") == "both"


def test_a_stretch_that_the_readings_begin_in_bounds_the_onset_only() -> None:
    """The cap of 60 days and the central guess stay; it burnt at the first hour of the readings."""
    store = met(datetime(2021, 4, 2, 9), begins_before_data=True)
    high, central, low, *_ = ends(store)
    assert (high, low) == (REPORTED - timedelta(days=60), ONSET + HOUR)
    assert central == ONSET + HOUR
    assert store.row("SELECT kwh_measured, onset_measured, end_measured FROM meter_matches") == (
        None,
        False,
        True,
    )


@pytest.mark.parametrize(
    ("restored", "after"), [(datetime(2021, 4, 2, 9), datetime(2021, 4, 2, 9)), (None, None)]
)
def test_a_stretch_that_outlasts_the_readings_leaves_the_end_to_the_calls(
    restored: datetime | None, after: datetime | None
) -> None:
    store = met(restored, is_open=True)
    *_, low, central, high, still_open = ends(store)
    assert (low, central, high) == (after, after, after)
    assert still_open is (restored is None)
    assert store.row("SELECT kwh_measured, onset_measured, end_measured FROM meter_matches") == (
        None,
        True,
        False,
    )


def test_a_repair_on_paper_before_the_readings_end_while_it_burns_did_not_help() -> None:
    *_, low, central, high, still_open = ends(met(datetime(2021, 3, 12, 9), is_open=True))
    assert (low, central, high, still_open) == (ENDED - HOUR, ENDED - HOUR, ENDED - HOUR, False)
