"""The statement for one year on the page Wasted energy: amounts, top sites, how it was reckoned, what has moved."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, ask_of, build_in_force, filters_in_force, portfolio_folder, previous_build
from dashboard.format import Shown
from pipeline.faults import InputFaults
from pipeline.figures import (
    Period,
    Statement,
    changed_inputs,
    changed_years,
    energy_by,
    inputs_read,
    kind_of_year,
    periods,
    statement,
    statement_notes,
)
from pipeline.store import StageError

AMOUNTS = {
    "quantity": Shown("Quantity"),
    "unit": Shown("Unit"),
    "central": Shown("Central", write.estimate),
    "range": Shown("90 % range"),
    "bounds": Shown("Bounds"),
}
SITES = {
    "part": Shown("Site"),
    "share": Shown("Share of the year", write.percent),
    "kwh_central": Shown("Energy, kWh", write.estimate),
    "kwh_range": Shown("90 % range, kWh"),
    "incidents": Shown("Incidents", write.count),
}
YEARS_MOVED = {
    "part": Shown("Year"),
    **{
        f"{name}_{when}": Shown(f"{label}, {when}", write.estimate)
        for name, label in (("kwh", "kWh"), ("cost", "{money}"), ("co2e_kg", "kg CO2e"))
        for when in ("before", "now", "change")
    },
}
INPUTS_MOVED = {"what": Shown("What"), "before": Shown("Build before"), "now": Shown("This build")}


def show() -> None:
    """The block; nothing where the log is empty."""
    st.header("Statement for a year", anchor=False)
    years = ask(periods)
    if not years:
        parts.nothing("The log is empty.", "Put exports into calls/ and build again.")
        return
    first = next((at for at, year in enumerate(years) if year.complete), 0)
    at = int(
        st.selectbox(
            "Year of the statement",
            range(len(years)),
            first,
            format_func=lambda n: years[n].label,
            key="statement",
        )
        or 0
    )
    told = ask(statement, years[at], filters_in_force())
    notes = ask(statement_notes, told, filters_in_force())
    parts.box(f"{years[at].label}: how to read it", *(f"{note.about}: {note.says}" for note in notes))
    if told.amounts.empty:
        parts.nothing("No wasted energy could be reckoned in this year.", "Choose another year above.")
    else:
        _amounts(told)
        parts.calls_of(told.incident_ids, f"Statement of {years[at].label}", "statement_calls")
        _top_sites(told)
    _moved(years[at])


def _amounts(told: Statement) -> None:
    amounts = write.with_limits(told.amounts, "range", "p5", "p95")
    parts.prose_table(write.with_limits(amounts, "bounds", "low", "high"), AMOUNTS, "statement")


def _top_sites(told: Statement) -> None:
    st.subheader("Top sites of the year", anchor=False)
    parts.prose_table(
        write.with_limits(told.sites, "kwh_range", "kwh_p5", "kwh_p95"), SITES, "statement-sites"
    )


def _moved(year: Period) -> None:
    st.subheader("What moved since the build before", anchor=False)
    before = previous_build(portfolio_folder())
    if before is None:
        parts.nothing("There is no earlier build to compare with.", "It is kept from the next build on.")
        return
    by = kind_of_year(year)
    try:
        old_years, old_inputs = ask_of(before, energy_by, by, filters_in_force()), ask_of(before, inputs_read)
    except (StageError, InputFaults):
        parts.nothing("The build before was made by another version.", "Compare after the next build.")
        return
    now = build_in_force()
    moved = changed_years(old_years, ask_of(now, energy_by, by, filters_in_force()))
    inputs = changed_inputs(old_inputs, ask_of(now, inputs_read))
    _compared(moved, YEARS_MOVED, "No year's energy, cost or emissions differ.", "statement-moved")
    _compared(
        inputs, INPUTS_MOVED, "No file, setting, register length or decision differs.", "statement-inputs"
    )


def _compared(frame: pd.DataFrame, columns: dict[str, Shown], same: str, name: str) -> None:
    if frame.empty:
        st.caption(same)
    else:
        parts.table(frame, columns, name)
