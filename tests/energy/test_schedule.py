"""Hours dark and light under a schedule: published totals, closed forms and invariants."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pvlib import solarposition

from pipeline.energy import energy_kwh, lit_schedule, night_hours
from pipeline.energy.sun import RISE_SET_ALTITUDE_DEG

# Dark hours of 2023 [h], counted minute by minute with pvlib's solar position (altitude below -0.8333 deg).
# The count sees parallax (8.8 arc seconds, up to 0.4 h a year) and rounds to minutes: hence one hour.
DARK_HOURS_2023 = [
    (25.7617, -80.1918, "America/New_York", 4322.8),
    (34.0522, -118.2437, "America/Los_Angeles", 4314.2),
    (40.7128, -74.0060, "America/New_York", 4304.8),
    (41.8781, -87.6298, "America/Chicago", 4302.9),
    (47.6062, -122.3321, "America/Los_Angeles", 4291.3),
    (51.5074, -0.1278, "Europe/London", 4280.1),
]
ONE_HOUR = 1.0
TENTH_OF_AN_HOUR = 0.1

places = st.tuples(st.floats(-90, 90), st.floats(-180, 180))
instants = st.datetimes(datetime(1975, 1, 1), datetime(2060, 1, 1), timezones=st.just(UTC))
spans = st.tuples(instants, instants).map(sorted)
offsets_min = st.floats(-120, 240)


def _year(year: int, zone: str) -> tuple[datetime, datetime]:
    return datetime(year, 1, 1, tzinfo=ZoneInfo(zone)), datetime(year + 1, 1, 1, tzinfo=ZoneInfo(zone))


@pytest.mark.parametrize(("latitude", "longitude", "zone", "hours"), DARK_HOURS_2023)
def test_dark_hours_of_a_year_in_six_places(latitude, longitude, zone, hours):
    assert night_hours(latitude, longitude, *_year(2023, zone)) == pytest.approx(hours, abs=ONE_HOUR)


def test_the_minute_count_behind_those_totals_differs_by_its_own_definition_only():
    latitude, longitude, zone, printed = DARK_HOURS_2023[4]
    start, end = _year(2023, zone)
    minutes = pd.date_range(start, end, freq="1min", inclusive="left")
    altitude_deg = solarposition.spa_python(minutes, latitude, longitude)["elevation"]
    counted = float((altitude_deg < RISE_SET_ALTITUDE_DEG).sum()) / 60
    assert counted == pytest.approx(printed, abs=TENTH_OF_AN_HOUR)
    assert counted - night_hours(latitude, longitude, start, end) == pytest.approx(0.4, abs=0.4)


@pytest.mark.parametrize(("offset_min", "hours"), [(15, 4122.1), (30, 3939.6)])
def test_dark_hours_with_offsets_at_both_ends(offset_min, hours):
    # pvlib SPA sunset plus and sunrise minus the offset, 2023.
    got = night_hours(40.7128, -74.0060, *_year(2023, "America/New_York"), offset_min, offset_min)
    assert got == pytest.approx(hours, abs=TENTH_OF_AN_HOUR)


def test_tariff_burn_hours_of_half_an_hour_after_sunset_to_half_an_hour_before_sunrise():
    # Greenfield IN, Schedule SL: about 4,000 h a year at these offsets. A rounded figure, so 2.5 %.
    hours = night_hours(39.785, -85.769, *_year(2023, "America/Indiana/Indianapolis"), 30, 30)
    assert hours == pytest.approx(4000, rel=0.025)


@pytest.mark.parametrize(
    ("latitude", "longitude", "offset_min", "printed_h", "tolerance_h"),
    [
        # Turlock Irrigation District, Schedule LO (2015): about 4,100 h a year, a rounded figure; its offsets are not
        # known to us, so 15 min at both ends.
        (37.5, -120.85, 15, 4100, 50),
        # Valley Electric Association: 4,380 h, half of 8,760. Refraction, the sun's width and a northern summer that
        # is longer keep the true nights of a year at 36 degrees north below that.
        (36.2, -116.0, 0, 4380, 80),
    ],
)
def test_burn_hours_that_tariffs_print(latitude, longitude, offset_min, printed_h, tolerance_h):
    zone = "America/Los_Angeles"
    hours = night_hours(latitude, longitude, *_year(2023, zone), offset_min, offset_min)
    assert hours == pytest.approx(printed_h, abs=tolerance_h)
    assert hours < 4380  # half of the year


def test_a_leap_year_has_one_night_more():
    common = night_hours(40.0, -100.0, *_year(2023, "America/Chicago"))
    leap = night_hours(40.0, -100.0, *_year(2024, "America/Chicago"))
    assert leap - common == pytest.approx(14.6, abs=0.3)  # a night at the turn of the year


def test_one_lamp_of_100_w_left_on_for_the_equinox_day_at_the_equator():
    # Closed form: with no declination the sun is up for 2 * 90.8333 deg of hour angle, 15 deg to the hour.
    start = datetime(2023, 3, 20, tzinfo=UTC)
    day_hours = 24 - night_hours(0.0, 0.0, start, start + timedelta(days=1))
    # In March the apparent day is 18 s short of 24 h, half of that over the daylight: 0.0025 h.
    assert day_hours == pytest.approx(2 * 90.8333 / 15, abs=0.003)
    assert float(energy_kwh(100, day_hours)) == pytest.approx(1.2111, abs=0.0003)


def test_polar_day_is_all_light_and_polar_night_all_dark():
    june, december = datetime(2023, 6, 10, 3, tzinfo=UTC), datetime(2023, 12, 10, 3, tzinfo=UTC)
    week = timedelta(days=7)
    for latitude, longitude in ((70.0, 25.0), (78.0, -179.5), (90.0, 0.0)):
        assert night_hours(latitude, longitude, june, june + week, 15, 15) == pytest.approx(0, abs=1e-9)
        assert night_hours(latitude, longitude, december, december + week, 15, 15) == pytest.approx(168)
        assert night_hours(-latitude, longitude, june, june + week) == pytest.approx(168, abs=1e-9)


def test_a_polar_year_keeps_day_above_half():
    # Refraction and the sun's width make daylight the longer part at every latitude.
    for latitude in (66.0, 67.0, 68.0, 75.0, 90.0):
        dark = night_hours(latitude, 20.0, *_year(2023, "Europe/Stockholm"))
        assert 3900 < dark < 4380


@settings(max_examples=60, deadline=None)
@given(places, spans, offsets_min, offsets_min)
def test_day_and_night_make_up_the_span(place, span, on_min, off_min):
    schedule = lit_schedule(*place, *span, on_min, off_min)
    day, dark = schedule.day_hours_between(*span), schedule.dark_hours_between(*span)
    length_hours = (span[1] - span[0]) / timedelta(hours=1)
    assert day >= 0
    assert dark >= -1e-6
    assert day + dark == pytest.approx(length_hours, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(places, st.lists(instants, min_size=3, max_size=3).map(sorted))
def test_hours_of_adjoining_spans_add_up(place, cuts):
    first, middle, last = cuts
    parts = night_hours(*place, first, middle) + night_hours(*place, middle, last)
    assert parts == pytest.approx(night_hours(*place, first, last), abs=1e-5)


@settings(max_examples=40, deadline=None)
@given(places, spans, st.floats(-60, 60), st.floats(0.1, 60))
def test_a_later_switch_on_never_lengthens_the_night(place, span, on_min, more_min):
    early = night_hours(*place, *span, on_min, 0)
    late = night_hours(*place, *span, on_min + more_min, 0)
    assert late <= early + 1e-6


@settings(max_examples=40, deadline=None)
@given(places, instants, st.floats(0, 5000))
def test_an_earlier_end_never_holds_more(place, start, hours):
    end = start + timedelta(hours=hours)
    later = end + timedelta(days=1)
    schedule = lit_schedule(*place, start, later)
    assert schedule.day_hours_between(start, end) <= schedule.day_hours_between(start, later)


def test_arrays_give_the_same_as_one_span_at_a_time():
    random = np.random.default_rng(20260101)
    base = datetime(2020, 1, 1, tzinfo=UTC).timestamp()
    start_s = base + random.uniform(0, 3 * 365 * 86400, 200)
    end_s = start_s + random.uniform(0, 90 * 86400, 200)
    schedule = lit_schedule(41.0, -96.0, start_s.min(), end_s.max(), 15, 15)
    many = schedule.dark_hours_between(start_s, end_s)
    single = [
        night_hours(41.0, -96.0, datetime.fromtimestamp(a, UTC), datetime.fromtimestamp(b, UTC), 15, 15)
        for a, b in zip(start_s, end_s, strict=True)
    ]
    np.testing.assert_allclose(many, single, rtol=0, atol=1e-6)


def test_a_missing_instant_gives_missing_hours():
    start_s = np.array([1.7e9, np.nan])
    schedule = lit_schedule(41.0, -96.0, 1.7e9, 1.71e9)
    hours = schedule.day_hours_between(start_s, 1.7e9 + 3600)
    assert np.isfinite(hours[0])
    assert np.isnan(hours[1])


def test_offsets_that_swallow_the_night_leave_none():
    # At 60 N around the June solstice a night is about 5 h: three hours at each end leave nothing.
    start = datetime(2023, 6, 20, 12, tzinfo=UTC)
    assert night_hours(60.0, 0.0, start, start + timedelta(days=2), 180, 180) == pytest.approx(0, abs=1e-9)


def test_a_clock_that_is_late_keeps_lamps_lit_after_sunrise():
    start = datetime(2023, 5, 1, tzinfo=UTC)
    end = start + timedelta(days=100)
    schedule = lit_schedule(45.0, 0.0, start, end, 15, 15)
    late = float(schedule.wrong_clock(2.0).between(start, end))
    early = float(schedule.wrong_clock(-2.0).between(start, end))
    assert late == pytest.approx(200, abs=2.1)  # two hours each morning
    assert early == pytest.approx(200, abs=2.1)  # two hours each evening
    assert float(schedule.wrong_clock(0).between(start, end)) == 0


def test_a_clock_that_is_twelve_hours_out_is_lit_all_day_at_the_equator():
    start = datetime(2023, 1, 1, tzinfo=UTC)
    end = start + timedelta(days=365)
    schedule = lit_schedule(0.0, 0.0, start, end)
    excess = float(schedule.wrong_clock(12).between(start, end))
    assert excess == pytest.approx(float(schedule.dark_hours_between(start, end)), abs=1.0)


@settings(max_examples=30, deadline=None)
@given(places, instants, st.floats(1, 2000), st.floats(-24, 24))
def test_a_wrong_clock_never_wastes_more_than_a_light_left_on(place, start, hours, shift_hours):
    end = start + timedelta(hours=hours)
    schedule = lit_schedule(*place, start, end)
    wasted = float(schedule.wrong_clock(shift_hours).between(start, end))
    assert -1e-6 <= wasted <= float(schedule.day_hours_between(start, end)) + 1e-6


def test_unusable_arguments_are_refused_with_what_to_do():
    start = datetime(2023, 1, 1, tzinfo=UTC)
    with pytest.raises(ValueError, match="no time zone; give an aware datetime"):
        night_hours(40, -100, datetime(2023, 1, 1), start)
    with pytest.raises(ValueError, match="before it starts"):
        night_hours(40, -100, start, start - timedelta(seconds=1))
    with pytest.raises(ValueError, match="on_offset_min"):
        night_hours(40, -100, start, start, on_offset_min=500)
    with pytest.raises(ValueError, match="off_offset_min"):
        night_hours(40, -100, start, start, off_offset_min=float("nan"))
    schedule = lit_schedule(40, -100, start, start + timedelta(days=1))
    with pytest.raises(ValueError, match="outside the prepared span"):
        schedule.day_hours_between(start, start + timedelta(days=60))
    with pytest.raises(ValueError, match="1 of 2 spans end before they start"):
        schedule.day_hours_between(np.array([1.0, 2.0]), np.array([2.0, 1.0]))
    with pytest.raises(ValueError, match="clock shift"):
        schedule.wrong_clock(25)


def test_a_span_of_no_length_holds_no_hours():
    start = datetime(2024, 2, 29, 12, tzinfo=UTC)
    assert night_hours(51.0, 7.0, start, start) == 0
