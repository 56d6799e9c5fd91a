"""Priors are a table that a portfolio may put rows before; its own decided cases update them in closed form."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from pipeline.decision_file import append_decisions
from pipeline.decisions import Decision
from pipeline.faults import InputFaults
from pipeline.store import Store
from pipeline.tie.reading import Reading
from pipeline.tie.verdict import load_verdicts

from .small_store import call, tied

RULE = "day burning without another cause"  # 0.65 by the built-in table
PAGE = 'format = 1\norigin = "two years of bench tests"\n'
BURNING = [
    call(f"{n}", f"{2020 + n // 3}-{1 + 4 * (n % 3):02}-01 09:00", f"{2020 + n // 3}-{1 + 4 * (n % 3):02}-03 10:00",
         f"pole 14 on all day, job {n}", "repaired")
    for n in range(1, 10)
]  # fmt: skip


def decided(target: str, key: str, value: str) -> Decision:
    return Decision(datetime(2025, 1, 6), "R", target, key, "control_failed", value, "seen")


def rule(store: Store, name: str = RULE) -> tuple[float, int, int, float, int]:
    return store.row(
        "SELECT prior_probability, decided_yes, decided_no, probability, findings"
        " FROM verdict_rules WHERE rule = ?", [name],
    )  # fmt: skip


def test_without_decided_cases_every_rule_speaks_by_its_prior(tmp_path: Path) -> None:
    store = tied(tmp_path, BURNING)
    assert rule(store) == (0.65, 0, 0, 0.65, 9)
    assert store.count("verdict_rules") == len(load_verdicts().rules)
    assert store.value("SELECT sum(findings) FROM verdict_rules") == store.count("findings")


def test_decided_cases_move_the_rule_as_a_beta_prior(tmp_path: Path) -> None:
    """Beta(10 x 0.65 + 1, 10 x 0.35 + 2) has the mean (6.5 + 1) / (10 + 3)."""
    append_decisions(
        tmp_path / "decisions.csv",
        [
            decided("finding", "1-1", "yes"), decided("incident", "2-1", "no"),
            decided("pattern", "text = pole 14 on all day, job 3 || repaired", "no"),
        ],
    )  # fmt: skip
    store = tied(tmp_path, BURNING)
    prior, yes, no, posterior, findings = rule(store)
    assert (prior, yes, no, findings) == (0.65, 1, 2, 6)
    assert posterior == pytest.approx(7.5 / 13)
    probabilities = dict(store.rows("SELECT finding_id, failed_probability FROM findings"))
    assert [probabilities[f"{n}-1"] for n in (1, 2, 3)] == [1, 0, 0]
    assert all(probabilities[f"{n}-1"] == pytest.approx(7.5 / 13) for n in range(4, 10))
    told = store.value("SELECT evidence FROM findings WHERE finding_id = '4-1'")
    assert f"[{RULE}] (0.65 by the table, 0.58 with 3 decided)" in told


def test_a_decision_on_a_rule_is_no_evidence_about_it(tmp_path: Path) -> None:
    key = f"rule = day burning | unknown | repaired | {RULE}"
    append_decisions(tmp_path / "decisions.csv", [decided("pattern", key, "no")])
    store = tied(tmp_path, BURNING)
    assert rule(store) == (0.65, 0, 0, 0.65, 0)
    assert store.rows("SELECT DISTINCT failed_probability FROM findings") == [(0.0,)]


def test_a_decision_on_a_text_is_one_case_however_many_calls_say_it(tmp_path: Path) -> None:
    same = [{**row, "problem_text": "pole 14 on all day"} for row in BURNING]
    key = "text = pole 14 on all day || repaired"
    append_decisions(tmp_path / "decisions.csv", [decided("pattern", key, "yes")])
    assert rule(tied(tmp_path, same))[1:3] == (1, 0)


def test_a_decided_incident_is_a_case_of_its_heaviest_finding_only(tmp_path: Path) -> None:
    rows = [
        call("1", "2024-03-01 09:00", "2024-03-05 10:00", "pole 14 on all day", "repaired"),
        call("2", "2024-03-02 09:00", "2024-03-05 10:00", "pole 14 on all day", "duplicate of 1", duplicate_of="1"),
    ]  # fmt: skip
    append_decisions(tmp_path / "decisions.csv", [decided("incident", "1-1", "yes")])
    store = tied(tmp_path, rows)
    assert store.rows("SELECT rule, failed FROM decided_cases") == [(RULE, True)]
    assert rule(store, "another call tells it")[:4] == (0.0, 0, 0, 0.0)


def test_rows_of_the_portfolio_go_before_the_built_in_ones(tmp_path: Path) -> None:
    page = (
        PAGE
        + '[[verdict]]\nsymptom = ["day burning"]\naction = ["repaired"]\nprobability = 0.2\nwhy = "our crew says so"\n'
    )
    (tmp_path / "verdicts.toml").write_text(page, encoding="utf-8")
    store = tied(tmp_path, BURNING)
    assert rule(store, "our crew says so") == (0.2, 0, 0, 0.2, 9)
    assert rule(store)[4] == 0
    assert store.row("SELECT place, origin FROM verdict_rules WHERE rule = 'our crew says so'") == (
        1,
        "portfolio: two years of bench tests",
    )
    assert store.value("SELECT any_value(rule) FROM findings") == "our crew says so"


def test_all_faults_of_a_verdict_page_come_at_once(tmp_path: Path) -> None:
    (tmp_path / "verdicts.toml").write_text(
        'format = 2\nfailure_mode = { out = "x" }\n'
        '[[verdict]]\nsymptom = ["day burnin"]\nprobability = 1.2\nwhy = "planned work"\n'
        '[[verdict]]\nsymptoms = ["out"]\ncause = "hand"\nalone = "yes"\nprobability = true\n',
        encoding="utf-8",
    )
    with pytest.raises(InputFaults) as caught:
        load_verdicts(tmp_path)
    told = [str(fault) for fault in caught.value.faults]
    for part in (
        "format: must be 1", "origin: is missing", "failure_mode: is not a part",
        "verdict 1, symptom: 'day burnin' is not a symptom. Did you mean 'day burning'?",
        "verdict 1, probability: must be a number from 0 to 1 (found 1.2)",
        "verdict 1, why: 'planned work' is also another row's",
        "verdict 2, symptoms: is no condition. Did you mean 'symptom'?", "verdict 2, cause: must be a list",
        "verdict 2, alone: must be true or false", "verdict 2, probability: must be a number",
        "verdict 2, why: is missing",
    ):  # fmt: skip
        assert any(part in one for one in told), part
    assert len(told) == 11


@pytest.mark.parametrize(("content", "said"), [(b"a = \xff", "UTF-8"), (b"[[verdict", "not valid TOML")])
def test_a_page_that_cannot_be_read_is_told(tmp_path: Path, content: bytes, said: str) -> None:
    (tmp_path / "verdicts.toml").write_bytes(content)
    with pytest.raises(InputFaults, match=said):
        load_verdicts(tmp_path)


def test_the_built_in_rules_have_names_of_their_own_and_the_last_fits_everything() -> None:
    verdicts = load_verdicts()
    assert len({one.why for one in verdicts.rules}) == len(verdicts.rules) == 31
    odd = Reading("unknown", "unknown", "", "unknown", "", 1, False, False, False, "")
    assert verdicts.of(odd).why == verdicts.rules[-1].why
