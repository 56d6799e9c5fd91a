from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from pipeline.report.tables import Column, Table, plain

FRAME = pd.DataFrame(
    {
        "name": ["a", None],
        "kwh": [1234.5, float("nan")],
        "low": [1000.0, 5.0],
        "high": [1500.0, float("nan")],
        "day": pd.to_datetime(["2024-03-05", None]),
        "count": [2, 3],
    }
)
COLUMNS = (
    Column("name", "Name"),
    Column("kwh", "Energy", "estimate", "kWh", "low", "high"),
    Column("day", "Day", "date"),
    Column("count", "Count", "count"),
)


def test_a_page_writes_limits_behind_the_value_and_a_dash_for_nothing() -> None:
    texts = Table("t", "T", COLUMNS, FRAME).texts()
    assert [cell.replace("\u202f", " ") for cell in texts[0]] == [
        "a",
        "1 230 (1 000–1 500)",
        "5 Mar 2024",
        "2",
    ]
    assert texts[1] == ["–", "at least 5.00", "–", "3"]


def test_a_workbook_gives_each_limit_a_column() -> None:
    table = Table("t", "T", COLUMNS, FRAME)
    assert [column.heading for column in table.flat_columns()] == [
        "Name", "Energy [kWh]", "Energy, low [kWh]", "Energy, high [kWh]", "Day", "Count",
    ]  # fmt: skip
    assert table.values(1) == [["a", 1234.5, 1000.0, 1500.0, pd.Timestamp(2024, 3, 5).to_pydatetime(), 2]]


def test_a_page_shows_its_limit_and_says_how_many_are_left() -> None:
    table = Table("t", "T", COLUMNS, FRAME, limit=1)
    assert (len(table.texts()), table.total, table.more) == (1, 2, 1)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (float("nan"), None),
        (pd.NaT, None),
        (None, None),
        (["a", "b"], "a, b"),
        ("", ""),
        (date(2024, 1, 2), date(2024, 1, 2)),
    ],
)
def test_empty_cells_of_any_kind_are_none(value: object, expected: object) -> None:
    assert plain(value) == expected


def test_a_row_number_is_written_as_it_must_be_typed_to_find_it() -> None:
    frame = pd.DataFrame({"row_number": [12087]})
    assert Table("t", "T", (Column("row_number", "Row", "row"),), frame).texts() == [["12087"]]


def test_limits_that_say_the_same_as_the_value_are_left_out() -> None:
    frame = pd.DataFrame({"kwh": [5.0], "low": [5.0], "high": [5.001]})
    assert Table("t", "T", (Column("kwh", "Energy", "estimate", "kWh", "low", "high"),), frame).texts() == [
        ["5.00"]
    ]


def test_a_life_without_end_is_no_number() -> None:
    frame = pd.DataFrame(
        {"life": [5.0, float("inf")], "low": [4.0, 3.0], "high": [float("inf"), float("inf")]}
    )
    table = Table("t", "T", (Column("life", "Life", "estimate", "years", "low", "high"),), frame)
    assert table.texts() == [["5.00 (at least 4.00)"], ["at least 3.00"]]
    assert table.sheet_values(9) == [[5.0, 4.0, "no limit"], ["at least 3.00", 3.0, "no limit"]]


def test_a_workbook_leaves_no_cell_blank_where_a_limit_is_missing() -> None:
    frame = pd.DataFrame(
        {"life": [None, None, 2.0], "low": [3.0, None, None], "high": [None, None, None]}, dtype=float
    )
    table = Table("t", "T", (Column("life", "Life", "estimate", "years", "low", "high"),), frame)
    assert table.sheet_values(9) == [["at least 3.00", 3.0, "no limit"], ["–", "–", "–"], [2.0, "–", "–"]]
