"""Review: what is open or doubtful, by how much it moves the results; decide it, and see what that changed."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import deciding, parts, review_effect, withdrawing
from dashboard.data import ask, ask_anew, filters_in_force
from dashboard.format import Shown
from dashboard.review_columns import DOUBTS, EXAMPLES, TIES
from pipeline.decisions import Settled, settle
from pipeline.faults import InputFaults
from pipeline.figures import (
    By,
    calls_behind,
    choices,
    controls_to_choose,
    decisions_made,
    doubtful_readings,
    open_ties,
    wording,
)
from pipeline.numerals import counted

WAYS: dict[str, By] = {"By rule of reading": "rule", "By text": "text", "One incident at a time": "incident"}
FAILED = [
    ("The control failed", "control_failed", "yes"),
    ("The control did not fail", "control_failed", "no"),
]
NO_LIGHTING = ("This is not exterior lighting", "is_lighting", "no")
Subjects = set[tuple[str, str, str]]
MOST_LINES, MOST_SHOWN = 500, 5


def main() -> None:
    """The page."""
    parts.head("Review", "What is open or doubtful, the largest effect on the results first.")
    try:
        written = settle(deciding.decisions_written())
    except InputFaults as faults:
        parts.box("decisions.csv cannot be used", *(str(fault) for fault in faults.faults))
        return
    made = ask(decisions_made)
    deciding.tell()
    _waiting(written, made)
    deciding.ask_who()
    taken = {one.decision.subject for one in written if one.in_force}
    _ties(taken)
    _doubts(taken)
    withdrawing.in_force(written, made)
    review_effect.before_and_after()
    review_effect.learnt()


def _waiting(written: list[Settled], made: pd.DataFrame) -> None:
    more = len(written) - len(made)
    if more > 0:
        rows = "row waits" if more == 1 else "rows wait"
        parts.box(
            f"{wording.count_text(more)} {rows} for the next build",
            "What is shown here and on every page is the last build's. Press Build on the page Intake, or run "
            "`dayburn build DIR` and reload.",
        )


def _ties(taken: Subjects) -> None:
    st.header("Open ties", anchor=False)
    frame = ask(open_ties, filters_in_force())
    if frame.empty:
        parts.nothing(
            "Every incident here is at a known site and control, or there is no register to know them by.",
            "Nothing is to be done; choose other sites or a longer period to see more.",
        )
        return
    line = _lines(_numbered(frame, taken, "site_id", "control_id"), TIES, "open-ties", "written")
    ids = dict(ask(choices).sites)
    options = ids if line["field"] == "site_id" else ask(controls_to_choose, str(line["site_id"]))
    what = {"site text": "all calls that write this", "asset": "all calls that write this asset here"}
    about = what.get(str(line["kind"]), f"this one {line['kind']}")
    question = "Which site is meant?" if line["field"] == "site_id" else "Which control is meant?"
    if not options:
        parts.nothing(
            "No register names anything to choose.", "Add it to sites.csv or controls.csv and build again."
        )
        return
    deciding.form(
        f"tie_{line['key']}", {about: (str(line["target"]), str(line["key"]))}, options, question, str(line["field"])
    )  # fmt: skip


def _doubts(taken: Subjects) -> None:
    st.header("Doubtful readings", anchor=False)
    way = str(st.radio("Gathered", list(WAYS), horizontal=True, key="review_by"))
    frame = ask(doubtful_readings, WAYS[way], filters_in_force())
    if frame.empty:
        parts.nothing("Nothing here is in doubt.", "Choose another way to gather, or fewer filters.")
        return
    names = (
        ("rule", "symptom", "component", "action") if WAYS[way] == "rule" else ("problem_text", "action_text")
    )
    line = _lines(
        _numbered(frame, taken, "control_failed", "is_lighting"), DOUBTS, f"doubtful-{WAYS[way]}", *names
    )
    several = f"all of these ({counted(int(line['incidents']), 'incident')})"
    about = {"rule": several, "text": "all calls that say the same", "incident": "this incident"}[WAYS[way]]
    values = [*FAILED, NO_LIGHTING] if WAYS[way] == "text" else FAILED
    deciding.form(
        f"doubt_{line['key']}", {about: (str(line["target"]), str(line["key"]))}, values, "What is right?"
    )


def _numbered(frame: pd.DataFrame, taken: Subjects, *fields: str) -> pd.DataFrame:
    """Lines with their number, and which of them somebody has decided: any of ``fields``, of the same target."""
    answered = {(target, key) for target, key, field in taken if field in fields}
    pairs = zip(frame["target"], frame["key"], strict=True)
    decided = ["yes" if pair in answered else "" for pair in pairs]
    return frame.assign(line=range(1, len(frame) + 1), decided=decided)


def _lines(frame: pd.DataFrame, columns: dict[str, Shown], name: str, *naming: str) -> pd.Series:
    """The table, a choice of one of its lines, and that line's examples; gives the line."""
    shown = frame.head(MOST_LINES)
    parts.table(frame, columns, name, most=MOST_LINES)

    def words(at: int) -> str:
        said = " · ".join(str(shown[column].iloc[at] or "–") for column in naming)
        return f"{at + 1}. {said[:140]}" + (" (decided)" if shown["decided"].iloc[at] else "")

    open_lines = [at for at, decided in enumerate(shown["decided"]) if not decided]
    key = f"{deciding.LINE}{name}"
    first = open_lines[0] if open_lines else 0
    at = int(st.selectbox("Line to decide", range(len(shown)), first, format_func=words, key=key) or 0)
    line = shown.iloc[at]
    calls = ask_anew(calls_behind, [str(one) for one in line["examples"]][:MOST_SHOWN], filters_in_force())
    if not calls.empty:
        _first(calls.iloc[0])
    if len(calls) > 1:
        with st.expander("More examples, with file and row"):
            parts.prose_table(calls.iloc[1:].head(2 * MOST_SHOWN), EXAMPLES, f"examples-{name}")
    return line


def _first(call: pd.Series) -> None:
    """One call of the line as it stands in its file."""
    with st.container(border=True):
        parts.text_block("For example", f"{call['source_file']}, row {call['row_number']}")
        for label, column in (
            ("Site", "site"), ("Problem as written", "problem_text"), ("Action as written", "action_text"),
            ("Evidence of the reading", "evidence"),
        ):  # fmt: skip
            parts.text_block(label, None if pd.isna(call[column]) else str(call[column]))


main()
