"""The section about replacing: totals by option, options by group, and their cash flows."""

from __future__ import annotations

import pandas as pd

from pipeline import figures
from pipeline.figures import Facts
from pipeline.payback.flows import REPLACE_NOW
from pipeline.report.section import Section
from pipeline.report.tables import Column, Table
from pipeline.store import Store

# A sentence for every row would make a page of a few lines each; groups that rest on the same share a number.
BASIS_NUMBER = Column("basis_number", "Basis", "row")
_FAILURE_LIMITS = ("expected_failures_lower", "expected_failures_upper")


def savings(store: Store, info: Facts) -> Section:
    """Totals of the options, and the options group by group."""
    totals = Table(
        "business_case", "Totals by option", _total_columns(info), figures.business_case(store),
        if_empty="No option could be priced: see 'what the data support'.",
    )  # fmt: skip
    both = figures.options_table(store)
    now = both[both["option"] == REPLACE_NOW].sort_values("net_savings", ascending=False, kind="stable")
    columns, bases = _option_columns(info), now["basis"].drop_duplicates().tolist()
    now = now.assign(basis_number=[bases.index(text) + 1 for text in now["basis"]])
    replace = Table(
        "replace_now", "Replace all now, by site and model, what saves most first",
        (*columns[:3], *columns[4:], BASIS_NUMBER), now,
        limit=40, if_empty="No replacement could be priced.",
    )  # fmt: skip
    basis = Table(
        "replace_now_basis", "What each basis is: the lives it rests on, and what is left out",
        (BASIS_NUMBER, Column("basis", "Lives from")),
        pd.DataFrame({"basis_number": range(1, len(bases) + 1), "basis": bases}), limit=40,
        if_empty="No replacement could be priced.",
    )  # fmt: skip
    options = Table("options", "Both options, by site, kind and model", columns, both, limit=0)
    flows = Table(
        "cash_flows",
        "Yearly cash flows of every option",
        _flow_columns(info),
        figures.cash_flow_table(store),
        limit=0,
    )
    prices = Table(
        "savings_prices", "Price of the energy that a failure wastes, by tariff", _price_columns(info),
        figures.savings_prices(store), if_empty="No tariff prices any load.",
        note="Mean over the hours outside the schedule in the year to the log's end, at its last day's prices. "
        "Energy on unmetered accounts is priced at 0. Demand charges are not in it.",
    )  # fmt: skip
    lead = (
        "Both options pay for every failure they leave: a visit, parts, and the energy burnt until it is mended. Net "
        "savings are against repair like for like; above 0 it pays. A quotation replaces the prices assumed here."
    )
    return Section(
        "savings", "Does replacing the controls pay?", lead, (totals, replace, basis, prices, options, flows)
    )


def _price_columns(info: Facts) -> tuple[Column, ...]:
    return (
        Column("tariff", "Tariff"),
        Column("sites", "Sites", "count"),
        Column("price_per_kwh_least", "Price, least", "estimate", f"{info.money}/kWh"),
        Column("price_per_kwh_most", "Price, most", "estimate", f"{info.money}/kWh"),
        Column("sites_without_price", "Sites without a price", "count"),
    )


def _total_columns(info: Facts) -> tuple[Column, ...]:
    return (
        Column("scope", "Where"),
        Column("option", "Option"),
        Column("groups", "Groups", "count"),
        Column("sites", "Sites", "count"),
        Column("controls", "Controls", "count"),
        Column("controls_without_energy", "Of these without energy, as not known", "count"),
        Column("investment_cost", "Paid at the start", "money", info.money),
        Column("expected_failures", "Failures over the study period", "estimate", "", *_FAILURE_LIMITS),
        Column("kwh", "Energy wasted over it", "estimate", "kWh"),
        Column("co2e_kg", "Emissions over it", "estimate", "kg CO2e"),
        Column("lcc_cost", "Life-cycle cost", "money", info.money),
        Column(
            "net_savings_cost",
            "Net savings",
            "money",
            info.money,
            "net_savings_lower_cost",
            "net_savings_upper_cost",
        ),
    )


def _option_columns(info: Facts) -> tuple[Column, ...]:
    return (
        Column("site", "Site"),
        Column("kind", "Kind", on_page=False),
        Column("model", "Model now"),
        Column("option", "Option"),
        Column("controls", "Controls", "count"),
        Column("controls_without_energy", "Of these without energy, as not known", "count", on_page=False),
        Column("connected_w", "Load", "estimate", "W"),
        Column("investment", "Paid at the start", "money", info.money),
        Column("expected_failures", "Failures over the study period", "estimate", "", *_FAILURE_LIMITS),
        Column("lcc", "Life-cycle cost", "money", info.money),
        Column("net_savings", "Net savings", "money", info.money, "net_savings_lower", "net_savings_upper"),
        Column("sir", "Savings to investment", "estimate"),
        Column("simple_payback_years", "Simple payback in year", "count"),
        Column("discounted_payback_years", "Discounted payback in year", "count"),
        Column("basis", "Lives from", on_page=False),
    )


def _flow_columns(info: Facts) -> tuple[Column, ...]:
    return (
        Column("site", "Site"),
        Column("control_kind", "Kind"),
        Column("model", "Model now"),
        Column("option", "Option"),
        Column("year", "Year", "count"),
        Column("kind", "Payment"),
        Column("cost", "Amount", "money", info.money),
    )
