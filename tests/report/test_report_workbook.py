from __future__ import annotations

from pathlib import Path
from zipfile import ZipFile

import openpyxl
import pytest
import xlsxwriter
from figures.small_store import FORMULA, SCRIPT
from openpyxl.workbook import Workbook

from pipeline import figures
from pipeline.report import write_report
from pipeline.report.words import READERS
from pipeline.report.workbook import CHARACTERS_IN_A_CELL, fitted, places, write_cell
from pipeline.store import Store


@pytest.fixture(scope="module")
def file(small: Store, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("book") / "report.xlsx"
    write_report(small, path, "contractor")
    return path


@pytest.fixture(scope="module")
def book(file: Path) -> Workbook:
    return openpyxl.load_workbook(file)


def rows(book: Workbook, sheet: str) -> list[dict[str, object]]:
    """A sheet as dicts by its headings."""
    headings, *values = book[sheet].iter_rows(values_only=True)
    return [dict(zip(map(str, headings), row, strict=True)) for row in values]


def test_a_call_that_begins_with_an_equals_sign_stays_text(file: Path, book: Workbook) -> None:
    texts = [row["Reported text"] for row in rows(book, "calls failures_12_months".replace("_", " "))]
    assert FORMULA in texts
    with ZipFile(file) as parts:
        for name in parts.namelist():
            if name.startswith("xl/worksheets/"):
                assert b"<f>" not in parts.read(name), name
                assert b"<hyperlink" not in parts.read(name), name


def test_the_figures_sheet_states_the_headline_figures_text_for_text(small: Store, book: Workbook) -> None:
    shown = {row["Figure"]: row for row in rows(book, "Figures")}
    for figure in figures.headline(small):
        for part in figure.flat():
            assert shown[part.label]["As written"] == part.text()
            assert shown[part.label]["Unit"] == part.unit
            assert shown[part.label]["Value"] == pytest.approx(part.value)


def test_every_call_behind_a_figure_is_listed_with_file_and_row(small: Store, book: Workbook) -> None:
    for key in figures.headline_keys():
        sheet = f"calls_{key}".replace("_", " ")[:31]
        listed = sorted((row["File"], row["Row"]) for row in rows(book, sheet))
        calls = figures.calls_behind(small, key)
        assert listed == sorted(zip(calls["source_file"], calls["row_number"], strict=True))


def test_limits_have_columns_of_their_own_with_unit(book: Workbook) -> None:
    year = rows(book, "energy by fiscal year")[0]
    assert (year["Energy, least [kWh]"], year["Energy [kWh]"], year["Energy, most [kWh]"]) == (125, 250, 500)
    # draws evenly from half to double
    limits = (year["Energy, low [kWh]"], year["Energy, high [kWh]"])
    assert limits == pytest.approx((250 * 0.575, 250 * 1.925), rel=0.01)
    assert year["Cost [USD]"] == 25


def test_rows_that_a_page_leaves_out_are_in_the_workbook(small: Store, book: Workbook) -> None:
    assert len(rows(book, "activity by month")) == 30
    assert len(rows(book, "cash flows")) == len(figures.cash_flow_table(small))
    assert len(rows(book, "options")) == 5


def test_markup_in_a_call_is_plain_text(book: Workbook) -> None:
    assert SCRIPT in [row["Reported text"] for row in rows(book, "calls wasted energy")]


def test_each_replacement_leads_to_what_its_lives_rest_on(book: Workbook) -> None:
    bases = {row["Basis"]: row["Lives from"] for row in rows(book, "replace now basis")}
    options = rows(book, "replace now")
    assert len(options) > 1
    assert [bases[row["Basis"]] for row in options] == [row["Lives from"] for row in options]


def test_a_text_longer_than_a_cell_is_cut_and_says_so() -> None:
    assert fitted("short") == "short"
    long = fitted("x" * 40_000)
    assert len(long) == CHARACTERS_IN_A_CELL
    assert "cut" in long


@pytest.mark.parametrize("reader", READERS)
def test_an_empty_database_gives_a_workbook_with_headings(empty: Store, tmp_path: Path, reader: str) -> None:
    path = tmp_path / "empty.xlsx"
    write_report(empty, path, reader)
    book = openpyxl.load_workbook(path)
    assert rows(book, "options") == []
    assert rows(book, "Figures")[0]["As written"] == "not available"


def test_the_same_build_gives_the_same_workbook(small: Store, file: Path, tmp_path: Path) -> None:
    write_report(small, tmp_path / "again.xlsx", "contractor")
    assert (tmp_path / "again.xlsx").read_bytes() == file.read_bytes()


def test_a_missing_number_is_blank_and_an_open_limit_says_so(tmp_path: Path) -> None:
    path = tmp_path / "cells.xlsx"
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet()
    for column, value in enumerate((float("nan"), float("inf"), 1.5, None)):
        write_cell(sheet, 0, column, value)
    book.close()
    (row,) = openpyxl.load_workbook(path).active.iter_rows(values_only=True)
    assert row[1:3] == ("no limit", 1.5)
    assert row[0] is None


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (311, 0),
        (270_099.9, 0),
        (99.96, 0),
        (12.72, 1),
        (1.0119, 2),
        (0.4729, 3),
        (-0.0123, 4),
        (0.0, 0),
        (1e-12, 6),
    ],
)
def test_an_estimate_shows_three_significant_digits(value: float, expected: int) -> None:
    assert places(value) == expected


def test_a_count_among_the_figures_has_no_decimals_and_an_estimate_has(small: Store, book: Workbook) -> None:
    formats = {str(row[0].value): row[2].number_format for row in book["Figures"].iter_rows(min_row=2)}
    parts = [part for figure in figures.headline(small) for part in figure.flat() if part.value]
    counts = [part.label for part in parts if type(part.value) is int]
    small_ones = [part.label for part in parts if type(part.value) is float and 1 <= part.value < 10]
    assert len(counts) > 2
    assert len(small_ones) > 0
    assert {formats[label] for label in counts} == {"#,##0"}
    assert {formats[label] for label in small_ones} == {"#,##0.00"}


def test_every_sheet_prints_across_with_its_headings_on_each_page(book: Workbook) -> None:
    for sheet in book:
        assert sheet.page_setup.orientation == "landscape", sheet.title
        assert sheet.print_title_rows == "$1:$1", sheet.title
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) in ((1, 0), (None, 0)), sheet.title
