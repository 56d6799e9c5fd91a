"""Failure trends: calls and failures by month, which groups fail soonest, what comes next."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import causes_block, charts, life_checks, parts, repeats_block
from dashboard import format as write
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import (
    curve,
    ended_by_age,
    ends_of_lives,
    entered,
    failure_groups,
    groupings,
    monthly_activity,
    time_to_restore,
    wording,
)

SERIES = {
    "fault_calls": "lighting calls",
    "incidents": "incidents",
    "control_failures_expected": "control failures, expected",
    "control_failures_hard": "control failures, hard count",
    "planned_calls": "planned work orders, apart",
}
MONTHS = {
    "month": Shown("Month", lambda month: f"{month:%b %Y}"),
    "fault_calls": Shown("Lighting calls", write.count, "Planned work left out"),
    "incidents": Shown("Incidents", write.count),
    "day_burning_incidents": Shown("of them day burning", write.count),
    "control_failures_expected": Shown(
        "Control failures, expected", write.estimate, "Sum of the probabilities"
    ),
    "control_failures_hard": Shown("Control failures, hard", write.count, "At or above the threshold"),
    "planned_calls": Shown("Planned work orders", write.count, "Ordered ahead, report no fault"),
    "planned_works": Shown("Planned works", write.count, "The pieces of them; no incidents"),
}
FITS = {
    "group_name": Shown("Group"),
    "b10_years": Shown("B10, years", write.estimate, "Age by which 10 % have failed"),
    "b10_limits": Shown("B10 limits, years"),
    "mean_life_years": Shown("Mean life, years", write.estimate),
    "mean_limits": Shown("Mean life limits, years"),
    "shape": Shown("Shape", write.estimate, "Weibull: below 1 fails early, above 1 wears out"),
    "shape_limits": Shown("Shape limits"),
    "b10_as_read": Shown(
        "B10 as read, years", write.estimate, "If every doubtful failure counts as read: no verdict is drawn"
    ),
    "as_read_limits": Shown("B10 limits as read, years"),
    "failures": Shown("Failures", write.count, "Failures at known ages, as the verdicts stand"),
    "failures_expected": Shown(
        "Failures, expected", write.estimate, "Mean over the draws of doubtful verdicts"
    ),
    "units": Shown("Controls", write.count, "Controls at known ages"),
    "control_years": Shown("Control-years", write.estimate),
    "failures_per_100_control_years": Shown(
        "Failures per 100 control-years", write.estimate, "Ages known or not"
    ),
    "rate_limits": Shown("Rate limits"),
    "failures_in_rate": Shown("Failures in rate", write.count),
    "method": Shown("Fit"),
    "note": Shown("Note"),
}
RESTORE = {
    "year": Shown("Year"),
    "symptom": Shown("Symptom"),
    "incidents": Shown("Incidents", write.count),
    "still_open": Shown("Still open", write.count),
    "median_days": Shown("Half restored by, days", write.estimate),
    "ninety_percent_days": Shown("90 % restored by, days", write.estimate),
}
SHARES = {
    "kind": Shown("Kind"),
    "years": Shown("By age, years", write.estimate),
    "end": Shown("Ended so"),
    "percent": Shown("Share, %", write.estimate),
    "percent_limits": Shown("Limits, %"),
}
ENTERED = {
    "group_name": Shown("Group"),
    "counted_in": Shown("Counts in", help="What enters the ages enters the rates too"),
    "failures": Shown("Failures", write.count, "As the verdicts stand"),
    "control_years": Shown("Control-years", write.estimate),
    "reason": Shown("Why not in ages"),
}
MOST_CURVES, CURVES_AT_FIRST = 6, 4


def main() -> None:
    """The page."""
    parts.head("Failure trends", "Are failures growing, and which controls fail soonest?")
    parts.cards("failures_12_months", "soonest_to_fail", "expected_next_12_months")
    st.caption("The forecast looks past the log's end: a period does not apply to it.")
    _months()
    _groups()
    causes_block.what_shortens_lives()
    _ends()
    repeats_block.repeat_calls_per_site()
    _restore()


def _months() -> None:
    st.header("By month", anchor=False)
    months = ask(monthly_activity, filters_in_force())
    if months.empty:
        parts.nothing(
            "No month has a lighting call here.", "Choose a longer period, or other sites and kinds."
        )
        return
    parts.chart(charts.monthly(months, SERIES, "Number per month"), "months")
    st.caption(
        "Expected: each incident counts with the probability that its control failed. Hard: it counts whole from the "
        f"threshold on ({build_facts().assumptions.control_failed_threshold:g}). Planned work (relamping, campaigns) "
        "that reports no fault is no incident and stands apart."
    )
    with st.expander("The months as a table"):
        parts.table(months, MONTHS, "months")


def _groups() -> None:
    st.header("How long controls last", anchor=False)
    names = groupings()
    grouping = st.selectbox("Compare by", names, index=names.index("model and lamp"), key="grouping")
    fits = ask(failure_groups, grouping, filters_in_force())
    if fits.empty:
        parts.nothing(
            "No group of controls can be followed here.",
            "Lives need a register: see What was read for what to add, or choose other sites and kinds.",
        )
        return
    _curves(grouping, fits)
    _fits(grouping, fits)
    _entered(grouping)
    life_checks.curve_table(grouping)
    life_checks.differences(grouping)
    life_checks.weibull_fit(grouping, fits)


def _curves(grouping: str, fits: pd.DataFrame) -> None:
    failed = (
        fits[fits["failures"].fillna(0) > 0].sort_values("failures", ascending=False)["group_name"].tolist()
    )
    chosen = st.multiselect(
        "Curves", failed, default=failed[:CURVES_AT_FIRST], max_selections=MOST_CURVES, key=f"curves_{grouping}",
        help=f"At most {MOST_CURVES} at a time. Groups in which nothing failed at a known age have no curve.",
    )  # fmt: skip
    curves = {group: ask(curve, grouping, group, filters_in_force()) for group in chosen}
    curves = {group: frame for group, frame in curves.items() if not frame.empty}
    if not curves:
        parts.nothing(
            "No curve is chosen.", "Choose at least one group in which a control failed at a known age."
        )
        return
    parts.chart(charts.survival(curves), "survival")
    st.caption(
        "Share of controls still working by age (Kaplan-Meier, with delayed entry); shaded: "
        f"{wording.percent_text(build_facts().confidence)} limits. At ages that few controls have "
        "reached, the limits are wide: read the curve no further than they allow."
    )
    life_checks.spoilt_curves(grouping, list(curves))


def _fits(grouping: str, fits: pd.DataFrame) -> None:
    shown = write.with_years(fits, "b10", "mean_life")
    for limit, column in (("", "b10_as_read"), ("_lower", "as_read_lower"), ("_upper", "as_read_upper")):
        shown[column] = write.in_years(fits[f"b10_days{limit}_as_read"])
    for name, column in (("b10_limits", "b10_years"), ("mean_limits", "mean_life_years"), ("shape_limits", "shape"),
                         ("rate_limits", "failures_per_100_control_years"), ("as_read_limits", "as_read")):  # fmt: skip
        shown = write.with_limits(shown, name, f"{column}_lower", f"{column}_upper")
    row = parts.table(shown, FITS, f"lives-by-{grouping.replace(' ', '-')}", pick=True)
    st.caption(
        "Choose a row to open the calls behind its failures. Failures whose texts leave doubt, and which member of a "
        "batch failed, are drawn many times: limits hold that doubt. As read: if every doubtful failure counts as its "
        "text is read."
    )
    if row is not None and st.button("Calls behind the chosen group"):
        parts.look_behind(grouping=grouping, group=str(shown["group_name"].iloc[row]))


def _entered(grouping: str) -> None:
    with st.expander("What entered these analyses, and why the rest did not"):
        over_all = ask(entered, "all", filters_in_force())
        parts.table(over_all.assign(group_name="all"), ENTERED, "entered")
        if grouping != "all":
            groups = ask(entered, grouping, filters_in_force())
            groups = groups.assign(group_name=groups["group_name"].fillna("not known"))
            parts.table(groups, ENTERED, f"entered-by-{grouping.replace(' ', '-')}")


def _ends() -> None:
    st.header("How controls end", anchor=False)
    curves = ask(ends_of_lives, filters_in_force())
    if curves.empty:
        parts.nothing(
            "No control of known age and kind ended here.",
            "Choose other sites and kinds, or a longer period.",
        )
        return
    kind = st.selectbox("Kind of control", sorted(curves["kind"].unique()), key="ends_of_kind")
    own = curves[curves["kind"] == kind]
    parts.chart(charts.incidence({str(end): part for end, part in own.groupby("end")}), "how-controls-end")
    st.caption(
        "Share of controls that by an age have failed on (burning by day), failed off (dark), or ended for another "
        "reason (erratic, damage, planned work, removal), where the others can come first (Aalen-Johansen); shaded: "
        f"{wording.percent_text(build_facts().confidence)} limits."
    )
    shares = ended_by_age(curves)
    shares["percent"] = shares["incidence"].astype(float) * 100
    shares["low"], shares["high"] = shares["lower"].astype(float) * 100, shares["upper"].astype(float) * 100
    shares = write.with_limits(shares, "percent_limits", "low", "high")
    with st.expander("Shares by age, every kind"):
        parts.table(shares, SHARES, "ends-by-age")


def _restore() -> None:
    st.header("Time to restore", anchor=False)
    times = ask(time_to_restore, filters_in_force())
    if times.empty:
        parts.nothing(
            "No incident has a date to count from here.", "Choose a longer period, or other sites and kinds."
        )
        return
    parts.table(times, RESTORE, "time-to-restore")
    st.caption(
        "From the first report until the light worked again. Incidents still open count as not yet restored; "
        f"{wording.EN_DASH} means that the log ends before that share was reached."
    )


main()
