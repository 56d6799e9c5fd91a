"""A block on repeat calls: how many a site has had, and whether they come faster."""

from __future__ import annotations

import streamlit as st

from dashboard import format as write
from dashboard import life_charts, parts
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import REPEATS_COUNTED, incidents_of_part, repeat_calls, wording

SITES = {
    "site": Shown("Site"),
    "events": Shown("Number", write.count),
    "per_year": Shown("Per year of record", write.estimate),
    "trend": Shown("Trend", help="Laplace's test, adjusted for the number of sites tested"),
    "power_law_shape": Shown("Power-law shape", write.estimate, "1: steady; above: faster and faster"),
    "shape_limits": Shown("Limits of the shape"),
    "p_value_holm": Shown("p, adjusted", write.chance, "Chance of such a trend if calls came steadily"),
    "laplace_z": Shown("Laplace's z", write.estimate, "Above 0: more towards the end"),
    "years": Shown("Years of record", write.estimate),
}


def repeat_calls_per_site() -> None:
    """Mean number per site by time of record, and each site's trend."""
    st.header("Repeat calls per site", anchor=False)
    counted = str(st.selectbox("Count", REPEATS_COUNTED, key="repeats_counted"))
    found = ask(repeat_calls, counted, filters_in_force())
    if found.curve.empty:
        parts.nothing(" ".join(found.sentences), "Choose a longer period, or other sites and kinds.")
        return
    parts.box("In short", *found.sentences)
    parts.chart(life_charts.repeats(found.curve, counted), "repeats")
    st.caption(
        f"Mean cumulative number; shaded: robust {wording.percent_text(build_facts().confidence)} limits, from the "
        "scatter between sites. A curve that sags below the dashed line and climbs to it means ever more of them. "
        "Time runs only while a site's log was kept."
    )
    sites = write.with_limits(found.sites, "shape_limits", "power_law_shape_lower", "power_law_shape_upper")
    row = parts.table(sites, SITES, f"repeats-{counted.replace(' ', '-')}", pick=True)
    st.caption(
        "Choose a row to open its calls. Calls of one fault come in clusters: a trend of calls is easily mistaken, "
        "one of incidents less."
    )
    if row is not None and st.button("Calls of the chosen site", key="go_repeats"):
        site_id = str(sites["site_id"].iloc[row])
        failures_only = counted == "control failures"
        ids = ask(incidents_of_part, "site", site_id, filters_in_force(), failures_only=failures_only)
        parts.look_at(ids, f"{counted.capitalize()} at {sites['site'].iloc[row]}")
