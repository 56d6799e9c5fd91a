"""What a person decides on review counts before what was read, in its order, and finds its target again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from pipeline.decision_file import append_decisions
from pipeline.decisions import Decision
from pipeline.faults import InputFaults
from pipeline.store import Store
from pipeline.tables import TABLES

from .small_store import REGISTER, call, control, incidents, tied

WHEN = datetime(2025, 1, 6, 9)
DAY = ("2024-03-01 09:00", "2024-03-05 10:00")


def decided(target: str, key: str, field: str, value: str, why: str = "looked") -> Decision:
    return Decision(WHEN, "Reviewer 2", target, key, field, value, why if value else "")


def reviewed(
    tmp_path: Path, calls: Sequence[dict[str, Any]], *rows: Decision, **tables: Sequence[dict[str, Any]]
) -> Store:
    (tmp_path / "decisions.csv").unlink(missing_ok=True)
    if rows:
        append_decisions(tmp_path / "decisions.csv", rows)
    return tied(tmp_path, calls, **tables)


def finding(store: Store, finding_id: str = "1-1") -> dict[str, Any]:
    (row,) = store.frame("SELECT * FROM findings WHERE finding_id = ?", [finding_id]).to_dict("records")
    return row


def states(store: Store) -> list[tuple[str, int, int]]:
    return store.rows("SELECT state, calls, findings FROM decisions ORDER BY row_number")


BURNING = call("1", *DAY, "pole 14 on all day", "repaired")


def test_a_decided_call_is_lighting_or_not(tmp_path: Path) -> None:
    sink = call("2", *DAY, "sink leaks", is_lighting=False)
    store = reviewed(
        tmp_path, [BURNING, sink],
        decided("call", "1", "is_lighting", "no"), decided("call", "2", "is_lighting", "yes"),
    )  # fmt: skip
    assert store.rows("SELECT call_id FROM findings") == [("2",)]
    assert store.value("SELECT lighting_evidence FROM calls WHERE call_id = '1'") == (
        "decided by Reviewer 2: looked"
    )
    assert states(store) == [("in force", 1, 0), ("in force", 1, 1)]


def test_a_decided_call_goes_before_all_calls_that_say_the_same(tmp_path: Path) -> None:
    same = [replace_call(BURNING, number) for number in ("1", "2", "3")]
    store = reviewed(
        tmp_path, same,
        decided("pattern", "text = POLE 14  on all day || Repaired", "is_lighting", "no"),
        decided("call", "2", "is_lighting", "yes"),
    )  # fmt: skip
    assert store.rows("SELECT call_id FROM findings") == [("2",)]
    assert states(store) == [("in force", 3, 1), ("in force", 1, 1)]


def replace_call(row: dict[str, Any], number: str, **more: Any) -> dict[str, Any]:
    return {**row, "call_id": number, "call_number": number, **more}


def test_a_site_text_is_tied_and_one_call_of_it_elsewhere(tmp_path: Path) -> None:
    odd = [replace_call(BURNING, number, site_text="Bldg 7") for number in ("1", "2")]
    assert finding(reviewed(tmp_path, odd))["site_id"] is None
    store = reviewed(
        tmp_path, odd,
        decided("pattern", "site text = bldg 7", "site_id", "S1"), decided("call", "2", "site_id", "S2"),
    )  # fmt: skip
    first, second = finding(store), finding(store, "2-1")
    assert (first["site_id"], first["site_match"], first["control_id"]) == ("S1", "decided", "PC-0014")
    assert (second["site_id"], second["site_match"], second["control_id"]) == ("S2", "decided", None)
    assert "site decided by Reviewer 2: looked" in first["evidence"]
    assert states(store) == [("in force", 2, 2), ("in force", 1, 1)]


def test_an_asset_text_is_tied_and_one_finding_of_it_elsewhere(tmp_path: Path) -> None:
    rows = [
        call(n, f"2024-0{n}-01 09:00", f"2024-0{n}-02 09:00", "on all day", asset_text="X / 9")
        for n in ("1", "4")
    ]
    assert finding(reviewed(tmp_path, rows))["control_id"] is None
    store = reviewed(
        tmp_path, rows,
        decided("pattern", "asset = S1 / x / 9", "control_id", "PC-0015"),
        decided("finding", "4-1", "control_id", "PC-0014"),
    )  # fmt: skip
    one, two = finding(store), finding(store, "4-1")
    assert (one["control_id"], one["tie_method"], one["tie_confidence"]) == ("PC-0015", "decided", 1.0)
    assert (two["control_id"], two["position"], two["tie_confidence"]) == ("PC-0014", "S1 / pole 14", 1.0)
    assert "control decided by Reviewer 2: looked" in two["evidence"]
    assert states(store) == [("in force", 2, 2), ("in force", 1, 1)]


def test_a_decided_asset_means_the_control_in_its_place_on_the_day(tmp_path: Path) -> None:
    old = control("PC-1", "pole 1", removed_on=datetime(2023, 12, 31))
    new = control("PC-2", "pole 1", installed_on=datetime(2024, 1, 1))
    rows = [
        call("1", "2023-05-01", "2023-05-02", "on all day", asset_text="Q"),
        call("2", *DAY, "on all day", asset_text="Q"),
    ]
    store = reviewed(
        tmp_path, rows, decided("pattern", "asset = S1 / Q", "control_id", "PC-1"), register=[old, new]
    )
    assert store.rows("SELECT control_id FROM findings ORDER BY finding_id") == [("PC-1",), ("PC-2",)]


def test_a_decided_symptom_is_judged_anew_and_gathers_with_its_kind(tmp_path: Path) -> None:
    rows = [
        call("1", "2024-03-01", None, "pole 14 light"),
        call("2", "2024-03-04", "2024-03-06", "pole 14 on all day", "replaced photocell"),
    ]
    store = reviewed(tmp_path, rows, decided("finding", "1-1", "symptom", "day burning"))
    one = finding(store)
    assert (one["symptom"], one["rule"]) == ("day burning", "day burning without another cause")
    assert one["failed_probability"] == 0.65
    (incident,) = incidents(store)
    assert (incident["symptom"], incident["calls"]) == ("day burning", 2)


def test_finding_goes_before_incident_before_text_before_rule(tmp_path: Path) -> None:
    key = "rule = day burning | control | replaced | control replaced alone, and no lamp can cause this"
    rows = [
        call(f"{n}", f"2024-0{n}-01 09:00", f"2024-0{n}-02 09:00", "pole 14 on all day", "replaced photocell")
        for n in range(1, 9, 2)
    ]
    layers = [
        decided("pattern", key, "control_failed", "no"),
        decided("pattern", "text = pole 14 on all day || replaced photocell", "control_failed", "yes"),
        decided("incident", "3-1", "control_failed", "no"),
        decided("finding", "3-1", "control_failed", "yes"),
    ]
    seen = []
    for upto in range(1, 5):
        store = reviewed(tmp_path, rows, *layers[:upto])
        assert {f["failed_probability"] for f in incidents(store)} <= {0.0, 1.0}
        seen.append((finding(store)["failed_probability"], finding(store, "3-1")["failed_probability"]))
        # an incident says what its finding was decided to be
        assert [i["failed_probability"] for i in incidents(store)][:2] == list(seen[-1])
    assert seen == [(0, 0), (1, 1), (1, 0), (1, 1)]


def test_one_decided_finding_settles_its_whole_incident(tmp_path: Path) -> None:
    rows = [
        call("1", "2024-03-01", None, "pole 14 on all day"),
        call("2", "2024-03-04", "2024-03-06", "pole 14 still on", "replaced lamp"),
    ]
    (before,) = incidents(reviewed(tmp_path, rows))
    assert before["decisive_finding_id"] == "2-1"
    (after,) = incidents(reviewed(tmp_path, rows, decided("finding", "1-1", "control_failed", "no")))
    assert (before["control_failed"], after["control_failed"]) == (True, False)
    assert after["failed_probability"] == 0


def test_an_incident_is_found_by_its_first_finding_wherever_that_belongs_now(tmp_path: Path) -> None:
    later = call("1", "2024-03-04", "2024-03-06", "pole 14 on all day", "repaired")
    earlier = call("0", "2024-03-02", "2024-03-05", "pole 14 on all day")
    row = decided("incident", "1-1", "control_failed", "no")
    (incident,) = incidents(reviewed(tmp_path, [earlier, later], row))
    assert (incident["incident_id"], incident["failed_probability"]) == ("0-1", 0)


def test_a_text_that_tells_of_several_faults_is_not_decided_as_one(tmp_path: Path) -> None:
    rows = [call("1", *DAY, "pole 14 out, north lot pole 3 on all day")]
    row = decided("pattern", "text = pole 14 out, north lot pole 3 on all day ||", "control_failed", "yes")
    store = reviewed(tmp_path, rows, row)
    assert store.count("findings") == 2
    assert states(store) == [("finds nothing", 0, 0)]


def test_what_finds_nothing_or_names_nothing_is_listed_and_noticed(tmp_path: Path) -> None:
    store = reviewed(
        tmp_path, [BURNING],
        decided("finding", "gone-1", "control_failed", "yes"),
        decided("finding", "1-1", "control_id", "PC-none"),
        decided("call", "1", "site_id", "S9"),
        decided("call", "1", "site_id", ""),
    )  # fmt: skip
    assert [state for state, *_ in states(store)] == [
        "finds nothing", "names no control of the register", "withdrawn by row 5", "withdraws an earlier row",
    ]  # fmt: skip
    noticed = store.rows("SELECT place, message FROM notices WHERE place LIKE 'decisions%' ORDER BY place")
    assert [place for place, _ in noticed] == ["decisions.csv, row 2", "decisions.csv, row 3"]
    assert "gone-1" in noticed[0][1]
    assert finding(store)["control_id"] == "PC-0014"


def test_an_undone_decision_leaves_the_tables_as_they_were(tmp_path: Path) -> None:
    yes = decided("finding", "1-1", "control_failed", "no")
    plain = reviewed(tmp_path, [BURNING])
    undone = reviewed(tmp_path, [BURNING], yes, replace(yes, value="", why=""))
    for table in TABLES:
        if table.name != "decisions" and not table.view_of:
            query = f"SELECT * FROM {table.name} ORDER BY ALL"
            pd.testing.assert_frame_equal(plain.frame(query), undone.frame(query), obj=table.name)


def test_a_build_writes_no_decision(tmp_path: Path) -> None:
    row = decided("finding", "1-1", "control_failed", "no")
    reviewed(tmp_path, [BURNING], row)
    before = (tmp_path / "decisions.csv").read_bytes()
    tied(tmp_path, [BURNING])
    assert (tmp_path / "decisions.csv").read_bytes() == before


def test_a_faulty_file_stops_the_build(tmp_path: Path) -> None:
    (tmp_path / "decisions.csv").write_text("when,who\n", encoding="utf-8")
    with pytest.raises(InputFaults, match=r"decisions\.csv, row 1"):
        tied(tmp_path, [BURNING])


def test_long_and_strange_texts_have_keys_that_find_them(tmp_path: Path) -> None:
    from pipeline.decision_keys import text_key_sql

    odd = call("1", *DAY, "on  all\u00a0day || 🙂 " + "x" * 5000, "a | b")
    store = reviewed(tmp_path, [odd])
    key = store.value(f"SELECT {text_key_sql('problem_text', 'action_text')} FROM calls")
    assert len(key) < 400
    again = reviewed(tmp_path, [odd], decided("pattern", key, "control_failed", "yes"))
    assert states(again) == [("in force", 1, 1)]
    assert finding(again)["failed_probability"] == 1


def test_register_of_this_file_is_the_small_one() -> None:
    """The keys above name its controls."""
    assert {"PC-0014", "PC-0015"} <= {row["control_id"] for row in REGISTER}


def test_people_in_what_a_person_typed_are_masked_and_told(tmp_path: Path) -> None:
    masked_call = call("1", *DAY, "pole 14 on all day, call [name] at [phone]", "repaired")
    store = reviewed(
        tmp_path, [masked_call],
        decided("finding", "1-1", "control_failed", "yes", "ask for Petra Lindqvane, 970-555-0134"),
        # as it stands in the export, where nothing is masked
        decided("pattern", "text = pole 14 on all day, call Petra at 970-555-0134 || repaired", "is_lighting", "yes"),
    )  # fmt: skip
    stored = "\n".join(repr(row) for table in TABLES for row in store.rows(f'FROM "{table.name}"'))
    assert "ask for [name], [phone]" in finding(store)["evidence"]
    assert "Petra" not in stored
    assert "555-0134" not in stored
    assert [state for state, _, _ in states(store)] == ["in force", "in force"]
    told = dict(store.rows("SELECT place, message FROM notices WHERE place LIKE 'decisions.csv%'"))
    assert "(rows 2)" in told["decisions.csv, column why"]
    assert "(rows 3)" in told["decisions.csv, column key"]
    assert "Lindqvane" in (tmp_path / "decisions.csv").read_text(encoding="utf-8-sig")


def test_who_decided_keeps_a_name_but_no_number(tmp_path: Path) -> None:
    rows = [
        replace(decided("call", "1", "is_lighting", "yes"), who=who)
        for who in ("Supervisor Benn", "Benn, call 970-555-0134")
    ]
    store = reviewed(tmp_path, [BURNING], *rows)
    assert store.rows("SELECT who FROM decisions ORDER BY row_number") == [
        ("Supervisor Benn",), ("Benn, call [phone]",),
    ]  # fmt: skip
