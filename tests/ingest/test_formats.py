"""Every format from file to calls: the same small log in each, read by a proposed layout and built."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
import xlsxwriter
from typer.testing import CliRunner

from pipeline.cli import app
from pipeline.ingest.layouts import read_layouts
from pipeline.portfolio import Portfolio
from pipeline.store import Store

from .making import HEADER, accept, reconciles, write_csv
from .odd_files import make_gzip, make_ods, make_xls, make_xlsx, make_zip, ods_table

Intake = Callable[[Portfolio], Store]
ROWS = [
    list(HEADER),
    [
        "1",
        "2024-01-02 08:00",
        "2024-01-05 10:00",
        "Closed",
        "Larch School",
        "Lot light on all day",
        "Replaced photocell",
    ],
    ["2", "2024-01-13 09:30", "", "Open", "Elm School", "Pole light &amp; sign out<br>two poles", ""],
    ["3", "", "", "Open", "Elm School", "No date on this one", ""],
]  # fmt: skip
JSON_LINES = (
    '{"Call Number": 1, "Date Reported": "2024-01-02 08:00", "Date Completed": "2024-01-05 10:00", "Status": "Closed",'
    ' "Building": "Larch School", "Description": "Lot light on all day", "Action Taken": "Replaced photocell"}\n'
    '{"Call Number": 2, "Date Reported": "2024-01-13 09:30", "Status": "Open", "Building": "Elm School",'
    ' "Description": "Pole light &amp; sign out<br>two poles"}\n'
    '{"Call Number": 3, "Status": "Open", "Building": "Elm School", "Description": "No date on this one"}\n'
)


def _json_array(path: Path) -> Path:
    path.write_text(f"[{JSON_LINES.strip().replace(chr(10), ',')}]", encoding="utf-8")
    return path


def _json_lines(path: Path) -> Path:
    path.write_text(JSON_LINES, encoding="utf-8")
    return path


def _stated_delimiter(path: Path) -> Path:
    text = write_csv(path, ROWS, delimiter=";").read_text(encoding="utf-8")
    path.write_text(f"sep=;\r\n{text}", encoding="utf-16")
    return path


def _packed(path: Path) -> Path:
    plain = write_csv(path.with_name("plain.csv"), ROWS)
    return make_gzip(path, plain.read_bytes())


FORMATS: dict[str, Callable[[Path], Path]] = {
    "calls.csv": lambda path: write_csv(path, ROWS),
    "stated.csv": _stated_delimiter,
    "calls.xlsx": lambda path: make_xlsx(path, ROWS),
    "calls.xls": lambda path: make_xls(path, ROWS),
    "calls.ods": lambda path: make_ods(path, ods_table(ROWS)),
    "calls.json": _json_array,
    "calls.ndjson": _json_lines,
    "calls.csv.gz": _packed,
}


@pytest.mark.parametrize("name", FORMATS)
def test_the_same_log_gives_the_same_calls(
    portfolio: Portfolio, intake: Intake, tmp_path: Path, name: str
) -> None:
    given = FORMATS[name](tmp_path / name)
    done = CliRunner().invoke(app, ["layout", str(portfolio.folder), str(given), "--accept"])
    assert done.exit_code == 0, done.output
    store = intake(portfolio)
    assert reconciles(store)
    calls = store.rows(
        "SELECT call_number, reported_at, completed_at, status, site_text, problem_text, action_text "
        "FROM calls ORDER BY call_number"
    )
    assert calls == [
        ("1", datetime(2024, 1, 2, 8), datetime(2024, 1, 5, 10), "completed", "Larch School", "Lot light on all day",
         "Replaced photocell"),
        ("2", datetime(2024, 1, 13, 9, 30), None, "open", "Elm School", "Pole light & sign out\ntwo poles", None),
    ]  # fmt: skip
    row_number, reason = store.row("SELECT row_number, reason FROM rejected_rows")
    assert row_number == {"stated.csv": 5, "calls.json": 3, "calls.ndjson": 3}.get(name, 4)
    assert reason == "no report date: column Date Reported is empty"


def test_each_table_of_a_zip_is_an_export_with_its_own_layout(
    portfolio: Portfolio, intake: Intake, tmp_path: Path
) -> None:
    month = write_csv(tmp_path / "month.csv", [ROWS[0], *(["9" + row[0], *row[1:]] for row in ROWS[1:])])
    given = make_zip(
        tmp_path / "2024.zip",
        {"a.csv": write_csv(tmp_path / "a.csv", ROWS).read_bytes(), "b.csv": month.read_bytes(),
         "c/old.json": JSON_LINES.replace('Number": ', 'Number": 5').encode()},
    )  # fmt: skip
    run = CliRunner()
    assert run.invoke(app, ["layout", str(portfolio.folder), str(given), "--accept"]).exit_code == 0
    assert (portfolio.calls / "2024.zip").read_bytes() == given.read_bytes()
    # The third table has another header: the fault names the command that proposes for it, and that command works.
    refused = run.invoke(app, ["build", str(portfolio.folder)])
    member = portfolio.calls / "2024.zip" / "c" / "old.json"
    said = "".join(refused.output.split())
    assert refused.exit_code == 1
    assert f"dayburnlayout{portfolio.folder}{member}" in said
    assert run.invoke(app, ["layout", str(portfolio.folder), str(member), "--accept"]).exit_code == 0
    assert len(read_layouts(portfolio)) == 2
    store = intake(portfolio)
    assert reconciles(store)
    files = store.rows("SELECT name, rows_read, calls FROM source_files ORDER BY name")
    assert files == [(f"calls/2024.zip/{name}", 3, 2) for name in ("a.csv", "b.csv", "c/old.json")]


def test_the_same_table_packed_and_plain_is_read_once(portfolio: Portfolio, intake: Intake) -> None:
    plain = write_csv(portfolio.calls / "calls.csv", ROWS)
    make_gzip(portfolio.calls / "calls.csv.gz", plain.read_bytes())
    accept(portfolio, plain)
    store = intake(portfolio)
    assert store.rows("SELECT name FROM source_files") == [("calls/calls.csv",)]
    said = store.value("SELECT message FROM notices WHERE place = 'calls/calls.csv.gz'")
    assert said == "is the same file as calls/calls.csv, byte for byte; read once."


def test_bare_day_numbers_count_from_the_workbooks_own_first_day(
    portfolio: Portfolio, intake: Intake
) -> None:
    # 2024-01-13 09:36 is day 45,304.4 counted from 1900 and 43,842.4 counted from 1904 (1,462 days apart).
    days = {"from_1900.xlsx": 45_304.4, "from_1904.xlsx": 43_842.4}
    for name, day in days.items():
        with xlsxwriter.Workbook(portfolio.calls / name, {"date_1904": "1904" in name}) as book:
            page = book.add_worksheet("Calls")
            page.write_row(0, 0, HEADER[:2] + HEADER[5:6])
            page.write_row(1, 0, [name, day, "lamp out"])
            page.write_row(2, 0, [f"{name} 2", day + 1, "lamp on all day"])
    accept(portfolio, portfolio.calls / "from_1900.xlsx", columns={"reported_at": ["Date Reported"]})
    store = intake(portfolio)
    read = store.rows("SELECT reported_at FROM calls ORDER BY call_number")
    assert read == [(datetime(2024, 1, 13, 9, 36),), (datetime(2024, 1, 14, 9, 36),)] * 2


def test_a_merged_header_in_two_rows_is_proposed_and_found_again(
    portfolio: Portfolio, intake: Intake
) -> None:
    path = portfolio.calls / "merged.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page, bold = book.add_worksheet("Calls"), book.add_format({"bold": True})
        page.merge_range(0, 0, 0, 4, "Work orders of the year", bold)
        for place, name in ((0, "Call Number"), (1, "Building"), (4, "Description")):
            page.merge_range(1, place, 2, place, name, bold)
        page.merge_range(1, 2, 1, 3, "Date", bold)
        page.write_row(2, 2, ["Reported", "Completed"])
        for number, row in enumerate(ROWS[1:], start=3):
            page.write_row(number, 0, [row[0], row[4], row[1], row[2], row[5]])
    accept(portfolio, path)
    (layout,) = read_layouts(portfolio).values()
    assert layout.header == ("Call Number", "Building", "Date Reported", "Date Completed", "Description")
    store = intake(portfolio)
    assert reconciles(store)
    assert store.row("SELECT header_row, rows_read, calls, not_data FROM source_files") == (3, 3, 2, 3)


def test_rows_that_all_have_more_cells_than_the_header_are_kept_with_the_reason(
    portfolio: Portfolio, intake: Intake
) -> None:
    path = write_csv(portfolio.calls / "calls.csv", ROWS)
    accept(portfolio, path)
    write_csv(path, [ROWS[0], *([*row, "x"] for row in ROWS[1:])])
    store = intake(portfolio)
    assert reconciles(store)
    reasons = store.rows("SELECT DISTINCT reason FROM rejected_rows")
    assert reasons == [("has 1 more cell than the header (7)",)]
    assert store.row("SELECT rows_read, calls, rejected FROM source_files") == (3, 0, 3)


@pytest.mark.parametrize("name", ["calls.xlsx", "calls.xls", "calls.ods", "calls.csv"])
def test_line_breaks_in_titles_headers_and_totals_are_no_reason_to_refuse_a_file(
    portfolio: Portfolio, intake: Intake, name: str
) -> None:
    wrapped = [label.replace(" ", "\n") for label in HEADER]
    rows = [["Work orders\nof the year"], wrapped, *ROWS[1:], ["Total:\n3 orders"]]
    rows = [row + [""] * (len(HEADER) - len(row)) for row in rows]
    make = {"calls.xls": make_xls, "calls.ods": lambda path, rows: make_ods(path, ods_table(rows))}
    path = portfolio.calls / name
    make.get(name, write_csv if name.endswith("csv") else make_xlsx)(path, rows)
    accept(portfolio, path)
    store = intake(portfolio)
    assert reconciles(store)
    assert store.row("SELECT header_row, rows_read, calls, not_data FROM source_files") == (2, 3, 2, 3)


def test_an_empty_json_object_is_a_blank_row_and_no_column(portfolio: Portfolio, intake: Intake) -> None:
    accept(portfolio, _json_lines(portfolio.calls / "calls.jsonl"))
    (portfolio.calls / "calls.jsonl").write_text(JSON_LINES + "{}\n", encoding="utf-8")
    store = intake(portfolio)
    assert reconciles(store)
    assert store.row("SELECT rows_read, calls FROM source_files") == (3, 2)
