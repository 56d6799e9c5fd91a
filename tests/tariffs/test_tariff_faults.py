"""What a tariff page may not say: every fault is named with its days and hours, all of them at once."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.clock_spans import minutes_of
from pipeline.tariffs import tariff_faults

PEAK = {"name": "peak", "price_per_kwh": 0.3, "weekdays": ["mon", "tue"], "hours": ["12:00 to 18:00"]}
REST = {"name": "rest", "price_per_kwh": 0.1, "other_times": True}


def faults(**tariff: Any) -> list[str]:
    return [str(fault) for fault in tariff_faults({"x": {"taxes_included": False} | tariff})]


def test_prices_by_time_that_fill_the_year_have_no_fault() -> None:
    assert faults(periods=[PEAK, REST]) == []
    halves = [{"name": "a", "price_per_kwh": 1, "days": ["03-01 to 10-31"]},
              {"name": "b", "price_per_kwh": 2, "days": ["11-01 to 02-29"]}]  # fmt: skip
    assert faults(periods=halves) == []


def test_a_flat_price_alone_is_enough() -> None:
    assert tariff_faults({"x": {"price_per_kwh": 0.1}}) == []


def test_an_hour_priced_twice_is_named_with_its_days() -> None:
    evening = {
        "name": "evening",
        "price_per_kwh": 0.2,
        "days": ["06-01 to 08-31"],
        "hours": ["17:00 to 20:00"],
    }
    (fault,) = faults(periods=[PEAK, evening, REST])
    assert "17:00 to 18:00 on mon, tue (06-01 to 08-31) is priced twice: by 'peak' and by 'evening'" in fault


def test_a_gap_is_named_with_its_days() -> None:
    day = {"name": "day", "price_per_kwh": 0.2, "days": ["01-01 to 12-30"]}
    (fault,) = faults(periods=[day])
    assert "00:00 to 24:00 on every day of the week (12-31) has no price" in fault


def test_days_of_a_gap_are_told_apart_where_they_differ_between_kinds_of_day() -> None:
    """On working days summer has a price: their gap is the rest of the year, that of other days all of it."""
    summer = {"name": "summer", "price_per_kwh": 0.3, "days": ["06-01 to 09-30"], "hours": ["12:00 to 24:00"],
              "weekdays": ["mon", "tue", "wed", "thu", "fri"]}  # fmt: skip
    morning = {"name": "morning", "price_per_kwh": 0.1, "hours": ["00:00 to 12:00"]}
    found = faults(periods=[summer, morning])
    assert [fault.split(" to ", 1)[1].split(" has")[0] for fault in sorted(found)] == [
        "24:00 on mon, tue, wed, thu, fri (01-01 to 05-31, 10-01 to 12-31)", "24:00 on sat, sun (all year)",
    ]  # fmt: skip


def test_a_holiday_that_no_period_prices_is_a_gap_on_its_day_alone() -> None:
    week = {
        "name": "week",
        "price_per_kwh": 0.2,
        "weekdays": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
    }
    (fault,) = faults(periods=[week], holidays=["12-25", "2024-11-28"])
    assert "on holiday (11-28, 12-25) has no price" in fault
    assert faults(periods=[week, {"name": "free", "price_per_kwh": 0.1, "weekdays": ["holiday"]}],
                  holidays=["12-25"]) == []  # fmt: skip


def test_a_leap_day_is_a_day_like_others() -> None:
    short = [{"name": "a", "price_per_kwh": 1, "days": ["03-01 to 02-28"]}]
    (fault,) = faults(periods=short)
    assert "(02-29) has no price" in fault


@pytest.mark.parametrize(
    ("tariff", "said"),
    [
        ({"price_per_kwh": 1, "periods": [REST]}, "both price_per_kwh and periods"),
        ({}, "gives no price"),
        ({"price_per_kwh": 1, "versions": [{"price_per_kwh": 1}]}, "beside its versions"),
        ({"versions": [{"price_per_kwh": 1}, {"price_per_kwh": 2}]}, "two versions without since"),
        (
            {"versions": [{"since": "2024-01-01", "price_per_kwh": 1}, {"since": "2024-01-01", "price_per_kwh": 2}]},
            "two versions since 2024-01-01",
        ),
        ({"periods": [REST, REST | {"name": "b"}]}, "two periods of other_times"),
        ({"periods": [REST | {"hours": ["01:00 to 02:00"]}]}, "other_times and times of its own"),
        ({"periods": [PEAK, REST | {"name": "peak"}]}, "period 'peak' has two prices"),
        ({"periods": [PEAK | {"weekdays": ["holiday"]}, REST]}, "prices holidays, but the tariff lists none"),
        ({"periods": [REST], "taxes_included": None}, "does not say whether its prices hold taxes"),
    ],
)  # fmt: skip
def test_other_faults_of_a_tariff(tariff: dict[str, Any], said: str) -> None:
    assert any(said in fault for fault in faults(**tariff)), faults(**tariff)


def test_faults_of_all_versions_come_together() -> None:
    found = faults(versions=[{"periods": [PEAK]}, {"since": "2024-01-01"}])
    assert any("versions.0: " in fault and "has no price" in fault for fault in found)
    assert any("versions.1: gives no price" in fault for fault in found)


def test_spans_of_the_clock() -> None:
    assert minutes_of("12:00 to 18:00") == ((720, 1080),)
    assert minutes_of("22:00 to 06:00") == ((0, 360), (1320, 1440))
    assert minutes_of("22:00 to 00:00") == ((1320, 1440),)
    assert minutes_of("00:00 to 24:00") == ((0, 1440),)


@pytest.mark.parametrize(
    "text", ["12:00 to 25:00", "12:60 to 13:00", "12 to 13", "09:00 to 09:00", "noon", "24:00 to 01:00"]
)
def test_what_is_no_span_of_the_clock(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        minutes_of(text)
