"""Sun times against published values, pvlib's own algorithm, and the horizon itself."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest
from pvlib import solarposition, spa

from pipeline.energy import sun as sun_module
from pipeline.energy.sun import DELTA_T_S, RISE_SET_ALTITUDE_DEG, SECONDS_PER_DAY, ephemeris, sun_times

ONE_SECOND = 1.0
TWO_MINUTES = 120.0
GEOCENTRIC_PARALLAX_DEG = 8.794 / 3600  # solar parallax at the horizon: pvlib's altitude is topocentric
MOUNTAIN_TIME = timezone(timedelta(hours=-7))


def _day(year: int, month: int, day: int) -> int:
    return int(datetime(year, month, day, tzinfo=UTC).timestamp() // SECONDS_PER_DAY)


def _times(latitude, longitude, first, last):
    return sun_times(latitude, longitude, ephemeris(first, last))


def _nearest_s(events_s, instant: datetime) -> float:
    """Seconds from ``instant`` to the nearest of the events."""
    return float(np.min(np.abs(events_s - instant.timestamp())))


def test_nrel_example_of_17_october_2003_within_one_second():
    # Reda & Andreas, NREL/TP-560-34302, example: rise 06:12:43, transit 11:46:04, set 17:20:19 (UTC-7).
    day = _day(2003, 10, 17)
    times = _times(39.742476, -105.1786, day - 1, day + 1)
    assert _nearest_s(times.sunrise_s, datetime(2003, 10, 17, 6, 12, 43, tzinfo=MOUNTAIN_TIME)) < ONE_SECOND
    assert _nearest_s(times.transit_s, datetime(2003, 10, 17, 11, 46, 4, tzinfo=MOUNTAIN_TIME)) < ONE_SECOND
    # The algorithm prints the sunset that falls on the UTC date: in local time that of the evening before.
    assert _nearest_s(times.sunset_s, datetime(2003, 10, 16, 17, 20, 19, tzinfo=MOUNTAIN_TIME)) < ONE_SECOND
    # The next sunset is the day's change (1 min 27 s here) earlier.
    assert _nearest_s(times.sunset_s, datetime(2003, 10, 17, 17, 18, 52, tzinfo=MOUNTAIN_TIME)) < ONE_SECOND


def test_southern_example_within_one_second():
    # Second rise and set case of NREL/TP-560-34302: 35 S, 0 E, 5 July 1996, 07:08:15 and 17:01:04 UTC.
    day = _day(1996, 7, 5)
    times = _times(-35.0, 0.0, day, day)
    assert abs(times.sunrise_s[0] - datetime(1996, 7, 5, 7, 8, 15, tzinfo=UTC).timestamp()) < ONE_SECOND
    assert abs(times.sunset_s[0] - datetime(1996, 7, 5, 17, 1, 4, tzinfo=UTC).timestamp()) < ONE_SECOND


@pytest.mark.parametrize(
    ("month", "day", "sunrise", "sunset"),
    [(1, 2, (7, 19), (16, 49)), (4, 2, (5, 43), (18, 24)), (12, 2, (7, 1), (16, 38))],
)
def test_us_naval_observatory_table_of_2015_within_two_minutes(month, day, sunrise, sunset):
    # US Naval Observatory, rise and set for 39.0 N 105.0 W, 2015, mountain standard time.
    number = _day(2015, month, day)
    times = _times(39.0, -105.0, number - 1, number + 1)
    rise = datetime(2015, month, day, *sunrise, tzinfo=MOUNTAIN_TIME)
    down = datetime(2015, month, day, *sunset, tzinfo=MOUNTAIN_TIME)
    assert _nearest_s(times.sunrise_s, rise) < TWO_MINUTES
    assert _nearest_s(times.sunset_s, down) < TWO_MINUTES


def test_us_naval_observatory_case_at_the_prime_meridian_within_two_minutes():
    # US Naval Observatory, 51.5 N 0.1 W, 25 December 2015, UTC: 08:05 and 15:55.
    number = _day(2015, 12, 25)
    times = _times(51.5, -0.1, number - 1, number + 1)
    assert _nearest_s(times.sunrise_s, datetime(2015, 12, 25, 8, 5, tzinfo=UTC)) < TWO_MINUTES
    assert _nearest_s(times.sunset_s, datetime(2015, 12, 25, 15, 55, tzinfo=UTC)) < TWO_MINUTES


def test_us_naval_observatory_civil_twilight_within_two_minutes(monkeypatch):
    # The same case: civil twilight, the centre at -6 deg, 07:25 to 16:36. The geometry at an altitude of another size.
    monkeypatch.setattr(sun_module, "RISE_SET_ALTITUDE_DEG", -6.0)
    number = _day(2015, 12, 25)
    times = _times(51.5, -0.1, number - 1, number + 1)
    assert _nearest_s(times.sunrise_s, datetime(2015, 12, 25, 7, 25, tzinfo=UTC)) < TWO_MINUTES
    assert _nearest_s(times.sunset_s, datetime(2015, 12, 25, 16, 36, tzinfo=UTC)) < TWO_MINUTES


@pytest.mark.parametrize("latitude", [-60.0, -33.0, 0.0, 27.5, 45.0, 60.0])
@pytest.mark.parametrize("longitude", [-60.0, 0.0, 45.0])
def test_equals_pvlib_within_one_second_where_events_share_a_utc_day(latitude, longitude):
    sun = ephemeris(_day(2023, 1, 1), _day(2024, 12, 31))
    ours = sun_times(latitude, longitude, sun)
    transit, sunrise, sunset = spa.transit_sunrise_sunset(sun.midnight_s, latitude, longitude, DELTA_T_S, 1)
    margin_s = 900  # nearer to midnight, pvlib may take the place of the sun from the day beside
    inside = (sunrise > sun.midnight_s + margin_s) & (sunset < sun.midnight_s + SECONDS_PER_DAY - margin_s)
    assert inside.sum() > 300
    own = np.searchsorted(ours.transit_s, transit[inside] - SECONDS_PER_DAY / 2)
    whole = own < ours.transit_s.size
    for mine, theirs in ((ours.transit_s, transit), (ours.sunrise_s, sunrise), (ours.sunset_s, sunset)):
        assert np.max(np.abs(mine[own[whole]] - theirs[inside][whole])) < ONE_SECOND


@pytest.mark.parametrize("latitude", [-64.0, -20.0, 0.0, 40.0, 60.0, 65.0])
@pytest.mark.parametrize("longitude", [-180.0, -105.2, -0.1, 77.0, 179.9])
def test_the_sun_stands_on_the_horizon_at_each_event(latitude, longitude):
    # pvlib's own altitude, an independent path: no rise or set equation, and no wrap at UTC midnight.
    times = _times(latitude, longitude, _day(2024, 1, 1), _day(2024, 12, 31))
    horizon_deg = RISE_SET_ALTITUDE_DEG - GEOCENTRIC_PARALLAX_DEG
    for events_s in (times.sunrise_s, times.sunset_s):
        instants = pd.to_datetime(np.round(events_s * 1e9).astype("int64"), utc=True)
        place = solarposition.spa_python(instants, latitude, longitude, delta_t=DELTA_T_S)
        # The sky turns 0.0042 degrees a second: this is a sixth of a second at the equator.
        assert np.max(np.abs(place["elevation"] - horizon_deg)) < 0.0007


@pytest.mark.parametrize("longitude", np.linspace(-180, 180, 25))
def test_there_is_one_noon_a_day_at_every_longitude(longitude):
    times = _times(50.0, longitude, _day(2019, 1, 1), _day(2021, 12, 31))
    lengths_s = np.diff(times.transit_s)
    assert np.all(np.abs(lengths_s - SECONDS_PER_DAY) < 31)  # the equation of time moves by up to 30 s a day
    assert np.all((times.sunrise_s < times.transit_s) & (times.transit_s < times.sunset_s))


def test_polar_seasons_are_told_apart_by_the_noon_altitude():
    june, december = _day(2023, 6, 21), _day(2023, 12, 21)
    for latitude in (69.0, 90.0):
        summer = _times(latitude, 20.0, june, june)
        winter = _times(latitude, 20.0, december, december)
        assert np.isnan(summer.sunrise_s[0])
        assert summer.always_up[0]
        assert np.isnan(winter.sunset_s[0])
        assert not winter.always_up[0]
        southern = _times(-latitude, 20.0, june, june)
        assert np.isnan(southern.sunrise_s[0])
        assert not southern.always_up[0]


def test_an_ephemeris_does_not_depend_on_the_span_it_was_asked_for():
    whole = ephemeris(_day(2020, 1, 1), _day(2026, 1, 1))
    part = ephemeris(_day(2023, 3, 1), _day(2023, 4, 1))
    skip = _day(2023, 3, 1) - _day(2020, 1, 1)
    for longitude in (-170.0, 0.0, 120.0):
        long, short = sun_times(40.0, longitude, whole), sun_times(40.0, longitude, part)
        np.testing.assert_allclose(long.sunset_s[skip : skip + 32], short.sunset_s, rtol=0, atol=1e-3)


@pytest.mark.parametrize(("latitude", "longitude"), [(90.1, 0), (math.nan, 0), (0, 181), (0, math.nan)])
def test_a_place_not_on_earth_is_refused(latitude, longitude):
    with pytest.raises(ValueError, match="itude"):
        sun_times(latitude, longitude, ephemeris(0, 1))


def test_an_ephemeris_that_ends_before_it_starts_is_refused():
    with pytest.raises(ValueError, match="before first_day"):
        ephemeris(10, 9)
