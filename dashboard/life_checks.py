"""Blocks that say how far the lives can be trusted: does the Weibull fit, do the groups really differ."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import format as write
from dashboard import life_charts, parts
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import (
    WeibullCheck,
    curve_readings,
    group_differences,
    weibull_check,
    weibull_checks,
    wording,
)

DISTRIBUTIONS = {
    "distribution": Shown("Distribution"),
    "aic_above_best": Shown(
        "AIC above the best", write.estimate, "Below 2 decides nothing; above 10 is far worse"
    ),
    "aic": Shown("AIC", write.estimate),
    "log_likelihood": Shown("Log-likelihood", write.estimate),
    "bic": Shown("BIC", write.estimate),
}
READINGS = {
    "group_name": Shown("Group"),
    "median_years": Shown(
        "Half failed by, years", write.estimate, "Median of the curve; missing: not reached"
    ),
    "median_limits": Shown("Limits, years"),
    "mean_years": Shown(
        "Mean years worked", write.estimate, "Up to the age beside it: the area under the curve"
    ),
    "mean_limits": Shown("Limits of the mean, years"),
    "until": Shown("up to, years", write.estimate),
    "at_risk_1": Shown("At risk at 1 year", write.count, "Controls under observation just before that age"),
    "at_risk_2": Shown("at 2", write.count),
    "at_risk_5": Shown("at 5", write.count),
    "at_risk_10": Shown("at 10", write.count),
    "note": Shown("Note"),
}
CHECKS = {
    "group_name": Shown("Group"),
    "failures": Shown("Failures", write.count),
    "best": Shown("Best of four"),
    "weibull_aic_above_best": Shown("AIC of the Weibull above it", write.estimate),
    "residual_p_value": Shown("p of the residuals", write.chance),
    "said": Shown("In words"),
}
STRETCHES = {
    "stretch": Shown("Stretch of the fitted life", help="From the earliest failures expected to the last"),
    "failures": Shown("Failures seen", write.count),
    "expected": Shown("Failures expected", write.estimate),
}
PAIRS = {
    "sooner": Shown("Fails sooner"),
    "later": Shown("than"),
    "p_value_holm": Shown(
        "p, adjusted",
        write.chance,
        "Chance of so great a difference if they lived alike, allowing for all pairs",
    ),
    "said": Shown("Said", help="Differ: adjusted p below 0.05"),
    "draws_that_differ": Shown(
        "Draws that say so",
        write.count,
        "In how many draws of doubtful verdicts the adjusted p is below 0.05",
    ),
    "p_value": Shown("p, this pair alone", write.chance),
    "statistic": Shown("Chi-square", write.estimate),
}
GROUPS = {
    "group_name": Shown("Group"),
    "failures": Shown("Failures seen", write.count),
    "expected": Shown("Expected if all lived alike", write.estimate),
    "times_expected": Shown("Seen over expected", write.estimate, "Above 1: fails sooner than the others"),
    "units": Shown("Stretches of lives", write.count, "A life whose load changes counts once for each"),
}  # fmt: skip


def curve_table(grouping: str) -> None:
    """What is read off the curves, every group."""
    readings = ask(curve_readings, grouping, filters_in_force())
    if readings.empty:
        return
    shown = write.with_years(readings, "median", "mean")
    shown["until"] = write.in_years(readings["mean_until_days"])
    shown = write.with_limits(shown, "median_limits", "median_years_lower", "median_years_upper")
    shown = write.with_limits(shown, "mean_limits", "mean_years_lower", "mean_years_upper")
    with st.expander("Read off the curves: median, mean, controls at risk"):
        parts.table(shown, READINGS, f"curve-readings-{grouping.replace(' ', '-')}")


def spoilt_curves(grouping: str, groups: list[str]) -> None:
    """A warning of the curves drawn that an early step on few controls has spoilt."""
    readings = ask(curve_readings, grouping, filters_in_force())
    notes = readings[readings["group_name"].isin(groups) & (readings["note"] != "")]
    if len(notes):
        lines = (f"{name}: {note}" for name, note in zip(notes["group_name"], notes["note"], strict=True))
        parts.box("Mind these curves", *lines)


def differences(grouping: str) -> None:
    """Whether the groups of a grouping really live differently."""
    st.subheader("Do the groups really differ?", anchor=False)
    found = ask(group_differences, grouping, filters_in_force())
    parts.box("In short", found.sentence)
    if found.groups.empty:
        return
    name = grouping.replace(" ", "-")
    parts.table(found.groups, GROUPS, f"differences-groups-{name}")
    with st.expander("Pair by pair"):
        parts.table(found.pairs, PAIRS, f"differences-pairs-{name}")
    drawn = (
        f"; beside them, in how many of {found.draws} draws of the doubtful ones a pair differs"
        if found.draws
        else ""
    )
    st.caption(
        f"Log-rank test under delayed entry, verdicts as they stand{drawn}. Groups with fewer than five failures "
        "are compared roughly."
    )


def weibull_fit(grouping: str, fits: pd.DataFrame) -> None:
    """How well the Weibull describes one group: probability plot and other distributions."""
    st.subheader("How well does the Weibull fit?", anchor=False)
    names = fits[fits["failures"].fillna(0) > 0]["group_name"].tolist()
    if not names:
        parts.nothing(
            "Nothing has failed at a known age here.", "Choose other sites and kinds, or a longer period."
        )
        return
    if st.toggle("Show every group at a glance", key=f"every_group_{grouping}"):
        parts.prose_table(ask(weibull_checks, grouping, filters_in_force()), CHECKS, "weibull-checks")
    group = str(st.selectbox("Group", names, key=f"weibull_{grouping}", help="The soonest to fail first"))
    check = ask(weibull_check, grouping, group, filters_in_force())
    parts.box("In short", *check.sentences)
    if check.points.empty:
        return
    parts.chart(life_charts.weibull_paper(check), "weibull-paper")
    st.caption(_how_to_read(check))
    with st.expander("Four distributions compared, and where failures fall"):
        parts.table(check.distributions, DISTRIBUTIONS, "distributions")
        numbered = check.stretches.assign(
            stretch=[f"{n + 1} of {len(check.stretches)}" for n in range(len(check.stretches))]
        )
        parts.table(numbered, STRETCHES, "stretches")


def _how_to_read(check: WeibullCheck) -> str:
    youngest = wording.estimate_text(check.starts_at_days / 365.25)
    start = (
        f" Too few controls were watched younger than {youngest} years: "
        "what failed before is taken from the fit." if check.starts_at_days else ""
    )  # fmt: skip
    headline = " Dashed: the headline fit, which draws doubtful verdicts." if len(check.headline) else ""
    return (
        "On these axes a Weibull life is a straight line. Points: failures as their verdicts stand, each with "
        f"{wording.percent_text(build_facts().confidence)} limits; shaded: the limits of the fit as read.{headline} A "
        f"few points outside prove nothing; a bend of all of them does.{start}"
    )
