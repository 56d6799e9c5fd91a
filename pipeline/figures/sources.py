"""Where figures come from: the calls behind them, the files read, what was refused and what was checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts, twelve_months_to
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store

_BEHIND = {
    "burning_now": "burning now",
    "failures_12_months": "failures",
    "failures_12_months_before": "failures",
    "expected_next_12_months": "all failures",
    "wasted_energy": "wasted energy",
    "net_savings": "savings",
}


@dataclass(frozen=True)
class Behind:
    """How much evidence stands behind a figure."""

    incidents: int
    calls: int


def incidents_behind(store: Store, key: str, filters: Filters = EVERYTHING) -> list[str]:
    """Incident ids behind a headline figure, by its key; raises ValueError for a key that has none."""
    if key in ("soonest_to_fail", "longest_lived"):
        from pipeline.figures.lifespans import soonest_and_longest

        soonest, longest, _ = soonest_and_longest(store, filters)
        group = soonest if key == "soonest_to_fail" else longest
        return [] if group is None else incidents_of_group(store, "model and lamp", group.name, filters)
    if key not in _BEHIND:
        raise ValueError(f"no calls are kept for a figure '{key}'; known are {', '.join(headline_keys())}")
    if _BEHIND[key] == "failures":
        span = failure_span(store, filters, years_back=1 if key.endswith("before") else 0)
        if span is None:
            return []
        filters = replace(filters, start=span[0], end=span[1])
    return [row[0] for row in query.rows(store, "incidents_behind", filters, key=_BEHIND[key])]


def headline_keys() -> tuple[str, ...]:
    """Every key that calls_behind and behind accept."""
    return (*_BEHIND, "soonest_to_fail", "longest_lived")


def incidents_of_group(store: Store, grouping: str, group: str, filters: Filters = EVERYTHING) -> list[str]:
    """Incident ids of the failures that enter a group's fit and curve."""
    found = query.frame(store, "incidents_of_group", filters, by_group=grouping, group=group)
    return [str(incident_id) for incident_id in found["incident_id"]]


def calls_behind(
    store: Store, key_or_incident_ids: str | Sequence[str], filters: Filters = EVERYTHING
) -> pd.DataFrame:
    """The calls behind a headline figure or behind incidents, each with its source file and row.

    A row is a finding of a call: incident_id, call_id, source_file, row_number (counted from 1 in that file),
    call_number, reported_at, completed_at, status, site, position, control_id, symptom, component, action,
    failed_probability, problem_text, action_text, evidence, calls_of_incident.
    """
    if isinstance(key_or_incident_ids, str):
        ids = incidents_behind(store, key_or_incident_ids, filters)
    else:
        ids = list(key_or_incident_ids)
    return query.frame(store, "calls_behind", filters.without_period(), incident_ids=ids)


def behind(store: Store, key: str, filters: Filters = EVERYTHING) -> Behind:
    """How many incidents and calls stand behind a headline figure."""
    ids = incidents_behind(store, key, filters)
    calls = query.frame(store, "calls_behind", filters.without_period(), incident_ids=ids)
    return Behind(len(ids), int(calls["call_id"].nunique()))


def failure_span(store: Store, filters: Filters, years_back: int = 0) -> tuple[date, date] | None:
    """The last twelve months of the log (of the period, where one is asked), or those ``years_back`` earlier."""
    log_to = facts(store).log_to
    if log_to is None:
        return None
    span = twelve_months_to(min(log_to, filters.end or log_to))
    for _ in range(years_back):
        span = twelve_months_to(span[0] - timedelta(days=1))
    return span


def files_read(store: Store) -> pd.DataFrame:
    """Every export read, with its reconciliation: the columns of the table ``source_files``."""
    return store.frame("SELECT * FROM source_files ORDER BY name, sheet, file_id")


def rejected(store: Store) -> pd.DataFrame:
    """Every row that could not become a call: source_file, row_number, reason, raw."""
    return store.frame(
        "SELECT s.name AS source_file, r.row_number, r.reason, r.raw"
        " FROM rejected_rows r LEFT JOIN source_files s USING (file_id) ORDER BY 1, 2"
    )


def checks(store: Store) -> pd.DataFrame:
    """What was checked at the end of the build: name, holds, detail; what does not hold first."""
    return store.frame("SELECT name, holds, detail FROM checks ORDER BY holds, name")


def notices(store: Store) -> pd.DataFrame:
    """What the build wants a person to know: stage, place, message."""
    return store.frame("SELECT stage, place, message FROM notices ORDER BY stage, place, message")
