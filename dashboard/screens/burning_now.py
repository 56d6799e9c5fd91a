"""Burning now: the list for Monday's crew, the dearest first."""

from __future__ import annotations

import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import burning_now, wording
from pipeline.figures.headline_waste import BOUNDARY

COLUMNS = {
    "site": Shown("Site"),
    "position": Shown("Position"),
    "control_id": Shown("Control"),
    "cost_per_day": Shown("Cost, {money}/day", write.money, "Of one more day lit; 0 on unmetered accounts"),
    "kwh_per_day": Shown("Energy, kWh/day", write.estimate),
    "age_days": Shown("Open for, days", write.count, "Since the first report"),
    "last_evidence_on": Shown("Last heard of", write.day, width=115),
    "last_evidence": Shown("Last evidence"),
    "kind": Shown("Kind"),
    "model": Shown("Model"),
    "controls": Shown("Controls", write.count, "Controls concerned"),
    "first_reported_on": Shown("First report", write.day, width=110),
    "lamps": Shown("Lamps"),
    "connected_w": Shown("Load, W", write.estimate),
    "calls": Shown("Calls", write.count),
    "failed_probability": Shown("Control failed", write.percent, "How far the texts say so"),
    "flags": Shown("Flags"),
    "left_out_reason": Shown("Why no energy"),
    "incident_id": Shown("Incident"),
}
UNMETERED = (
    "A cost of 0 stands where the account is unmetered, billed by agreed burn hours, or its price is 0; – where the "
    "load or the price is not known."
)
CREW = (
    "site", "position", "control_id", "kind", "model", "controls", "cost_per_day", "kwh_per_day", "age_days",
    "last_evidence_on", "last_evidence",
)  # fmt: skip


def main() -> None:
    """The page."""
    parts.head("Burning now", "Open day burning at the log's end, the dearest first.", with_period=False)
    parts.cautions()
    frame = ask(burning_now, filters_in_force())
    if frame.empty:
        parts.nothing(
            "No day burning is open here.",
            f"Choose other sites or kinds, or build again with a newer export. {BOUNDARY}",
        )
        return
    parts.cards("burning_now")
    st.subheader("Crew list", anchor=False)
    if (frame["cost_per_day"] == 0).any():
        st.caption(UNMETERED)
    with parts.screen_only("crew"):
        st.caption("Print this page (Ctrl+P) for a plain list. Choose a row to open its calls.")
        row = parts.table(frame, COLUMNS, "crew-list", pick=True)
    if row is not None and st.button("Calls of the chosen incident"):
        parts.look_behind(incident=str(frame["incident_id"].iloc[row]))
    info = build_facts()
    crew = {name: COLUMNS[name] for name in CREW} | {"found": Shown("Found, done", lambda _: "")}
    caption = f"{info.portfolio_name}: day burning open on {wording.date_text(info.log_to)}"
    parts.print_only(write.plain_table(frame.assign(found=""), crew, info.money, caption))


main()
