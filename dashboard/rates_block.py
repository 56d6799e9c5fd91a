"""A block on rates without ages, and on growth from year to year."""

from __future__ import annotations

import streamlit as st

from dashboard import charts, parts
from dashboard import format as write
from dashboard.data import ask, filters_in_force
from dashboard.format import Shown
from pipeline.figures import (
    RATE_PARTS,
    activity_with_exposure,
    count_trends,
    incident_rates,
    incidents_of_part,
)

RATES = {
    "label": Shown("Part"),
    "failures_per_100_control_years": Shown("Failures per 100 control-years", write.estimate),
    "failure_limits": Shown("Limits"),
    "failures": Shown("Failures", write.count, "Controls, ages known or not"),
    "incidents_per_100_control_years": Shown(
        "Incidents per 100 control-years", write.estimate, "Of any cause"
    ),
    "incident_limits": Shown("Limits of incidents"),
    "incidents": Shown("Incidents", write.count),
    "control_years": Shown("Control-years", write.estimate, "Under observation"),
    "unlike_the_rest_p": Shown(
        "Unlike the rest, p",
        write.chance,
        "Chance of so great a difference from all others, adjusted for all parts",
    ),
}
TRENDS = {
    "what": Shown("Counted"),
    "percent_a_year": Shown("Change, % a year", write.estimate),
    "limits": Shown("Limits, % a year"),
    "percent_a_year_per_control": Shown(
        "Per control, % a year", write.estimate, "Growth of the fleet taken out"
    ),
    "control_limits": Shown("Limits per control, % a year"),
    "total": Shown("Total", write.count),
    "months": Shown("Whole months", write.count),
    "model": Shown("Regression", help="Negative binomial where the counts vary more than Poisson"),
    "dispersion": Shown("Dispersion", write.estimate, "1 is Poisson"),
    "season": Shown("Season"),
    "note": Shown("Note"),
}
MONTHLY = {
    "incidents_per_100_controls": "incidents",
    "control_failures_per_100_controls": "control failures, hard count",
}
PART_NAMES = {
    "kind": "Kind", "model": "Model", "switching": "Switching", "lamp": "Lamps", "model and lamp": "Model and lamps",
    "site": "Site",
}  # fmt: skip


def rates_and_growth() -> None:
    """Rates by part, and the growth of monthly counts."""
    st.header("Rates and growth, ages known or not", anchor=False)
    by = str(st.selectbox("Rates by", RATE_PARTS, format_func=PART_NAMES.__getitem__, key="rates_by"))
    rates = ask(incident_rates, by, filters_in_force())
    if rates.empty:
        parts.nothing(
            "No control is under observation here.",
            "Rates need controls with their sites in controls.csv, or a longer period, or other sites and kinds.",
        )
    else:
        for name, what in (("failure_limits", "failures"), ("incident_limits", "incidents")):
            column = f"{what}_per_100_control_years"
            rates = write.with_limits(rates, name, f"{column}_lower", f"{column}_upper")
        row = parts.table(
            rates, RATES | {"label": Shown(PART_NAMES[by])}, f"rates-by-{by.replace(' ', '-')}", pick=True
        )
        st.caption(
            "Exact Poisson limits. With many parts some look extreme by chance: the last column allows for that; below "
            "0.05 a part truly differs from the rest. Choose a row to open its calls."
        )
        if row is not None and st.button("Calls of the chosen part's incidents"):
            key = str(rates["part"].iloc[row])
            label = f"Incidents of {rates['label'].iloc[row]}"
            parts.look_at(ask(incidents_of_part, by, key, filters_in_force()), label)
    _growth()


def _growth() -> None:
    trends = ask(count_trends, filters_in_force())
    if trends.empty:
        return
    st.subheader("From year to year", anchor=False)
    months = ask(activity_with_exposure, filters_in_force())
    if months["controls_observed"].gt(0).any():
        parts.chart(charts.monthly(months, MONTHLY, "Number per 100 controls and month"), "per-control")
    trends = write.with_limits(trends, "limits", "percent_a_year_lower", "percent_a_year_upper")
    trends = write.with_limits(
        trends, "control_limits", "percent_a_year_per_control_lower", "percent_a_year_per_control_upper"
    )
    parts.prose_table(trends, TRENDS, "growth")
    st.caption(
        "Whole months only. Growth per control takes out that more controls were watched; reporting may have changed "
        "too."
    )
