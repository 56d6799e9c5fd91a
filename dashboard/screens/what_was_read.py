"""What was read: files and their reconciliation, refused rows, checks, notices, assumptions."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, ask_anew
from dashboard.format import Shown
from pipeline.figures import (
    assumptions_in_force,
    checks,
    coverage,
    data_level,
    factors_in_force,
    files_read,
    flagged_reasons,
    notices,
    rejected,
    rejected_reasons,
    rows_left_out,
    windows_in_force,
    windows_proposed,
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
REJECTED = {
    "source_file": Shown("File"),
    "row_number": Shown("Row", write.row),
    "reason": Shown("Why"),
    "raw": Shown("The row, masked"),
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
    "lighting_at_a_site": Shown("Of those, at a site", write.percent, "Tied to a registered site"),
    "lighting_at_a_control": Shown("At a control", write.percent, "Tied to a registered control"),
}
LEFT_OUT = {
    "file_name": Shown("File"),
    "row_number": Shown("Row", write.count),
    "reason": Shown("Why"),
}
WINDOWS = {
    "site_id": Shown("Site"),
    "observed_from": Shown("From", write.day),
    "observed_to": Shown("To", write.day),
    "origin": Shown("Said by"),
}
PROPOSED = {"site_id": Shown("Site"), "windows": Shown("Proposed"), "evidence": Shown("Why")}
CHECKS = {
    "holds": Shown("Verdict", write.verdict),
    "name": Shown("What must hold"),
    "detail": Shown("Compared"),
}
NOTICES = {"stage": Shown("Stage"), "place": Shown("Where"), "message": Shown("What, and what to do")}
FACTORS = {
    "grid_region": Shown("Grid region"),
    "sites": Shown("Sites", write.count),
    "kg_co2e_per_kwh": Shown("Factor, kg CO2e/kWh", write.estimate),
    "year": Shown("Year", lambda year: "–" if pd.isna(year) else f"{int(year)}"),
    "source": Shown("Source"),
}
ASSUMPTIONS = {"setting": Shown("Setting"), "value": Shown("Value"), "unit": Shown("Unit")}


def main() -> None:
    """The page."""
    parts.head("What was read", "From which file every call came, what was refused, and what was assumed.")
    st.caption("Filters do not apply on this page.")
    level = ask(data_level)
    parts.box(f"What the data support: {level.name}", level.statement, f"Next: {level.next_step}")
    again = "Build again with `dayburn build DIR`."
    _prose("Checks", ask(checks), CHECKS, "No check was kept.", again)
    _grid("Files", ask(files_read), FILES, "No export was read.", "Put exports into calls/ and build again.")
    whole = "Every row read became a call or one of its states."
    _grid("Rejected rows", ask_anew(rejected), REJECTED, "No row was rejected.", whole)
    _grid("Rejected by reason", ask(rejected_reasons), REASONS, "No row was rejected.", whole)
    _grid("Flagged calls", ask(flagged_reasons), FLAGGED, "No call is flagged.", "Nothing is to be done.")
    _grid(
        "What the calls say",
        ask(coverage),
        COVERAGE,
        "There is no call.",
        "Put exports into calls/ and build again.",
    )
    _grid(
        "Register rows left out",
        ask(rows_left_out),
        LEFT_OUT,
        "No row was left out.",
        "Nothing is to be done.",
    )
    _windows()
    _prose("Notices", ask(notices), NOTICES, "The build has nothing to tell.", "Nothing is to be done.")
    _grid("Assumptions in force", ask(assumptions_in_force), ASSUMPTIONS, "No settings were kept.", again)
    st.caption("Change an assumption in portfolio.toml and build again.")
    known = "Name grid_region in sites.csv, or default_grid_region in portfolio.toml."
    _prose("Emission factors in force", ask(factors_in_force), FACTORS, "No factor is known.", known)


def _windows() -> None:
    """When each site's calls were kept, and silences that a person should look at."""
    add = "Register sites in sites.csv."
    _grid("Windows of record", ask(windows_in_force), WINDOWS, "No site is known.", add)
    known = "No silence of a site is longer than chance explains."
    _prose("Windows of record proposed", ask(windows_proposed), PROPOSED, known, "Nothing is to be done.")
    st.caption("Confirm them with `dayburn windows DIR --accept`, or write windows.csv yourself.")


def _grid(title: str, frame: pd.DataFrame, columns: dict[str, Shown], what: str, todo: str) -> None:
    st.header(title, anchor=False)
    if frame.empty:
        parts.nothing(what, todo)
    else:
        parts.table(frame, columns, _file_name(title))


def _prose(title: str, frame: pd.DataFrame, columns: dict[str, Shown], what: str, todo: str) -> None:
    st.header(title, anchor=False)
    if frame.empty:
        parts.nothing(what, todo)
    else:
        parts.prose_table(frame, columns, _file_name(title))


def _file_name(title: str) -> str:
    return title.lower().replace(" ", "-")


main()
