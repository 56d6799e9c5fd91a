"""Parts of spans split once more, by the periods of the tariffs that their energy is billed by."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.energy.tariff_hours import (
    Floats,
    HoursBetween,
    UtcSteps,
    hours_by_period,
    local_days,
    steps_in_utc,
)
from pipeline.tariffs import PricedPeriod, Tariff, wall_demand, wall_prices
from pipeline.tariffs.wall import DAY_S

NO_PRICE_IN_FORCE = PricedPeriod(None, "no price in force", None)
ENERGY, DEMAND = "energy", "demand"
KEY = ["incident_id", "month", "begins"]
LEVELS = ("low", "central", "high")
_HOURS = tuple(f"excess_hours_{level}" for level in LEVELS)
_TYPES = {
    "incident_id": "str", "month": "datetime64[s]", "begins": "datetime64[s]", "tariff": "str",
    "charge": "str", "since": "datetime64[s]", "period": "str", "price": "float64",
} | dict.fromkeys(_HOURS, "float64")  # fmt: skip


class _Clock(NamedTuple):
    periods: tuple[PricedPeriod, ...]
    steps: UtcSteps


class TariffClocks:
    """The tariffs of a portfolio by the clock of every zone, for all instants between two [UTC s].

    Of each tariff there are two charges: ENERGY, whose periods price kilowatt-hours, and DEMAND, whose periods are the
    hours in which a month's highest load is measured.
    """

    def __init__(self, tariffs: Mapping[str, Tariff], first_s: float, last_s: float) -> None:
        self._tariffs, self._span = tariffs, (first_s, last_s)
        self._clocks: dict[tuple[str, str, str], _Clock] = {}

    def charges(self, tariff: str) -> tuple[str, ...]:
        """The charges that a tariff has."""
        measured = any(version.demand for version in self._tariffs[tariff].dated())
        return (ENERGY, DEMAND) if measured else (ENERGY,)

    def periods(self, charge: str, tariff: str, zone: str) -> tuple[PricedPeriod, ...]:
        """The periods of a tariff in the order of the columns of its hours, without the last."""
        return self._clock(charge, tariff, zone).periods

    def hours(
        self, charge: str, tariff: str, zone: str, lit: HoursBetween, first_s: Floats, last_s: Floats
    ) -> Floats:
        """Hours lit in each span [UTC s] by period and, last, without a price: (spans, levels, periods + 1) [h].

        first_s, last_s : (spans, levels). lit : the schedule's hours.
        """
        clock = self._clock(charge, tariff, zone)
        return hours_by_period(lit, clock.steps, len(clock.periods), first_s, last_s)

    def _clock(self, charge: str, tariff: str, zone: str) -> _Clock:
        if (charge, tariff, zone) not in self._clocks:
            on_wall = wall_prices if charge == ENERGY else wall_demand
            prices = on_wall(self._tariffs[tariff], *local_days(*self._span))
            steps = steps_in_utc(prices.steps, zone, *self._span)
            self._clocks[charge, tariff, zone] = _Clock(prices.periods, steps)
        return self._clocks[charge, tariff, zone]


class Billing:
    """The tariffs behind each incident's control in each stretch of days.

    bills : incident_id, begins, ends (local days), metered and tariff. What is not metered, or has no tariff, has no
    hours by tariff. tariffs : by name, as the settings give them.
    """

    def __init__(self, bills: pd.DataFrame, tariffs: Mapping[str, Tariff]) -> None:
        priced = bills[bills["metered"].astype(bool) & bills["tariff"].isin(list(tariffs))]
        self._priced = priced[["incident_id", "begins", "tariff"]].drop_duplicates()
        seconds = [bills[name].astype("datetime64[s]").astype("int64") for name in ("begins", "ends")]
        edges = (seconds[0].min() - 2 * DAY_S, seconds[1].max() + 2 * DAY_S) if len(bills) else (0, DAY_S)
        self._clocks = TariffClocks(tariffs, float(edges[0]), float(edges[1]))

    @classmethod
    def none(cls) -> Billing:
        """Nothing is billed by any tariff."""
        names = ["incident_id", "begins", "ends", "metered", "tariff"]
        return cls(pd.DataFrame(columns=names), {})

    def hours(
        self, pieces: pd.DataFrame, first_s: Floats, last_s: Floats, zone: str, lit: HoursBetween
    ) -> pd.DataFrame:
        """Hours of each piece by tariff, charge and period: incident_id, month, begins, tariff, charge, since, period,
        price (missing where none is in force) and excess_hours_low, _central, _high [h].

        pieces : incident_id, month, begins. first_s, last_s : (pieces, levels) what of each is lit [UTC s]. The rows of
        a piece and tariff with the charge ENERGY add up to its hours.
        """
        asked = pieces[KEY].reset_index(drop=True).reset_index(names="piece")
        asked = asked.merge(self._priced, on=["incident_id", "begins"])
        found = list(self._by_tariff(asked, first_s, last_s, zone, lit))
        return joined(found)

    def _by_tariff(
        self, asked: pd.DataFrame, firsts_s: Floats, lasts_s: Floats, zone: str, lit: HoursBetween
    ) -> Iterator[pd.DataFrame]:
        for name, group in asked.groupby("tariff", sort=True):
            tariff, piece = str(name), group["piece"].to_numpy()
            for charge in self._clocks.charges(tariff):
                hours = self._clocks.hours(charge, tariff, zone, lit, firsts_s[piece], lasts_s[piece])
                periods = [*self._clocks.periods(charge, tariff, zone), NO_PRICE_IN_FORCE]
                yield _rows(group[[*KEY, "tariff"]].assign(charge=charge), hours, periods)


def _rows(pieces: pd.DataFrame, hours: Floats, periods: list[PricedPeriod]) -> pd.DataFrame:
    """One row for each piece and period in which it is lit at any level; hours : (pieces, levels, periods)."""
    row, column = np.nonzero(hours.any(axis=1))
    about = pd.DataFrame([periods[at] for at in column], columns=["since", "period", "price"])
    about["since"] = pd.to_datetime(about["since"])
    about["price"] = about["price"].astype(float)
    lit = pd.DataFrame(hours[row, :, column], columns=list(_HOURS))
    return pd.concat([pieces.iloc[row].reset_index(drop=True), about, lit], axis=1)


def joined(found: list[pd.DataFrame]) -> pd.DataFrame:
    """Frames of hours by tariff and period as one, with its columns also where there is none."""
    some = [frame for frame in found if not frame.empty]
    return pd.concat(some, ignore_index=True) if some else pd.DataFrame(columns=list(_TYPES)).astype(_TYPES)
