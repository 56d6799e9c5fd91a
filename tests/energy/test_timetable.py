"""Lamps that follow a timetable: curfews, seasons, holidays, hours of use, clock changes and polar seasons."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pvlib import solarposition

from pipeline.day_settings import Schedule
from pipeline.energy import lit_schedule
from pipeline.energy.schedule import off_in_all
from pipeline.energy.sun import RISE_SET_ALTITUDE_DEG
from pipeline.energy.timetable import timetable
from pipeline.lit_periods import check_period

DENVER = (39.6, -102.9, "America/Denver")
SYDNEY = (-33.9, 151.2, "Australia/Sydney")
TROMSO = (69.6, 18.9, "Europe/Oslo")


def plan(**values: Any) -> Schedule:
    return Schedule.model_validate(values)


def hours(place: tuple[float, float, str], start: str, end: str, *plans: Schedule) -> tuple[float, float]:
    """Hours to be off and to be lit between two local times."""
    first, last = (
        datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(place[2])).timestamp() for text in (start, end)
    )
    schedule = timetable(*place, first, last, plans)
    return float(schedule.day_hours_between(first, last)), float(schedule.dark_hours_between(first, last))


def test_a_fixed_time_switch_is_lit_by_the_clock_alone() -> None:
    fixed = plan(lit=["17:30 to 06:00"])
    assert hours(DENVER, "2024-01-10 12:00", "2024-01-11 12:00", fixed)[1] == pytest.approx(12.5)
    assert hours(SYDNEY, "2024-07-10 12:00", "2024-07-11 12:00", fixed)[1] == pytest.approx(12.5)


def test_a_curfew_makes_night_hours_excess() -> None:
    curfew = plan(lit=["sunset to 23:00", "05:00 to sunrise"])
    off, lit = hours(DENVER, "2024-01-10 12:00", "2024-01-11 12:00", curfew)
    _, night = hours(DENVER, "2024-01-10 12:00", "2024-01-11 12:00")
    assert lit == pytest.approx(night - 6)
    assert off + lit == pytest.approx(24)


def test_a_morning_period_after_a_late_sunrise_only() -> None:
    morning = plan(lit=["05:00 to sunrise"])
    june = hours(DENVER, "2024-06-20 12:00", "2024-06-21 12:00", morning)[1]
    sunrise = hours(DENVER, "2024-06-21 00:00", "2024-06-21 12:00")[1]  # hours from midnight to sunrise
    assert sunrise < 5.5
    assert june == pytest.approx(max(0.0, sunrise - 5))
    assert hours(TROMSO, "2024-05-01 12:00", "2024-05-02 12:00", morning)[1] == 0


def test_clock_changes_move_clock_times_and_not_the_sun() -> None:
    fixed = plan(lit=["00:00 to 04:00"])  # summer time begins at 2:00 on 10 March 2024 and ends on 3 November
    assert hours(DENVER, "2024-03-09 12:00", "2024-03-10 12:00", fixed)[1] == pytest.approx(3)
    assert hours(DENVER, "2024-11-02 12:00", "2024-11-03 12:00", fixed)[1] == pytest.approx(5)
    assert sum(hours(DENVER, "2024-03-09 12:00", "2024-03-10 12:00", fixed)) == pytest.approx(23)


@pytest.mark.parametrize(
    ("place", "start", "end"),
    [
        (DENVER, "2024-03-06 12:00", "2024-03-14 12:00"),  # summer time begins
        (DENVER, "2024-02-26 12:00", "2024-03-02 12:00"),  # over the leap day
        (SYDNEY, "2024-04-03 12:00", "2024-04-11 12:00"),  # summer time ends, in the south
        (TROMSO, "2024-10-24 12:00", "2024-10-30 12:00"),  # summer time ends, beyond the polar circle
    ],
)
def test_hours_are_those_counted_minute_by_minute_by_the_zones_clock_and_pvlibs_altitude(
    place: tuple[float, float, str], start: str, end: str
) -> None:
    minutes = pd.date_range(start, end, freq="1min", inclusive="left", tz=place[2]) + pd.Timedelta("30s")
    # pvlib's altitude by NREL's algorithm: an independent path
    night = (
        solarposition.spa_python(minutes, place[0], place[1])["elevation"].to_numpy() < RISE_SET_ALTITUDE_DEG
    )
    clock_h = minutes.hour + minutes.minute / 60
    lit = night & (((clock_h >= 12) & (clock_h < 23)) | ((clock_h >= 5) & (clock_h < 12)))
    used = (clock_h >= 6) & (clock_h < 22) & (minutes.weekday < 5)
    sensor = plan(
        lit=["sunset to 23:00", "05:00 to sunrise"], occupied=["06:00 to 22:00"],
        weekdays=["mon", "tue", "wed", "thu", "fri"],
    )  # fmt: skip
    closed = plan(lit=[])
    counted_h = float((lit & used).sum()) / 60
    off_h, lit_h = hours(place, start, end, sensor, closed)
    assert lit_h == pytest.approx(counted_h, abs=0.25)  # a minute at each of up to 16 switchings
    assert off_h + lit_h == pytest.approx(len(minutes) / 60)


def test_seasons_weekdays_and_holidays_hold_on_their_days_and_the_first_that_fits_wins() -> None:
    holidays = plan(days=["12-24 to 01-01"], lit=[])
    weekend = plan(weekdays=["sat", "sun"], lit=["18:00 to 20:00"])
    weekday = plan(lit=["18:00 to 22:00"])
    plans = (holidays, weekend, weekday)
    assert hours(DENVER, "2024-12-28 12:00", "2024-12-29 12:00", *plans)[1] == 0  # a Saturday in the holidays
    assert hours(DENVER, "2024-12-14 12:00", "2024-12-15 12:00", *plans)[1] == pytest.approx(2)  # a Saturday
    assert hours(DENVER, "2024-02-29 12:00", "2024-03-01 12:00", *plans)[1] == pytest.approx(4)  # a Thursday


def test_days_without_a_schedule_follow_the_sun_in_either_hemisphere() -> None:
    summer = plan(days=["06-01 to 08-31"], lit=["20:00 to 21:00"])
    for place in (DENVER, SYDNEY):
        span = "2024-03-01 12:00", "2024-05-01 12:00"
        assert hours(place, *span, summer) == pytest.approx(hours(place, *span), abs=1e-9)
        zone = ZoneInfo(place[2])
        first, last = (datetime.fromisoformat(text).replace(tzinfo=zone).timestamp() for text in span)
        by_sun = lit_schedule(place[0], place[1], first, last)
        assert hours(place, *span)[0] == pytest.approx(float(by_sun.day_hours_between(first, last)), abs=1e-6)


def test_hours_of_use_narrow_what_should_be_lit() -> None:
    sensor = plan(
        lit=["00:00 to 24:00"], occupied=["07:00 to 18:00"], weekdays=["mon", "tue", "wed", "thu", "fri"]
    )
    closed = plan(lit=[])
    assert hours(DENVER, "2024-05-06 00:00", "2024-05-13 00:00", sensor, closed)[1] == pytest.approx(55)
    outdoors = plan(occupied=["06:00 to 22:00"])
    _, night = hours(DENVER, "2024-01-10 12:00", "2024-01-11 12:00")
    assert hours(DENVER, "2024-01-10 12:00", "2024-01-11 12:00", outdoors)[1] == pytest.approx(night - 8)


def test_polar_day_and_night() -> None:
    curfew = plan(lit=["sunset to 23:00", "05:00 to sunrise"])
    off, lit = hours(TROMSO, "2024-06-20 12:00", "2024-06-21 12:00", curfew)
    assert (off, lit) == pytest.approx((24, 0))
    off, lit = hours(TROMSO, "2024-12-20 12:00", "2024-12-21 12:00", curfew)
    assert off == pytest.approx(6, abs=0.35)  # lit from noon by the sun, about 11:45 here, but for the curfew


@settings(max_examples=60, deadline=None)
@example(latitude=0.0, longitude=0.0, day=777, length=3.891420279963084e-12, on=0, off=0)
@given(
    latitude=st.floats(-89, 89), longitude=st.floats(-179, 179), day=st.integers(0, 18_000), length=st.floats(0, 400),
    on=st.integers(-120, 240), off=st.integers(-120, 240),
)  # fmt: skip
def test_off_and_lit_hours_add_up_to_the_span_and_equal_the_suns(
    latitude: float, longitude: float, day: int, length: float, on: int, off: int
) -> None:
    first, last = day * 86_400.0, (day + length) * 86_400.0
    span_hours = (last - first) / 3600  # of a span below a microsecond the instants keep few digits
    zone = f"Etc/GMT{-round(longitude / 15):+d}"
    some = timetable(latitude, longitude, zone, first, last, [plan(lit=["sunset-30 to 22:00"])])
    assert some.day_hours_between(first, last) + some.dark_hours_between(first, last) == pytest.approx(
        span_hours
    )
    assert 0 <= float(some.day_hours_between(first, last)) <= span_hours + 1e-6
    if abs(latitude) < 60:  # nights of some length: further out offsets may leave none
        by_table = timetable(latitude, longitude, zone, first, last, [], 15, 15)
        by_sun = lit_schedule(latitude, longitude, first, last, 15, 15)
        assert float(by_table.day_hours_between(first, last)) == pytest.approx(
            float(by_sun.day_hours_between(first, last)), abs=1e-6
        )


def test_what_should_be_off_by_night_is_off_at_each_instant() -> None:
    first = datetime(2024, 1, 10, 12, tzinfo=ZoneInfo("America/Denver")).timestamp()
    schedule = timetable(*DENVER, first, first + 86_400, [plan(lit=["18:00 to 22:00"])])
    ends = first + 3600 * np.arange(25)
    off = schedule.day_hours_between(ends[:-1], ends[1:])
    assert off.tolist() == pytest.approx([0.0 if 6 <= hour < 10 else 1.0 for hour in range(24)])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("dusk", "not a period"),
        ("dusk to dawn", "no time of day"),
        ("25:00 to 26:00", "not a time of day"),
        ("sunset+500 to 23:00", "more than 360 minutes"),
    ],
)
def test_what_is_no_period_is_told(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        check_period(text)


def test_a_clock_that_is_wrong_shifts_the_timetable_with_its_curfew() -> None:
    """Two hours late from sunset to 23:00 burns 23:00 to 01:00; the sun's own part is missed, not wasted."""
    first, last = (datetime(2024, 1, day, 12, tzinfo=ZoneInfo(DENVER[2])).timestamp() for day in (8, 20))
    curfew = timetable(*DENVER, first, last, [plan(lit=["sunset to 23:00"])])
    start, end = (datetime(2024, 1, day, 12, tzinfo=ZoneInfo(DENVER[2])) for day in (10, 17))
    assert float(curfew.wrong_clock(2).between(start, end)) == pytest.approx(7 * 2)
    assert float(curfew.wrong_clock(-2).between(start, end)) == pytest.approx(
        7 * 2, abs=0.2
    )  # before sunset, which moves
    assert float(curfew.wrong_clock(0).between(start, end)) == 0
    far = float(curfew.wrong_clock(12).between(start, end))
    assert far == pytest.approx(
        float(curfew.dark_hours_between(start, end)), abs=0.2
    )  # all of it at the wrong time


def test_lamps_that_differ_should_all_be_off_only_where_each_should() -> None:
    first, last = (datetime(2024, month, 10, 12, tzinfo=ZoneInfo(DENVER[2])).timestamp() for month in (1, 6))
    plans = [[plan(lit=["sunset to 23:00"])], [plan(lit=["17:00 to 21:00", "05:00 to 07:00"])], []]
    each = [timetable(*DENVER, first, last, own) for own in plans]
    common = off_in_all(each)
    instants = np.random.default_rng(7).uniform(first, last, 5_000)
    assert np.array_equal(
        common.should_be_off(instants), np.all([one.should_be_off(instants) for one in each], axis=0)
    )
    assert off_in_all(each[:1]) is each[0]
