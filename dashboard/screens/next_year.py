"""What comes next: circuits to look at, next year's failures and spares, rates and growth, campaigns."""

from __future__ import annotations

import streamlit as st

from dashboard import charts, parts
from dashboard import format as write
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import (
    RATE_PARTS,
    CampaignResult,
    above_rating,
    activity_with_exposure,
    campaign_results,
    count_trends,
    incident_rates,
    incidents_of_circuit,
    incidents_of_part,
    inrush_circuits,
    inrush_figure,
    outlook,
    stress_effect,
    wording,
)

INRUSH = {
    "site": Shown("Site"),
    "position": Shown("Position"),
    "stress_sum": Shown(
        "Stress, plain sum", write.estimate, "Sum of the drivers' peaks over the control's rated peak"
    ),
    "stress_source_limited": Shown(
        "Stress, source-limited", write.estimate, "The same with the supply's impedance before the drivers"
    ),
    "lamps": Shown("Lamps"),
    "drivers": Shown("Drivers", write.estimate, "Behind one control"),
    "unknown": Shown("Unknown or supposed", width=260),
    "control_id": Shown("Control"),
    "kind": Shown("Kind"),
    "model": Shown("Model"),
    "circuits": Shown("Circuits alike", write.count),
    "rated_inrush_a": Shown("Rated peak, A", write.estimate),
    "peak_sum_a": Shown("Peak, plain sum, A", write.estimate),
    "peak_source_limited_a": Shown("Peak, source-limited, A", write.estimate),
    "voltage_v": Shown("Line, V", write.estimate),
    "failures": Shown("Failures there", write.count, "Controls that failed at the place, in the whole log"),
}
_FORECAST = {
    "expected": Shown("Failures expected", write.estimate, "In the twelve months after the log's end"),
    "limits": Shown("Prediction interval"),
    "controls": Shown("Controls in service", write.count),
    "by_age": Shown("of them by age", write.count, "Age known: by the fitted life"),
    "by_rate": Shown("of them by rate", write.count, "Age unknown, or mixed in a batch"),
    "unforeseen": Shown("not forecast", write.count, "Nothing like them has failed yet"),
}
SPARES = {
    "model": Shown("Model"),
    "stock": Shown("Spares for the year", write.count),
} | _FORECAST | {"kind": Shown("Kind")}  # fmt: skip
SITES = {"site": Shown("Site")} | _FORECAST
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
MOST_BARS = 25


def main() -> None:
    """The page."""
    parts.head(
        "What comes next",
        "Which circuits strain their control, what fails in the next twelve months, is it getting worse, and did "
        "campaigns help?",
    )
    st.caption("A period applies to rates and growth only; sites and kinds of control apply to all.")
    _inrush()
    _forecast()
    _rates()
    _campaigns()


def _inrush() -> None:
    st.header("Circuits above rated inrush", anchor=False)
    parts.cautions()
    figure = ask(inrush_figure, filters_in_force())
    if figure.value is None:
        parts.nothing("No circuit could be screened here.", f"{figure.note} Or choose other sites and kinds.")
        return
    parts.card_rows([figure])
    circuits = ask(inrush_circuits, filters_in_force())
    above = above_rating(circuits)
    everything = st.toggle("Show every circuit, not only those above rating", key="every_circuit")
    shown = circuits if everything else above
    if shown.empty:
        parts.nothing(
            "No circuit here is above its control's rated peak.",
            "Show every circuit to see how near they come.",
        )
    else:
        with parts.screen_only("inrush"):
            row = parts.table(shown, INRUSH, "inrush", pick=True)
            st.caption(
                "The most stressed first. Choose a row to open the calls of the failures at that place."
            )
        if row is not None and st.button("Calls at the chosen circuit"):
            place = str(shown["position"].iloc[row])
            parts.look_at(
                ask(incidents_of_circuit, str(shown["control_id"].iloc[row])), f"Failures at {place}"
            )
        on_paper = {name: INRUSH[name] for name in list(INRUSH)[:8]}
        parts.paper_only(
            write.plain_table(shown, on_paper, build_facts().money, "Circuits above rated inrush")
        )
    effect = ask(stress_effect, filters_in_force())
    said = effect if isinstance(effect, str) else effect.sentence
    parts.box("What stress does to life here", said)


def _forecast() -> None:
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


def _rates() -> None:
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


def _campaigns() -> None:
    st.header("Did campaigns work?", anchor=False)
    results = ask(campaign_results, filters_in_force())
    if not results:
        parts.nothing(
            "No campaign is on record here.",
            "A campaign is many controls of a site replaced at once as planned work. Name one in portfolio.toml under "
            "[[campaigns]], or choose other sites and kinds.",
        )
        return
    st.caption(
        "Compared with what the lives fitted before the campaign forecast for new controls of the old model on the "
        "same dates: 1 means the campaign did nothing beyond making controls younger."
    )
    for number, result in enumerate(results):
        _campaign(result, number)


def _campaign(result: CampaignResult, number: int) -> None:
    where = ", ".join(result.sites) or "no site"
    replaced = f" of {', '.join(result.replaced)}" if result.replaced else ""
    origin = "named in portfolio.toml" if result.named else "found in the data"
    with st.container(border=True):
        st.subheader(result.name, anchor=False)
        st.text(
            f"{wording.count_text(result.controls)} controls{replaced} at {where}, "
            f"{write.span_text(result.first, result.last)} ({origin})."
        )
        if result.until is not None:
            st.text(
                f"{wording.count_text(result.followed)} of them followed, to {wording.date_text(result.until)} at the "
                "latest."
            )
        st.text(result.sentence)
        if result.incident_ids and st.button("Calls of the failures since", key=f"campaign_{number}"):
            parts.look_at(list(result.incident_ids), f"Failures since: {result.name}")


main()
