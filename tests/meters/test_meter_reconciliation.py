"""Meters and calls of one portfolio, from files to figures."""

from __future__ import annotations

from datetime import datetime

import pytest

from pipeline.store import Store

from .two_faults import MADE


def test_every_check_holds(store: Store) -> None:
    assert store.rows("FROM checks WHERE NOT holds") == []


def test_each_incident_says_what_the_meter_says_of_it(store: Store) -> None:
    verdicts = store.rows(
        "SELECT control_id, account_id, verdict FROM meter_matches JOIN incidents USING (incident_id) ORDER BY 1"
    )
    assert verdicts == [
        ("PC-0001", "AC-1", "both"), ("PC-0002", "AC-1", "not on the meter"), ("PC-0003", "AC-2", "no readings then"),
    ]  # fmt: skip
    assert store.rows("SELECT found FROM meter_episodes ORDER BY onset_central") == [
        ("both",),
        ("never called in",),
    ]


def test_measured_onset_and_end_replace_the_assumed_ones(store: Store) -> None:
    low, central, high, end, flags = store.row(
        "SELECT onset_low, onset_central, onset_high, restored_central, flags FROM incidents"
        " WHERE control_id = 'PC-0001'"
    )
    assert abs((central - datetime(2021, 2, 20, 6, 22)).total_seconds()) < 120  # when the lamps should go out
    assert (low - high).days < 1  # the calls alone leave 60 days open
    assert abs((end - datetime(2021, 3, 5, 15)).total_seconds()) <= 900
    assert flags == ["onset measured by a meter", "end measured by a meter"]


def test_the_delay_is_measured_from_onset_to_report(store: Store) -> None:
    """The first call is of 1 March, 09:00."""
    delay, low, high = store.row(
        "SELECT delay_days, delay_lower_days, delay_upper_days FROM meter_matches WHERE verdict = 'both'"
    )
    assert delay == pytest.approx(9.11, abs=0.01)
    assert low <= delay <= high


def test_measured_energy_replaces_load_times_hours_and_its_range_shrinks(store: Store) -> None:
    kwh, low, high, draws = store.row(
        "SELECT sum(kwh_central), sum(kwh_low), sum(kwh_high), list(kwh_draws) FROM burn_months m"
        " JOIN incidents i USING (incident_id) WHERE i.control_id = 'PC-0001'"
    )
    measured = store.value("SELECT kwh_measured FROM meter_matches WHERE verdict = 'both'")
    assert float(kwh) == pytest.approx(float(measured), abs=0.001)
    assert float(kwh) == pytest.approx(MADE.true_kwh[0], rel=0.06)
    assert float(high - low) < 0.1 * float(kwh)
    totals = sorted(sum(parts) for parts in zip(*draws, strict=True))
    assert 0 < totals[190] - totals[10] < 0.25 * float(kwh)


def test_what_nobody_called_in_stands_beside_the_total_and_not_in_it(store: Store) -> None:
    unreported = store.value("SELECT sum(kwh) FROM meter_episodes WHERE found = 'never called in'")
    assert float(unreported) == pytest.approx(MADE.true_kwh[1], rel=0.06)
    assert store.value("SELECT count(*) FROM burn_episodes") == 3  # the incidents of the calls
