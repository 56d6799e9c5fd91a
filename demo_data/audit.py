"""The quarterly audit: closed lighting orders drawn at random, and what opening the control or asking the crew showed.

It becomes the portfolio's decisions.csv, which teaches the pipeline what a closing text of this district is worth.
"""

from __future__ import annotations

import hashlib
from datetime import datetime

import numpy as np

from demo_data.events import Call
from demo_data.model import AUDIT_SHARE, moment_of
from demo_data.truth import Row

DECISION_COLUMNS = ("when", "who", "target", "key", "field", "value", "why")
_SOURCE = "facilities office"  # as both of the portfolio's layouts name the system of the call numbers


def decision_rows(calls: list[Call], seed: int) -> list[Row]:
    """Rows of decisions.csv in the order of the audits; which orders are drawn does not depend on the answer."""
    rng = np.random.default_rng([seed, 9])
    audited = [call for call in calls if _can_be_audited(call) and rng.random() < AUDIT_SHARE]
    return sorted((_decision(call) for call in audited), key=lambda row: (str(row["when"]), str(row["key"])))


def _can_be_audited(call: Call) -> bool:
    """One fault on one order, whose work put it right."""
    if call.closed is None or call.duplicate_of is not None or len(call.incidents) != 1:
        return False
    return call.exterior_lighting and call.done is not None and call.done == call.incidents[0].restored


def _decision(call: Call) -> Row:
    incident = call.incidents[0]
    pulled = incident.control_failed or incident.changes_control
    return {
        "when": f"{_audited_at(call):%Y-%m-%d %H:%M:%S}",
        "who": "quarterly audit",
        "target": "finding",
        "key": f"{_call_id(call.number)}-1",
        "field": "control_failed",
        "value": "yes" if incident.control_failed else "no",
        "why": "control tested on the bench" if pulled else "asked the crew and looked",
    }


def _audited_at(call: Call) -> datetime:
    """The tenth day of the quarter after the order was closed, nine in the morning."""
    assert call.closed is not None
    closed = moment_of(call.closed)
    quarter = closed.year * 4 + (closed.month - 1) // 3 + 1
    return datetime(quarter // 4, quarter % 4 * 3 + 1, 10, 9)


def _call_id(number: str) -> str:
    """The identity that a call has in the pipeline: of its system and number, whatever file it stands in."""
    text = "\x1f".join((_SOURCE, "number", number))
    return hashlib.md5(text.encode(), usedforsecurity=False).hexdigest()[:16]
