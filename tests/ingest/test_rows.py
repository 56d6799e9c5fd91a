"""Rows as text: their numbers, line breaks inside cells, a workbook's own values, and quotes that go wrong."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from pipeline.faults import InputFaults
from pipeline.ingest.files import open_export
from pipeline.ingest.headers import Header
from pipeline.ingest.load import load_rows
from pipeline.ingest.rows import rows_of
from pipeline.ingest.workbook import cell_text
from pipeline.store import Store

from .making import write_csv, write_xlsx


def test_a_cell_with_line_breaks_is_one_row(tmp_path: Path) -> None:
    rows = [["Call", "Text"], ["1", "first\nsecond\r\nthird"], ["2", "plain"]]
    export = open_export(write_csv(tmp_path / "calls.csv", rows))
    assert list(rows_of(export)) == [(1, rows[0]), (2, rows[1]), (3, rows[2])]


def test_blank_lines_keep_their_row_numbers(tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    path.write_text("Call,Text\n\n1,lamp\n\n\n2,lamp\n")
    assert [number for number, cells in rows_of(open_export(path)) if cells] == [1, 3, 6]


def test_a_quotation_mark_that_never_closes_is_told_with_its_row(tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    path.write_text('Call,Text\n1,fine\n2,"lamp out\n3,lost\n')
    with pytest.raises(InputFaults, match=r"row 3 .*never ends"):
        list(rows_of(open_export(path)))


def test_a_quotation_mark_inside_a_quoted_cell_is_told_with_its_row(tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    path.write_text('Call,Text\n1,"12" pole down"\n')
    with pytest.raises(InputFaults, match=r"row 2 .*doubled"):
        list(rows_of(open_export(path)))


def test_inches_in_an_unquoted_cell_stay_as_they_are(tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    path.write_text('Call,Text\n1,12" pole down\n')
    assert list(rows_of(open_export(path)))[1] == (2, ["1", '12" pole down'])


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        ("00123", "00123"),
        (101000295613.0, "101000295613"),
        (0.1, "0.1"),
        (True, "TRUE"),
        (datetime(2024, 3, 5, 14, 30), "2024-03-05 14:30:00"),
        (date(2024, 3, 5), "2024-03-05"),
        (time(14, 30), "14:30:00"),
        (timedelta(hours=26, minutes=5), "26:05:00"),
        (None, ""),
    ],
)
def test_a_workbook_cell_becomes_plain_text(cell: object, text: str) -> None:
    assert cell_text(cell) == text


def test_a_workbook_gives_the_sheets_own_row_numbers(tmp_path: Path) -> None:
    rows = [["A report"], [], ["Call", "When"], ["7", datetime(2024, 3, 5, 14, 30)]]
    export = open_export(write_xlsx(tmp_path / "calls.xlsx", rows))
    assert list(rows_of(export))[3] == (4, ["7", "2024-03-05 14:30:00"])


def test_lost_rows_are_noticed_by_the_count_of_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_csv(tmp_path / "calls.csv", [["Call", "Text"], ["1", "a"], ["2", "b"], ["3", "c"]])
    export = open_export(path)
    everything = list(rows_of(export))
    monkeypatch.setattr("pipeline.ingest.load.rows_of", lambda *_: iter(everything[:-1]))
    with pytest.raises(InputFaults, match="has 4 lines, but 3 rows"):
        load_rows(Store.create(), export, None, Header(1, ("Call", "Text")), ())


def test_a_cell_that_swallowed_many_lines_is_suspected(tmp_path: Path) -> None:
    rows = [["Call", "Text"], ["1", "x\n" * 300]]
    export = open_export(write_csv(tmp_path / "calls.csv", rows))
    with pytest.raises(InputFaults, match="row 2: spans 300 lines"):
        load_rows(Store.create(), export, None, Header(1, ("Call", "Text")), ())
