"""Wasted energy: kWh, money and emissions of day burning, each with its range."""

from __future__ import annotations

from typing import cast

import pandas as pd
import streamlit as st

from dashboard import charts, meters_block, money_and_carbon, parts, statement_block
from dashboard import format as write
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import also_lost, energy_by, energy_left_out, partial_years_text, unreported_text
from pipeline.figures.energy import By
from pipeline.figures.headline_waste import BOUNDARY

PARTS = {
    "month": "Month",
    "calendar year": "Calendar year",
    "fiscal year": "Fiscal year",
    "site": "Site",
    "kind": "Kind of control",
}
QUANTITIES = {"kwh": "Energy, kWh", "cost": "Cost, {money}", "co2e_kg": "Emissions, kg CO2e"}
COLUMNS = {
    "part": Shown("Part"),
    "incidents": Shown("Incidents", write.count),
    "kwh_central": Shown("Energy, kWh", write.estimate),
    "kwh_range": Shown("90 % range, kWh"),
    "kwh_bounds": Shown("Bounds, kWh", help="All from the first report only, to all back to the last visit"),
    "cost_central": Shown("Cost, {money}", write.money, "Metered accounts only"),
    "cost_range": Shown("90 % range, {money}"),
    "co2e_kg_central": Shown("Emissions, kg CO2e", write.estimate, "Location-based"),
    "co2e_kg_range": Shown("90 % range, kg CO2e"),
    "excess_hours_central": Shown("Excess hours, h", write.estimate, "Hours lit outside the schedule"),
    "excess_hours_bounds": Shown("Bounds, h"),
}
LEFT_OUT = {
    "symptom": Shown("Symptom"),
    "left_out_reason": Shown("Why"),
    "incidents": Shown("Incidents", write.count),
}
MOST_BARS = 25


def main() -> None:
    """The page."""
    parts.head("Wasted energy", "How many kWh, how much money and how many kg CO2e went into day burning?")
    parts.cards("wasted_energy")
    unreported = ask(unreported_text, filters_in_force())
    boundary = f"{BOUNDARY} {unreported}" if unreported else BOUNDARY
    parts.box("What these figures hold", f"{boundary} A month that the period touches counts whole.")
    if ask(energy_by, "all", filters_in_force()).empty:
        parts.nothing(
            "No wasted energy could be reckoned here.",
            "It needs day burning at a known control whose load and site position are registered: "
            "see below what was left out, or choose a longer period.",
        )
    else:
        by = _by_part()
        money_and_carbon.money()
        money_and_carbon.emissions(by, PARTS[by])
    _also_lost()
    statement_block.show()
    _left_out()
    meters_block.show()


def _by_part() -> By:
    left, right = st.columns(2)
    by = cast(By, left.selectbox("By", list(PARTS), index=1, format_func=PARTS.__getitem__, key="energy_by"))
    money = build_facts().money
    quantity = right.selectbox(
        "Quantity",
        list(QUANTITIES),
        format_func=lambda q: QUANTITIES[q].replace("{money}", money),
        key="quantity",
    )
    frame = ask(energy_by, by, filters_in_force())
    unit = QUANTITIES[quantity].replace("{money}", money)
    shown = frame.head(MOST_BARS) if by == "site" else frame
    parts.chart(charts.wasted(shown, quantity, unit, PARTS[by]), "wasted")
    many = (
        f" The {MOST_BARS} sites with most energy are drawn; the table has all."
        if len(shown) < len(frame)
        else ""
    )
    st.caption(
        f"Bars: central value. Whiskers: the range of 90 % of the draws of when each incident began and ended.{many} "
        "Bounds: all lit from the first report only, to all lit back to the last visit that could have seen it. "
        f"{_parts_not_whole(by)}"
    )
    columns, name = COLUMNS | {"part": Shown(PARTS[by])}, f"wasted-by-{by.replace(' ', '-')}"
    picked = parts.table(_with_ranges(frame, money), columns, name, pick=True)
    if picked is None:
        st.caption("Choose a row to open the calls behind it.")
    else:
        row = frame.iloc[picked]
        parts.calls_of(row["incident_ids"], f"wasted energy, {row['part']}", "wasted_calls")
    return by


def _parts_not_whole(by: By) -> str:
    if by == "calendar year" or by == "fiscal year":
        return ask(partial_years_text, by, filters_in_force())
    return "A part before the log began holds what may have begun to burn before its first report."


def _with_ranges(frame: pd.DataFrame, money: str) -> pd.DataFrame:
    for name in ("kwh", "cost", "co2e_kg"):
        unit = money if name == "cost" else ""
        frame = write.with_limits(frame, f"{name}_range", f"{name}_p5", f"{name}_p95", unit)
    for name in ("kwh", "excess_hours"):
        frame = write.with_limits(frame, f"{name}_bounds", f"{name}_low", f"{name}_high")
    return frame


def _also_lost() -> None:
    st.header("Also lost", anchor=False)
    parts.card_rows(list(ask(also_lost, filters_in_force())))


def _left_out() -> None:
    st.header("Left out", anchor=False)
    frame = ask(energy_left_out, filters_in_force())
    if frame.empty:
        parts.nothing("No incident was left out.")
        return
    st.caption("Incidents whose energy could not be reckoned: the true figure is higher.")
    parts.prose_table(frame, LEFT_OUT, "left-out")
    for number, row in enumerate(frame.to_dict("records")):
        parts.calls_of(
            row["incident_ids"], f"{row['symptom']}, {row['left_out_reason']}", f"left_out_{number}"
        )


main()
