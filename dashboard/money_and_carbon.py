"""The parts of the page on wasted energy that say what it cost by the clock, and what it emitted by each method."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import (
    carbon_by,
    cost_by_period,
    demand_by_tariff,
    factors_in_force,
    has_demand_charge,
    taxes_statement,
)
from pipeline.figures.carbon import (
    LOCATION_METHOD,
    LOSSES_METHOD,
    MARKET_METHOD,
    NO_LOSSES,
    NO_MARKET,
)
from pipeline.figures.energy import By
from pipeline.figures.tariff_costs import DEMAND_METHOD

PERIODS = {
    "tariff": Shown("Tariff"),
    "since": Shown("In force since", write.day, "– : from ever"),
    "period": Shown("Period"),
    "when": Shown("When, local clock"),
    "price_per_kwh": Shown("Price, {money}/kWh", write.estimate),
    "excess_hours_central": Shown("Excess hours, h", write.estimate, "Added up over incidents"),
    "kwh_central": Shown("Energy, kWh", write.estimate),
    "cost_central": Shown("Cost, {money}", write.money),
    "cost_bounds": Shown("Bounds, {money}"),
    "taxes": Shown("Taxes"),
    "tax_cost_central": Shown(
        "Taxes, {money}", write.money, "On top of the cost, or within it where prices hold taxes"
    ),
}
DEMAND = {
    "tariff": Shown("Tariff"),
    "when": Shown("Demand is measured, local clock"),
    "months": Shown("Months of incidents", write.count),
    "demand_hours_central": Shown("Excess hours in it, h", write.estimate),
    "demand_cost_central": Shown("Demand charge at most, {money}", write.money),
    "demand_cost_bounds": Shown("Bounds, {money}"),
}
CARBON = {
    "part": Shown("Part"),
    "co2e_kg_central": Shown("Location-based, kg CO2e", write.estimate),
    "co2e_t_central": Shown("Location-based, t CO2e", write.estimate),
    "co2e_range": Shown("90 % range, kg CO2e"),
    "co2e_market_kg_central": Shown("Market-based, kg CO2e", write.estimate),
    "co2e_market_t_central": Shown("Market-based, t CO2e", write.estimate),
    "co2e_market_range": Shown("90 % range, kg CO2e "),
    "supplied_kwh_central": Shown("Of it by suppliers' factors, kWh", write.estimate),
    "co2e_losses_kg_central": Shown("Grid losses, kg CO2e", write.estimate, "Apart: not part of Scope 2"),
    "co2e_losses_t_central": Shown("Grid losses, t CO2e", write.estimate),
}
FACTORS = {
    "method": Shown("Method"),
    "applies_to": Shown("Grid region or account"),
    "for_years": Shown("Energy of"),
    "value": Shown("Factor", write.estimate),
    "unit": Shown("Unit"),
    "factor_year": Shown("Year of the factor", lambda year: "–" if pd.isna(year) else f"{int(year)}"),
    "edition": Shown("Edition"),
    "source": Shown("Source"),
}


def money() -> None:
    """Cost by tariff period, whether taxes are in it, and demand charges on a line of their own."""
    st.header("Cost by tariff period", anchor=False)
    frame = ask(cost_by_period, filters_in_force())
    st.caption(
        "Energy is priced by the local clock hours in which it burnt, so day burning falls on day rates. "
        f"{ask(taxes_statement)} Unmetered accounts cost energy and emissions, not money."
    )
    frame = write.with_limits(frame, "cost_bounds", "cost_low", "cost_high", build_facts().money)
    parts.table(frame, PERIODS, "cost-by-tariff-period")
    st.subheader("Demand charges, apart", anchor=False)
    if not ask(has_demand_charge):
        parts.nothing(
            "No tariff gives a demand charge, so none is reckoned.",
            "Give demand under a tariff in portfolio.toml to see what day burning can have added at most.",
        )
        return
    st.caption(DEMAND_METHOD)
    demand = ask(demand_by_tariff, filters_in_force())
    demand = write.with_limits(
        demand, "demand_cost_bounds", "demand_cost_low", "demand_cost_high", build_facts().money
    )
    parts.table(demand, DEMAND, "demand-charges")


def emissions(by: By, part: str) -> None:
    """Both carbon figures with their method, grid losses apart, and the factors in force."""
    st.header("Emissions by method", anchor=False)
    frame = ask(carbon_by, by, filters_in_force())
    market, losses = (
        bool(frame[f"{method}_kg_central"].notna().any()) for method in ("co2e_market", "co2e_losses")
    )
    methods = {LOCATION_METHOD: True, MARKET_METHOD: market, LOSSES_METHOD: losses}
    st.caption(" ".join(method for method, given in methods.items() if given))
    if not market:
        parts.nothing(
            NO_MARKET, "Give factors by account and year under supplier_emissions in portfolio.toml."
        )
    if not losses:
        parts.nothing(NO_LOSSES, "Give loss_percent with its year and source under grid_losses.")
    for method in ("co2e", "co2e_market"):
        frame = write.with_limits(frame, f"{method}_range", f"{method}_kg_p5", f"{method}_kg_p95")
    given = {"co2e_market": market, "supplied": market, "co2e_losses": losses}
    shown = {
        name: column
        for name, column in CARBON.items()
        if all(has for start, has in given.items() if name.startswith(start)) or name == "part"
    }
    parts.table(frame, shown | {"part": Shown(part)}, "emissions-by-method")
    st.caption("Factors in force:")
    parts.prose_table(ask(factors_in_force), FACTORS, "factors-in-force")
