"""Review: what is open or doubtful, by how much it moves the results; decide it, and see what that changed."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import deciding, parts, withdrawing
from dashboard import format as write
from dashboard.data import (
    ask,
    ask_anew,
    ask_of,
    build_facts,
    build_in_force,
    filters_in_force,
    portfolio_folder,
    previous_build,
)
from dashboard.format import Shown
from pipeline.decisions import Settled, settle
from pipeline.faults import InputFaults
from pipeline.figures import (
    By,
    before_and_now,
    calls_behind,
    choices,
    controls_to_choose,
    decisions_made,
    doubtful_readings,
    headline,
    open_ties,
    rules_learnt,
    verdict_accuracy,
    wording,
)
from pipeline.store import StageError

LINE = Shown("Line", write.row, "To choose below")
DECIDED = Shown("Decided", help="Waits for the next build")
TIES = {
    "line": LINE,
    "decided": DECIDED,
    "failures_left_out": Shown(
        "Failures left out", write.estimate, "Expected control failures at no control"
    ),
    "day_burning_hours_left_out": Shown(
        "Day burning left out, hours", write.estimate, "12 h for each day lit"
    ),
    "incidents": Shown("Incidents", write.count),
    "calls": Shown("Calls", write.count),
    "kind": Shown("Open", help="What the calls name that no register has"),
    "written": Shown("As written", width=280),
    "site": Shown("Site"),
    "evidence": Shown("Evidence", width=220),
    "source_file": Shown("File"),
    "row_number": Shown("Row", write.row),
}
DOUBTS = {
    "line": LINE,
    "decided": DECIDED,
    "failures_at_stake": Shown("Failures at stake", write.estimate, "Controls x the smaller of p and 1 - p"),
    "failed_probability": Shown("Control failed", write.percent, "Mean probability"),
    "incidents": Shown("Incidents", write.count),
    "symptom": Shown("Symptom"),
    "component": Shown("Component"),
    "action": Shown("Action"),
    "rule": Shown("Rule", width=220),
    "problem_text": Shown("Problem, for example", width=240),
    "action_text": Shown("Action, for example", width=200),
    "source_file": Shown("File"),
    "row_number": Shown("Row", write.row),
}
EXAMPLES = {
    "source_file": Shown("File"),
    "row_number": Shown("Row", write.row),
    "reported_at": Shown("Reported", write.moment),
    "problem_text": Shown("Problem as written"),
    "action_text": Shown("Action as written"),
    "site": Shown("Site"),
    "position": Shown("Position"),
    "evidence": Shown("Evidence of the reading"),
}
RULES = {
    "rule": Shown("Rule"),
    "origin": Shown("Origin"),
    "prior_probability": Shown("Prior", write.percent),
    "decided_yes": Shown("Decided: failed", write.count),
    "decided_no": Shown("Decided: not", write.count),
    "probability": Shown("Now", write.percent, "Posterior mean"),
    "limits": Shown("Limits, %"),
    "findings": Shown("Findings it speaks for", write.count),
}
ACCURACY = {
    "measure": Shown("Measure"), "share": Shown("Share", write.percent), "limits": Shown("Limits, %"),
    "right": Shown("Right", write.count), "of": Shown("Of cases", write.count),
}  # fmt: skip
EFFECT = {"label": Shown("Figure"), "before": Shown("Build before"), "now": Shown("This build")}
WAYS: dict[str, By] = {"By rule of reading": "rule", "By text": "text", "One incident at a time": "incident"}
FAILED = [
    ("The control failed", "control_failed", "yes"),
    ("The control did not fail", "control_failed", "no"),
]
NO_LIGHTING = ("This is not exterior lighting", "is_lighting", "no")
Subjects = set[tuple[str, str]]
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
    taken = {one.decision.subject[:2] for one in written if one.in_force}
    _ties(taken)
    _doubts(taken)
    withdrawing.in_force(written, made)
    _effect()
    _learnt()


def _waiting(written: list[Settled], made: pd.DataFrame) -> None:
    more = len(written) - len(made)
    if more > 0:
        rows = "row waits" if more == 1 else "rows wait"
        parts.box(
            f"{wording.count_text(more)} {rows} for the next build",
            "What is shown here and on every page is the last build's. Run `dayburn build DIR`, then reload.",
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
    line = _lines(_numbered(frame, taken), TIES, "open-ties", "written")
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
    line = _lines(_numbered(frame, taken), DOUBTS, f"doubtful-{WAYS[way]}", *names)
    several = f"all of these ({_incidents(line['incidents'])})"
    about = {"rule": several, "text": "all calls that say the same", "incident": "this incident"}[WAYS[way]]
    values = [*FAILED, NO_LIGHTING] if WAYS[way] == "text" else FAILED
    deciding.form(
        f"doubt_{line['key']}", {about: (str(line["target"]), str(line["key"]))}, values, "What is right?"
    )


def _numbered(frame: pd.DataFrame, taken: Subjects) -> pd.DataFrame:
    """Lines with their number, and which of them somebody has decided since the build."""
    pairs = zip(frame["target"], frame["key"], strict=True)
    decided = ["yes" if (target, key) in taken else "" for target, key in pairs]
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
        for label, column in (("Problem as written", "problem_text"), ("Action as written", "action_text"),
                              ("Evidence of the reading", "evidence")):  # fmt: skip
            parts.text_block(label, None if pd.isna(call[column]) else str(call[column]))


def _incidents(count: int) -> str:
    return f"{wording.count_text(int(count))} {'incident' if count == 1 else 'incidents'}"


def _effect() -> None:
    st.header("Before and after", anchor=False)
    before = previous_build(portfolio_folder())
    if before is None:
        parts.nothing(
            "There is no earlier build to compare with.",
            "Decide, then build again with `dayburn build DIR`: its figures then stand beside these.",
        )
        return
    try:
        old = ask_of(before, headline, filters_in_force())
    except (StageError, InputFaults):
        parts.nothing(
            "The build before was made by another version.", "Build again after your next decision."
        )
        return
    frame = before_and_now(old, ask_of(build_in_force(), headline, filters_in_force()))
    st.caption(
        "All that changed in the folder between the two builds moves these figures, not decisions alone."
    )
    moved = frame[frame["moved"]]
    if moved.empty:
        parts.nothing(
            "No headline figure differs between the two builds.", "Choose other filters to look closer."
        )
    else:
        parts.prose_table(moved, EFFECT, "before-and-after")


def _learnt() -> None:
    st.header("What decided cases taught", anchor=False)
    rules = ask(rules_learnt)
    if rules.empty:
        parts.nothing("No rule has judged a finding.", "Put exports into calls/ and build again.")
        return
    with st.expander("The rules that spoke, with prior, decided cases and what they say now"):
        parts.prose_table(_limits(rules), RULES, "rules")
    accuracy = ask(verdict_accuracy)
    if accuracy.empty:
        st.caption("Precision and recall of the table's verdict are shown from 10 decided cases on.")
        return
    confidence = wording.percent_text(build_facts().confidence)
    st.caption(
        f"The table's hard verdict, before it learnt, against what was decided ({confidence} Wilson limits). "
        "People decide what is doubtful, so this is not its accuracy on all findings."
    )
    parts.prose_table(_limits(accuracy), ACCURACY, "verdict-accuracy")


def _limits(frame: pd.DataFrame) -> pd.DataFrame:
    """With limits in whole per cent: more digits of a doubt mean nothing."""
    pairs = zip(frame["lower"].astype(float), frame["upper"].astype(float), strict=True)
    limits = [
        wording.span_text(f"{low * 100:.0f}", f"{high * 100:.0f}") if low == low else "–"
        for low, high in pairs
    ]
    return frame.assign(limits=limits)


main()
