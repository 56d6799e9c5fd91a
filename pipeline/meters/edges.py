"""Onset and end of each stretch found in the daily loads, from the readings of the days around them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.energy.meter_edges import Edge, edge_between
from pipeline.energy.meter_search import Burning, Found

Floats = npt.NDArray[np.float64]

WINDOW_DAYS = 3
_WINDOW_DAYS_BY_DAY = 7


@dataclass(frozen=True)
class Moment:
    """An instant with its limits [UTC s]."""

    earliest_s: float
    central_s: float
    latest_s: float


@dataclass(frozen=True)
class AccountDays:
    """An account's solar days: schedule and loads, all (days,), the loads NaN where readings do not suffice."""

    day: npt.NDArray[np.int64]
    off_s: Floats
    on_s: Floats
    day_kw: Floats

    @property
    def off_hours(self) -> Floats:
        """Hours in which lamps should be off [h]."""
        return (self.on_s - self.off_s) / 3600

    def off_hours_between(self, start_s: float, end_s: float) -> float:
        """Those of them between two instants [h]."""
        return float(
            np.maximum(np.minimum(self.on_s, end_s) - np.maximum(self.off_s, start_s), 0).sum() / 3600
        )


def moments(
    days: AccountDays, found: Found, burning: Burning, readings: pd.DataFrame
) -> tuple[Moment, Moment]:
    """When a stretch began and ended.

    readings : day, start_s, interval_s, kw of the account by day, around the stretch's ends, in order of time. Of an
    account with other load only whole days are told apart, for its load moves within the day.
    """
    first_s, last_s = float(days.off_s[0]), float(days.on_s[-1])
    begun = Moment(first_s, first_s, float(days.off_s[burning.first]))
    ended = Moment(float(days.on_s[-1]), last_s, last_s)
    others = _others(days, found, burning)
    if not burning.begins_before_data:
        begun = _moment(days, found, burning, others, readings, burning.first, rising=True)
    if not burning.is_open:
        ended = _moment(days, found, burning, others, readings, burning.beyond, rising=False)
    return begun, _not_before(ended, begun)


def _not_before(ended: Moment, begun: Moment) -> Moment:
    central = max(ended.central_s, begun.central_s)
    return Moment(
        max(ended.earliest_s, begun.earliest_s), central, max(ended.latest_s, begun.latest_s, central)
    )


def _others(days: AccountDays, found: Found, burning: Burning) -> Floats:
    """Load of each day if this stretch were not there [kW]."""
    load = found.expected_kw.copy()
    for other in found.burning:
        if other is not burning:
            load[other.first : other.beyond] += other.size_kw
    return load


def _moment(
    days: AccountDays,
    found: Found,
    burning: Burning,
    others: Floats,
    readings: pd.DataFrame,
    at_day: int,
    rising: bool,
) -> Moment:
    levels = (0.0, burning.size_kw) if rising else (burning.size_kw, 0.0)
    reach = _WINDOW_DAYS_BY_DAY if found.other_load else WINDOW_DAYS
    low = max(at_day - reach, 0 if rising else burning.first)
    high = min(at_day + reach, burning.beyond if rising else days.day.size)
    if found.other_load:
        return _by_days(
            days, np.arange(low, high), days.day_kw[low:high] - others[low:high], levels, found, rising
        )
    at = np.searchsorted(days.day, readings["day"].to_numpy())
    near = (at >= low) & (at < high)
    at, part = at[near], readings[near]
    kw = part["kw"].to_numpy() - others[at]
    per_day = max(len(part) / max(high - low, 1), 1.0)
    variance = max(_scatter(kw, levels), found.noise.long_run_kw**2 * per_day)
    edge = edge_between(kw, *levels, variance)
    start_s = part["start_s"].to_numpy(dtype=float)
    return _from_readings(days, edge, at, start_s, start_s + part["interval_s"].to_numpy(dtype=float), rising)


def _scatter(kw: Floats, levels: tuple[float, float]) -> float:
    """Variance of single readings about the nearer level [kW²]."""
    nearer = np.min([np.abs(kw - level) for level in levels], axis=0)
    return float((1.4826 * np.median(nearer)) ** 2) if kw.size else 0.0


def _from_readings(
    days: AccountDays, edge: Edge, at: npt.NDArray[np.int64], start_s: Floats, end_s: Floats, rising: bool
) -> Moment:
    """The step lies between the readings before and after it; within a night, at the switching time that it spoils."""
    last = start_s.size - 1
    earliest, latest = float(start_s[max(edge.first - 1, 0)]), float(end_s[min(edge.last, last)])
    here, before = min(edge.at, last), max(min(edge.at, last) - 1, 0)
    if edge.at > last:
        central = float(end_s[last])
    elif at[here] == at[before] and here != before:
        central = float(start_s[here])
    elif at[here] - at[before] <= 1:
        central = float(days.off_s[at[here]] if rising else days.on_s[at[before]])
    else:
        central = float(end_s[before] + start_s[here]) / 2
    return Moment(min(earliest, central), central, max(latest, central))


def _by_days(
    days: AccountDays,
    index: npt.NDArray[np.int64],
    above_kw: Floats,
    levels: tuple[float, float],
    found: Found,
    rising: bool,
) -> Moment:
    known = np.isfinite(above_kw)
    index = index[known]
    edge = edge_between(above_kw[known], *levels, found.noise.long_run_kw**2)
    last = index.size - 1
    earliest = float(days.off_s[index[max(edge.first - 1, 0)]])
    latest = float(days.on_s[index[min(edge.last, last)]])
    at = index[min(edge.at, last)]
    central = float(days.off_s[at] if rising else days.on_s[index[max(min(edge.at, last) - 1, 0)]])
    return Moment(min(earliest, central), central, max(latest, central))
