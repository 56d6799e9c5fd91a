"""Emissions of the wasted energy by each method, in kilograms and tonnes CO2e."""

from __future__ import annotations

import pandas as pd

from pipeline.figures.energy import By, energy_by
from pipeline.figures.figure import Figure
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.wording import number_text
from pipeline.store import Store

KG_PER_T = 1000
LOCATION_METHOD = (
    "Location-based: energy times the average factor of the grid where it was used, of the year in which it "
    "burnt."
)
MARKET_METHOD = (
    "Market-based: energy of an account and year by its supplier's factor, where one is given; all other energy "
    "by the location-based factor."
)
LOSSES_METHOD = (
    "Grid losses: what was generated besides and lost on the way, by the location-based factor. Not part of "
    "Scope 2."
)
NO_MARKET = "No supplier's factor is given, so there is no market-based figure."
NO_LOSSES = "No rate of grid loss is given or published for these regions."
_METHODS = ("co2e", "co2e_market", "co2e_losses")


def carbon_by(store: Store, by: By, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Emissions by part (as energy_by): location-based (co2e), market-based (co2e_market), grid losses (co2e_losses).

    Columns: part, kwh_central, supplied_kwh_central (what a supplier's factor covers), and for each method
    _kg_central with _kg_p5 and _kg_p95 (90 % of the draws) and _t_central. Missing where a method has no factor.
    """
    frame = energy_by(store, by, filters)
    names = [f"{method}_kg_{level}" for method in _METHODS for level in ("central", "p5", "p95")]
    shown = frame[["part", "kwh_central", "supplied_kwh_central", *names]].copy()
    for method in _METHODS:
        shown[f"{method}_t_central"] = shown[f"{method}_kg_central"].astype(float) / KG_PER_T
    return shown


def market_based(row: pd.Series) -> tuple[Figure, ...]:
    """The market-based emissions of a row of energy_by as a figure; none where no supplier's factor is given."""
    names = [f"co2e_market_kg_{level}" for level in ("central", "p5", "p95")]
    if pd.isna(row[names[0]]):
        return ()
    covered = number_text(float(row["supplied_kwh_central"]))
    note = f"Suppliers' factors for {covered} kWh, the grid's for the rest."
    central, low, high = (None if pd.isna(row[name]) else float(row[name]) for name in names)
    return (Figure("wasted_co2e_market", "Emissions, market-based", "kg CO2e", central, low, high, note),)
