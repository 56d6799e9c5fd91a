"""What the log itself says, whatever else is known: lighting calls, incidents, time to restore."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.activity import ALL_SYMPTOMS, ALL_YEARS, monthly_activity, time_to_restore
from pipeline.figures.facts import facts
from pipeline.figures.figure import Figure, known
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.trends import whole_months
from pipeline.figures.wording import count_text
from pipeline.store import Store
from pipeline.survival import CannotFit, fit_count_trend


def log_summary(store: Store, filters: Filters = EVERYTHING) -> list[Figure]:
    """Lighting calls (with category columns, and by text alone), incidents, calls per month, time to restore."""
    calls, lighting, by_text, incidents, still_open, planned = (
        int(number) for number in query.rows(store, "log_summary", filters)[0]
    )
    return [
        Figure(
            "lighting_calls", "Calls about exterior lighting", "calls", lighting,
            note=f"Of {count_text(calls)} calls, judged by category columns and text together.",
            beside=(Figure("lighting_calls_by_text", "The same by problem and action text alone", "calls", by_text),),
        ),
        Figure(
            "incidents", "Incidents, duplicates and repeat visits merged", "incidents", incidents,
            beside=(
                Figure("incidents_open", "Still open at the log's end", "incidents", still_open),
                Figure("planned_works", "Planned works, no incidents: counted apart", "works", planned),
            ),
        ),
        _per_month(store, filters),
        _restored(store, filters),
    ]  # fmt: skip


def _per_month(store: Store, filters: Filters) -> Figure:
    key, label = "calls_per_month", "Lighting calls per month, planned work left out"
    activity = monthly_activity(store, filters)
    months = activity["fault_calls"].astype(int)
    if months.empty or not months.sum():
        return Figure(key, label, "calls", None, note="No lighting call that reports a fault was found.")
    low, high = int(months.min()), int(months.max())
    note = f"Mean over {count_text(len(months))} months; from {count_text(low)} to {count_text(high)} in a month."
    return Figure(
        key, label, "calls", float(months.mean()), note=note, beside=(_growth(store, activity, filters),)
    )


def _growth(store: Store, activity: pd.DataFrame, filters: Filters) -> Figure:
    """How much the calls grow each year, the season taken out; the first and last month count only if whole."""
    key, label, unit = "calls_growth", "Change from year to year", "% a year"
    info = facts(store)
    if info.log_from is None or info.log_to is None:
        return Figure(key, label, unit, None, note="The log is empty.")
    whole = whole_months(info, activity, filters)
    months = pd.DataFrame(
        {"month": pd.to_datetime(whole["month"]), "count": whole["fault_calls"].astype(float)}
    )
    try:
        trend = fit_count_trend(months.reset_index(drop=True), info.confidence)
    except CannotFit as refusal:
        return Figure(key, label, unit, None, note=str(refusal))
    value, low, high = (100 * (ratio - 1) for ratio in (trend.yearly_ratio, *trend.limits))
    season = "season taken out" if trend.season_removed else "too short a log to take the season out"
    return Figure(
        key, label, unit, value, low, high, note=f"{trend.model.capitalize()} regression, {season}."
    )


def _restored(store: Store, filters: Filters) -> Figure:
    key, label = "time_to_restore", "Median time from report to restored light"
    frame = time_to_restore(store, filters)
    whole = frame[(frame["year"] == ALL_YEARS) & (frame["symptom"] == ALL_SYMPTOMS)]
    if whole.empty or pd.isna(whole["median_days"].iloc[0]):
        return Figure(key, label, "days", None, note="No incident with a known end.")
    row = whole.iloc[0]
    most = _with_limits(row, "ninety_percent")
    beside = (Figure("time_to_restore_90", "By when 90 % are restored", "days", *most),)
    note = "Incidents still open count as not yet restored."
    return Figure(key, label, "days", *_with_limits(row, "median"), note=note, beside=beside)


def _with_limits(row: pd.Series, share: str) -> tuple[float | None, float | None, float | None]:
    value, lower, upper = (row[f"{share}{limit}_days"] for limit in ("", "_lower", "_upper"))
    return known(value), known(lower), known(upper)
