"""Which incident reports which stretch on a meter."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.energy.measured import at_measured_loads, drawn_factors
from pipeline.energy.meter_match import Reported, Seen, matched

DAYS = 3.0


def test_a_report_within_the_stretch_or_close_by_is_its_report() -> None:
    seen = [Seen("E", 100, 120, 0.2)]
    for reported, fits in ((99, True), (110, True), (122.9, True), (96.9, False), (123.1, False)):
        found = matched([Reported("I", reported, 121, 0.2)], seen, DAYS)
        assert (found == {"I": ("E", 1.0)}) is fits


def test_of_two_reports_that_of_the_fitting_load_takes_the_stretch() -> None:
    reports = [Reported("big", 110, 121, 0.5), Reported("small", 111, 121, 0.22)]
    assert matched(reports, [Seen("E", 100, 120, 0.2)], DAYS) == {"small": ("E", 1.0)}


def test_two_stretches_go_to_the_two_reports_by_load() -> None:
    reports = [Reported("A", 110, 121, 0.2), Reported("B", 110, 121, 1.0)]
    seen = [Seen("one", 100, 120, 1.05), Seen("two", 101, 120, 0.21)]
    assert matched(reports, seen, DAYS) == {"A": ("two", 1.0), "B": ("one", 1.0)}


def test_reports_of_one_step_share_it_by_their_loads_and_only_once() -> None:
    reports = [Reported("A", 110, 121, 0.3), Reported("B", 112, 121, 0.1), Reported("C", 113, 121, 0.4)]
    found = matched(reports, [Seen("E", 100, 120, 0.4)], DAYS)
    assert found == {"C": ("E", 1.0)}  # it explains the whole step
    found = matched(reports[:2], [Seen("E", 100, 120, 0.4)], DAYS)
    assert {key: (episode, round(share, 6)) for key, (episode, share) in found.items()} == {
        "A": ("E", 0.75), "B": ("E", 0.25),
    }  # fmt: skip


def test_a_load_far_above_the_step_is_another_fault() -> None:
    assert matched([Reported("I", 110, 121, 2.0)], [Seen("E", 100, 120, 0.2)], DAYS) == {}


def test_an_unknown_load_goes_by_time_alone() -> None:
    assert matched([Reported("I", 110, 121, None)], [Seen("E", 100, 120, 0.2)], DAYS) == {"I": ("E", 1.0)}


@given(
    st.lists(st.tuples(st.integers(0, 60), st.sampled_from([None, 0.1, 0.2, 0.4, 1.0])), max_size=8),
    st.lists(st.tuples(st.integers(0, 60), st.integers(2, 20), st.sampled_from([0.1, 0.3, 0.9])), max_size=5),
)
def test_no_stretch_is_ever_counted_more_than_once(
    reports: list[tuple[int, float | None]], stretches: list[tuple[int, int, float]]
) -> None:
    incidents = [Reported(f"I{at}", day, day + 5, load) for at, (day, load) in enumerate(reports)]
    seen = [Seen(f"E{at}", day, day + length, step) for at, (day, length, step) in enumerate(stretches)]
    found = matched(incidents, seen, DAYS)
    shares = pd.Series({key: share for key, (_, share) in found.items()}, dtype=float)
    for _, members in shares.groupby({key: episode for key, (episode, _) in found.items()}):
        assert members.sum() == pytest.approx(1)
    assert matched(incidents[::-1], seen[::-1], DAYS) == found


BILLS = pd.DataFrame(
    {"incident_id": ["A", "A", "B"], "begins": pd.Timestamp("2024-01-01"), "account_id": ["x", "y", "x"],
     "connected_w": [100.0, 300.0, 50.0]}
)  # fmt: skip
STEPS = BILLS.groupby(["incident_id", "begins"], as_index=False)["connected_w"].sum()
PARTS = pd.DataFrame(
    {
        "incident_id": ["A", "A", "B"],
        "begins": pd.Timestamp("2024-01-01"),
        "excess_hours_central": [10.0, 30.0, 5.0],
    }
)


def measured(kwh: float, error: float = 0.0, hours: float = 40.0) -> pd.DataFrame:
    limits = {"lower": kwh - 1.96 * error, "upper": kwh + 1.96 * error}
    frame = pd.DataFrame({"kwh": [kwh], **limits, "hours": hours})
    return frame.set_index(pd.Index(["A"], name="incident_id"))


def test_loads_are_scaled_until_hours_give_the_measured_energy() -> None:
    """By hand: 400 W over 40 h are 16 kWh; measured are 20, so both accounts' loads grow by a quarter."""
    assert at_measured_loads(BILLS, STEPS, PARTS, measured(20.0))["connected_w"].tolist() == [
        125.0,
        375.0,
        50.0,
    ]


def test_hours_that_no_meter_sees_count_at_the_measured_load() -> None:
    """By hand: 20 kWh in 20 hours by day are 1 kW; 20 more hours lie after a curfew: 40 kWh, 2.5 times 16."""
    scaled = at_measured_loads(BILLS, STEPS, PARTS, measured(20.0, hours=20.0))
    assert scaled["connected_w"].tolist() == [250.0, 750.0, 50.0]


def test_a_measured_incident_without_a_load_on_record_takes_the_measured_one() -> None:
    bills, steps = BILLS.assign(connected_w=0.0), STEPS.assign(connected_w=0.0)
    assert at_measured_loads(bills, steps, PARTS, measured(20.0))["connected_w"].tolist() == [500.0, 0.0, 0.0]


def test_nothing_measured_changes_nothing() -> None:
    assert at_measured_loads(BILLS, STEPS, PARTS, measured(20.0).iloc[:0]) is BILLS


def test_draws_of_a_measured_energy_spread_by_its_error() -> None:
    factors = drawn_factors(pd.Series(["A", "B", "A"]), measured(20.0, error=1.0), 200)
    assert (factors[1] == 1).all()
    assert (factors[0] == factors[2]).all()
    assert factors[0].mean() == pytest.approx(1, abs=1e-9)
    assert np.std(factors[0]) == pytest.approx(0.05, rel=0.02)
