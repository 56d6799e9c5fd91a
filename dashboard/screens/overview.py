"""Overview: the figures that matter, how they moved, and what the data support."""

from __future__ import annotations

import streamlit as st

from dashboard import charts, parts
from dashboard.data import ask, build_facts, filters_in_force
from pipeline.figures import (
    data_level,
    energy_by,
    log_summary,
    monthly_activity,
    partial_years_text,
    wording,
)

SERIES = {
    "fault_calls": "lighting calls",
    "incidents": "incidents",
    "control_failures_expected": "control failures, expected",
    "planned_calls": "planned work orders, apart",
}


def main() -> None:
    """The landing page."""
    parts.head(
        "Lights that burn by day",
        "Which controls fail, what the light they left on has cost, and whether replacing them pays.",
    )
    level = ask(data_level)
    if level.level < 3:
        parts.box(f"What the data support: {level.name}", level.statement, level.next_step)
        _log_itself()
    parts.cards()
    confidence = wording.percent_text(build_facts().confidence)
    st.caption(
        f"Limits are {confidence} limits where a fit gives them; for energy they hold 90 % of the draws of when each "
        "incident began and ended. Every figure opens to its calls, every call to its file and row."
    )
    _over_time()
    if level.level >= 3:
        _log_itself()


def _log_itself() -> None:
    """What can be said without any register."""
    st.subheader("The log itself", anchor=False)
    parts.card_rows(ask(log_summary, filters_in_force()), at_most=4)


def _over_time() -> None:
    left, right = st.columns(2)
    months = ask(monthly_activity, filters_in_force())
    if not months.empty:
        with left:
            st.subheader("Calls and failures by month", anchor=False)
            parts.chart(charts.monthly(months, SERIES, "Number per month"), "months")
    years = ask(energy_by, "calendar year", filters_in_force())
    if not years.empty:
        with right:
            st.subheader("Energy wasted by year, with 90 % range", anchor=False)
            parts.chart(charts.wasted(years, "kwh", "Energy, kWh", "Calendar year"), "wasted")
            in_part = ask(partial_years_text, "calendar year", filters_in_force())
            if in_part:
                st.caption(in_part)


main()
