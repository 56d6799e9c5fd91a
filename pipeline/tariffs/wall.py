"""The price in force at each moment of the local wall clock, as steps; no zone and no sun is known here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from pipeline.clock_spans import MINUTES_PER_DAY, minutes_of
from pipeline.day_sets import Days, days_within
from pipeline.tariffs.form import DAY_KINDS, HOLIDAY, DemandCharge, Tariff, TariffVersion, Times

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

DAY_S = 86_400
NO_PRICE = -1
DEMAND = "demand"


class PricedPeriod(NamedTuple):
    """A period of a version of a tariff: its price, None where none is in force.

    The price is that of a kilowatt-hour, of the hours in which demand is measured that of a kilowatt and month.
    """

    since: date | None
    name: str
    price: Decimal | None


class WallSteps(NamedTuple):
    """From ``local_s[i]`` (seconds of the wall clock since 1970-01-01 00:00) on, ``numbers[i]`` holds."""

    local_s: Ints
    numbers: Ints


class WallPrices(NamedTuple):
    """Which of the ``periods`` holds when; NO_PRICE where none does."""

    periods: tuple[PricedPeriod, ...]
    steps: WallSteps


def wall_prices(tariff: Tariff, first: np.datetime64, last: np.datetime64) -> WallPrices:
    """The prices of a tariff on the local days from ``first`` to ``last``, both included."""
    periods: list[PricedPeriod] = []
    pieces = []
    for version, days in _in_force(tariff, first, last):
        known = [PricedPeriod(version.since, p.name, p.price_per_kwh) for p in tariff.periods_of(version)]
        periods += [period for period in dict.fromkeys(known) if period not in periods]
        numbers = np.array([periods.index(period) for period in known] or [NO_PRICE])
        local_s, index = _steps(tariff, version, days)
        pieces.append(WallSteps(local_s, np.where(index == NO_PRICE, NO_PRICE, numbers[index])))
    return WallPrices(tuple(periods), _joined(pieces, first))


def wall_demand(tariff: Tariff, first: np.datetime64, last: np.datetime64) -> WallPrices:
    """The hours in which a tariff measures demand, as periods whose price is that of a kW and month."""
    periods: list[PricedPeriod] = []
    pieces = []
    for version, days in _in_force(tariff, first, last):
        demand = version.demand
        local_s, index = _demand_steps(tariff, demand, days)
        pieces.append(WallSteps(local_s, np.where(index == NO_PRICE, NO_PRICE, len(periods))))
        if demand is not None:
            periods.append(PricedPeriod(version.since, DEMAND, demand.price_per_kw_month))
    return WallPrices(tuple(periods), _joined(pieces, first))


def day_kinds(days: Days, holidays: Sequence[str]) -> Ints:
    """The number of each day's kind in DAY_KINDS."""
    kinds = (days.astype("datetime64[D]").astype(np.int64) + 3) % 7  # 1970-01-01 was a Thursday
    if holidays:
        kinds = np.where(days_within(days, holidays), DAY_KINDS.index(HOLIDAY), kinds)
    return np.asarray(kinds, dtype=np.int64)


def edges_of(times: Sequence[Times]) -> Ints:
    """Minutes since midnight at which any of the times begins or ends, midnight always among them."""
    spans = [span for one in times for text in one.hours for span in minutes_of(text)]
    ends = {minute for span in spans for minute in span if minute < MINUTES_PER_DAY}
    return np.array(sorted({0, *ends}), dtype=np.int64)


def holds(times: Times, days: Days, kinds: Ints, minutes: Ints) -> Flags:
    """Whether the times hold on each day of a kind at each minute, (days, minutes)."""
    on_days = days_within(days, times.days)
    if times.weekdays:
        on_days &= np.isin(kinds, [DAY_KINDS.index(kind) for kind in times.weekdays])
    at = np.ones(minutes.shape, dtype=bool) if not times.hours else np.zeros(minutes.shape, dtype=bool)
    for text in times.hours:
        for first, last in minutes_of(text):
            at |= (minutes >= first) & (minutes < last)
    return np.asarray(on_days[:, None] & at[None, :])


def _steps(tariff: Tariff, version: TariffVersion, days: Days) -> WallSteps:
    """Steps of one version; where two periods claim an hour the first written has it (reading refuses that)."""
    periods = tariff.periods_of(version)
    named = [period for period in periods if not period.other_times]
    minutes, kinds = edges_of(named), day_kinds(days, tariff.holidays)
    others = next((n for n, period in enumerate(periods) if period.other_times), NO_PRICE)
    index = np.full((days.size, minutes.size), others, dtype=np.int64)
    for number, period in reversed(list(enumerate(periods))):
        if not period.other_times:
            index[holds(period, days, kinds, minutes)] = number
    return _flat(days, minutes, index)


def _demand_steps(tariff: Tariff, demand: DemandCharge | None, days: Days) -> WallSteps:
    if demand is None:
        return _flat(days, np.zeros(1, dtype=np.int64), np.full((days.size, 1), NO_PRICE))
    minutes, kinds = edges_of([demand]), day_kinds(days, tariff.holidays)
    return _flat(days, minutes, np.where(holds(demand, days, kinds, minutes), 0, NO_PRICE))


def _flat(days: Days, minutes: Ints, index: Ints) -> WallSteps:
    local_s = days.astype(np.int64)[:, None] * DAY_S + minutes[None, :] * 60
    return WallSteps(local_s.ravel(), np.asarray(index, dtype=np.int64).ravel())


def _joined(pieces: list[WallSteps], first: np.datetime64) -> WallSteps:
    """Pieces one after another, without steps that change nothing; before the first of them nothing holds."""
    begin = np.array([first.astype("datetime64[D]").astype(np.int64) * DAY_S])
    local_s = np.concatenate([begin, *(piece.local_s for piece in pieces)])
    index = np.concatenate([[NO_PRICE], *(piece.numbers for piece in pieces)])
    last_at_once = np.append(np.diff(local_s) > 0, True)
    local_s, index = local_s[last_at_once], index[last_at_once]
    changes = np.append(True, np.diff(index) != 0)
    return WallSteps(local_s[changes], index[changes])


def _in_force(
    tariff: Tariff, first: np.datetime64, last: np.datetime64
) -> Iterator[tuple[TariffVersion, Days]]:
    """The versions in force between two local days, each with its days."""
    versions = tariff.dated()
    for version, until in zip(versions, [*(v.since for v in versions[1:]), None], strict=True):
        begin = first if version.since is None else max(first, np.datetime64(version.since, "D"))
        end = last + 1 if until is None else min(last + 1, np.datetime64(until, "D"))
        if begin < end:
            yield version, np.arange(begin, end, dtype="datetime64[D]")
