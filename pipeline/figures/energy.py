"""Energy that lamps wasted by day, added up by month, year, site or kind."""

from __future__ import annotations

from typing import Literal, get_args

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store

By = Literal["all", "month", "calendar year", "fiscal year", "site", "kind"]


def energy_by(store: Store, by: By, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Wasted energy, its cost and emissions, one row per part; sites and kinds by kWh, times in order.

    Columns: part ('2024-05', '2024', 'FY 2024', a site or a kind), incidents, and low, central and high of
    excess_hours, kwh, cost (portfolio currency), co2e_kg. A fiscal year is named by the calendar year in which
    it ends. A month that the period touches counts whole. The lows (and the highs) of the incidents are added
    as they stand, as if all were low together: a wide range, on the safe side.
    """
    if by not in get_args(By):
        raise ValueError(f"by {by!r} is not one of {', '.join(get_args(By))}")
    return query.frame(store, "energy_by", filters, by=by, first_month=facts(store).fiscal_year_start)


def energy_left_out(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Incidents that wasted energy which could not be reckoned: left_out_reason, incidents."""
    return query.frame(store, "energy_left_out", filters)
