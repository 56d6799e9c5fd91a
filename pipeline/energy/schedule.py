"""When the lamps behind a control should be on, and how long a fault kept them lit or dark against that.

A schedule follows the sun: lamps on some minutes after sunset, off some minutes before sunrise. Hours
within an episode are the difference of a running total at its two ends, so that thousands of episodes,
cut at month ends, cost one interpolation each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

import numpy as np
import numpy.typing as npt

from pipeline.energy.instants import Instants, utc_seconds
from pipeline.energy.sun import SECONDS_PER_DAY, Floats, SunTimes, ephemeris, sun_times

SECONDS_PER_HOUR = 3_600.0
MAX_OFFSET_MIN = 360.0
MAX_CLOCK_SHIFT_HOURS = 24.0
_PADDING_DAYS = 5  # a day at each edge goes to neighbours, and a wrong clock may take one more


@dataclass(frozen=True)
class RunningHours:
    """A running total of hours: known at ``knots_s`` (UTC seconds, rising), straight in between."""

    knots_s: Floats
    total_hours: Floats

    def between(self, start: Instants, end: Instants) -> Floats:
        """Hours that fall between each start and end; shapes as numpy broadcasts them.

        An instant that is missing (NaT, NaN) gives NaN. Raises ValueError where an end is before its
        start, or where an instant is outside the span that was prepared.
        """
        start_s, end_s = np.broadcast_arrays(utc_seconds(start), utc_seconds(end))
        backward = np.flatnonzero(np.ravel(end_s < start_s))
        if backward.size:
            raise ValueError(
                f"{backward.size} of {end_s.size} spans end before they start (first at index {backward[0]})"
            )
        return self._at(end_s) - self._at(start_s)

    def _at(self, instants_s: Floats) -> Floats:
        first, last = self.knots_s[0], self.knots_s[-1]
        if np.any((instants_s < first) | (instants_s > last)):
            raise ValueError(
                f"an instant is outside the prepared span {_utc_text(first)} to {_utc_text(last)} UTC; "
                "make the schedule for a longer span"
            )
        return np.asarray(np.interp(instants_s, self.knots_s, self.total_hours), dtype=np.float64)


@dataclass(frozen=True)
class LitSchedule:
    """The hours in which the lamps of one place should be off.

    ``off_at_s`` and ``on_at_s`` (UTC seconds since 1970-01-01) bound them: from off_at_s[i], when the
    lamps should go out in the morning, to on_at_s[i], when they should light. Where an offset leaves no
    daylight, or no night, between the two, they coincide.
    """

    off_at_s: Floats
    on_at_s: Floats

    def day_hours_between(self, start: Instants, end: Instants) -> Floats:
        """Hours within each span in which lamps should be off: the excess of a light that stays on."""
        return self._day.between(start, end)

    def dark_hours_between(self, start: Instants, end: Instants) -> Floats:
        """Hours within each span in which lamps should be on: the light missed when it stays off."""
        start_s, end_s = utc_seconds(start), utc_seconds(end)
        return (end_s - start_s) / SECONDS_PER_HOUR - self._day.between(start_s, end_s)

    def wrong_clock(self, shift_hours: float) -> RunningHours:
        """Hours lit while they should be off, when the control runs this schedule late by ``shift_hours``.

        Negative where the clock is fast and everything comes early. Over many days
        about as many hours are missed in the dark, since the shifted schedule is as long as the right one.
        """
        if not abs(shift_hours) <= MAX_CLOCK_SHIFT_HOURS:
            raise ValueError(f"a clock shift of {shift_hours} h is not within {MAX_CLOCK_SHIFT_HOURS:g} h")
        knots_s = self._day.knots_s
        late_s = knots_s + shift_hours * SECONDS_PER_HOUR
        both = np.unique(np.concatenate([knots_s, late_s]))
        both = both[(both >= max(knots_s[0], late_s[0])) & (both <= min(knots_s[-1], late_s[-1]))]
        middle = (both[:-1] + both[1:]) / 2
        excess = self.should_be_off(middle) & ~self.should_be_off(middle - shift_hours * SECONDS_PER_HOUR)
        return _running(both, excess)

    def should_be_off(self, instants_s: Floats) -> npt.NDArray[np.bool_]:
        """Whether lamps should be off just after each instant [UTC s]."""
        knots_passed = np.searchsorted(self._day.knots_s, instants_s, side="right")
        return np.asarray(knots_passed % 2 == 1)

    @cached_property
    def _day(self) -> RunningHours:
        knots_s = np.column_stack([self.off_at_s, self.on_at_s]).ravel()
        return _running(knots_s, np.arange(knots_s.size - 1) % 2 == 0)


def lit_schedule(
    latitude: float,
    longitude: float,
    start: Instants,
    end: Instants,
    on_offset_min: float = 0,
    off_offset_min: float = 0,
) -> LitSchedule:
    """The schedule of one place, ready for every instant from ``start`` to ``end``.

    latitude, longitude : degrees north and east.
    on_offset_min : minutes after sunset at which lamps light (negative: before), within 6 h.
    off_offset_min : minutes before sunrise at which lamps go off (negative: after), within 6 h.
    Where the sun does not set, lamps should be off all day; where it does not rise, on all day; offsets
    do not apply on such days.
    """
    for name, minutes in (("on_offset_min", on_offset_min), ("off_offset_min", off_offset_min)):
        if not abs(minutes) <= MAX_OFFSET_MIN:
            raise ValueError(f"{name} {minutes} is not within {MAX_OFFSET_MIN:g} minutes")
    first_s, last_s = float(np.min(utc_seconds(start))), float(np.max(utc_seconds(end)))
    if not first_s <= last_s:
        raise ValueError(
            f"the span ends ({_utc_text(last_s)} UTC) before it starts ({_utc_text(first_s)} UTC)"
        )
    first_day = int(first_s // SECONDS_PER_DAY) - _PADDING_DAYS
    last_day = int(last_s // SECONDS_PER_DAY) + _PADDING_DAYS
    times = sun_times(latitude, longitude, ephemeris(first_day, last_day))
    return _schedule(times, on_offset_min * 60, off_offset_min * 60)


def schedule_between(edges_s: Floats, off: npt.NDArray[np.bool_]) -> LitSchedule:
    """The schedule that is off, or not, between each two neighbouring edges [UTC s, rising]; off: (edges - 1,)."""
    turns = np.diff(np.concatenate([[False], off, [False]]).astype(np.int8))
    off_at_s, on_at_s = edges_s[np.flatnonzero(turns == 1)], edges_s[np.flatnonzero(turns == -1)]
    # spans of no length at both ends, so that what is lit there lies inside the schedule
    ends_s = edges_s[:1], edges_s[-1:]
    return LitSchedule(
        np.concatenate([ends_s[0], off_at_s, ends_s[1]]), np.concatenate([ends_s[0], on_at_s, ends_s[1]])
    )


def off_in_all(schedules: Sequence[LitSchedule]) -> LitSchedule:
    """The hours in which the lamps of every one of some schedules should be off, where all of them are known."""
    if len(schedules) == 1:
        return schedules[0]
    first_s = max(schedule.off_at_s[0] for schedule in schedules)
    last_s = min(schedule.on_at_s[-1] for schedule in schedules)
    knots_s = [np.concatenate([schedule.off_at_s, schedule.on_at_s]) for schedule in schedules]
    edges_s = np.unique(np.clip(np.concatenate([[first_s, last_s], *knots_s]), first_s, last_s))
    middle_s = (edges_s[:-1] + edges_s[1:]) / 2
    return schedule_between(
        edges_s, np.all([schedule.should_be_off(middle_s) for schedule in schedules], axis=0)
    )


def night_hours(
    latitude: float,
    longitude: float,
    start: datetime,
    end: datetime,
    on_offset_min: float = 0,
    off_offset_min: float = 0,
) -> float:
    """Hours in which lamps should be lit between two instants at one place [h].

    start, end : datetimes that carry a time zone. Other arguments as for ``lit_schedule``. Day hours are
    the complement: the span minus this. Raises ValueError for a naive datetime, an end before its start,
    or a place not on Earth.
    """
    schedule = lit_schedule(latitude, longitude, start, end, on_offset_min, off_offset_min)
    return float(schedule.dark_hours_between(start, end))


def _schedule(times: SunTimes, on_after_s: float, off_before_s: float) -> LitSchedule:
    """Switching instants from sun times; overlapping days merge, a day of no length stays as none."""
    midnights = (times.transit_s[:-1] + times.transit_s[1:]) / 2
    noon, rise, down = times.transit_s[1:-1], times.sunrise_s[1:-1], times.sunset_s[1:-1]
    no_crossing, up = np.isnan(rise), times.always_up[1:-1]
    off_at_s = np.where(no_crossing, np.where(up, midnights[:-1], noon), rise - off_before_s)
    on_at_s = np.where(no_crossing, np.where(up, midnights[1:], noon), down + on_after_s)
    in_order = np.maximum.accumulate(np.column_stack([off_at_s, on_at_s]).ravel())
    return LitSchedule(in_order[0::2], in_order[1::2])


def _running(knots_s: Floats, counts: npt.NDArray[np.bool_]) -> RunningHours:
    """Running total over the intervals between knots, of those that count."""
    hours = np.diff(knots_s) * counts / SECONDS_PER_HOUR
    return RunningHours(knots_s, np.concatenate([[0.0], np.cumsum(hours)]))


def _utc_text(instant_s: float) -> str:
    return str(np.datetime64(int(instant_s), "s")).replace("T", " ") if np.isfinite(instant_s) else "missing"
