"""The mean detection delay from meters and rounds by day, against closed forms and simulations of known truth."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2

from pipeline.day_settings import DetectionDelay
from pipeline.delay_estimate import DelayFactor, Noticed, estimated_factor, log_likelihood
from pipeline.meters.delays import delay_in_force, fill_delays
from pipeline.noticing import Noticing
from pipeline.settings import Assumptions, Settings
from pipeline.store import Store

NONE = np.empty(0)


def noticed(measured: Any = NONE, unreported: Any = NONE, reports: Any = NONE, finds: Any = NONE) -> Noticed:
    return Noticed(*(np.asarray(times, dtype=float) for times in (measured, unreported, reports, finds)))


def test_measured_delays_give_time_at_risk_over_reports() -> None:
    """Closed form of the censored exponential: total time over number of events; limits from its likelihood."""
    found = estimated_factor(noticed([1, 2, 3, 4, 5], [6, 9]), 5)
    assert isinstance(found, DelayFactor)
    assert found.factor == pytest.approx(30 / 5, rel=1e-6)
    here = noticed([1, 2, 3, 4, 5], [6, 9])
    drop = [
        log_likelihood(here, found.factor) - log_likelihood(here, end) for end in (found.lower, found.upper)
    ]
    assert drop == pytest.approx([chi2.ppf(0.9, 1) / 2] * 2, rel=1e-6)


@pytest.mark.parametrize(
    ("here", "said"),
    [
        (noticed([1, 2]), "2 faults speak of the delay, and 5 are needed"),
        (noticed(reports=[1] * 9), "no fault was found by a round"),
        (noticed(finds=[1] * 9), "no fault was called in between rounds"),
        (noticed([0, 0, 0, 0, 0, 0]), "open by more than a factor of 1000"),
    ],
)
def test_data_that_cannot_carry_an_estimate_say_why(here: Noticed, said: str) -> None:
    found = estimated_factor(here, 5)
    assert isinstance(found, str)
    assert said in found


def rounds_of_a_site(mean: float, every: float, faults: int, chance: np.random.Generator) -> Noticed:
    """Faults that begin at all times alike between rounds: called in before the next round, or found by it."""
    begun = chance.uniform(0, every, faults)
    called = begun + chance.exponential(mean, faults)
    return noticed(reports=called[called < every], finds=np.full(int((called >= every).sum()), every))


@pytest.mark.parametrize("every", [0.5, 2.0])
def test_rounds_alone_recover_the_mean_delay(every: float) -> None:
    """200 worlds of 60 faults with the true factor 1: no bias beyond 5 %, limits of 90 % hold it in 84 to 96 %."""
    chance = np.random.default_rng(8)
    found = [estimated_factor(rounds_of_a_site(1.0, every, 60, chance), 5) for _ in range(200)]
    usable = [one for one in found if isinstance(one, DelayFactor)]
    assert len(usable) >= 198
    assert np.exp(np.mean([np.log(one.factor) for one in usable])) == pytest.approx(1, abs=0.05)
    assert 0.84 <= np.mean([one.lower <= 1 <= one.upper for one in usable]) <= 0.96


def test_faults_that_nobody_called_in_lengthen_the_delay_as_they_should() -> None:
    """Episodes of fixed length 1, true mean 1: those called in alone would say 0.42 (mean of the cut-off law)."""
    chance = np.random.default_rng(9)
    delays = chance.exponential(1.0, 4000)
    found = estimated_factor(noticed(delays[delays < 1], np.ones(int((delays >= 1).sum()))), 5)
    assert isinstance(found, DelayFactor)
    assert found.factor == pytest.approx(1.0, rel=0.06)
    assert delays[delays < 1].mean() == pytest.approx(0.418, abs=0.02)


def test_times_are_counted_in_the_mean_delays_of_their_days() -> None:
    """By hand: two days at 10, one in the holidays at 20, half of another."""
    noticing = Noticing(10.0, ((("07-01 to 07-02",), (), 20.0),))
    day = float((datetime(2024, 6, 29) - datetime(1970, 1, 1)).days)
    counted = noticing.delays_within(np.array([day, day]), np.array([day + 3.5, day]))
    assert counted.tolist() == pytest.approx([0.2 + 1.5 / 20, 0.0])
    assert noticing.times(2).delays_within(np.array([day]), np.array([day + 2])).tolist() == pytest.approx(
        [0.1]
    )


def settings(delay: str, **values: Any) -> Settings:
    assumptions = Assumptions(detection_delay=delay, detection_delay_days=10.0)
    return Settings(format=1, name="x", currency="USD", time_zone="UTC", assumptions=assumptions, **values)


def add(store: Store, table: str, **values: Any) -> None:
    names = ", ".join(values)
    store.run(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(values))})", list(values.values()))


def incident(store: Store, name: str, reported: datetime, work_type: str = "reactive") -> None:
    """Day burning called in once, with the widest bounds."""
    add(
        store, "incidents", incident_id=name, site_id="S", symptom="day burning", component="control",
        action="replaced", failed_probability=1.0, control_failed=True, units=1, first_reported_at=reported,
        onset_low=reported,
        onset_central=reported - timedelta(days=10), onset_high=reported - timedelta(days=60), is_open=False, calls=1,
        callbacks=0, no_fault_found=False, flags=[],
    )  # fmt: skip
    call(store, f"call {name}", reported, work_type, name)


def call(
    store: Store, name: str, at: datetime, work_type: str, incident_id: str | None, text: str = ""
) -> None:
    names = store.rows(
        "SELECT column_name, data_type FROM duckdb_columns() WHERE table_name = 'calls' AND NOT is_nullable"
    )
    needed = {
        column: (False if kind == "BOOLEAN" else 0 if kind == "BIGINT" else "x") for column, kind in names
    }
    values = {
        "call_id": name,
        "reported_at": at,
        "completed_at": at,
        "work_type": work_type,
        "problem_text": text,
    }
    add(store, "calls", **(needed | values))
    names = store.rows(
        "SELECT column_name, data_type FROM duckdb_columns() WHERE table_name = 'findings' AND NOT is_nullable"
    )
    needed = {column: ("x" if kind == "VARCHAR" else 1) for column, kind in names}
    keys = {"finding_id": f"f {name}", "call_id": name, "site_id": "S", "incident_id": incident_id}
    add(store, "findings", **(needed | keys))


def kept() -> Store:
    store = Store.create()
    store.run(
        "INSERT INTO build_info VALUES ('b', '0', 'x', 'USD', 1, DATE '2020-01-01', DATE '2023-12-31', '{}')"
    )
    return store


def rounds(store: Store) -> None:
    """A round by day every 20 days; faults called in 12 days after one, or found by the next."""
    first = datetime(2021, 1, 1, 10)
    for number in range(30):
        call(store, f"round {number}", first + timedelta(days=20 * number), "inspection", None)
    for number in range(0, 20, 2):
        incident(store, f"reported {number}", first + timedelta(days=20 * number + 12))
    for number in range(4):
        incident(store, f"found {number}", first + timedelta(days=20 * number + 600), "inspection")


def test_rounds_by_day_give_an_estimate_that_is_shown_beside_the_assumed_delay() -> None:
    store = kept()
    rounds(store)
    fill_delays(store, settings("assumed"))
    rows = store.rows(
        "SELECT origin, in_force, delay_days, patrol_reports, patrol_finds FROM detection_delays ORDER BY 1"
    )
    assert rows[0] == ("assumed", True, 10.0, 0, 0)
    assert rows[1][:2] == ("estimated", False)
    assert rows[1][3:] == (10, 4)
    assert 2 < rows[1][2] < 30
    assert delay_in_force(store, settings("assumed")) == (Noticing(10.0), 2.5)
    assert (
        store.value("SELECT count(*) FROM incidents WHERE onset_low - onset_central = INTERVAL 10 DAY") == 14
    )


def test_the_estimate_in_force_dates_incidents_and_sets_the_spread() -> None:
    store = kept()
    rounds(store)
    store.run("UPDATE incidents SET flags = ['onset measured by a meter'] WHERE incident_id = 'reported 0'")
    fill_delays(store, settings("estimated"))
    ((delay, lower, upper),) = store.rows(
        "SELECT delay_days, lower_days, upper_days FROM detection_delays WHERE in_force"
    )
    in_force = delay_in_force(store, settings("estimated"))
    assert in_force.noticing.delay_days == pytest.approx(delay)
    assert in_force.spread == pytest.approx(np.sqrt(upper / lower))
    moved = store.rows(
        "SELECT incident_id, epoch(onset_low - onset_central) / 86400 FROM incidents ORDER BY 1"
    )
    assert dict(moved)["reported 0"] == 10.0
    assert dict(moved)["reported 2"] == pytest.approx(delay, abs=1e-4)


@pytest.mark.parametrize(
    ("hour", "text"),
    [(20, ""), (10, "monthly night walk"), (6, "")],
    ids=["evening", "says night", "before day"],
)
def test_a_round_at_night_says_nothing_of_day_burning(hour: int, text: str) -> None:
    store = kept()
    call(store, "round", datetime(2021, 1, 1, hour), "inspection", None, text)
    incident(store, "I", datetime(2021, 1, 20, 9))
    fill_delays(store, settings("assumed"))
    assert store.value("SELECT patrol_reports FROM detection_delays WHERE origin = 'estimated'") == 0


def test_an_estimate_that_is_wanted_and_cannot_be_had_is_told() -> None:
    store = kept()
    fill_delays(store, settings("estimated"))
    assert store.rows("SELECT in_force FROM detection_delays ORDER BY origin") == [(True,), (False,)]
    (message,) = [text for (text,) in store.rows("SELECT message FROM notices")]
    assert message == (
        "the delay cannot be estimated: 0 faults speak of the delay, and 5 are needed. The assumed one is used."
    )
    assert store.value("SELECT delay_days FROM detection_delays WHERE origin = 'estimated'") is None


def test_episodes_on_meters_speak_reported_or_not_and_only_while_the_log_was_kept() -> None:
    store = kept()
    days = [
        (datetime(2021, 3, 1), 5),
        (datetime(2021, 5, 1), 9),
        (datetime(2019, 12, 22), 30),
        (datetime(2018, 1, 1), 9),
    ]
    for number, (onset, lasted) in enumerate(days):
        add(
            store, "meter_episodes", episode_id=f"E{number}", account_id="A", onset_central=onset,
            ended_central=onset + timedelta(days=lasted), begins_before_data=False, is_open=False, step_kw=1,
            days=lasted, excess_hours=1, kwh=1, kwh_lower=1, kwh_upper=1, filled_hours=0,
            found="outside the log" if number == 3 else "both",
        )  # fmt: skip
    incident(store, "I", datetime(2021, 3, 4))
    add(
        store,
        "meter_matches",
        incident_id="I",
        account_id="A",
        episode_id="E0",
        verdict="both",
        onset_measured=True,
        end_measured=True,
    )
    fill_delays(
        store,
        settings(
            "assumed", detection_delays={"summer": DetectionDelay(days=("06-01 to 08-31",), delay_days=30)}
        ),
    )
    assert store.row("SELECT measured, unreported FROM detection_delays WHERE origin = 'estimated'") == (1, 2)
