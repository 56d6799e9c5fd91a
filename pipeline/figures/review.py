"""What a person should look at, by how much it moves the results, and what was decided."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import pandas as pd
from scipy.stats import beta, binomtest

from pipeline.decision_keys import asset_key_sql, rule_key_sql, site_text_key_sql, text_key_sql
from pipeline.figures.facts import facts
from pipeline.figures.figure import Figure
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store, sql_text

By = Literal["rule", "text", "incident"]
DAYLIGHT_HOURS_PER_DAY = 12.0
"""Mean over a year, anywhere on Earth, to a few minutes (geometry). A place that is not known has no sun of its own."""
LEAST_DECIDED = 10
"""Fewer decided cases give no precision or recall."""
_MOST_EXAMPLES = 20
_MOST_LINES = 2_000


def open_ties(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Incidents at no known site or control, one row for what one answer settles, what moves the results most first.

    Columns: target, key and field of the decision that would settle it; kind (site text, asset, call, finding),
    site_id, site, written (what the calls say), incidents, calls, failures_left_out (expected control failures),
    day_burning_hours_left_out (12 h for each day between onset and end), source_file and row_number of one call,
    evidence, examples (incident ids). Empty where no register could name a place.
    """
    return _frame(
        store, "open_ties", filters, {
            "site_text_key": site_text_key_sql("site_text"), "asset_key": asset_key_sql("site_id", "asset_text"),
        },
        daylight_hours_per_day=DAYLIGHT_HOURS_PER_DAY,
        stale_after_days=facts(store).assumptions.stale_after_days,
    )  # fmt: skip


def doubtful_readings(store: Store, by: By = "rule", filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Incidents whose verdict is neither sure nor decided, gathered by rule, by text or not at all.

    Columns: target and key of the decision that would settle the row (its field is control_failed), symptom,
    component, action, rule, problem_text, action_text, site, position, incidents, calls, controls,
    failed_probability (mean over controls), failures_at_stake (sum of controls x min(p, 1 - p)), source_file,
    row_number, evidence, examples (incident ids). At most 2,000 rows, the largest stake first.
    """
    return _frame(
        store, "doubtful_readings", filters, {
            "rule_key": rule_key_sql("symptom", "component", "action", "rule"),
            "text_key": text_key_sql("problem_text", "action_text"),
        },
        by=by, most_lines=_MOST_LINES,
    )  # fmt: skip


def _frame(
    store: Store, name: str, filters: Filters, expressions: dict[str, str], **more: object
) -> pd.DataFrame:
    text = sql_text("pipeline.figures", "chosen") + sql_text("pipeline.figures", name)
    for placeholder, expression in expressions.items():
        text = text.replace(f"{{{placeholder}}}", expression)
    return store.frame(text, filters.parameters() | more | {"most_examples": _MOST_EXAMPLES})


def decisions_made(store: Store) -> pd.DataFrame:
    """Every row of decisions.csv that the build read, the latest first: the columns of the table ``decisions``."""
    return store.frame("SELECT * FROM decisions ORDER BY row_number DESC")


def rules_learnt(store: Store) -> pd.DataFrame:
    """The rules that speak for a finding or have decided cases, the busiest first.

    Columns: rule, origin, prior_probability, decided_yes, decided_no, probability (posterior mean), lower and upper
    (quantiles of the beta distribution at the portfolio's confidence), findings.
    """
    frame = store.frame(
        "SELECT rule, origin, prior_probability, decided_yes, decided_no, cases_failed, cases_not_failed, probability,"
        " findings"
        " FROM verdict_rules WHERE findings > 0 OR decided_yes + decided_no > 0"
        " ORDER BY decided_yes + decided_no DESC, findings DESC, place"
    )
    tail = (1 - facts(store).confidence) / 2
    cases = frame[["cases_failed", "cases_not_failed"]].to_numpy(float).tolist()
    limits = [_beta_limits(failed, not_failed, tail) for failed, not_failed in cases]
    frame["lower"], frame["upper"] = [low for low, _ in limits], [high for _, high in limits]
    return frame.drop(columns=["cases_failed", "cases_not_failed"])


def _beta_limits(yes: float, no: float, tail: float) -> tuple[float, float]:
    """Quantiles of Beta(yes, no); a prior of 0 or 1 that nothing contradicts has no spread."""
    if yes <= 0 or no <= 0:
        share = float(yes > 0)
        return share, share
    return float(beta.ppf(tail, yes, no)), float(beta.ppf(1 - tail, yes, no))


def verdict_accuracy(store: Store) -> pd.DataFrame:
    """How well the table's hard verdict, before it learnt, foretold what people decided; empty below 10 cases.

    Two rows, measure 'precision' (of those that it called failures) and 'recall' (of those that were): share, lower
    and upper (Wilson limits at the portfolio's confidence), right, of (cases). A share of no case is missing. People
    decide what is doubtful, so this is not the accuracy on all findings.
    """
    info = facts(store)
    cases = store.frame("SELECT failed, prior_probability FROM decided_cases")
    columns = ["measure", "share", "lower", "upper", "right", "of"]
    if len(cases) < LEAST_DECIDED:
        return pd.DataFrame(columns=columns)
    called = cases["prior_probability"] >= info.assumptions.control_failed_threshold
    failed = cases["failed"].astype(bool)
    right = int((called & failed).sum())
    rows = []
    for measure, of in (("precision", int(called.sum())), ("recall", int(failed.sum()))):
        limits = binomtest(right, of).proportion_ci(info.confidence, "wilson") if of else None
        rows.append(
            (measure, right / of if of else None, limits and limits.low, limits and limits.high, right, of)
        )
    return pd.DataFrame(rows, columns=columns)


def before_and_now(before: Sequence[Figure], now: Sequence[Figure]) -> pd.DataFrame:
    """The headline figures of two builds side by side, as text: key, label, before, now, moved."""
    old = {part.key: part.text() for figure in before for part in figure.flat()}
    rows = [
        (part.key, part.label, old.get(part.key, "not there"), part.text(), old.get(part.key) != part.text())
        for figure in now for part in figure.flat()
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["key", "label", "before", "now", "moved"])


def controls_to_choose(store: Store, site_id: str | None) -> dict[str, str]:
    """Control ids of a site with words for a person: position and kind; of every site, if none is given."""
    rows = store.rows(
        "SELECT c.control_id, c.position, c.kind, c.removed_on FROM controls c"
        " WHERE $site IS NULL OR c.site_id = $site ORDER BY c.position, c.control_id",
        {"site": site_id},
    )
    return {
        control: ", ".join(filter(None, (control, position, kind, f"removed {removed}" if removed else "")))
        for control, position, kind, removed in rows
    }
