"""Hours by tariff period against hours counted by hand, on ordinary days and on those on which clocks change."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.energy.tariff_hours import hours_by_period, local_days, steps_in_utc
from pipeline.tariffs import Tariff, WallPrices, wall_prices

ZONE = "America/Denver"
PEAK = {"name": "peak", "price_per_kwh": "0.30", "weekdays": ["mon", "tue", "wed", "thu", "fri"],
        "hours": ["12:00 to 18:00"]}  # fmt: skip
OFF_PEAK = {"name": "off-peak", "price_per_kwh": "0.10", "other_times": True}
NIGHT = {"name": "night", "price_per_kwh": "0.05", "hours": ["22:00 to 01:30"]}


def tariff(*periods: dict[str, Any], **about: Any) -> Tariff:
    return Tariff.model_validate({"periods": periods, "taxes_included": False} | about)


def at(text: str, zone: str = ZONE) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).timestamp()


def all_hours(first_s: np.ndarray, last_s: np.ndarray) -> np.ndarray:
    """A lamp that should be off at all times: every hour counts."""
    return np.asarray((last_s - first_s) / 3600)


def split(of: Tariff, spans: list[tuple[float, float]], zone: str = ZONE) -> tuple[WallPrices, np.ndarray]:
    """The periods of a tariff, and the hours of each span [UTC s] by period, without a price last."""
    first_s, last_s = np.array(spans).T
    ends = float(first_s.min()), float(last_s.max())
    prices = wall_prices(of, *local_days(*ends))
    steps = steps_in_utc(prices.steps, zone, *ends)
    return prices, hours_by_period(all_hours, steps, len(prices.periods), first_s, last_s)


def hours_by(of: Tariff, first: str, last: str, zone: str = ZONE) -> dict[str, float]:
    prices, (found,) = split(of, [(at(first, zone), at(last, zone))], zone)
    names = [f"{p.name} {p.since or ''}".strip() for p in prices.periods] + ["no price"]
    return {name: value for name, value in zip(names, found.tolist(), strict=True) if value}


def test_a_week_of_peak_and_off_peak() -> None:
    # Monday to Monday: 5 · 6 h of peak, 168 - 30 of the rest
    assert hours_by(tariff(PEAK, OFF_PEAK), "2024-06-03", "2024-06-10") == {"peak": 30, "off-peak": 138}


def test_a_holiday_on_a_weekday_is_no_weekday() -> None:
    week = tariff(PEAK, OFF_PEAK, holidays=["06-05"])
    assert hours_by(week, "2024-06-03", "2024-06-10") == {"peak": 24, "off-peak": 144}


def test_a_season_begins_and_ends_at_local_midnight() -> None:
    summer = PEAK | {"name": "summer", "days": ["06-04 to 09-30"], "weekdays": [], "hours": []}
    assert hours_by(tariff(summer, OFF_PEAK), "2024-06-03", "2024-06-05") == {"summer": 24, "off-peak": 24}
    assert hours_by(tariff(summer, OFF_PEAK), "2024-09-30", "2024-10-02") == {"summer": 24, "off-peak": 24}


def test_hours_over_midnight_belong_to_each_day_at_both_its_ends() -> None:
    assert hours_by(tariff(NIGHT, OFF_PEAK), "2024-06-03", "2024-06-05") == {"night": 7, "off-peak": 41}


def test_the_hour_that_happens_twice_is_priced_twice_by_its_clock_time() -> None:
    # 2024-11-03, Denver: 01:00 to 02:00 twice, a day of 25 h. The night price holds 00:00 to 01:30 and from 22:00:
    # an hour from midnight, 01:00 to 01:30 twice, and two hours in the evening.
    assert hours_by(tariff(NIGHT, OFF_PEAK), "2024-11-03", "2024-11-04") == {"night": 4, "off-peak": 21}


def test_the_hour_that_is_skipped_is_priced_by_nobody() -> None:
    # 2024-03-10, Denver: 02:00 to 03:00 does not happen, a day of 23 h.
    early = NIGHT | {"hours": ["00:00 to 02:30"]}
    assert hours_by(tariff(early, OFF_PEAK), "2024-03-10", "2024-03-11") == {"night": 2, "off-peak": 21}


def test_a_clock_that_changes_by_half_an_hour() -> None:
    # Lord Howe, 2024-04-07: back from 02:00 to 01:30, a day of 24.5 h.
    early = NIGHT | {"hours": ["01:30 to 02:00"]}
    found = hours_by(tariff(early, OFF_PEAK), "2024-04-07", "2024-04-08", "Australia/Lord_Howe")
    assert found == {"night": 1, "off-peak": 23.5}


def test_a_new_version_holds_from_its_day_on() -> None:
    dated = Tariff.model_validate(
        {
            "taxes_included": True,
            "versions": [
                {"since": "2024-06-05", "periods": [PEAK, OFF_PEAK]},
                {"since": "2024-06-04", "price_per_kwh": "0.2"},
            ],
        }
    )
    assert hours_by(dated, "2024-06-03", "2024-06-06") == {
        "no price": 24, "all hours 2024-06-04": 24, "peak 2024-06-05": 6, "off-peak 2024-06-05": 18,
    }  # fmt: skip


MINUTES = st.integers(0, 500 * 24 * 60)


@settings(max_examples=60, deadline=None)
@given(
    ends=st.tuples(MINUTES, MINUTES, MINUTES).map(sorted),
    zone=st.sampled_from([ZONE, "Europe/London", "Australia/Lord_Howe", "Pacific/Apia", "UTC"]),
)
def test_an_episode_cut_in_two_costs_what_the_whole_does(ends: list[int], zone: str) -> None:
    first_s, middle_s, last_s = (
        datetime(2023, 1, 1, tzinfo=UTC).timestamp() + 60.0 * minute for minute in ends
    )
    spans = [(first_s, last_s), (first_s, middle_s), (middle_s, last_s)]
    prices, (whole, one, two) = split(tariff(NIGHT, PEAK, OFF_PEAK), spans, zone)
    assert one + two == pytest.approx(whole, abs=1e-6)
    assert whole.sum() == pytest.approx((last_s - first_s) / 3600, abs=1e-6)
    per_kwh = np.array([float(period.price or 0) for period in prices.periods])
    assert whole[:-1] @ per_kwh == pytest.approx((one + two)[:-1] @ per_kwh, abs=1e-6)


@settings(max_examples=100, deadline=None)
@given(
    minute=st.integers(0, 700 * 24 * 60),
    zone=st.sampled_from([ZONE, "Europe/London", "Australia/Lord_Howe", "Africa/Casablanca"]),
)
def test_the_price_of_a_moment_is_that_of_its_wall_clock(minute: int, zone: str) -> None:
    """The clock of the zone itself, asked moment by moment, is the oracle."""
    moment = datetime(2023, 1, 1, tzinfo=UTC).timestamp() + 60.0 * minute
    local = datetime.fromtimestamp(moment, ZoneInfo(zone))
    night = local.hour >= 22 or (local.hour, local.minute) < (1, 30)
    peak = not night and local.weekday() < 5 and 12 <= local.hour < 18
    expected = "night" if night else "peak" if peak else "off-peak"
    spans = [(moment - 4e5, moment + 4e5), (moment, moment + 60)]
    prices, (_, found) = split(tariff(NIGHT, PEAK, OFF_PEAK), spans, zone)
    assert prices.periods[int(found.argmax())].name == expected
    assert found.max() == pytest.approx(1 / 60, abs=1e-9)
