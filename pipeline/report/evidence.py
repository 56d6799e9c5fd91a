"""The calls behind each headline figure, as tables with file and row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline import figures
from pipeline.figures import Behind, Figure
from pipeline.report.tables import Column, Table
from pipeline.store import Store

CALLS_ON_A_PAGE = 8

COLUMNS = (
    Column("source_file", "File"),
    Column("row_number", "Row", "row"),
    Column("call_number", "Call"),
    Column("reported_at", "Reported", "date"),
    Column("site", "Site"),
    Column("position", "Position"),
    Column("symptom", "Symptom"),
    Column("action", "Action"),
    Column("failed_probability", "Control failed", "share"),
    Column("problem_text", "Reported text"),
    Column("action_text", "Work text"),
    Column("incident_id", "Incident", on_page=False),
)


@dataclass(frozen=True)
class Evidence:
    """One figure's incidents and calls."""

    key: str
    label: str
    behind: Behind
    calls: Table


def evidence(store: Store, headline: Sequence[Figure]) -> tuple[Evidence, ...]:
    """What stands behind every headline figure and behind those beside them that have calls of their own."""
    keys = figures.headline_keys()
    named = [part for figure in headline for part in figure.flat() if part.key in keys]
    return tuple(_evidence(store, figure) for figure in named)


def _evidence(store: Store, figure: Figure) -> Evidence:
    calls = figures.calls_behind(store, figure.key)
    calls = calls.sort_values(["reported_at", "call_id"], ascending=False, kind="stable", ignore_index=True)
    counted = Behind(int(calls["incident_id"].nunique()), int(calls["call_id"].nunique()))
    return Evidence(
        figure.key,
        figure.label,
        counted,
        Table(
            f"calls_{figure.key}", "The latest calls", COLUMNS, calls, limit=CALLS_ON_A_PAGE,
            if_empty="No call stands behind this figure.",
        ),
    )  # fmt: skip
