"""The tables on what wasted energy cost by the clock, and what it emitted by each method."""

from __future__ import annotations

from pipeline import figures
from pipeline.figures import Facts
from pipeline.figures.carbon import LOCATION_METHOD, LOSSES_METHOD, MARKET_METHOD, NO_LOSSES, NO_MARKET
from pipeline.figures.tariff_costs import DEMAND_METHOD
from pipeline.report.tables import Column, Table
from pipeline.store import Store


def tables(store: Store, info: Facts, years: tuple[str, str, str]) -> list[Table]:
    """Cost by tariff period, demand charges apart, emissions by year and method, and the factors in force.

    years : the kind of year, its heading, and its title.
    """
    return [_periods(store, info), _demand(store, info), _carbon(store, *years), _factors(store)]


def _periods(store: Store, info: Facts) -> Table:
    columns = (
        Column("tariff", "Tariff"),
        Column("since", "In force since", "date"),
        Column("period", "Period"),
        Column("when", "When, local clock"),
        Column("price_per_kwh", "Price", "estimate", f"{info.money}/kWh"),
        Column("excess_hours_central", "Hours lit by day", "estimate", "h"),
        Column("kwh_central", "Energy", "estimate", "kWh"),
        Column("cost_central", "Cost", "money", info.money, "cost_low", "cost_high"),
        Column("taxes", "Taxes"),
        Column("tax_cost_central", "Taxes on top, or within", "money", info.money),
    )
    note = f"Limits: least and most, as in the other tables. {figures.taxes_statement(store)}".strip()
    return Table(
        "cost_by_tariff_period", "Cost by tariff period", columns, figures.cost_by_period(store), note=note,
        if_empty="No energy is priced.",
    )  # fmt: skip


def _demand(store: Store, info: Facts) -> Table:
    columns = (
        Column("tariff", "Tariff"),
        Column("when", "Demand is measured, local clock"),
        Column("months", "Months of incidents", "count"),
        Column("demand_hours_central", "Hours lit by day in it", "estimate", "h"),
        Column(
            "demand_cost_central",
            "Demand charge, at most",
            "money",
            info.money,
            "demand_cost_low",
            "demand_cost_high",
        ),
    )
    none = (
        "No day burning fell into the hours in which demand is measured."
        if figures.has_demand_charge(store)
        else "No tariff gives a demand charge, so none is reckoned."
    )
    return Table(
        "demand_charges", "Demand charges, apart from the cost", columns, figures.demand_by_tariff(store),
        note=DEMAND_METHOD, if_empty=none,
    )  # fmt: skip


def _carbon(store: Store, by: str, head: str, title: str) -> Table:
    frame = figures.carbon_by(store, by)  # type: ignore[arg-type]
    columns, said = [Column("part", head), *_method("co2e", "Location-based")], [LOCATION_METHOD]
    if frame["co2e_market_kg_central"].notna().any():
        covered = Column("supplied_kwh_central", "Of it by suppliers' factors", "estimate", "kWh")
        columns += [*_method("co2e_market", "Market-based"), covered]
        said.append(MARKET_METHOD)
    else:
        said.append(NO_MARKET)
    if frame["co2e_losses_kg_central"].notna().any():
        columns += _method("co2e_losses", "Grid losses, apart")
        said.append(LOSSES_METHOD)
    else:
        said.append(NO_LOSSES)
    name = f"emissions_by_{by.replace(' ', '_')}"
    return Table(
        name, f"Emissions {title[0].lower()}{title[1:]}", tuple(columns), frame, note=" ".join(said),
        if_empty="No emissions could be reckoned.",
    )  # fmt: skip


def _method(name: str, title: str) -> list[Column]:
    return [
        Column(f"{name}_kg_central", title, "estimate", "kg CO2e", f"{name}_kg_p5", f"{name}_kg_p95"),
        Column(f"{name}_t_central", title, "estimate", "t CO2e"),
    ]


def _factors(store: Store) -> Table:
    columns = (
        Column("method", "Method"),
        Column("applies_to", "Grid region or account"),
        Column("for_years", "Energy of"),
        Column("value", "Factor", "estimate"),
        Column("unit", "Unit"),
        Column("factor_year", "Year of the factor"),
        Column("edition", "Edition"),
        Column("source", "Source"),
    )
    return Table(
        "emission_factors", "Emission factors in force", columns, figures.factors_in_force(store),
        if_empty="No site names a grid region, so no emissions could be reckoned.",
    )  # fmt: skip
