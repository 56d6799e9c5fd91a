"""A block on the next twelve months: failures to expect and spares, by model and by site."""

from __future__ import annotations

import streamlit as st

from dashboard import charts, parts
from dashboard import format as write
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import incidents_of_part, outlook, wording

_FORECAST = {
    "expected": Shown("Failures expected", write.estimate, "In the twelve months after the log's end"),
    "limits": Shown("Prediction interval"),
    "controls": Shown("Controls in service", write.count),
    "by_age": Shown("of them by age", write.count, "Age known: by the fitted life"),
    "by_rate": Shown("of them by rate", write.count, "Age unknown, mixed in a batch, or no fitted life"),
    "unforeseen": Shown("not forecast", write.count, "Nothing like them has failed yet"),
}
SPARES = {
    "model": Shown("Model"),
    "stock": Shown("Spares for the year", write.count),
} | _FORECAST | {"kind": Shown("Kind")}  # fmt: skip
SITES = {"site": Shown("Site")} | _FORECAST
MOST_BARS = 25


def next_twelve_months() -> None:
    """The forecast in all, by model with spares, and by site."""
    st.header("The next twelve months", anchor=False)
    found = ask(outlook, filters_in_force())
    if found.total is None:
        parts.nothing(
            "No control in service is on record here.",
            "A forecast needs controls in controls.csv: see What was read, or choose other sites and kinds.",
        )
        return
    parts.cards("expected_next_12_months")
    if found.total.unforeseen == found.models["controls"].sum():
        return
    models, sites = (
        write.with_limits(frame, "limits", "lower", "upper", whole=True)
        for frame in (found.models, found.sites)
    )
    st.subheader("By model, with spares", anchor=False)
    drawn = models[models["expected"].notna()].head(MOST_BARS)
    bars = drawn.assign(part=drawn["model"]).rename(
        columns={"lower": "failures_low", "expected": "failures_central", "upper": "failures_high"}
    )
    drawn = charts.wasted(bars, "failures", "Failures in twelve months", "Model", ends=("low", "high"))
    parts.chart(drawn, "forecast")
    st.caption(
        f"Whiskers: {wording.percent_text(build_facts().confidence)} prediction intervals. Spares suffice for the year "
        f"with probability {wording.percent_text(found.service_level)}, bought once and not refilled."
    )
    parts.table(models, SPARES, "spares")
    _open_failures("model", models[["model"]].drop_duplicates()["model"].tolist(), {}, "next")
    st.subheader("By site", anchor=False)
    parts.table(sites, SITES, "forecast-sites")
    st.caption("The expected failures of the sites add up to the total; the ends of their intervals do not.")
    _open_failures(
        "site", sites["site_id"].tolist(), dict(zip(sites["site_id"], sites["site"], strict=True)), "next"
    )


def _open_failures(by: str, keys: list[str], names: dict[str, str], where: str) -> None:
    """A way from a part of a table to the calls of its past failures."""
    with parts.screen_only(f"open-{by}-{where}"), st.container(horizontal=True, vertical_alignment="bottom"):
        key = st.selectbox(
            f"Failures so far of one {by}",
            keys,
            format_func=lambda one: names.get(one, one),
            key=f"open_{by}_{where}",
        )
        if st.button("Calls behind them", key=f"go_{by}_{where}") and key is not None:
            ids = ask(incidents_of_part, by, key, filters_in_force(), failures_only=True)
            parts.look_at(ids, f"Control failures of {names.get(key, key)}")
