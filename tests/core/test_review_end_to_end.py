"""A decision from the file to the figures: it survives another export of the same calls, and can be undone."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
import small_portfolio

from pipeline import figures
from pipeline.build import build, current_database, previous_database
from pipeline.decision_file import append_decisions
from pipeline.decisions import Decision
from pipeline.faults import InputFaults
from pipeline.ingest import propose_layout, save_layout
from pipeline.portfolio import Portfolio
from pipeline.store import Store


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return small_portfolio.make(tmp_path / "yards")


def decide(folder: Path, target: str, key: str, field: str, value: str) -> None:
    row = Decision(
        datetime(2024, 1, 5), "Night lead", target, key, field, value, "stood below it" if value else ""
    )
    append_decisions(folder / "decisions.csv", [row])


def finding_of(store: Store, call_number: str) -> tuple[str, str, float]:
    return store.row(
        "SELECT finding_id, incident_id, failed_probability FROM findings JOIN calls USING (call_id)"
        " WHERE call_number = ?", [call_number],
    )  # fmt: skip


def test_a_decision_moves_the_figures_finds_its_target_again_and_is_undone(tmp_path: Path) -> None:
    folder = small_portfolio.made_built(tmp_path / "yards")
    first = Store.open(current_database(folder))
    key, _, read = finding_of(first, "103")
    assert 0 < read < 0.5
    expected = figures.headline(first)
    first.close()

    decide(folder, "finding", key, "control_failed", "yes")
    second = Store.open(build(folder).database)
    assert finding_of(second, "103")[2] == 1
    assert "verdict decided by Night lead: stood below it" in second.value(
        "SELECT evidence FROM findings WHERE finding_id = ?", [key]
    )
    assert previous_database(folder) is not None
    moved = figures.before_and_now(expected, figures.headline(second))
    assert moved["moved"].any()
    second.close()

    _export_again(folder)
    third = Store.open(build(folder).database)
    assert third.value("SELECT max(row_number) FROM calls WHERE call_number = '103'") != 4
    assert finding_of(third, "103")[2] == 1
    assert third.rows("SELECT state, calls, findings FROM decisions") == [("in force", 1, 1)]
    third.close()

    decide(folder, "finding", key, "control_failed", "")
    fourth = Store.open(build(folder).database)
    assert finding_of(fourth, "103")[2] == read
    assert [state for (state,) in fourth.rows("SELECT state FROM decisions ORDER BY row_number")] == [
        "withdrawn by row 3", "withdraws an earlier row",
    ]  # fmt: skip
    assert fourth.rows("FROM checks WHERE NOT holds") == []
    fourth.close()


def _export_again(folder: Path) -> None:
    """The same calls under another name, in another order."""
    header, *rows = small_portfolio.CALLS.splitlines()
    (folder / "calls" / "orders.csv").unlink()
    path = folder / "calls" / "orders_again.csv"
    path.write_text("\n".join([header, *rows[::-1]]) + "\n", encoding="utf-8")
    portfolio = Portfolio.read(folder)
    save_layout(portfolio, propose_layout(path, portfolio).layout)


def test_a_control_named_for_a_call_leads_to_its_energy_and_checks_hold(folder: Path) -> None:
    row = (
        "110,2022-08-01 09:00,2022-08-06 10:00,Closed,North Yard,??,Lot light on all day,Replaced photocell\n"
    )
    with (folder / "calls" / "orders.csv").open("a", encoding="utf-8") as file:
        file.write(row)
    before = Store.open(build(folder).database)
    open_ones = figures.open_ties(before)
    key = finding_of(before, "110")[0]
    assert open_ones[["target", "key", "field"]].to_numpy().tolist() == [
        ["pattern", "asset = s1 / ??", "control_id"]
    ]
    assert open_ones["failures_left_out"].tolist() == pytest.approx([0.97])
    before.close()

    decide(folder, "pattern", "asset = S1 / ??", "control_id", "PC-0002")
    after = Store.open(build(folder).database)
    assert figures.open_ties(after).empty
    assert after.row("SELECT control_id, tie_method, tie_confidence FROM findings WHERE finding_id = ?", [key]) == (
        "PC-0002", "decided", 1.0,
    )  # fmt: skip
    assert (
        after.value("SELECT count(*) FROM burn_episodes WHERE control_id = 'PC-0002' AND kwh_central > 0")
        >= 1
    )
    assert after.rows("FROM checks WHERE NOT holds") == []
    after.close()


def test_faults_of_decisions_and_verdicts_fail_a_build_in_a_sentence(folder: Path) -> None:
    (folder / "decisions.csv").write_text("when,who,target,key,field,value,why\nnow,R,call,1,x,y,z\n")
    with pytest.raises(InputFaults, match="row 2, column when"):
        build(folder)
    (folder / "decisions.csv").unlink()
    (folder / "verdicts.toml").write_text("format = 1\n")
    with pytest.raises(InputFaults, match="origin: is missing"):
        build(folder)
