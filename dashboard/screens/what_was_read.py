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
    data_level,
    factors_in_force,
    files_read,
    notices,
    rejected,
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
    _prose("Notices", ask(notices), NOTICES, "The build has nothing to tell.", "Nothing is to be done.")
    _grid("Assumptions in force", ask(assumptions_in_force), ASSUMPTIONS, "No settings were kept.", again)
    st.caption("Change an assumption in portfolio.toml and build again.")
    known = "Name grid_region in sites.csv, or default_grid_region in portfolio.toml."
    _prose("Emission factors in force", ask(factors_in_force), FACTORS, "No factor is known.", known)


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
