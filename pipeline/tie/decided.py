"""People's decisions applied: each at the point of the reading where it counts, and how far each one reached."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from pipeline.decision_file import read_decisions
from pipeline.decision_keys import (
    asset_key_sql,
    normal_key,
    pattern_kind,
    rule_key_sql,
    site_text_key_sql,
    text_key_sql,
)
from pipeline.decision_privacy import masked_columns, without_people
from pipeline.decisions import Decision, Settled, settle
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio
from pipeline.store import Store, sql_text
from pipeline.tie.reading import Reading
from pipeline.tie.verdict import Verdicts

_PACKAGE = "pipeline.tie"
_NO_SITE, _NO_CONTROL = "names no site of the register", "names no control of the register"
_MOST_NOTICES = 20


class Decisions:
    """The decisions of a portfolio, applied step by step to the working tables of the stage."""

    def __init__(self, store: Store, portfolio: Portfolio) -> None:
        self._store = store
        typed = read_decisions(portfolio.decisions_file)
        kept = without_people(typed, portfolio.settings.privacy)
        _tell_of_people(store, typed, kept)
        self._settled = settle(kept)
        rows = [
            (d.row_number, d.target, pattern_kind(d.key) if d.target == "pattern" else "", _key(one), d.field,
             d.value, d.said)
            for one in self._settled if one.in_force for d in (one.decision,)
        ]  # fmt: skip
        columns = ["row_number", "target", "kind", "key", "field", "value", "said"]
        _keep(store, "decided", rows, columns)
        _keep(store, "decision_matches", [], ["row_number", "call_id", "finding_id"])

    def apply_to_lighting(self) -> None:
        """Whether a call is exterior lighting at all; before any call is chosen to be read."""
        self._run("decided_lighting", text_key=text_key_sql("c.problem_text", "c.action_text"))

    def apply_to_sites(self) -> None:
        """The site of every call, as ``call_sites``; after names were matched, before texts are read."""
        self._store.run("ALTER TABLE site_matches ADD COLUMN said VARCHAR")
        self._run("call_sites", site_text_key=site_text_key_sql("m.site_text"))

    def apply_to_readings(self, verdicts: Verdicts) -> None:
        """Controls and symptoms, as tables that ``placed_findings`` heeds; after texts were read."""
        self._run("decided_places", asset_key=asset_key_sql("a.site_id", "a.asset_text"))
        rows = self._store.rows(
            "SELECT d.row_number, k.call_id, t.part_number, d.value, d.said, t.evidence,"
            " t.component, t.kind, t.action, t.cause, t.units, t.alone, t.bad"
            " FROM decided d JOIN (call_keys k JOIN told t USING (key_id))"
            " ON k.call_id || '-' || t.part_number = d.key"
            " WHERE d.target = 'finding' AND d.field = 'symptom'"
        )
        decided = []
        for number, call_id, part, symptom, said, evidence, *told in rows:
            component, kind, action, cause, units, alone, bad = told
            reading = Reading(symptom, component, kind, action, cause, units, alone, bad, True, "")
            verdict = verdicts.of(reading)
            words = f"{evidence} (symptom {said}; so: {verdict.why})"
            decided.append((number, call_id, part, symptom, verdict.why, verdict.probability,
                            verdict.failure_mode, words))  # fmt: skip
        columns = ["row_number", "call_id", "part_number", "symptom", "rule", "probability", "failure_mode",
                   "evidence"]  # fmt: skip
        _keep(self._store, "decided_symptoms", decided, columns)

    def apply_to_verdicts(self, verdicts: Verdicts) -> None:
        """The probability of every finding, as ``judged_members``, and of decided incidents; after the gathering."""
        for matched, on in (
            ("decided_controls", "p.finding_id = d.finding_id"),
            ("decided_assets", "p.call_id = d.call_id"),
            ("decided_symptoms", "p.call_id = d.call_id AND p.part_number = d.part_number"),
        ):
            self._store.run(
                "INSERT INTO decision_matches SELECT d.row_number, p.call_id, p.finding_id"  # noqa: S608 - names of ours
                f" FROM {matched} d JOIN placed_findings p ON {on}"
            )
        rules = [(at, rule.why, rule.origin, rule.probability) for at, rule in enumerate(verdicts.rules, 1)]
        _keep(self._store, "rules_in_force", rules, ["place", "rule", "origin", "prior_probability"])
        self._run(
            "judged",
            text_key=text_key_sql("c.problem_text", "c.action_text"),
            rule_key=rule_key_sql("m.symptom", "m.component", "m.action", "m.rule"),
        )

    def report(self) -> None:
        """Every row of the file with its state and reach; those that reach nothing are told."""
        reach = {
            row: (calls, findings)
            for row, calls, findings in self._store.rows(
                "SELECT d.row_number, count(DISTINCT d.call_id), count(DISTINCT m.finding_id)"
                " FROM decision_matches d LEFT JOIN incident_members m"
                " ON m.call_id = d.call_id AND m.finding_id = coalesce(d.finding_id, m.finding_id)"
                " GROUP BY d.row_number"
            )
        }
        registered = {
            "site_id": {row[0] for row in self._store.rows("SELECT site_id FROM sites")},
            "control_id": {row[0] for row in self._store.rows("SELECT control_id FROM controls")},
        }
        lost = []
        for one in self._settled:
            d, state = one.decision, one.state
            calls, findings = reach.get(d.row_number, (0, 0))
            if one.in_force:
                if d.value not in registered.get(d.field, {d.value}):
                    state = _NO_SITE if d.field == "site_id" else _NO_CONTROL
                elif not calls:
                    state = "finds nothing"
                if state != one.state:
                    lost.append((d.row_number, f"{d.target} '{d.key[:80]}', {d.field} '{d.value}': {state}"))
            self._store.run(
                "INSERT INTO decisions VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [d.row_number, d.when, d.who, d.target, d.key, d.field, d.value or None, d.why or None, state,
                 calls, findings],
            )  # fmt: skip
        self._tell(lost)

    def _tell(self, lost: list[tuple[int, str]]) -> None:
        for row, what in lost[:_MOST_NOTICES]:
            self._store.notice(
                "tie",
                f"decisions.csv, row {row}",
                f"{what}. It is kept, and counts again when its target is back; to withdraw it, add a row "
                "with an empty value.",
            )
        if len(lost) > _MOST_NOTICES:
            more = count_text(len(lost) - _MOST_NOTICES)
            self._store.notice(
                "tie", "decisions.csv", f"{more} more decisions reach nothing: see the table decisions."
            )

    def _run(self, name: str, **expressions: str) -> None:
        text = sql_text(_PACKAGE, name)
        for placeholder, expression in expressions.items():
            text = text.replace(f"{{{placeholder}}}", expression)
        self._store.run(text)


def _tell_of_people(store: Store, typed: Iterable[Decision], kept: Iterable[Decision]) -> None:
    """A notice for each column of decisions.csv in which people were masked, with its rows."""
    rows: dict[str, list[int]] = {}
    for one, other in zip(typed, kept, strict=True):
        for column in masked_columns(one, other):
            rows.setdefault(column, []).append(one.row_number)
    for column, numbers in rows.items():
        first = ", ".join(map(str, numbers[:_MOST_NOTICES])) + (" …" if len(numbers) > _MOST_NOTICES else "")
        store.notice(
            "tie",
            f"decisions.csv, column {column}",
            f"a telephone number, an e-mail address or a name is masked wherever it is shown (rows {first}); the file "
            "itself keeps what was typed. Write a role or a tag instead.",
        )


def _key(one: Settled) -> str:
    decision = one.decision
    return normal_key(decision.key) if decision.target == "pattern" else decision.key


_TYPES = {
    "row_number": "BIGINT", "part_number": "BIGINT", "place": "BIGINT", "probability": "DOUBLE",
    "prior_probability": "DOUBLE",
}  # fmt: skip


def _keep(store: Store, table: str, rows: Iterable[tuple[object, ...]], columns: list[str]) -> None:
    """Rows as a temporary table, whose types do not depend on whether there are any."""
    typed = ", ".join(f"{name}::{_TYPES.get(name, 'VARCHAR')} AS {name}" for name in columns)
    with store.frame_as("rows_to_keep", pd.DataFrame(list(rows), columns=columns)) as name:
        store.run(f"CREATE OR REPLACE TEMP TABLE {table} AS SELECT {typed} FROM {name}")  # noqa: S608 - names of ours
