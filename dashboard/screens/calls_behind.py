"""Calls behind a figure: from any number down to the file and row of its calls."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, ask_anew, filters_in_force
from dashboard.format import Shown
from pipeline.figures import (
    Figure,
    calls_behind,
    failure_groups,
    groupings,
    headline,
    headline_keys,
    incidents_of_group,
)
from pipeline.numerals import counted

FIGURE, INCIDENT, GROUP = "A headline figure", "An incident", "A group of controls"
LISTED = "What was chosen on another page"
WAY, KEY, ONE, GROUPING, NAME = (
    "behind_way",
    "behind_key",
    "behind_incident",
    "behind_grouping",
    "behind_group",
)
COLUMNS = {
    "source_file": Shown("File"),
    "row_number": Shown("Row", write.row, "Counted from 1 in that file"),
    "reported_at": Shown("Reported", write.moment, width=145),
    "problem_text": Shown("Problem as written", width=260),
    "action_text": Shown("Action as written", width=220),
    "evidence": Shown("Evidence of the reading", width=220),
    "symptom": Shown("Symptom read"),
    "component": Shown("Component read"),
    "action": Shown("Action read"),
    "failed_probability": Shown("Control failed", write.percent, "Probability by the reading"),
    "site": Shown("Site"),
    "position": Shown("Position"),
    "control_id": Shown("Control"),
    "call_number": Shown("Call"),
    "status": Shown("Status"),
    "completed_at": Shown("Completed", write.moment, width=145),
    "incident_id": Shown("Incident"),
    "calls_of_incident": Shown("Calls of the incident", write.count),
}


def main() -> None:
    """The page."""
    parts.head("Calls behind a figure", "Every figure opens to its calls, every call to its file and row.")
    _arrive()
    ways = {FIGURE: _of_figure, INCIDENT: _of_incident, GROUP: _of_group}
    if parts.LOOK_AT in st.session_state:
        ways[LISTED] = _of_list
    way = st.radio("Look behind", list(ways), horizontal=True, key=WAY)
    calls = ways[str(way)]()
    if calls is not None:
        _show(calls)


def _arrive() -> None:
    """Take over what another page, or the address, asks to see."""
    target = st.session_state.pop(parts.LOOK_BEHIND, None)
    if target is None and WAY not in st.session_state:
        target = {name: st.query_params[name] for name in ("figure", "incident", "grouping", "group")
                  if name in st.query_params}  # fmt: skip
    if not target:
        return
    if "listed" in target:
        st.session_state[WAY] = LISTED
    elif "incident" in target:
        st.session_state[WAY], st.session_state[ONE] = INCIDENT, target["incident"]
    elif target.get("grouping") in groupings():
        st.session_state[WAY], st.session_state[GROUPING] = GROUP, target["grouping"]
        st.session_state[NAME] = target.get("group")
    elif target.get("figure") in headline_keys():
        st.session_state[WAY], st.session_state[KEY] = FIGURE, target["figure"]


def _address(**target: str) -> None:
    for name in ("figure", "incident", "grouping", "group"):
        if name in target:
            st.query_params[name] = target[name]
        elif name in st.query_params:
            del st.query_params[name]


def _of_figure() -> pd.DataFrame:
    figures = {one.key: one for figure in ask(headline, filters_in_force()) for one in figure.flat()}
    keys = [key for key in headline_keys() if key in figures]
    key = str(st.selectbox("Figure", keys, format_func=lambda k: _named(figures[k]), key=KEY))
    _address(figure=key)
    return ask_anew(calls_behind, key, filters_in_force())


def _named(figure: Figure) -> str:
    return f"{figure.label}: {figure.text()}"


def _of_incident() -> pd.DataFrame | None:
    incident = st.text_input("Incident", key=ONE, placeholder="its id, as the tables give it").strip()
    if not incident:
        parts.nothing(
            "No incident is named.", "Type or paste its id, or choose a row on the page Burning now."
        )
        return None
    _address(incident=incident)
    return ask_anew(calls_behind, [incident], filters_in_force())


def _of_list() -> pd.DataFrame:
    label, ids = st.session_state[parts.LOOK_AT]
    st.subheader("Chosen", anchor=False)
    st.text(label)
    _address()
    return ask_anew(calls_behind, list(ids), filters_in_force())


def _of_group() -> pd.DataFrame | None:
    left, right = st.columns(2)
    grouping = str(left.selectbox("Groups by", groupings(), key=GROUPING))
    fits = ask(failure_groups, grouping, filters_in_force())
    names = fits.loc[fits["failures"].fillna(0) > 0, "group_name"].tolist()
    if not names:
        parts.nothing(
            "No group here has a failure at a known age.", "Choose another grouping, or fewer filters."
        )
        return None
    if st.session_state.get(NAME) not in names:
        st.session_state[NAME] = names[0]
    name = str(right.selectbox("Group", names, key=NAME))
    _address(grouping=grouping, group=name)
    ids = ask(incidents_of_group, grouping, name, filters_in_force())
    return ask_anew(calls_behind, ids, filters_in_force())


def _show(calls: pd.DataFrame) -> None:
    if calls.empty:
        parts.nothing(
            "No call stands behind this.",
            "With these filters there is none, or no incident has this id. Choose other filters or another figure.",
        )
        return
    incidents, distinct = calls["incident_id"].nunique(), calls["call_id"].nunique()
    st.caption(
        f"{counted(distinct, 'call')} in {counted(incidents, 'incident')}. A call that reports several faults has a "
        "row for each; a failure that only the register tells of has none. Choose a row to read its texts in full."
    )
    row = parts.table(calls, COLUMNS, "calls", pick=True)
    if row is None and len(calls) == 1:
        row = 0
    if row is not None:
        _in_full(calls.iloc[row])


def _in_full(call: pd.Series) -> None:
    with st.container(border=True, key="in-full"):
        parts.text_block("Source", f"{call['source_file']}, row {call['row_number']}")
        for label, name in (("Problem as written", "problem_text"), ("Action as written", "action_text"),
                            ("Evidence of the reading", "evidence")):  # fmt: skip
            value = call[name]
            parts.text_block(label, None if pd.isna(value) else str(value))


main()
