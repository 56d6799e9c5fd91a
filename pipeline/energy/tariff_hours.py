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


def hours_by_period(
    lit: HoursBetween, steps: UtcSteps, periods: int, first_s: Floats, last_s: Floats
) -> Floats:
    """Hours lit within each span by period, shape of the spans and (periods + 1) [h]; the last: without a price.

    first_s, last_s : one shape, from the first step on [UTC s]. The periods of a span add up to its hours.
    """
    firsts_s, lasts_s = first_s.ravel(), last_s.ravel()
    begin = np.maximum(np.searchsorted(steps.knots_s, firsts_s, side="right") - 1, 0)
    end = np.maximum(np.searchsorted(steps.knots_s, lasts_s, side="left") - 1, begin)
    each = end - begin + 1
    span = np.repeat(np.arange(firsts_s.size), each)
    knot = np.arange(each.sum()) - np.repeat(np.cumsum(each) - each, each) + begin[span]
    ends_s = np.append(steps.knots_s[1:], np.inf)
    starts_s = np.maximum(steps.knots_s[knot], firsts_s[span])
    hours = lit(starts_s, np.maximum(starts_s, np.minimum(ends_s[knot], lasts_s[span])))
    column = np.where(steps.numbers == NO_PRICE, periods, steps.numbers)[knot]
    size = periods + 1
    sums = np.bincount(span * size + column, weights=hours, minlength=firsts_s.size * size)
    return np.asarray(sums, dtype=np.float64).reshape(*first_s.shape, size)


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
