"""Energy that lamps wasted by day, added up by month, year, site or kind."""

from __future__ import annotations

from typing import Literal, get_args

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store

QUANTILES = {"p5": 0.05, "p50": 0.5, "p95": 0.95}
_BY_KWH = ("cost", "co2e_kg", "co2e_market_kg", "co2e_losses_kg")
_DRAWN = ("kwh", *_BY_KWH)
_RANGES = {
    # What a kilowatt-hour of the month comes to, where any energy of it is known.
    "{each}": ", ".join(
        f"coalesce({of}_high::DOUBLE / nullif(kwh_high, 0)::DOUBLE,"
        f" {of}_central::DOUBLE / nullif(kwh_central, 0)::DOUBLE) AS {of}_each"
        for of in _BY_KWH
    ),
    "{sums}": ", ".join(f"sum((kwh * {of}_each)::DECIMAL(18, 6))::DOUBLE AS {of}" for of in _BY_KWH),
    "{quantiles}": ", ".join(
        f"quantile_cont({of}, {level}) AS {of}_{name}" for of in _DRAWN for name, level in QUANTILES.items()
    ),
    "{chosen}": ", ".join(f"any_value({of}_{name}) AS {of}_{name}" for of in _DRAWN for name in QUANTILES),
}

By = Literal["all", "month", "calendar year", "fiscal year", "site", "kind"]


def energy_by(store: Store, by: By, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Wasted energy, its cost and emissions, one row per part; sites and kinds by kWh, times in order.

    Columns: part ('2024-05', '2024', 'FY 2024', a site or a kind), incidents, incident_ids, and low, central and
    high of excess_hours, kwh, cost (portfolio currency), co2e_kg (location-based), co2e_market_kg and co2e_losses_kg,
    with p5, p50 and p95 of all but the hours; and supplied_kwh_central, which a supplier's factor covers. A fiscal
    year is named by the calendar year in which it ends. A month that the period touches counts whole.

    Low counts from the first reports only, high back to the last visits that could have seen the fault: bounds, as if
    all incidents lay at one end together. p5 to p95 is the range of 90 % of the draws (docs/methods-energy.md), in
    which all incidents share one mean detection delay.
    """
    if by not in get_args(By):
        raise ValueError(f"by {by!r} is not one of {', '.join(get_args(By))}")
    first_month = facts(store).fiscal_year_start
    return query.frame(store, "energy_by", filters, texts=_RANGES, by=by, first_month=first_month)


def energy_left_out(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Incidents whose wasted energy could not be reckoned: symptom, left_out_reason, incidents, incident_ids."""
    return query.frame(store, "energy_left_out", filters)
