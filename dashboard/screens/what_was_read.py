"""What was read: files and their reconciliation, refused rows, checks, notices, assumptions."""

from __future__ import annotations

import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, ask_anew
from dashboard.format import Shown
from dashboard.money_and_carbon import FACTORS
from dashboard.reconciliation import files, grid, level_box, prose, reasons
from pipeline.figures import (
    assumptions_in_force,
    checks,
    factors_in_force,
    notices,
    rejected,
    rows_left_out,
    windows_in_force,
    windows_proposed,
)

REJECTED = {
    "source_file": Shown("File"),
    "row_number": Shown("Row", write.row),
    "reason": Shown("Why"),
    "raw": Shown("The row, masked"),
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
ASSUMPTIONS = {"setting": Shown("Setting"), "value": Shown("Value"), "unit": Shown("Unit")}


def main() -> None:
    """The page."""
    parts.head("What was read", "From which file every call came, what was refused, and what was assumed.")
    st.caption("Filters do not apply on this page.")
    level_box()
    again = "Build again with `dayburn build DIR`."
    prose("Checks", ask(checks), CHECKS, "No check was kept.", again)
    files()
    whole = "Every row read became a call or one of its states."
    grid("Rejected rows", ask_anew(rejected), REJECTED, "No row was rejected.", whole)
    reasons()
    grid(
        "Register rows left out",
        ask(rows_left_out),
        LEFT_OUT,
        "Every row of the registers is used.",
    )
    _windows()
    prose("Notices", ask(notices), NOTICES, "The build has nothing to tell.")
    grid("Assumptions in force", ask(assumptions_in_force), ASSUMPTIONS, "No settings were kept.", again)
    st.caption("Change an assumption in portfolio.toml and build again.")
    known = "Name grid_region in sites.csv, or default_grid_region in portfolio.toml."
    prose("Emission factors in force", ask(factors_in_force), FACTORS, "No factor is known.", known)


def _windows() -> None:
    """When each site's calls were kept, and silences that a person should look at."""
    add = "Register sites in sites.csv."
    grid("Windows of record", ask(windows_in_force), WINDOWS, "No site is known.", add)
    known = "No silence of a site is longer than chance explains."
    prose("Windows of record proposed", ask(windows_proposed), PROPOSED, known)
    st.caption(
        "Confirm them on the page Intake or with `dayburn windows DIR --accept`, or write windows.csv yourself."
    )


main()
