"""Rows as text: their numbers, line breaks inside cells, a workbook's own values, and quotes that go wrong."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest
import xlsxwriter
import xlwt

from pipeline.faults import InputFaults
from pipeline.ingest.files import archive_of, open_export, open_exports
from pipeline.ingest.headers import Header
from pipeline.ingest.load import load_rows
from pipeline.ingest.rows import rows_of
from pipeline.ingest.workbook import cell_text
from pipeline.store import Store

from .making import write_csv, write_xlsx
from .odd_files import changed, make_gzip, make_ods, make_xls, make_xlsx, make_zip, ods_table


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
    monkeypatch.setattr("pipeline.ingest.load.load_fast", lambda *_: None)
    monkeypatch.setattr("pipeline.ingest.load.rows_of", lambda *_: iter(everything[:-1]))
    with pytest.raises(InputFaults, match="has 4 lines, but 3 rows"):
        load_rows(Store.create(), export, None, Header(1, ("Call", "Text")), ())


def test_a_cell_that_swallowed_many_lines_is_suspected(tmp_path: Path) -> None:
    rows = [["Call", "Text"], ["1", "x\n" * 300]]
    export = open_export(write_csv(tmp_path / "calls.csv", rows))
    with pytest.raises(InputFaults, match="row 2: spans 300 lines"):
        load_rows(Store.create(), export, None, Header(1, ("Call", "Text")), ())


def _one_row(cells: list[str]) -> list[list[str]]:
    return [list(row) for row in (["Call", "Date", "Text"], cells)]


def test_a_stated_delimiter_is_followed_and_its_line_is_no_row_of_the_table(tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    path.write_text("sep=;\nCall;Date;Text\n1;2024-01-13;a, b, c, d, e, f\n", encoding="utf-8")
    export = open_export(path)
    assert export.text is not None
    assert (export.text.delimiter, export.text.stated_delimiter, export.text.lines) == (";", True, 3)
    rows = list(rows_of(export))
    assert rows[1:] == [(2, ["Call", "Date", "Text"]), (3, ["1", "2024-01-13", "a, b, c, d, e, f"])]


def test_ragged_rows_come_as_they_are(tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    path.write_text("Call,Date,Text\n1,2024-01-13\n2,2024-01-14,x,y,z\n", encoding="utf-8")
    assert [len(cells) for _, cells in rows_of(open_export(path))] == [3, 2, 5]


def test_a_formula_in_a_text_file_is_only_text(tmp_path: Path) -> None:
    rows = [["Call", '=HYPERLINK("x")'], ["1", "=1+1"]]
    export = open_export(write_csv(tmp_path / "calls.csv", rows))
    assert [cells for _, cells in rows_of(export)] == rows


@pytest.mark.parametrize("make", [make_xlsx, make_xls, lambda path, rows: make_ods(path, ods_table(rows))])
def test_every_kind_of_workbook_gives_its_texts_exactly(tmp_path: Path, make: Callable[..., Path]) -> None:
    kind = {make_xlsx: "xlsx", make_xls: "xls"}.get(make, "ods")  # type: ignore[call-overload]
    rows = _one_row(["00012", "2024-01-13", "two  spaces\tand\nlines – “é” 𝄞 <b> & =1+1"])
    export = open_export(make(tmp_path / f"calls.{kind}", rows))
    assert (export.kind, export.sheets) == ("workbook", ("Calls",))
    assert [cells for _, cells in rows_of(export)] == rows


def test_line_breaks_and_errors_of_an_ods_workbook_are_read_and_said(tmp_path: Path) -> None:
    broken = '<table:table-cell calcext:value-type="error" xmlns:calcext="urn:x"><text:p>#REF!</text:p>'
    table = ods_table([["Call", "Text"], ["1", "one TWO"]]).replace("TWO", "<text:line-break/>two")
    row = f"<table:table-row>{broken}</table:table-cell></table:table-row>"
    table = table.replace("</table:table>", f"{row}</table:table>")
    export = open_export(make_ods(tmp_path / "calls.ods", table))
    assert [cells for _, cells in rows_of(export)][:2] == [["Call", "Text"], ["1", "one \ntwo"]]
    assert export.remarks == (
        "has 1 cell that shows an error such as #REF! or #N/A (A3); it is read as blank.",
    )
    assert export.path != tmp_path / "calls.ods"


def test_a_macro_workbook_is_read_and_its_macros_are_not(tmp_path: Path) -> None:
    path = make_xlsx(tmp_path / "calls.xlsm", _one_row(["1", "2024-01-13", "lamp"]))
    assert len(list(rows_of(open_export(path)))) == 2


@pytest.mark.parametrize("kind", ["xlsx", "xls"])
@pytest.mark.parametrize("from_1904", [False, True])
def test_days_counted_from_1904_are_the_same_days(tmp_path: Path, kind: str, from_1904: bool) -> None:
    path, when = tmp_path / f"calls.{kind}", datetime(2024, 3, 5, 14, 30)
    if kind == "xlsx":
        with xlsxwriter.Workbook(path, {"date_1904": from_1904, "default_date_format": "yyyy-mm-dd"}) as book:
            book.add_worksheet().write(0, 0, when)
    else:
        old = xlwt.Workbook()
        old.dates_1904 = from_1904
        old.add_sheet("Calls").write(0, 0, when, xlwt.easyxf(num_format_str="YYYY-MM-DD"))
        old.save(path)
    export = open_export(path)
    assert export.from_1904 == from_1904
    assert list(rows_of(export)) == [(1, ["2024-03-05 14:30:00"])]


def test_hidden_rows_hidden_sheets_and_errors_are_read_and_said(tmp_path: Path) -> None:
    path = tmp_path / "calls.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("Calls")
        page.write_row(0, 0, ["Call", "Cost"])
        page.write_row(1, 0, ["1", "hidden"])
        page.set_row(1, None, None, {"hidden": True})
        page.write_string(2, 0, "2")
        page.write_formula(2, 1, "=1/0", None, "#DIV/0!")
        page.write_string(3, 0, "3")
        page.write_formula(3, 1, "=2*3", None, 6)
        book.add_worksheet("Old").hide()
    export = open_export(path)
    assert [cells for _, cells in rows_of(export)] == [
        ["Call", "Cost"],
        ["1", "hidden"],
        ["2", ""],
        ["3", "6"],
    ]
    assert export.sheets == ("Calls", "Old")
    assert export.remarks == (
        "has hidden sheets ('Old'); they are read like any other.",
        "has 1 hidden row; it is read like any other.",
        "has 1 cell that shows an error such as #REF! or #N/A (B3); it is read as blank.",
    )


def test_workbook_escapes_are_turned_back(tmp_path: Path) -> None:
    path = changed(
        make_xlsx(tmp_path / "calls.xlsx", _one_row(["1", "2024-01-13", "HERE"])),
        lambda name, content: content.replace(b"HERE", b"one_x000D_&#10;two"),
    )
    assert list(rows_of(open_export(path)))[1] == (2, ["1", "2024-01-13", "one\r\ntwo"])


def test_columns_and_rows_left_blank_before_the_table_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "calls.xlsx"
    with xlsxwriter.Workbook(path) as book:
        book.add_worksheet().write_row(2, 2, ["Call", "Text"])
    assert list(rows_of(open_export(path)))[2] == (3, ["", "", "Call", "Text"])


def test_json_objects_become_rows_of_text(tmp_path: Path) -> None:
    path = tmp_path / "calls.json"
    path.write_text(
        '[{"id": 12345678901234567890123, "cost": 1.50, "site": {"name": "Elm", "at": {"lat": 39.6}}},\n'
        ' {"id": "007", "done": true, "notes": ["a", "b"], "visits": [{"by": "x"}, {"by": "y"}], "cost": NaN},\n'
        ' {"id": null, "site": {}, "text": "half \\ud83d pair, whole \\ud83d\\ude00"}]',
        encoding="utf-8",
    )
    export = open_export(path)
    assert (export.kind, export.form) == ("json", "JSON objects")
    rows = list(rows_of(export))
    assert [number for number, _ in rows] == [0, 1, 2, 3]
    assert rows[0][1] == [
        "cost",
        "done",
        "id",
        "notes",
        "site",
        "site.at.lat",
        "site.name",
        "text",
        "visits.by",
    ]
    assert rows[1][1] == ["1.50", "", "12345678901234567890123", "", "", "39.6", "Elm", "", ""]
    assert rows[2][1] == ["NaN", "true", "007", "a | b", "", "", "", "", "x | y"]
    assert rows[3][1] == ["", "", "", "", "", "", "", "half \ufffd pair, whole 😀", ""]


@pytest.mark.parametrize(
    "content", ['{"a": 1}\n{"b": 2}\n', '{"a": 1}\r\n\r\n{"b": 2}', '\ufeff[{"a": 1}, {"b": 2}]\n']
)
def test_json_lines_and_arrays_are_read_alike(tmp_path: Path, content: str) -> None:
    path = tmp_path / "calls.ndjson"
    path.write_text(content, encoding="utf-8")
    assert list(rows_of(open_export(path))) == [(0, ["a", "b"]), (1, ["1", ""]), (2, ["", "2"])]


def test_json_of_many_objects_is_streamed_over_the_ends_of_its_pieces(tmp_path: Path) -> None:
    path = tmp_path / "calls.json"
    texts = [f"{number} " + "x" * (number * 37 % 4000) for number in range(500)]
    path.write_text(json.dumps([{"text": text} for text in texts]), encoding="utf-8")
    assert [cells for _, cells in rows_of(open_export(path))][1:] == [[text] for text in texts]


def test_a_table_in_an_archive_is_an_export_of_its_own(tmp_path: Path) -> None:
    plain = write_csv(tmp_path / "calls.csv", _one_row(["1", "2024-01-13", "lamp"]))
    content = plain.read_bytes()
    book = make_xlsx(tmp_path / "book.xlsx").read_bytes()
    path = make_zip(
        tmp_path / "2024.zip",
        {"b/march.csv": content, "a.xlsx": book, "readme.md": b"", "__MACOSX/b": b"", "b/.DS_Store": b""},
    )
    exports = open_exports(path, "calls/2024.zip")
    assert [export.name for export in exports] == ["calls/2024.zip/a.xlsx", "calls/2024.zip/b/march.csv"]
    assert exports[0].remarks == ("lies in an archive of which other files were left aside: readme.md.",)
    assert exports[1].sha256 == open_export(plain).sha256
    assert list(rows_of(exports[1])) == list(rows_of(open_export(plain)))
    one = open_export(path / "b" / "march.csv")
    assert (one.sha256, one.name, archive_of(one.named or path)) == (
        exports[1].sha256,
        "2024.zip/b/march.csv",
        path,
    )
    packed = open_export(make_gzip(tmp_path / "calls.csv.gz", content))
    assert (packed.sha256, packed.name) == (exports[1].sha256, "calls.csv.gz")
    assert open_export(make_gzip(tmp_path / "book.xlsx.gz", book)).kind == "workbook"
    assert open_export(make_gzip(tmp_path / "noname.gz", content)).kind == "text"
