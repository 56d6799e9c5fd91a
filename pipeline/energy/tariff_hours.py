"""Hours lit, split by the periods of a tariff as the local clock runs through them.

The clock is followed as it is: on the day on which an hour happens twice both are priced by their clock time, and an
hour that is skipped is priced by nobody.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeAlias
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.tariffs.wall import DAY_S, NO_PRICE, WallSteps

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
HoursBetween: TypeAlias = Callable[[Floats, Floats], Floats]
"""Hours lit between two instants [UTC s], by a schedule; additive over spans laid end to end."""


class UtcSteps(NamedTuple):
    """From ``knots_s[i]`` (UTC seconds, rising) on, number ``numbers[i]`` holds."""

    knots_s: Floats
    numbers: Ints

    def within(self, first_s: float, last_s: float) -> UtcSteps:
        """The same between two instants; the first step is at ``first_s``."""
        first, last = np.searchsorted(self.knots_s, [first_s, last_s], side="right")
        before = self.numbers[first - 1] if first else NO_PRICE
        return UtcSteps(
            np.append(first_s, self.knots_s[first:last]), np.append(before, self.numbers[first:last])
        )


class TariffHours:
    """The hours of one schedule by number of period: ``steps`` must cover every span that will be asked for."""

    def __init__(self, lit: HoursBetween, steps: UtcSteps, periods: int) -> None:
        self._lit = lit
        self._knots_s = steps.knots_s
        self._column = np.where(steps.numbers == NO_PRICE, periods, steps.numbers)
        hours = np.zeros((self._knots_s.size, periods + 1))
        each = lit(self._knots_s[:-1], self._knots_s[1:])
        hours[np.arange(1, each.size + 1), self._column[:-1]] = each
        self._until = np.cumsum(hours, axis=0)

    def between(self, first_s: Floats, last_s: Floats) -> Floats:
        """Hours lit within each span by period, (spans, periods + 1) [h]; the last column holds those without a price.

        The columns add up to the hours lit within the span.
        """
        return np.maximum(self._at(last_s) - self._at(first_s), 0.0)

    def _at(self, instants_s: Floats) -> Floats:
        knot = np.maximum(np.searchsorted(self._knots_s, instants_s, side="right") - 1, 0)
        hours = self._until[knot]
        hours[np.arange(knot.size), self._column[knot]] += self._lit(self._knots_s[knot], instants_s)
        return np.asarray(hours)


def local_days(first_s: float, last_s: float) -> tuple[np.datetime64, np.datetime64]:
    """Local days, in any zone, that hold all instants between two [UTC s]."""
    days = [np.datetime64(int(instant // DAY_S), "D") for instant in (first_s, last_s)]
    return days[0] - 2, days[1] + 2


def steps_in_utc(steps: WallSteps, zone: str, first_s: float, last_s: float) -> UtcSteps:
    """When a zone's wall clock reaches each step, between two instants [UTC s].

    Where clocks go back, the steps of the hour that happens twice come twice; where they go forward, the steps of the
    skipped hour are passed over.
    """
    begins, offsets = _offsets(zone, first_s, last_s)
    ends = np.append(begins[1:], last_s)
    knots, numbers = [], []
    for begin, end, offset in zip(begins, ends, offsets, strict=True):
        first, last = np.searchsorted(steps.local_s, [begin + offset, end + offset], side="right")
        last = first + np.searchsorted(steps.local_s[first:last], end + offset)
        before = steps.numbers[first - 1] if first else NO_PRICE
        knots.append(np.append(begin, steps.local_s[first:last] - offset))
        numbers.append(np.append(before, steps.numbers[first:last]))
    return UtcSteps(np.concatenate(knots).astype(np.float64), np.concatenate(numbers).astype(np.int64))


def _offsets(zone: str, first_s: float, last_s: float) -> tuple[Floats, Floats]:
    """Instants from which on a zone's clock stands at each offset from UTC [s], the first being ``first_s``."""
    days = np.append(np.arange(first_s, last_s, DAY_S), last_s)
    offsets = _offset_at(days, zone)
    changed = np.flatnonzero(np.diff(offsets))
    low, high, before = days[changed], days[changed + 1], offsets[changed]
    while changed.size and np.max(high - low) > 0.5:
        middle = (low + high) / 2
        same = _offset_at(middle, zone) == before
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return np.append(first_s, np.floor(high)), np.append(offsets[0], offsets[changed + 1])


def _offset_at(instants_s: Floats, zone: str) -> Floats:
    utc = pd.DatetimeIndex((np.asarray(instants_s) // 1).astype("datetime64[s]"), tz="UTC")
    local = utc.tz_convert(ZoneInfo(zone)).tz_localize(None)
    wall_s = np.asarray(local.values.astype("datetime64[s]").astype(np.int64), dtype=np.float64)
    return np.asarray(wall_s - np.floor(instants_s), dtype=np.float64)
