"""What people decided on review, and the rules of verdicts with what they learn from it."""

from __future__ import annotations

from pipeline.tables.schema import Table, columns

DECISIONS = Table(
    "decisions", "tie", "a row of decisions.csv, in the order of the file", key=("row_number",),
    columns=columns("""
    row_number integer! record in decisions.csv, its header being 1
    decided_at time! when it was decided, as written
    who text! who decided, as that person wrote; numbers and addresses masked
    target text! call, finding, incident or pattern
    key text! id of the target, or the pattern, people masked
    field text! is_lighting, site_id, control_id, symptom or control_failed
    value text what was decided; empty withdraws an earlier row
    why text reason, people masked
    state text! in force, overruled or withdrawn by a later row, withdraws an earlier row, finds nothing, or names nothing registered
    calls integer! calls that it reached
    findings integer! findings that it reached
    """),
)  # fmt: skip

VERDICT_RULES = Table(
    "verdict_rules", "tie", "a rule of the verdict on the control, with what decided cases made of its prior", key=("rule",),
    columns=columns("""
    rule text! its name: why
    place integer! rank in the table; the first rule that fits speaks
    origin text! built in, or the portfolio's page with the origin that it states
    prior_probability number! probability that the control failed, as the table has it
    prior_cases number! decided cases that the prior is worth (verdict_prior_cases)
    decided_yes integer! decided cases under it in which the control failed
    decided_no integer! and in which it did not
    cases_failed number! prior_cases times prior_probability, plus decided_yes: first parameter of the odds' beta distribution
    cases_not_failed number! prior_cases times the rest, plus decided_no: its second parameter
    probability number! posterior mean, by which findings are judged
    findings integer! findings for which it speaks, decided ones left out
    """),
)  # fmt: skip

DECIDED_CASES = Table(
    "decided_cases", "tie", "a decision on a finding, an incident or a text, as a case of a rule", key=("row_number", "rule"),
    columns=columns("""
    row_number integer! row of decisions
    rule text! rule that would have judged
    failed flag! whether the control failed, as decided
    prior_probability number! what the table alone says
    """),
)  # fmt: skip
