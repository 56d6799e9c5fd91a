"""The sections about what is happening: burning now, failures, lives, time to restore."""

from __future__ import annotations

import pandas as pd

from pipeline import figures
from pipeline.figures import Facts
from pipeline.figures.curve_readings import AT_YEARS
from pipeline.figures.wording import date_text
from pipeline.report import charts
from pipeline.report.section import Section
from pipeline.report.tables import Column, Table
from pipeline.store import Store

YEAR_DAYS = 365.25
STALE = "stale: not heard of for long"
_RATE = "failures_per_100_control_years"


def sections(store: Store, info: Facts) -> dict[str, Section]:
    """These sections by their key."""
    made = (burning(store, info), failures(store), lives(store), restore(store))
    return {section.key: section for section in made}


def burning(store: Store, info: Facts) -> Section:
    """The list for Monday's crew."""
    columns = (
        Column("site", "Site"),
        Column("position", "Position"),
        Column("control_id", "Control"),
        Column("model", "Model"),
        Column("lamps", "Lamps"),
        Column("connected_w", "Load", "estimate", "W"),
        Column("first_reported_on", "First reported", "date"),
        Column("age_days", "Open for", "count", "days"),
        Column("kwh_per_day", "Energy per day", "estimate", "kWh"),
        Column("cost_per_day", "Cost per day", "money", info.money),
        Column("last_evidence_on", "Last heard of", "date"),
        Column("last_evidence", "Last evidence"),
        Column("mind", "Mind"),
    )
    frame = figures.burning_now(store)
    quiet = frame["stale"].astype(bool) & ~frame["flags"].fillna("").str.contains("stale")
    frame["mind"] = frame["flags"].where(~quiet, (frame["flags"].fillna("") + ", " + STALE).str.strip(", "))
    table = Table(
        "burning_now", "Burning by day now, the dearest per day first", columns, frame, limit=60,
        if_empty="No day burning is open at the log's end.",
    )  # fmt: skip
    lead = (
        f"Open day-burning incidents at the log's end, {date_text(info.log_to)}. An order never closed stays on "
        "this list: look first where it was not heard of for long."
    )
    return Section("burning", "What is burning by day now?", lead, (table,))


def failures(store: Store) -> Section:
    """Calls and failures by calendar year and month."""
    months = figures.monthly_activity(store)
    by_year = months.assign(year=pd.to_datetime(months["month"]).dt.year.astype(str))
    counted = [
        "fault_calls",
        "incidents",
        "planned_calls",
        "day_burning_incidents",
        "control_failures_expected",
        "control_failures_hard",
    ]
    years = by_year.groupby("year", as_index=False)[counted].sum()
    columns = (
        Column("fault_calls", "Lighting calls", "count"),
        Column("incidents", "Incidents", "count"),
        Column("day_burning_incidents", "Of these day burning", "count"),
        Column("control_failures_expected", "Control failures, expected", "estimate"),
        Column("control_failures_hard", "Control failures, hard count", "count"),
        Column("planned_calls", "Planned work orders, apart", "count"),
    )
    tables = (
        Table("activity_by_year", "By calendar year of report", (Column("year", "Year"), *columns), years),
        Table(
            "activity_by_month",
            "By month of report",
            (Column("month", "Month", "date"), *columns),
            months,
            limit=0,
        ),
    )
    lead = (
        "An incident is one fault at one place over all its calls. Expected counts weigh each incident by how far its "
        "texts say that the control failed. Planned work (relamping, campaigns) that reports no fault is no incident "
        "and stands apart. The first and the last year may be covered only in part."
    )
    return Section("failures", "Are control failures growing?", lead, tables, charts.activity(months))


def lives(store: Store) -> Section:
    """How soon each group fails."""
    groups = figures.failure_groups(store)
    for name in (
        f"{life}_days{limit}{beside}"
        for life, beside in (("b10", ""), ("mean_life", ""), ("b10", "_as_read"))
        for limit in ("", "_lower", "_upper")
    ):
        groups[name.replace("_days", "_years")] = groups[name].astype(float) / YEAR_DAYS
    columns = (
        Column("group_name", "Model / lamps"),
        Column("units", "Controls followed", "count"),
        Column("failures", "Failures", "count"),
        Column("control_years", "Time at risk", "estimate", "control-years"),
        Column("b10_years", "B10", "estimate", "years", "b10_years_lower", "b10_years_upper"),
        Column(
            "mean_life_years",
            "Mean life",
            "estimate",
            "years",
            "mean_life_years_lower",
            "mean_life_years_upper",
        ),
        Column("shape", "Weibull shape", "estimate", "", "shape_lower", "shape_upper"),
        Column(
            "b10_years_as_read",
            "B10 if every doubtful failure counts as read",
            "estimate",
            "years",
            "b10_years_lower_as_read",
            "b10_years_upper_as_read",
        ),
        Column(_RATE, "Rate", "estimate", "per 100 control-years", f"{_RATE}_lower", f"{_RATE}_upper"),
        Column("note", "Note"),
    )
    table = Table(
        "failure_groups", "Lives and rates by model and lamps, the soonest to fail first", columns, groups,
        if_empty="No group of controls could be followed: see 'what the data support'.",
    )  # fmt: skip
    lead = (
        "B10 is the age by which 10 % have failed. Groups with too few failures have a lower limit only. The rate "
        "counts every failure and all time under observation, whether or not the age of the control is known: more "
        "than the failures and the time at risk beside it. Failures whose texts leave doubt, and members of batches, "
        "are drawn many times; the limits hold that doubt too. B10 as read takes every verdict for certain."
    )
    tables = (table, _readings(store), _ends(store), _entered(store))
    return Section("lives", "Which controls fail, and how soon?", lead, tables, charts.lives(store, groups))


def _readings(store: Store) -> Table:
    """Median, restricted mean and numbers at risk, off the curves."""
    readings = figures.curve_readings(store)
    ends = ("", "_lower", "_upper")
    for name in (*(f"{what}_days{end}" for what in ("median", "mean") for end in ends), "mean_until_days"):
        readings[name.replace("_days", "_years")] = readings[name].astype(float) / YEAR_DAYS
    columns = (
        Column("group_name", "Model / lamps"),
        Column(
            "median_years", "Half failed by", "estimate", "years", "median_years_lower", "median_years_upper"
        ),
        Column("mean_years", "Mean worked", "estimate", "years", "mean_years_lower", "mean_years_upper"),
        Column("mean_until_years", "up to the age of", "estimate", "years"),
        *(Column(f"at_risk_{years}", f"At risk at {years} years", "count") for years in AT_YEARS),
        Column("note", "Note"),
    )
    return Table(
        "curve_readings", "Read off the curves (Kaplan-Meier): median, mean, controls at risk", columns, readings,
        if_empty="No group has a curve.",
    )  # fmt: skip


def _ends(store: Store) -> Table:
    """How controls of each kind have ended by some ages."""
    shares = figures.ended_by_age(figures.ends_of_lives(store))
    for name in ("incidence", "lower", "upper"):
        shares[f"{name}_percent"] = shares[name].astype(float) * 100
    columns = (
        Column("kind", "Kind"),
        Column("years", "By age", "estimate", "years"),
        Column("end", "Ended so"),
        Column("incidence_percent", "Share", "estimate", "%", "lower_percent", "upper_percent"),
    )
    return Table(
        "ends_of_lives", "How controls end: shares that burned on, stayed dark, or went for another reason by an age",
        columns, shares, if_empty="No control of known age and kind was followed long enough.",
    )  # fmt: skip


def _entered(store: Store) -> Table:
    """What entered the age analyses and the rates, and why the rest did not: over all, and by group in the workbook."""
    over_all = figures.entered(store).assign(group_name="all")
    parts = [over_all, figures.entered(store, "kind"), figures.entered(store, "model and lamp")]
    grouped = pd.concat(parts, ignore_index=True)
    grouped["group_name"] = grouped["group_name"].fillna("not known")
    columns = (
        Column("group_name", "Group"),
        Column("counted_in", "Counts in"),
        Column("failures", "Failures", "count"),
        Column("control_years", "Time at risk", "estimate", "control-years"),
        Column("reason", "Why not in ages"),
    )
    return Table(
        "entered", "What entered the analyses, and why the rest did not", columns, grouped, limit=len(over_all),
        if_empty="No failure and no time at risk could be counted.",
    )  # fmt: skip


def restore(store: Store) -> Section:
    """How long faults last: a page shows the years and the symptoms, the workbook both together too."""
    spans = figures.time_to_restore(store)
    table = Table(
        "time_to_restore",
        "Days from first report to light working again",
        (
            Column("year", "Year of report"),
            Column("symptom", "Symptom"),
            Column("incidents", "Incidents", "count"),
            Column("still_open", "Still open", "count"),
            Column("median_days", "Half restored by", "estimate", "days"),
            Column("ninety_percent_days", "90 % restored by", "estimate", "days"),
        ),
        spans,
        limit=int(((spans["year"] == "all") | (spans["symptom"] == "all")).sum()),
    )
    lead = (
        "Open incidents count as lasting at least until the log's end. A dash means that the share had not been "
        "reached by then."
    )
    return Section("restore", "How long does it take to restore?", lead, (table,))
