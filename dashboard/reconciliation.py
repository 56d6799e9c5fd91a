"""The reconciliation of every file read, as the pages "What was read" and "Intake" and `dayburn check` show it."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask
from dashboard.format import Shown
from pipeline.figures import (
    coverage,
    data_level,
    files_read,
    flagged_reasons,
    left_out_reasons,
    rejected_reasons,
)

FILES = {
    "name": Shown("File"),
    "rows_read": Shown("Rows read", write.count, "Data rows; each is a call, superseded or rejected"),
    "calls": Shown("Calls", write.count, "Latest state of a call"),
    "superseded": Shown("Superseded", write.count, "An earlier state, or an exact repeat"),
    "rejected": Shown("Rejected", write.count, "Could not become a call"),
    "not_data": Shown("Not data", write.count, "Titles, headers, blank lines and totals"),
    "flagged": Shown("Flagged", write.count, "Calls with something odd about them"),
    "date_order": Shown("Order of dates"),
    "unused_columns": Shown("Columns not used", write.joined),
    "withheld_columns": Shown("Columns withheld", write.joined, "Names or contact data: never loaded"),
    "layout": Shown("Layout"),
    "sheet": Shown("Sheet"),
    "header_row": Shown("Header row", write.count),
    "sha256": Shown("SHA-256"),
}
REASONS = {
    "source_file": Shown("File"),
    "reason": Shown("Why"),
    "rows": Shown("Rows", write.count),
    "row_numbers": Shown("Which rows"),
}
FLAGGED = {
    "source_file": Shown("File"),
    "flag": Shown("What is odd"),
    "calls": Shown("Calls", write.count),
    "row_numbers": Shown("Which rows"),
}
COVERAGE = {
    "source_file": Shown("File"),
    "calls": Shown("Calls", write.count),
    "with_site": Shown("Site", write.percent, "Share of the calls that say it, as written"),
    "with_tag": Shown("Tag", write.percent),
    "with_completion": Shown("Completion", write.percent),
    "with_problem": Shown("Problem", write.percent),
    "with_action": Shown("Action", write.percent),
    "lighting_calls": Shown("Lighting calls", write.count),
    "lighting_with_finding": Shown(
        "With a finding", write.count, "The rest say why not: rounds, duplicates, no date"
    ),
    "lighting_at_a_site": Shown("Of those, at a site", write.percent, "Tied to a registered site"),
    "lighting_at_a_control": Shown("At a control", write.percent, "Tied to a registered control"),
}
LEFT_OUT = {
    "file_name": Shown("File"),
    "reason": Shown("Why"),
    "rows": Shown("Rows", write.count),
    "row_numbers": Shown("Which rows"),
}
_SHORT_ROWS = 30
_AGAIN = "Put exports into calls/ and build again."


def level_box() -> None:
    """What the data support, and the cheapest thing to add."""
    level = ask(data_level)
    parts.box(f"What the data support: {level.name}", level.statement, f"Next: {level.next_step}")


def files() -> None:
    """Per file: rows read, calls, superseded, rejected, flagged, columns not used."""
    grid("Files", ask(files_read), FILES, "No export was read.", _AGAIN)


def reasons() -> None:
    """Rows rejected and calls flagged, by reason, and what the calls of each file say."""
    whole = "Every row read became a call or one of its states."
    by_length("Rejected by reason", ask(rejected_reasons), REASONS, "No row was rejected.", whole)
    by_length("Flagged calls", ask(flagged_reasons), FLAGGED, "No call is flagged.")
    grid("What the calls say", ask(coverage), COVERAGE, "There is no call.", _AGAIN)


def left_out() -> None:
    """Rows of inventories left out, by reason; nothing where there are none."""
    rows = ask(left_out_reasons)
    if not rows.empty:
        by_length("Register rows left out", rows, LEFT_OUT, "")


def grid(title: str, frame: pd.DataFrame, columns: dict[str, Shown], what: str, todo: str = "") -> None:
    """A table that sorts and scrolls, under its title; or what it means that there is none."""
    st.header(title, anchor=False)
    if frame.empty:
        parts.nothing(what, todo)
    else:
        parts.table(frame, columns, _file_name(title))


def prose(title: str, frame: pd.DataFrame, columns: dict[str, Shown], what: str, todo: str = "") -> None:
    """A table of sentences under its title; or what it means that there is none."""
    st.header(title, anchor=False)
    if frame.empty:
        parts.nothing(what, todo)
    else:
        parts.prose_table(frame, columns, _file_name(title))


def by_length(title: str, frame: pd.DataFrame, columns: dict[str, Shown], what: str, todo: str = "") -> None:
    """A short table as sentences that a phone shows whole, a long one as a grid that scrolls."""
    (prose if len(frame) <= _SHORT_ROWS else grid)(title, frame, columns, what, todo)


def _file_name(title: str) -> str:
    return title.lower().replace(" ", "-")
