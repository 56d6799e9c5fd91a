"""Business case: does replacing the controls pay, site by site and in total?"""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd
import streamlit as st

from dashboard import charts, parts
from dashboard import format as write
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import business_case, options_table, savings_prices
from pipeline.figures.cumulative import cumulative_net_flow
from pipeline.payback.flows import REPLACE_NOW

SAVINGS = Shown("Net savings, {money}", write.money, "Against repair like for like, present value")
SAVINGS_LIMITS = Shown("Net savings limits, {money}")
WITHOUT_ENERGY = Shown(
    "Controls without energy",
    write.count,
    "Their load, its price or the hours that a failure wastes are not known",
)
OVER_THE_YEARS = {
    "expected_failures": Shown("Failures expected", write.estimate, "Over the study period"),
    "failure_limits": Shown("Failure limits"),
    "kwh": Shown("Energy wasted, kWh", write.estimate, "Over the study period"),
    "co2e_kg": Shown("Emissions, kg CO2e", write.estimate, "Over the study period"),
}
TOTALS = {
    "scope": Shown("Where"),
    "option": Shown("Option"),
    "investment_cost": Shown("Paid at the start, {money}", write.money),
    "net_savings_cost": SAVINGS,
    "savings_limits": SAVINGS_LIMITS,
    "groups": Shown("Groups", write.count, "Of site, kind and model"),
    "sites": Shown("Sites", write.count),
    "controls": Shown("Controls", write.count),
    "controls_without_energy": WITHOUT_ENERGY,
    "lcc_cost": Shown("Life-cycle cost, {money}", write.money, "Present value"),
} | OVER_THE_YEARS
OPTIONS = {
    "site": Shown("Site"),
    "model": Shown("Model in place"),
    "option": Shown("Option"),
    "controls": Shown("Controls", write.count),
    "investment": Shown("Paid at the start, {money}", write.money),
    "net_savings": SAVINGS,
    "savings_limits": SAVINGS_LIMITS,
    "sir": Shown("SIR", write.estimate, "Savings-to-investment ratio: pays above 1"),
    "airr": Shown("AIRR, per year", write.percent, "Adjusted internal rate of return"),
    "simple_payback_years": Shown(
        "Simple payback in year",
        write.count,
        "First year by whose end it has paid for itself, not discounted",
    ),
    "discounted_payback_years": Shown(
        "Discounted payback in year", write.count, "The same, with amounts discounted to the base date"
    ),
    "kind": Shown("Kind"),
    "lcc": Shown("Life-cycle cost, {money}", write.money, "Present value"),
    "connected_w": Shown("Load, W", write.estimate),
    "controls_without_energy": WITHOUT_ENERGY,
    "basis": Shown("Basis of the lives"),
} | OVER_THE_YEARS
ON_PAPER = (
    "site", "model", "option", "controls", "investment", "net_savings", "savings_limits", "sir", "simple_payback_years",
    "controls_without_energy",
)  # fmt: skip
PRICES = {
    "tariff": Shown("Tariff"),
    "sites": Shown("Sites", write.count),
    "price_per_kwh_least": Shown("Price, least, {money}/kWh", write.estimate),
    "price_per_kwh_most": Shown("Price, most, {money}/kWh", write.estimate),
    "sites_without_price": Shown("Sites without a price", write.count),
}
FLOWS = {
    "year": Shown("Year", write.count),
    "cost": Shown("Paid, {money}", write.money),
    "net_flow_cost": Shown("Net flow, {money}", write.money),
    "cumulative_net_flow_cost": Shown("Added up, {money}", write.money),
}


class Group(NamedTuple):
    """A priced group."""

    site_id: str
    site: str
    kind: str
    model: str


def main() -> None:
    """The page."""
    parts.head(
        "Business case", "What does it cost to repair like for like, and to replace?", with_period=False
    )
    parts.cautions()
    options = ask(options_table, filters_in_force())
    if options.empty:
        parts.nothing(
            "No option could be priced here.",
            "That needs controls with a known load and a life or rate, and prices in portfolio.toml: "
            "see What was read for the next step, or choose other sites and kinds.",
        )
        return
    parts.cards("net_savings")
    _totals()
    _options(options)
    _one_group(options)
    _prices()


def _prices() -> None:
    """What the energy that a failure wastes is priced at."""
    st.header("Price of the energy wasted", anchor=False)
    st.caption(
        "Mean over the hours outside the schedule in the year to the log's end, at its last day's prices; 0 on "
        "unmetered accounts. Demand charges are not in it."
    )
    parts.prose_table(ask(savings_prices, filters_in_force()), PRICES, "price-of-energy-wasted")


def _totals() -> None:
    st.header("In total", anchor=False)
    totals = ask(business_case, filters_in_force())
    totals = write.with_limits(
        totals, "savings_limits", "net_savings_lower_cost", "net_savings_upper_cost", build_facts().money
    )
    totals = write.with_limits(totals, "failure_limits", "expected_failures_lower", "expected_failures_upper")
    with parts.screen_only("totals"):
        parts.table(totals, TOTALS, "totals")
    parts.paper_only(write.plain_table(totals, TOTALS, build_facts().money, "Totals by option"))
    first = totals.iloc[0]
    rate = write.percent(first["discount_rate"])
    st.caption(
        f"Over {int(first['years'])} years at a real discount rate of {rate} per year. "
        "Limits follow the fitted lives, all groups at the same end together; prices are taken as given."
    )


def _options(options: pd.DataFrame) -> None:
    st.header("Site by site", anchor=False)
    both = st.toggle("Show repair like for like too", key="both_options")
    shown = options if both else options[options["option"] == REPLACE_NOW]
    if shown.empty:
        parts.nothing(
            "No group here has a priced replacement.",
            "Either its controls are rated already, or portfolio.toml has no rated_control_cost for its kind.",
        )
        return
    money = build_facts().money
    shown = write.with_limits(shown, "savings_limits", "net_savings_lower", "net_savings_upper", money)
    shown = write.with_limits(shown, "failure_limits", "expected_failures_lower", "expected_failures_upper")
    columns = OPTIONS if both else {name: column for name, column in OPTIONS.items() if name != "option"}
    with parts.screen_only("options"):
        parts.table(shown, columns, "options")
    on_paper = {name: column for name, column in columns.items() if name in ON_PAPER}
    parts.paper_only(write.plain_table(shown, on_paper, money, "Site by site, what saves most first"))


def _one_group(options: pd.DataFrame) -> None:
    priced = options[options["option"] == REPLACE_NOW]
    if priced.empty:
        return
    st.header("One group, year by year", anchor=False)
    rows = priced[["site_id", "site", "kind", "model"]].itertuples(index=False)
    groups = [Group(*row) for row in rows]
    group = st.selectbox("Group", groups, format_func=lambda g: f"{g.site}: {g.kind}, {g.model}", key="group")
    flow = ask(cumulative_net_flow, group.site_id, group.kind, group.model)
    row = priced.iloc[groups.index(group)]
    parts.chart(charts.cash_flow(flow, build_facts().money, int(row["years"])), "cash")
    st.caption(
        "Replace all now against repair like for like, at the central fit, in constant money without discounting. "
        "Where the line crosses zero the replacement has paid for itself."
    )
    parts.box("Where the lives come from", str(row["basis"]))
    with st.expander("The years as a table"):
        parts.table(flow, FLOWS, "cash-flow")


main()
