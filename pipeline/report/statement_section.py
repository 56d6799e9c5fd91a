"""The statement of each year, and what moved since the build before."""

from __future__ import annotations

from typing import Literal

import pandas as pd

from pipeline import figures
from pipeline.figures import Facts, Statement
from pipeline.figures.energy import By
from pipeline.figures.headline_waste import BOUNDARY
from pipeline.figures.statement import METHOD, UNCERTAINTY
from pipeline.report.section import Section
from pipeline.report.tables import Column, Style, Table
from pipeline.store import StageError, Store

Year = Literal["calendar year", "fiscal year"]
NO_BUILD_BEFORE = "There is no earlier build to compare with."
OTHER_VERSION = "The build before was made by another version, so it is not compared."


def statements(store: Store, info: Facts, before: Store | None) -> Section:
    """Every calendar year, and every fiscal year where that is another, the newest first."""
    kinds: list[Year] = ["calendar year"] if info.fiscal_year_start == 1 else ["fiscal year", "calendar year"]
    told = {kind: figures.statements(store, kind) for kind in kinds}
    unreported = figures.unreported_text(store)
    boundary = f"{BOUNDARY} {unreported}" if unreported else BOUNDARY
    lead = (
        f"{METHOD} {boundary} {UNCERTAINTY} Assumptions, factors and prices stand in their own tables below."
    )
    amounts = (_amounts(kind, years, info) for kind, years in told.items())
    tables = (*amounts, _sites(told[kinds[0]]), *_moved(store, info, before))
    return Section("statement", "What is to be stated for each year?", lead, tables)


def _amounts(kind: Year, told: list[Statement], info: Facts) -> Table:
    columns = (
        Column("year", "Year"), _ranged("kwh", "Energy", "kWh"), _ranged("cost", "Cost", info.money, "money"),
        _ranged("co2e_kg", "Emissions, location-based", "kg CO2e"), _ranged("co2e_t", "The same", "t CO2e"),
        _ranged("co2e_market_kg", "Emissions, market-based", "kg CO2e"),
        Column("co2e_losses_kg_central", "Grid losses, not in Scope 2", "estimate", "kg CO2e"),
        Column("hours_central", "Hours lit out of schedule", "estimate", "h"),
        Column("incidents", "Incidents", "count"), Column("coverage", "Coverage"),
    )  # fmt: skip
    names = [part.name for column in columns for part in column.parts()]
    frame = pd.DataFrame([_row(one) for one in told], columns=names)
    key = f"statement_{kind.replace(' ', '_')}s"
    return Table(key, f"By {kind}", columns, frame, limit=60, if_empty="No year.")


def _ranged(key: str, title: str, unit: str, style: Style = "estimate") -> Column:
    return Column(f"{key}_central", title, style, unit, f"{key}_p5", f"{key}_p95")


def _row(one: Statement) -> dict[str, object]:
    amounts = {
        f"{amount['key']}_{level}": amount[level]
        for amount in one.amounts.to_dict("records")
        for level in ("central", "p5", "p95")
    }
    return {"year": one.year.label, "incidents": one.incidents, "coverage": one.coverage} | amounts


def _sites(told: list[Statement]) -> Table:
    frames = [one.sites.assign(year=one.year.label) for one in told]
    columns = (
        Column("year", "Year"), Column("part", "Site"), Column("share", "Share of the year", "share"),
        Column("kwh_central", "Energy", "estimate", "kWh", "kwh_p5", "kwh_p95"),
        Column("incidents", "Incidents", "count"),
    )  # fmt: skip
    whole = any(one.year.complete for one in told)
    title = "Top sites of the newest whole year" if whole else "Top sites of the newest year"
    return Table("statement_sites", title, columns, _joined(frames, columns), limit=20)


def _joined(frames: list[pd.DataFrame], columns: tuple[Column, ...]) -> pd.DataFrame:
    filled = [frame for frame in frames if not frame.empty]
    names = [part.name for column in columns for part in column.parts()]
    return pd.concat(filled, ignore_index=True) if filled else pd.DataFrame(columns=names)


def _moved(store: Store, info: Facts, before: Store | None) -> tuple[Table, Table]:
    note, years, inputs = NO_BUILD_BEFORE, None, None
    by: By = "fiscal year" if info.fiscal_year_start != 1 else "calendar year"
    if before is not None:
        try:
            years = figures.changed_years(figures.energy_by(before, by), figures.energy_by(store, by))
            inputs = figures.changed_inputs(figures.inputs_read(before), figures.inputs_read(store))
            note = "Nothing differs."
        except StageError:
            note = OTHER_VERSION
    return _years_moved(years, info, note), _inputs_moved(inputs, note)


def _years_moved(years: pd.DataFrame | None, info: Facts, note: str) -> Table:
    of: tuple[tuple[str, str, Style, str], ...] = (
        ("kwh", "Energy", "estimate", "kWh"), ("cost", "Cost", "money", info.money),
        ("co2e_kg", "Emissions", "estimate", "kg CO2e"),
    )  # fmt: skip
    columns = (
        Column("part", "Year"),
        *(
            Column(f"{name}_{when}", f"{title}, {when}", style, unit)
            for name, title, style, unit in of
            for when in ("before", "now", "change")
        ),
    )
    frame = years if years is not None else pd.DataFrame(columns=[column.name for column in columns])
    return Table("statement_moved", "What moved since the build before", columns, frame, if_empty=note)


def _inputs_moved(inputs: pd.DataFrame | None, note: str) -> Table:
    columns = (Column("what", "What"), Column("before", "Build before"), Column("now", "This build"))
    frame = inputs if inputs is not None else pd.DataFrame(columns=["what", "before", "now"])
    return Table(
        "statement_inputs", "Inputs that differ from the build before", columns, frame, if_empty=note
    )
