"""Lamps that follow a timetable: hours by the clock or the sun, by season, weekday and holiday, and hours of use.

Gives the same LitSchedule as the sun alone, so that every count of hours works alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.day_sets import days_within
from pipeline.day_settings import Schedule
from pipeline.energy.instants import utc_seconds_from_local
from pipeline.energy.schedule import LitSchedule, schedule_between
from pipeline.energy.sun import SECONDS_PER_DAY, Floats, ephemeris, sun_times
from pipeline.lit_periods import Edge, Period, read_period

_SPARE_DAYS = 3
_NOON_H = 12


@dataclass(frozen=True)
class _Days:
    """Local days of one place, with the sun's events [UTC s] and whether it crosses the horizon, one value per day."""

    days: npt.NDArray[np.datetime64]
    zone: str
    sunrise_s: Floats
    sunset_s: Floats
    crosses: npt.NDArray[np.bool_]

    def at(self, edge: Edge, next_day: bool, chosen: npt.NDArray[np.bool_]) -> Floats:
        """The moment on each chosen day, or on the day after it [UTC s]."""
        rows = np.flatnonzero(chosen) + int(next_day)
        if edge.by == "clock":
            clock = self.days[rows].astype("datetime64[s]") + np.timedelta64(edge.minutes * 60, "s")
            return utc_seconds_from_local(clock, self.zone)
        events = self.sunrise_s if edge.by == "sunrise" else self.sunset_s
        # where the sun does not cross the horizon an offset means nothing
        return events[rows] + np.where(self.crosses[rows], edge.minutes * 60.0, 0.0)


def timetable(
    latitude: float,
    longitude: float,
    zone: str,
    start_s: float,
    end_s: float,
    schedules: Sequence[Schedule],
    on_offset_min: float = 0,
    off_offset_min: float = 0,
) -> LitSchedule:
    """When lamps of one place should be off, from ``start_s`` to ``end_s`` (UTC seconds).

    schedules : those that hold for the lamps; the first that fits a day holds on it. On other days lamps follow the
    sun with the two offsets [minutes]. A period belongs to the day on which it begins. Where the sun does not set, its
    setting and rising count as solar midnight; where it does not rise, as solar noon.
    """
    days = _days(latitude, longitude, zone, start_s, end_s)
    by_sun = Period(Edge("sunset", 0), Edge("sunrise", 0))
    owner = _owner(days.days, schedules)
    lit, used = [], []
    for number, schedule in [(-1, None), *enumerate(schedules)]:
        chosen = owner == number
        chosen[-1] = False  # its following day is not there
        if schedule is None or schedule.lit is None:
            lit.append(_by_sun(days, by_sun, chosen, on_offset_min, off_offset_min))
        else:
            lit += [_spans(days, read_period(text), chosen) for text in schedule.lit]
        whole = ("00:00 to 24:00",)
        occupied = whole if schedule is None or schedule.occupied is None else schedule.occupied
        used += [_spans(days, read_period(text), chosen) for text in occupied]
    return _off_where_not(_union(lit), _union(used), days)


def _days(latitude: float, longitude: float, zone: str, start_s: float, end_s: float) -> _Days:
    first, last = (int(at // SECONDS_PER_DAY) for at in (start_s, end_s))
    days = np.arange(first - _SPARE_DAYS, last + _SPARE_DAYS + 1).astype("datetime64[D]")
    sun = sun_times(latitude, longitude, ephemeris(first - _SPARE_DAYS - 3, last + _SPARE_DAYS + 3))
    midnights = (sun.transit_s[:-1] + sun.transit_s[1:]) / 2
    noons_s = utc_seconds_from_local(days.astype("datetime64[s]") + np.timedelta64(_NOON_H, "h"), zone)
    # the solar day whose noon is nearest to the clock's
    row = np.clip(np.searchsorted(midnights, noons_s), 1, sun.transit_s.size - 2)
    crosses, up = ~np.isnan(sun.sunrise_s[row]), sun.always_up[row]
    rise = np.where(up, midnights[row - 1], sun.transit_s[row])
    fall = np.where(up, midnights[row], sun.transit_s[row])
    return _Days(
        days,
        zone,
        np.where(crosses, sun.sunrise_s[row], rise),
        np.where(crosses, sun.sunset_s[row], fall),
        crosses,
    )


def _owner(days: npt.NDArray[np.datetime64], schedules: Sequence[Schedule]) -> npt.NDArray[np.int64]:
    """The number of the schedule that holds on each day; -1 for none."""
    owner = np.full(days.shape, -1, dtype=np.int64)
    for number, schedule in reversed(list(enumerate(schedules))):
        owner[days_within(days, schedule.days, schedule.weekdays)] = number
    return owner


def _by_sun(
    days: _Days, period: Period, chosen: npt.NDArray[np.bool_], on_offset_min: float, off_offset_min: float
) -> Floats:
    begin, end = _spans(days, period, chosen, drop=False)
    rows = np.flatnonzero(chosen)
    begin = begin + np.where(days.crosses[rows], on_offset_min * 60, 0)
    end = end - np.where(days.crosses[rows + 1], off_offset_min * 60, 0)
    return np.array([begin, end])[:, begin < end]


def _spans(days: _Days, period: Period, chosen: npt.NDArray[np.bool_], drop: bool = True) -> Floats:
    """Begin and end [UTC s] of the period on each chosen day, (2, days); one that ends before it begins is none."""
    begin = days.at(period.begin, False, chosen)
    end = days.at(period.end, period.ends_next_day, chosen)
    spans = np.array([begin, end])
    return spans[:, begin < end] if drop else spans


def _union(spans: Sequence[Floats]) -> Floats:
    """Disjoint spans in order that cover the same time, (2, n)."""
    begin, end = np.concatenate([np.empty((2, 0)), *spans], axis=1)
    order = np.argsort(begin, kind="stable")
    begin, end = begin[order], np.maximum.accumulate(end[order]) if end.size else end
    first = np.ones(begin.size, dtype=bool)
    first[1:] = begin[1:] > end[:-1]
    last = np.append(first[1:], True)[: begin.size]
    return np.array([begin[first], end[last]])


def _off_where_not(lit: Floats, used: Floats, days: _Days) -> LitSchedule:
    """Off wherever not both hold, from noon of the first day to noon of the last but one."""
    noons = days.days[[0, -2]].astype("datetime64[s]") + np.timedelta64(_NOON_H, "h")
    first_s, last_s = utc_seconds_from_local(pd.DatetimeIndex(noons), days.zone)
    edges = np.unique(np.concatenate([[first_s, last_s], lit.ravel(), used.ravel()]))
    edges = edges[(edges >= first_s) & (edges <= last_s)]
    middle = (edges[:-1] + edges[1:]) / 2
    off = ~(_inside(lit, middle) & _inside(used, middle))
    return schedule_between(edges, off)


def _inside(spans: Floats, instants_s: Floats) -> npt.NDArray[np.bool_]:
    return np.asarray(
        np.searchsorted(spans[0], instants_s, side="right")
        > np.searchsorted(spans[1], instants_s, side="right")
    )
