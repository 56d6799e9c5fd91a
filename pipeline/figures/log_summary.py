"""What the log itself says, whatever else is known: lighting calls, incidents, time to restore."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.activity import ALL_SYMPTOMS, ALL_YEARS, monthly_activity, time_to_restore
from pipeline.figures.figure import Figure
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.wording import count_text
from pipeline.store import Store


def log_summary(store: Store, filters: Filters = EVERYTHING) -> list[Figure]:
    """Lighting calls (with category columns, and by text alone), incidents, calls per month, time to restore."""
    calls, lighting, by_text, incidents, still_open = (
        int(number) for number in query.rows(store, "log_summary", filters)[0]
    )
    months = monthly_activity(store, filters)["lighting_calls"].astype(int)
    return [
        Figure(
            "lighting_calls", "Calls about exterior lighting", "calls", lighting,
            note=f"Of {count_text(calls)} calls, judged by category columns and text together.",
            beside=(Figure("lighting_calls_by_text", "The same by problem and action text alone", "calls", by_text),),
        ),
        Figure(
            "incidents", "Incidents, duplicates and repeat visits merged", "incidents", incidents,
            beside=(Figure("incidents_open", "Still open at the log's end", "incidents", still_open),),
        ),
        _per_month(months),
        _restored(store, filters),
    ]  # fmt: skip


def _per_month(months: pd.Series[int]) -> Figure:
    key, label = "calls_per_month", "Lighting calls per month"
    if months.empty or not months.sum():
        return Figure(key, label, "calls", None, note="No lighting call was found.")
    low, high = int(months.min()), int(months.max())
    return Figure(
        key, label, "calls", float(months.mean()),
        note=f"Mean over {count_text(len(months))} months; from {count_text(low)} to {count_text(high)} in a month.",
    )  # fmt: skip


def _restored(store: Store, filters: Filters) -> Figure:
    key, label = "time_to_restore", "Median time from report to restored light"
    frame = time_to_restore(store, filters)
    whole = frame[(frame["year"] == ALL_YEARS) & (frame["symptom"] == ALL_SYMPTOMS)]
    if whole.empty or pd.isna(whole["median_days"].iloc[0]):
        return Figure(key, label, "days", None, note="No incident with a known end.")
    median, most = whole["median_days"].iloc[0], whole["ninety_percent_days"].iloc[0]
    beside = (
        Figure(
            "time_to_restore_90", "By when 90 % are restored", "days", None if pd.isna(most) else float(most)
        ),
    )
    note = "Incidents still open count as not yet restored."
    return Figure(key, label, "days", float(median), note=note, beside=beside)
