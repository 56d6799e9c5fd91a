"""What day burning cost by the period of the tariff in which it burnt, and what it can have added to demand charges."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.settings import Settings
from pipeline.store import Store
from pipeline.tariffs import Tariff
from pipeline.tariffs.words import tax_share, taxes_of_all, taxes_text, times_text, when_text

DEMAND_METHOD = (
    "The load that burnt by day, at the price of a kilowatt and month, in each month in which it burnt within the "
    "hours in which demand is measured. It is the most that day burning can have added: whether the month's "
    "highest load fell into those hours is not known. It is never part of the cost of energy."
)


def cost_by_period(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Hours, kWh and cost by tariff, version and period; unmetered energy and energy without a price stand last.

    Columns: tariff, metered, since (missing: from ever), period, when (its times in words), price_per_kwh (portfolio
    currency), taxes (in words), incidents, and low, central and high of excess_hours, kwh and cost; tax_cost_central:
    the taxes on top of that cost, or within it, where a rate is given. A month that the period touches counts whole. Of
    months in which a part has no price the rest is here, though their cost is unknown as a whole.
    """
    frame = query.frame(store, "cost_by_period", filters)
    tariffs = _tariffs(store)
    about = [_about(row, tariffs) for row in frame.to_dict("records")]
    frame["when"] = [one["when"] for one in about]
    frame["taxes"] = [one["taxes"] for one in about]
    shares = pd.Series([one["tax_share"] for one in about], index=frame.index, dtype=float)
    frame["tax_cost_central"] = frame["cost_central"].astype(float) * shares
    return frame


def demand_by_tariff(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """What day burning can have added to demand charges at most, by tariff (DEMAND_METHOD).

    Columns: tariff, when (the hours in which demand is measured), months (of incidents), incidents,
    demand_hours_central, and low, central and high of demand_cost, portfolio currency.
    """
    frame = query.frame(store, "demand_by_tariff", filters)
    tariffs = _tariffs(store)
    frame["when"] = [_demand_text(tariffs.get(name)) for name in frame["tariff"]]
    return frame


def savings_prices(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """The price of a kilowatt-hour burnt by day on which savings rest, by tariff: what it comes to at the sites' sun.

    Columns: tariff, sites, price_per_kwh_least and _most (portfolio currency, over its sites), sites_without_price.
    """
    return query.frame(store, "savings_prices", filters)


def has_demand_charge(store: Store) -> bool:
    """Whether any tariff of the settings charges for demand."""
    return any(version.demand for tariff in _tariffs(store).values() for version in tariff.dated())


def taxes_statement(store: Store) -> str:
    """Whether the money here holds taxes, as a sentence; empty without a tariff."""
    return taxes_of_all(_tariffs(store))


def _tariffs(store: Store) -> dict[str, Tariff]:
    settings = facts(store).settings
    return Settings.model_validate(settings).tariffs if settings else {}


def _about(row: dict[Any, Any], tariffs: dict[str, Tariff]) -> dict[str, Any]:
    tariff = tariffs.get(row["tariff"]) if row["metered"] else None
    if tariff is None:
        return {"when": "", "taxes": "", "tax_share": None}
    since = None if pd.isna(row["since"]) else row["since"].date()
    version = next((one for one in tariff.dated() if one.since == since), tariff)
    return {
        "when": when_text(tariff, version, row["period"]),
        "taxes": taxes_text(tariff),
        "tax_share": tax_share(tariff),
    }


def _demand_text(tariff: Tariff | None) -> str:
    demands = [version.demand for version in tariff.dated() if version.demand] if tariff else []
    return "; ".join(dict.fromkeys(times_text(demand) for demand in demands))
