"""Windows of record that the calls suggest, for a person to confirm site by site."""

from __future__ import annotations

import streamlit as st

from dashboard import parts
from dashboard.data import ask
from dashboard.saying import doing, say
from pipeline.faults import InputFaults
from pipeline.intake_actions import confirm_windows
from pipeline.numerals import count_text, counted
from pipeline.portfolio import Portfolio
from pipeline.window_file import FILE as WINDOWS_FILE
from pipeline.window_file import read_windows
from pipeline.windows import SiteWindows, proposed


def confirm(portfolio: Portfolio) -> None:
    """Windows of record that the calls suggest: a person confirms them, site by site."""
    st.header("Windows of record to confirm", anchor=False)
    try:
        settled = {
            one.site_id for one in read_windows(portfolio.folder / WINDOWS_FILE, portfolio.settings.time_zone)
        }
    except InputFaults as faults:
        parts.box(f"{WINDOWS_FILE} cannot be used", *(str(fault) for fault in faults.faults))
        return
    offered: dict[str, SiteWindows] = {
        one.site_id: one for one in ask(proposed) if one.site_id not in settled
    }
    if not offered:
        parts.nothing("No silence of a site is left to decide.")
        return
    for one in offered.values():
        spans = ", ".join(f"{span.first} to {span.last}" for span in one.windows)
        st.text(f"Site {one.site_id}: {spans}\n{one.evidence}")
    chosen = st.multiselect(
        "Sites whose windows are right", list(offered), placeholder="Choose sites", key="intake_windows"
    )
    noun = "site" if len(chosen) == 1 else "sites"
    if st.button(f"Confirm windows of {count_text(len(chosen))} {noun}", disabled=not chosen):
        doing(lambda: _confirm(portfolio, [offered[site] for site in chosen]), "Nothing was saved")


def _confirm(portfolio: Portfolio, chosen: list[SiteWindows]) -> None:
    rows = confirm_windows(portfolio, chosen)
    say("Confirmed", f"Wrote {counted(rows, 'row')} to {WINDOWS_FILE}.", "They count from the next build on.")
