"""Decisions in force on the Review page: what each says and reaches, and how it is withdrawn."""

from __future__ import annotations

from collections.abc import Hashable

import pandas as pd
import streamlit as st

from dashboard import deciding, parts
from dashboard import format as write
from dashboard.format import Shown
from pipeline.decisions import Decision, Settled
from pipeline.figures import wording
from pipeline.numerals import counted

COLUMNS = {
    "row_number": Shown("Row", write.row, "Of decisions.csv"),
    "when": Shown("When", write.moment),
    "who": Shown("Who"),
    "decided": Shown("Decided"),
    "why": Shown("Why", width=220),
    "reach": Shown("Reach", width=260),
    "about": Shown("About", width=260),
}


def in_force(written: list[Settled], made: pd.DataFrame) -> None:
    """Every decision in force, the latest first, and a choice of one to undo. ``made``: those that the build read."""
    st.header("Decisions in force", anchor=False)
    current = [one.decision for one in reversed(written) if one.in_force]
    if not current:
        parts.nothing("Nothing has been decided.", "Choose a line above, and confirm what is right.")
        return
    built = {int(row["row_number"]): row for row in made.to_dict("records")}
    frame = pd.DataFrame([_row(decision, built.get(decision.row_number)) for decision in current])
    parts.table(frame, COLUMNS, "decisions-in-force", most=len(frame))
    _undo(current, frame)


def _undo(current: list[Decision], frame: pd.DataFrame) -> None:
    def words(at: int) -> str:
        shown = frame.iloc[at]
        return f"Row {shown['row_number']}: {shown['decided']}, {shown['about']}"[:140]

    at = int(st.selectbox("Decision to undo", range(len(current)), format_func=words, key="undo_which") or 0)
    decision, shown = current[at], frame.iloc[at]
    with st.container(border=True):
        st.text(f"{shown['decided']}\n{shown['about']}")
        st.text(f"{wording.date_text(decision.when)}, {decision.who}: {decision.why}\n{shown['reach']}")
        if st.button(f"Undo row {decision.row_number}", key=f"undo_{decision.row_number}"):
            deciding.undo(decision)


def _row(decision: Decision, built: dict[Hashable, object] | None) -> dict[str, object]:
    return {
        "row_number": decision.row_number,
        "when": decision.when,
        "who": decision.who,
        "decided": f"{decision.field} = {decision.value}",
        "why": decision.why,
        "reach": _reach(built),
        "about": f"{decision.target}: {decision.key}",
    }


def _reach(built: dict[Hashable, object] | None) -> str:
    if built is None:
        return "waits for the next build"
    findings, calls = (
        counted(int(str(built["findings"])), "finding"),
        counted(int(str(built["calls"])), "call"),
    )
    return f"{built['state']}; reaches {findings} in {calls}"
