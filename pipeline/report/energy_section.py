"""The section about wasted energy: by year, by site, what was left out, and the emission factors."""

from __future__ import annotations

import pandas as pd

from pipeline import figures
from pipeline.figures import Facts
from pipeline.report import charts, money_and_carbon
from pipeline.report.section import Section
from pipeline.report.tables import Column, Style, Table
from pipeline.store import Store


def energy(store: Store, info: Facts) -> Section:
    """Energy, money and emissions by year, site and month."""
    years = [("calendar year", "Calendar year", "By calendar year")]
    if info.fiscal_year_start != 1:
        years.insert(0, ("fiscal year", "Fiscal year", "By fiscal year, named by the year in which it ends"))
    parts = [*years, ("site", "Site", "By site, the largest first"), ("month", "Month", "By month")]
    tables = [
        Table(
            f"energy_by_{by.replace(' ', '_')}", title, (Column("part", head), *_burn_columns(info)),
            figures.energy_by(store, by), limit=0 if by == "month" else 20,  # type: ignore[arg-type]
            if_empty="No incident with a known load and place wasted energy.",
        )
        for by, head, title in parts
    ]  # fmt: skip
    tables += [*money_and_carbon.tables(store, info, years[0]), _also_lost(store), _left_out(store)]
    lead = (
        "When each incident began and ended is not known to the day. Central assumes the stated detection delay before "
        "the first report. Limits hold 90 % of the draws, in which one mean delay is drawn for all incidents and then "
        "each one's own. Least: all lit from the first report only; most: back to the last visit that could have "
        "seen it. Energy is priced by the local clock hours in which it burnt; unmetered accounts cost no money. It is "
        "dated by when it burnt, so a little lies before the log's first report. "
        f"{figures.partial_years_text(store, years[0][0])}"  # type: ignore[arg-type]
    ).strip()
    by_year = figures.energy_by(store, years[0][0])  # type: ignore[arg-type]
    chart = charts.energy(by_year, years[0][1])
    return Section("energy", "How much energy did day burning waste?", lead, tuple(tables), chart)


def _burn_columns(info: Facts) -> tuple[Column, ...]:
    return (
        Column("incidents", "Incidents", "count"),
        Column("excess_hours_central", "Hours lit by day", "estimate", "h"),
        _ranged("kwh", "Energy", "estimate", "kWh"),
        _ranged("cost", "Cost", "money", info.money),
        _ranged("co2e_kg", "Emissions", "estimate", "kg CO2e"),
        Column("kwh_low", "Energy, least", "estimate", "kWh"),
        Column("kwh_high", "Energy, most", "estimate", "kWh"),
    )


def _ranged(name: str, title: str, style: Style, unit: str) -> Column:
    return Column(f"{name}_central", title, style, unit, f"{name}_p5", f"{name}_p95")


def _also_lost(store: Store) -> Table:
    columns = (
        Column("what", "What"), Column("unit", "Unit"),
        Column("value", "Central, with bounds", "estimate", "", "low", "high"), Column("note", "How to read it"),
    )  # fmt: skip
    told = [part for figure in figures.also_lost(store) for part in figure.flat()]
    rows = [
        {
            "what": one.label,
            "unit": one.unit,
            "value": one.value,
            "low": one.low,
            "high": one.high,
            "note": one.note,
        }
        for one in told
    ]
    return Table("also_lost", "Also lost, apart from the energy", columns, pd.DataFrame(rows))


def _left_out(store: Store) -> Table:
    columns = (
        Column("symptom", "Symptom"), Column("left_out_reason", "Why"), Column("incidents", "Incidents", "count"),
    )  # fmt: skip
    return Table(
        "energy_left_out", "Left out: energy that could not be reckoned", columns, figures.energy_left_out(store),
        if_empty="None.",
    )  # fmt: skip
