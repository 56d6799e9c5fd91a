"""What day burning costs: episodes priced by hand for each kind of tariff."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pandas as pd
import pytest

from energy.test_energy_stage import LATITUDE, LONGITUDE, SETTINGS, burning, control, fixtures, store
from pipeline.energy import lit_schedule, stage, utc_seconds_from_local
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store

__all__ = ["store"]

WEEK = ["mon", "tue", "wed", "thu", "fri"]
PEAK = {"name": "peak", "price_per_kwh": "0.30", "weekdays": WEEK, "hours": ["12:00 to 18:00"]}
OFF_PEAK = {"name": "off-peak", "price_per_kwh": "0.10", "other_times": True}


def run(store: Store, tmp_path: Any, **tariff: Any) -> list[tuple[Any, ...]]:
    """burn_costs by month and period, the tariff named 'flat' being the one given."""
    page = SETTINGS.model_dump(mode="json") | {"tariffs": {"flat": tariff}}
    stage.run(store, Portfolio(tmp_path, Settings.model_validate(page)), Silent())
    return store.rows(
        "SELECT period, excess_hours_central, kwh_central, cost_central FROM burn_costs ORDER BY month, period"
    )


def lamp(store: Store, **bill: Any) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 1000.0, **bill)


def test_a_midday_on_a_weekday_is_priced_hour_by_hour(store: Store, tmp_path: Any) -> None:
    # Zone UTC; at 102.9° W the sun is up from 12:00 UTC on in June: all of 14:00 to 20:00 is daylight.
    lamp(store)
    burning(store, "i", "C", "2024-06-04 14:00", "2024-06-04 20:00")
    peak, off_peak = sorted(
        run(store, tmp_path, periods=[PEAK, OFF_PEAK], taxes_included=False), reverse=True
    )
    assert peak == ("peak", pytest.approx(4), Decimal("4.000000"), Decimal("1.2000"))
    assert off_peak == ("off-peak", pytest.approx(2), Decimal("2.000000"), Decimal("0.2000"))
    assert store.value("SELECT cost_central FROM burn_episodes") == Decimal("1.4000")


def test_a_weekend_and_a_holiday_have_no_peak(store: Store, tmp_path: Any) -> None:
    lamp(store)
    burning(store, "sat", "C", "2024-06-08 14:00", "2024-06-08 20:00")
    burning(store, "holiday", "C", "2024-06-19 14:00", "2024-06-19 20:00")
    about = {"taxes_included": False, "holidays": ["06-19"]}
    rows = run(store, tmp_path, periods=[PEAK, OFF_PEAK], **about)
    assert [row[0] for row in rows] == ["off-peak", "off-peak"]
    assert store.rows("SELECT cost_central FROM burn_episodes") == [(Decimal("0.6000"),)] * 2


def test_a_season_changes_the_price_at_its_first_midnight(store: Store, tmp_path: Any) -> None:
    lamp(store)
    burning(store, "i", "C", "2024-06-30 14:00", "2024-07-01 20:00")
    summer = {"name": "summer", "price_per_kwh": "1", "days": ["07-01 to 08-31"]}
    rows = {row[0]: row for row in run(store, tmp_path, periods=[summer, OFF_PEAK], taxes_included=False)}
    schedule = lit_schedule(
        LATITUDE, LONGITUDE, *utc_seconds_from_local(_times("2024-06-29", "2024-07-03"), "UTC")
    )
    july = schedule.day_hours_between(
        *utc_seconds_from_local(_times("2024-07-01", "2024-07-01T20:00"), "UTC")
    )
    assert rows["summer"][1] == pytest.approx(float(july), abs=1e-6)
    assert float(rows["summer"][3]) == pytest.approx(float(july), abs=1e-4)


def test_a_price_rise_holds_from_its_day_on_and_nothing_is_priced_before_the_first(
    store: Store, tmp_path: Any
) -> None:
    lamp(store)
    burning(store, "i", "C", "2024-06-03 14:00", "2024-06-03 20:00")
    burning(store, "j", "C", "2024-06-05 14:00", "2024-06-05 20:00")
    burning(store, "k", "C", "2024-06-07 14:00", "2024-06-07 20:00")
    versions = [
        {"since": "2024-06-07", "price_per_kwh": "0.2"},
        {"since": "2024-06-05", "price_per_kwh": "0.1"},
    ]
    run(store, tmp_path, versions=versions, taxes_included=False)
    assert store.rows("SELECT incident_id, cost_central FROM burn_episodes ORDER BY 1") == [
        ("i", None), ("j", Decimal("0.6000")), ("k", Decimal("1.2000")),
    ]  # fmt: skip
    assert store.value("SELECT kwh_central FROM burn_episodes WHERE incident_id = 'i'") == Decimal("6.000000")
    said = store.value("SELECT message FROM notices WHERE place = 'portfolio.toml, tariffs'")
    assert "1 month of day burning with energy but no price (6 kWh, kept out of money)" in said


def test_a_flat_price_written_as_prices_by_time_costs_the_same(store: Store, tmp_path: Any) -> None:
    lamp(store)
    burning(store, "i", "C", "2024-05-13 09:17", "2024-07-11 17:41")
    run(store, tmp_path, price_per_kwh="0.137")
    flat = store.rows("SELECT month, cost_low, cost_central, cost_high FROM burn_months ORDER BY 1")
    for table in (
        "burn_months",
        "burn_costs",
        "burn_episodes",
        "waste_prices",
        "factors_in_force",
        "notices",
        "lamp_losses",
        "unlit_episodes",
    ):
        store.run(f"DELETE FROM {table}")
    same = {"price_per_kwh": "0.137"}
    rows = run(store, tmp_path, periods=[PEAK | same, OFF_PEAK | same], taxes_included=False)
    by_time = store.rows("SELECT month, cost_low, cost_central, cost_high FROM burn_months ORDER BY 1")
    assert len(rows) == 6
    for (month, *costs), (same_month, *priced) in zip(flat, by_time, strict=True):
        assert month == same_month
        assert priced == pytest.approx(costs, abs=Decimal("0.0001"))  # each period is rounded by itself


def test_periods_add_up_to_the_month_in_money_to_the_digit(store: Store, tmp_path: Any) -> None:
    lamp(store)
    burning(store, "i", "C", "2024-05-13 09:17", "2024-07-11 17:41")
    run(store, tmp_path, periods=[PEAK, OFF_PEAK], taxes_included=False)
    months = store.rows(
        "SELECT month, cost_central, kwh_central, excess_hours_central FROM burn_months ORDER BY 1"
    )
    sums = store.rows(
        "SELECT month, sum(cost_central), sum(kwh_central), sum(excess_hours_central) FROM burn_costs"
        " GROUP BY 1 ORDER BY 1"
    )
    for (month, cost, kwh, hours), (same, costs, kwhs, each) in zip(months, sums, strict=True):
        assert (month, cost) == (same, costs)
        assert float(kwhs) == pytest.approx(float(kwh), abs=1e-5)
        assert each == pytest.approx(hours, abs=1e-5)


def test_each_account_behind_a_control_pays_by_its_own_tariff(store: Store, tmp_path: Any) -> None:
    lamp(store, bill_account_id="A")
    fixtures(store, "G", "C", 500.0, bill_account_id="B", metered=False)
    burning(store, "i", "C", "2024-06-04 14:00", "2024-06-04 20:00")
    run(store, tmp_path, price_per_kwh="0.5")
    assert store.rows(
        "SELECT account_id, metered, period, kwh_central, cost_central FROM burn_costs ORDER BY 1"
    ) == [
        ("A", True, "all hours", Decimal("6.000000"), Decimal("3.0000")),
        ("B", False, "unmetered", Decimal("3.000000"), Decimal("0.0000")),
    ]
    assert store.row("SELECT kwh_central, cost_central FROM burn_episodes") == (Decimal("9"), Decimal("3"))


def test_the_next_day_is_priced_by_its_own_hours(store: Store, tmp_path: Any) -> None:
    lamp(store)
    burning(store, "i", "C", "2024-12-30 00:00", None)
    new_year = {"name": "new year", "price_per_kwh": "2", "weekdays": ["holiday"]}
    run(store, tmp_path, periods=[new_year, OFF_PEAK], taxes_included=False, holidays=["01-01"])
    kwh, cost = store.row("SELECT kwh_per_day, cost_per_day FROM burn_episodes")
    assert kwh > 9
    assert cost == pytest.approx(2 * kwh, abs=1e-4)  # the day after the log's end, 2025-01-01


def test_the_price_of_savings_is_that_of_the_hours_lit_by_day_in_force_at_the_logs_end(
    store: Store, tmp_path: Any
) -> None:
    lamp(store)
    night = {"name": "dark", "price_per_kwh": "9", "hours": ["03:30 to 11:00"]}  # never daylight at 102.9° W
    versions = [{"price_per_kwh": "5"}, {"since": "2024-12-31", "periods": [night, OFF_PEAK]}]
    run(store, tmp_path, versions=versions, taxes_included=False)
    assert store.rows("FROM waste_prices") == [("S", "photocontrol", "flat", pytest.approx(0.1))]
    assert store.value("SELECT log_to FROM build_info") == date(2024, 12, 31)


def _times(*texts: str) -> Any:
    return pd.DatetimeIndex([datetime.fromisoformat(text) for text in texts])


DEMAND = {"price_per_kw_month": "9.5", "weekdays": WEEK, "hours": ["15:00 to 18:00"]}


def demand(store: Store) -> list[tuple[Any, ...]]:
    return store.rows(
        "SELECT incident_id, month, connected_kw, demand_hours_central, demand_cost_central FROM burn_demand"
        " ORDER BY 1, 2"
    )


def test_a_demand_charge_stands_on_its_own_line_and_only_where_lamps_burnt_in_its_hours(
    store: Store, tmp_path: Any
) -> None:
    lamp(store)
    burning(store, "weekday", "C", "2024-06-04 14:00", "2024-06-04 20:00")
    burning(store, "weekend", "C", "2024-06-08 14:00", "2024-06-08 20:00")
    burning(store, "morning", "C", "2024-07-03 13:00", "2024-07-03 15:00")
    run(store, tmp_path, price_per_kwh="0.1", demand=DEMAND)
    assert demand(store) == [("weekday", date(2024, 6, 1), 1.0, 3.0, Decimal("9.5000"))]
    costs = store.rows("SELECT incident_id, cost_central FROM burn_episodes ORDER BY 1")
    assert costs == [("morning", Decimal("0.2")), ("weekday", Decimal("0.6")), ("weekend", Decimal("0.6"))]


def test_a_demand_charge_counts_once_a_month_however_long_lamps_burnt(store: Store, tmp_path: Any) -> None:
    lamp(store)
    burning(store, "i", "C", "2024-06-04 14:00", "2024-07-20 20:00")
    run(store, tmp_path, price_per_kwh="0.1", demand=DEMAND)
    assert [row[4] for row in demand(store)] == [Decimal("9.5")] * 2


def test_without_a_demand_charge_or_a_meter_there_is_none(store: Store, tmp_path: Any) -> None:
    lamp(store, metered=False)
    burning(store, "i", "C", "2024-06-04 14:00", "2024-06-04 20:00")
    run(store, tmp_path, price_per_kwh="0.1", demand=DEMAND)
    assert demand(store) == []


@pytest.mark.parametrize(
    ("latitude", "day", "next_day", "hours"),
    [
        # The sun is up all day at either pole, so a lamp there burns by day through every hour of the local clock.
        (89.9, "2024-03-31", "2024-04-01", 23),  # Oslo's clocks skip 02:00 to 03:00
        (-89.9, "2024-10-27", "2024-10-28", 25),  # and here 02:00 to 03:00 comes twice
        (-89.9, "2024-10-28", "2024-10-29", 24),
    ],
)
def test_a_lamp_on_for_a_whole_day_on_which_clocks_change(
    store: Store, tmp_path: Any, latitude: float, day: str, next_day: str, hours: int
) -> None:
    store.run("UPDATE sites SET latitude = ?, time_zone = 'Europe/Oslo'", [latitude])
    lamp(store)
    burning(store, "i", "C", f"{day} 00:00", f"{next_day} 00:00")
    night = {"name": "night", "price_per_kwh": "1", "hours": ["00:00 to 03:00"]}
    rows = {row[0]: row for row in run(store, tmp_path, periods=[night, OFF_PEAK], taxes_included=False)}
    of_night = hours - 21
    assert rows["night"][1] == pytest.approx(of_night, abs=1e-6)
    assert rows["off-peak"][1] == pytest.approx(21, abs=1e-6)
    cost = store.value("SELECT cost_central FROM burn_episodes")
    assert cost == pytest.approx(Decimal(of_night) + Decimal("2.1"), abs=Decimal("0.0001"))
