"""Instants as UTC seconds: from aware times, and from the local wall clock that work orders carry."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, TypeAlias
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]
Instants: TypeAlias = (
    "datetime | np.datetime64 | npt.NDArray[Any] | pd.Series[Any] | pd.DatetimeIndex | float"
)

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def utc_seconds(instants: Instants) -> Floats:
    """Seconds since 1970-01-01 00:00 UTC (leap seconds not counted); missing times become NaN.

    Takes an aware datetime, an aware pandas Series or DatetimeIndex, numpy datetime64 (read as UTC, as
    numpy has no zones), or numbers that are such seconds already. A naive datetime or pandas time raises
    ValueError: what it means depends on its zone, see ``utc_seconds_from_local``.
    """
    if isinstance(instants, datetime):
        if instants != instants:  # NaT, the one time unequal to itself
            return np.asarray(np.nan)
        if instants.utcoffset() is None:
            raise ValueError(f"{instants} carries no time zone; give an aware datetime")
        return np.asarray((instants - _EPOCH).total_seconds(), dtype=np.float64)
    if isinstance(instants, pd.Series | pd.DatetimeIndex):
        index = pd.DatetimeIndex(instants)
        if index.tz is None:
            raise ValueError("these times carry no time zone; use utc_seconds_from_local(times, zone)")
        return _seconds(index)
    values = np.asarray(instants)
    if values.dtype.kind == "M":
        return _seconds(pd.DatetimeIndex(values.ravel())).reshape(values.shape)
    if values.dtype.kind not in "fiu":
        raise ValueError(f"cannot read {values.dtype} values as instants; give aware times or UTC seconds")
    return values.astype(np.float64)


def utc_seconds_from_local(local: npt.NDArray[Any] | pd.Series[Any] | pd.DatetimeIndex, zone: str) -> Floats:
    """UTC seconds of naive local wall-clock times in the IANA ``zone``; missing times become NaN.

    Where clocks go back, a wall time happens twice: the first (daylight-saving) one is taken. Where
    clocks go forward, a wall time does not exist: the first instant after the gap is taken. Both keep
    the order of the wall clock, so an episode never ends before it starts; either can be an hour off.
    """
    index = pd.DatetimeIndex(local)
    if index.tz is not None:
        raise ValueError(f"these times carry a time zone already ({index.tz}); use utc_seconds(times)")
    first = np.ones(len(index), dtype=bool)
    return _seconds(index.tz_localize(ZoneInfo(zone), ambiguous=first, nonexistent="shift_forward"))


def doubtful_clock_times(
    local: pd.Series[Any], zone: str
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Which naive wall-clock times in the IANA ``zone`` happen twice, and which do not happen; missing ones neither."""
    index = pd.DatetimeIndex(local)
    first, second = (
        index.tz_localize(ZoneInfo(zone), ambiguous=np.full(len(index), flag), nonexistent="shift_forward")
        for flag in (True, False)
    )
    known = np.asarray(index.notna(), dtype=bool)
    return np.asarray(first != second) & known, np.asarray(first.tz_localize(None) != index) & known


@dataclass(frozen=True)
class MonthParts:
    """Spans cut at local month ends: ``span`` is the index of the span that each part belongs to."""

    span: npt.NDArray[np.int64]
    month: npt.NDArray[np.datetime64]
    start_s: Floats
    end_s: Floats


def split_by_month(start_s: Floats, end_s: Floats, zone: str) -> MonthParts:
    """Cut spans of UTC seconds (1-D, equal length) at the calendar months of the local wall clock.

    ``month`` is the first day of the month (datetime64[M]). A span of no length keeps one part of no
    length. Raises ValueError where a time is missing or an end is before its start.
    """
    start_s, end_s = np.atleast_1d(start_s).astype(float), np.atleast_1d(end_s).astype(float)
    if not np.all(start_s <= end_s):
        bad = int(np.flatnonzero(~(start_s <= end_s))[0])
        raise ValueError(
            f"span {bad} has a missing time or ends before it starts; leave it out before splitting"
        )
    if not start_s.size:
        return MonthParts(np.empty(0, np.int64), np.empty(0, "datetime64[M]"), start_s, end_s)
    months, bounds_s = _month_bounds(start_s.min(), end_s.max(), zone)
    first = np.searchsorted(bounds_s, start_s, side="right") - 1
    last = np.maximum(np.searchsorted(bounds_s, end_s, side="left") - 1, first)
    parts = last - first + 1
    span = np.repeat(np.arange(start_s.size), parts)
    month = np.arange(parts.sum()) - np.repeat(np.cumsum(parts) - parts, parts) + first[span]
    return MonthParts(
        span,
        months[month],
        np.maximum(bounds_s[month], start_s[span]),
        np.minimum(bounds_s[month + 1], end_s[span]),
    )


def _month_bounds(first_s: float, last_s: float, zone: str) -> tuple[npt.NDArray[np.datetime64], Floats]:
    """Months that cover the span with one to spare at each side, and the UTC seconds at which each begins."""
    first = np.datetime64(int(first_s), "s").astype("datetime64[M]") - 1
    last = np.datetime64(int(last_s), "s").astype("datetime64[M]") + 2
    months = np.arange(first, last + 1)
    return months, utc_seconds_from_local(months.astype("datetime64[s]"), zone)


def _seconds(index: pd.DatetimeIndex) -> Floats:
    """Microsecond resolution: dates beyond the year 2262 must not overflow."""
    micros = index.as_unit("us").asi8
    return np.where(index.isna(), np.nan, micros / 1e6)
