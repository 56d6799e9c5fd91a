"""Sunrise, transit and sunset for many places at once.

The sun's apparent place (sidereal time, right ascension, declination) does not depend on the site,
so it is taken from pvlib's Solar Position Algorithm once per UTC day; each site then costs only
spherical geometry in numpy. A solar day belongs to the UTC midnight nearest its local mean noon, so
there is exactly one per day at every longitude, and no event is lost or doubled where sunset drifts
over UTC midnight.

Source: I. Reda and A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
NREL/TP-560-34302 (2008), as implemented by pvlib. Rise and set are at centre altitude -0.8333 deg
(refraction 34' and semi-diameter 16', the almanac convention): sea-level horizon, mean refraction.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from pvlib import spa

Floats = npt.NDArray[np.float64]

SECONDS_PER_DAY = 86_400.0
RISE_SET_ALTITUDE_DEG = -0.8333
SIDEREAL_DEG_PER_DAY = 360.985647  # rotation of the Earth against the stars in one UT day (SPA eq. A.2)
DELTA_T_S = 67.0  # terrestrial minus universal time; 10 s more moves a sunset by under 0.02 s
_BLOCK_DAYS = 512


@dataclass(frozen=True)
class Ephemeris:
    """The sun at 0 h of consecutive UTC days, the same for every site.

    Arrays have one value per day. Right ascension and declination at ``n`` days from that midnight are
    ``value + n * (rate + n * bend)``, for -1 <= n <= 1 (SPA eq. A.2.8, three-point interpolation).
    """

    midnight_s: Floats
    sidereal_deg: Floats
    ascension_deg: Floats
    ascension_rate_deg: Floats
    ascension_bend_deg: Floats
    declination_deg: Floats
    declination_rate_deg: Floats
    declination_bend_deg: Floats


@dataclass(frozen=True)
class SunTimes:
    """One value per solar day, in UTC seconds since 1970-01-01.

    ``sunrise_s`` and ``sunset_s`` are NaN where the sun does not cross the horizon; then ``always_up``
    tells polar day (True) from polar night, by the altitude at noon.
    """

    transit_s: Floats
    sunrise_s: Floats
    sunset_s: Floats
    always_up: npt.NDArray[np.bool_]


@lru_cache(maxsize=256)
def _block(number: int) -> tuple[Floats, Floats, Floats]:
    """Sidereal time, right ascension and declination [deg] at 0 h of the days of one block."""
    midnight_s = (number * _BLOCK_DAYS + np.arange(_BLOCK_DAYS)) * SECONDS_PER_DAY
    place = (0.0, 0.0, 0.0, 0.0, 0.0, DELTA_T_S, 0.0, 1)  # site, pressure and refraction do not enter here
    sidereal, _, _ = spa.solar_position_numpy(midnight_s, *place, sst=True)
    _, ascension, declination = spa.solar_position_numpy(midnight_s - DELTA_T_S, *place, sst=True)
    return np.asarray(sidereal), np.asarray(ascension), np.asarray(declination)


def ephemeris(first_day: int, last_day: int) -> Ephemeris:
    """The sun at each UTC midnight from ``first_day`` to ``last_day`` (days since 1970-01-01, inclusive)."""
    if last_day < first_day:
        raise ValueError(f"last_day {last_day} is before first_day {first_day}")
    low, high = (first_day - 1) // _BLOCK_DAYS, (last_day + 1) // _BLOCK_DAYS
    blocks = [_block(number) for number in range(low, high + 1)]
    skip = first_day - 1 - low * _BLOCK_DAYS
    keep = slice(skip, skip + last_day - first_day + 3)
    sidereal, ascension, declination = (np.concatenate(part)[keep] for part in zip(*blocks, strict=True))
    ascension = np.unwrap(ascension, period=360.0)
    return Ephemeris(
        np.arange(first_day, last_day + 1, dtype=np.float64) * SECONDS_PER_DAY,
        sidereal[1:-1],
        *_three_point(ascension),
        *_three_point(declination),
    )


def _three_point(daily: Floats) -> tuple[Floats, Floats, Floats]:
    """Value, rate per day and bend per day squared at each inner day of a daily series."""
    before, now, after = daily[:-2], daily[1:-1], daily[2:]
    return now, (after - before) / 2, (after - 2 * now + before) / 2


def sun_times(latitude: float, longitude: float, sun: Ephemeris) -> SunTimes:
    """Transit, sunrise and sunset at one place, for each day of ``sun``.

    latitude, longitude : degrees north and east, -90..90 and -180..180 (else ValueError).
    Agrees with the crossing of -0.8333 deg by pvlib's own altitude to 0.1 s up to 60 degrees of
    latitude. Within a day of the start or end of a polar season the crossing is grazing and may be
    minutes off.
    """
    check_place(latitude, longitude)
    transit = _transit_days(longitude, sun)
    sin_declination, cos_declination = _declination(transit, sun)
    at_transit = _cos_half_day(latitude, sin_declination, cos_declination)
    crosses = np.abs(at_transit) <= 1
    half_day = np.arccos(np.clip(at_transit, -1, 1)) / (2 * np.pi)
    sides = np.array([[-1.0], [1.0]])
    events = transit + sides * half_day
    for _ in range(2):  # each pass divides the error by over 100 at 60 degrees of latitude
        aim_deg = sides * np.degrees(
            np.arccos(np.clip(_cos_half_day(latitude, *_declination(events, sun)), -1, 1))
        )
        events += _wrap_deg(aim_deg - _hour_angle_deg(events, longitude, sun)) / 360
    sunrise, sunset = np.where(crosses, sun.midnight_s + events * SECONDS_PER_DAY, np.nan)
    return SunTimes(sun.midnight_s + transit * SECONDS_PER_DAY, sunrise, sunset, at_transit < -1)


def check_place(latitude: float, longitude: float) -> None:
    """Raise ValueError unless the place is on Earth."""
    if not -90 <= latitude <= 90:
        raise ValueError(f"latitude {latitude} is not between -90 and 90 degrees north")
    if not -180 <= longitude <= 180:
        raise ValueError(f"longitude {longitude} is not between -180 and 180 degrees east")


def _transit_days(longitude: float, sun: Ephemeris) -> Floats:
    """Solar noon, in days from the UTC midnight nearest local mean noon."""
    mean_noon = (0.5 if longitude >= 0 else -0.5) - longitude / 360
    transit = np.full(sun.midnight_s.shape, mean_noon)
    for _ in range(2):
        transit = transit - _wrap_deg(_hour_angle_deg(transit, longitude, sun)) / 360
    return transit


def _hour_angle_deg(days: Floats, longitude: float, sun: Ephemeris) -> Floats:
    n = days + DELTA_T_S / SECONDS_PER_DAY
    ascension = sun.ascension_deg + n * (sun.ascension_rate_deg + n * sun.ascension_bend_deg)
    return sun.sidereal_deg + SIDEREAL_DEG_PER_DAY * days + longitude - ascension


def _declination(days: Floats, sun: Ephemeris) -> tuple[Floats, Floats]:
    """Sine and cosine of the declination at ``days`` from midnight."""
    n = days + DELTA_T_S / SECONDS_PER_DAY
    angle = np.radians(sun.declination_deg + n * (sun.declination_rate_deg + n * sun.declination_bend_deg))
    return np.sin(angle), np.cos(angle)


def _cos_half_day(latitude: float, sin_declination: Floats, cos_declination: Floats) -> Floats:
    """Cosine of the hour angle at rise and set; below -1 the sun stays up, above 1 it stays down."""
    phi = np.radians(latitude)
    altitude = np.sin(np.radians(RISE_SET_ALTITUDE_DEG))
    cosine: Floats = (altitude - np.sin(phi) * sin_declination) / (np.cos(phi) * cos_declination)
    return cosine


def _wrap_deg(angle_deg: Floats) -> Floats:
    """The same angle in -180..180."""
    return angle_deg - 360 * np.round(angle_deg / 360)
