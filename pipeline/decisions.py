"""What a person may decide on review, and which of several decisions counts.

A later row for the same target, key and field takes the place of an earlier one; a row with an empty value
withdraws it. Keys are made from content (``pipeline.decision_keys``), so they find their target after a re-export.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from pipeline.decision_keys import normal_key, pattern_kind

FIELDS = {
    "call": ("is_lighting", "site_id"),
    "finding": ("control_id", "symptom", "control_failed"),
    "incident": ("control_failed",),
}
PATTERN_FIELDS = {
    "site text": ("site_id",),
    "asset": ("control_id",),
    "rule": ("control_failed",),
    "text": ("control_failed", "is_lighting"),
}
SYMPTOMS = (
    "day burning", "out", "circuit out", "cycling", "dim", "flicker", "wrong time", "damage", "unknown",
)  # fmt: skip
YES_NO = ("yes", "no")

IN_FORCE = "in force"


@dataclass(frozen=True)
class Decision:
    """One row: who decided when that ``field`` of a target is ``value`` (empty: what was decided is withdrawn).

    ``row_number`` counts records of the file, the header being row 1; 0 for one that is not written yet.
    """

    when: datetime
    who: str
    target: str
    key: str
    field: str
    value: str
    why: str
    row_number: int = 0

    @property
    def subject(self) -> tuple[str, str, str]:
        """What it is about; of two rows about the same, the later counts."""
        return self.target, normal_key(self.key) if self.target == "pattern" else self.key, self.field

    @property
    def said(self) -> str:
        """Who decided and why, as evidence gives it."""
        return f"decided by {self.who}: {self.why}"


@dataclass(frozen=True)
class Settled:
    """A decision and what the later rows made of it; ``in_force`` unless overruled, withdrawn or withdrawing."""

    decision: Decision
    state: str

    @property
    def in_force(self) -> bool:
        """Whether it is to be applied."""
        return self.state == IN_FORCE


def settle(decisions: Sequence[Decision]) -> list[Settled]:
    """Each decision, in the order of the file, with its state: in force, overruled or withdrawn by a later row."""
    successor: dict[tuple[str, str, str], Decision] = {}
    settled = []
    for decision in reversed(decisions):
        later = successor.get(decision.subject)
        successor[decision.subject] = decision
        if not decision.value:
            state = "withdraws an earlier row"
        elif later is None:
            state = IN_FORCE
        else:
            state = f"{'overruled' if later.value else 'withdrawn'} by row {later.row_number}"
        settled.append(Settled(decision, state))
    return settled[::-1]


def wrong_terms(row: dict[str, str]) -> Iterator[tuple[str, str, str]]:
    """(column, problem, remedy) of a target, field or value that does not exist."""
    target, field, value = row["target"], row["field"], row["value"].lower()
    kind = pattern_kind(row["key"])
    if target not in (*FIELDS, "pattern"):
        yield "target", f"'{target}' is unknown.", f"Use one of {', '.join((*FIELDS, 'pattern'))}."
        return
    if target == "pattern" and kind not in PATTERN_FIELDS:
        begins = ", ".join(f"'{name} = …'" for name in PATTERN_FIELDS)
        yield "key", f"'{row['key'][:60]}' is no pattern.", f"A pattern begins {begins}."
        return
    fields = PATTERN_FIELDS[kind] if target == "pattern" else FIELDS[target]
    if field not in fields:
        of = f"a pattern of {kind}" if target == "pattern" else f"a {target}"
        yield "field", f"'{field}' cannot be decided of {of}.", f"Use {' or '.join(fields)}."
        return
    values = {"is_lighting": YES_NO, "control_failed": YES_NO, "symptom": SYMPTOMS}.get(field)
    if values and value and value not in values:
        yield (
            "value",
            f"'{row['value']}' is no value of {field}.",
            f"Use {', '.join(values)}, or nothing to withdraw.",
        )
