"""decisions.csv: read with every fault at once, appended whole or not at all, and never a formula in a spreadsheet."""

from __future__ import annotations

import csv
import string
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline import decision_file
from pipeline.decision_file import append_decisions, guarded, read_decisions, unguarded
from pipeline.decisions import Decision, settle
from pipeline.faults import InputFaults

YES = Decision(datetime(2024, 5, 31, 14, 30), "Rev", "finding", "101-1", "control_failed", "yes", "seen it")
HEADER = "when,who,target,key,field,value,why\n"


def states(*rows: Decision) -> list[str]:
    return [one.state for one in settle([replace(row, row_number=n) for n, row in enumerate(rows, 2)])]


def faults_of(path: Path, text: str) -> list[str]:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        read_decisions(path)
    return [str(fault) for fault in caught.value.faults]


def test_what_is_appended_is_read_back_with_its_row(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    assert read_decisions(path) == []
    append_decisions(path, [YES])
    append_decisions(path, [replace(YES, key="102-1", why="so, it is")])
    assert read_decisions(path) == [
        replace(YES, row_number=2),
        replace(YES, key="102-1", why="so, it is", row_number=3),
    ]
    assert path.read_text(encoding="utf-8-sig").startswith(HEADER)


def test_an_appended_row_leaves_every_byte_before_it(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    path.write_text(HEADER + "2024-01-01,Rev,call,5,is_lighting,no,indoors", encoding="utf-8")  # no line end
    before = path.read_bytes()
    append_decisions(path, [YES])
    assert path.read_bytes().startswith(before)
    assert len(read_decisions(path)) == 2


def test_a_later_row_overrules_and_an_empty_value_withdraws() -> None:
    no, undone = replace(YES, value="no"), replace(YES, value="", why="")
    assert states(YES, no) == ["overruled by row 3", "in force"]
    assert states(YES, no, undone) == [
        "overruled by row 3",
        "withdrawn by row 4",
        "withdraws an earlier row",
    ]
    assert states(YES, undone, no)[-1] == "in force"
    assert states(YES, replace(no, key="102-1")) == ["in force", "in force"]


def test_patterns_that_differ_in_case_and_blanks_are_one_subject() -> None:
    pattern = replace(YES, target="pattern", key="text = lights on || replaced eye")
    assert states(pattern, replace(pattern, key="TEXT =  Lights  ON || replaced eye", value="no"))[0] == (
        "overruled by row 3"
    )


def test_every_fault_comes_at_once_with_row_column_and_remedy(tmp_path: Path) -> None:
    rows = (
        "yesterday,Rev,call,5,is_lighting,no,indoors\n"
        "2024-01-01,,call,5,is_lighting,perhaps,\n"
        "2024-01-01,Rev,lamp,5,is_lighting,no,x\n"
        "2024-01-01,Rev,call,5,control_failed,no,x\n"
        "2024-01-01,Rev,pattern,lights on,control_failed,no,x\n"
        "2024-01-01,Rev,pattern,site text = a,control_failed,no,x\n"
        "2024-01-01,Rev,finding,7-1,symptom,dark,x\n"
        "\n"
        "too,short\n"
    )
    told = faults_of(tmp_path / "decisions.csv", HEADER + rows)
    for part in (
        "row 2, column when: 'yesterday' is no date", "row 3, column who: is empty", "row 3, column why: is empty",
        "row 3, column value: 'perhaps' is no value of is_lighting. Use yes, no",
        "row 4, column target: 'lamp' is unknown. Use one of call, finding, incident, pattern",
        "row 5, column field: 'control_failed' cannot be decided of a call. Use is_lighting or site_id",
        "row 6, column key: 'lights on' is no pattern. A pattern begins 'site text = …'",
        "row 7, column field: 'control_failed' cannot be decided of a pattern of site text",
        "row 8, column value: 'dark' is no value of symptom", "row 10: has 2 cells instead of 7",
    ):  # fmt: skip
        assert any(part in one for one in told), part
    assert len(told) == 10


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"who,when\n", "is not the header of decisions"),
        (b"\xff\xfe\x00", "is not UTF-8"),
        (HEADER.encode() + b'"never closed\n', "is no plain CSV"),
    ],
)
def test_a_file_that_is_something_else_is_refused_and_not_added_to(
    tmp_path: Path, content: bytes, said: str
) -> None:
    path = tmp_path / "decisions.csv"
    path.write_bytes(content)
    for attempt in (lambda: read_decisions(path), lambda: append_decisions(path, [YES])):
        with pytest.raises(InputFaults, match=said):
            attempt()
    assert path.read_bytes() == content


def test_one_faulty_row_of_several_keeps_all_out(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    with pytest.raises(InputFaults, match="row 3, column who"):
        append_decisions(path, [YES, replace(YES, who="  ")])
    assert not path.exists()


def test_a_write_that_breaks_off_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "decisions.csv"
    append_decisions(path, [YES])
    before = path.read_bytes()

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(decision_file.os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        append_decisions(path, [replace(YES, key="102-1")])
    assert path.read_bytes() == before


def test_no_cell_of_the_file_begins_as_a_formula(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    row = replace(YES, who="=1+1", key="-7", why='@SUM(A1) =HYPERLINK("x")')
    append_decisions(path, [row])
    cells = list(csv.reader(path.read_text(encoding="utf-8-sig").splitlines()))[1]
    assert not [cell for cell in cells if cell[:1] in "=+-@\t\r"]
    assert read_decisions(path) == [replace(row, row_number=2)]


@given(st.text(alphabet=string.printable + "é'=+-@"))
def test_guarding_a_text_can_be_undone(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
