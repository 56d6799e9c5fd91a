"""What the tables of the Review page show of each line."""

from __future__ import annotations

from dashboard import format as write
from dashboard.format import Shown

LINE = Shown("Line", write.row, "To choose below")
DECIDED = Shown("Decided", help="Waits for the next build")
TIES = {
    "line": LINE,
    "decided": DECIDED,
    "written": Shown("As written", width=200),
    "failures_left_out": Shown(
        "Failures left out", write.estimate, "Expected control failures at no control"
    ),
    "day_burning_hours_left_out": Shown(
        "Day burning left out, hours", write.estimate, "12 h for each day lit"
    ),
    "incidents": Shown("Incidents", write.count),
    "calls": Shown("Calls", write.count),
    "kind": Shown("Open", help="What the calls name that no register has"),
    "site": Shown("Site"),
    "evidence": Shown("Evidence", width=220),
    "source_file": Shown("File"),
    "row_number": Shown("Row", write.row),
}
DOUBTS = {
    "line": LINE,
    "decided": DECIDED,
    "rule": Shown("Rule", width=200),
    "failures_at_stake": Shown("Failures at stake", write.estimate, "Controls x the smaller of p and 1 - p"),
    "failed_probability": Shown("Control failed", write.percent, "Mean probability"),
    "incidents": Shown("Incidents", write.count),
    "symptom": Shown("Symptom"),
    "component": Shown("Component"),
    "action": Shown("Action"),
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
