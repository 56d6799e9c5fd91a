"""Numbers and texts as the pages write them."""

from __future__ import annotations

import csv
import io

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard import format as write
from dashboard.format import Shown

NARROW = "\u202f"


@pytest.mark.parametrize(
    ("way", "value", "text"),
    [
        (write.count, 12087, f"12{NARROW}087"),
        (write.estimate, 12345.6, f"12{NARROW}300"),
        (write.money, 1.4, "1.40"),
        (write.percent, 0.123, "12.3\u00a0%"),
        (write.day, pd.Timestamp(2024, 3, 5), "5 Mar 2024"),
        (write.moment, pd.Timestamp(2024, 3, 5, 7, 4), "5 Mar 2024, 07:04"),
        (write.verdict, True, "✓ holds"),
        (write.verdict, False, "✗ does not hold"),
        (write.joined, ["a", "b"], "a, b"),
    ],
)
def test_values_are_written_as_everywhere_else(way: write.Write, value: object, text: str) -> None:
    assert way(value) == text


@pytest.mark.parametrize(
    "way", [write.count, write.estimate, write.money, write.day, write.text, write.joined]
)
@pytest.mark.parametrize("missing", [None, float("nan"), pd.NaT, pd.NA])
def test_what_is_missing_is_a_dash(way: write.Write, missing: object) -> None:
    assert way(missing) == "–"


def test_a_text_that_a_spreadsheet_would_run_is_quoted_in_the_csv() -> None:
    frame = pd.DataFrame({"text": ["=1+1", "@x", "-1", "plain"], "number": [-1.5, 2.0, 3.0, 4.0]})
    rows = list(csv.reader(io.StringIO(write.csv_bytes(frame).decode("utf-8-sig"))))
    assert rows == [["text", "number"], ["'=1+1", "-1.5"], ["'@x", "2.0"], ["'-1", "3.0"], ["plain", "4.0"]]


@given(st.text(max_size=40))
def test_no_text_in_a_printed_table_acts_as_markup(text: str) -> None:
    table = write.plain_table(pd.DataFrame({"a": [text]}), {"a": Shown("A")}, "USD")
    table = table.replace(" class='number'", "")  # of a text that is a number
    inside = table.removeprefix(
        "<table class='plain'><thead><tr><th scope='col'>A</th></tr></thead><tbody><tr><td data-label='A'>"
    )
    inside = inside.removesuffix("</td></tr></tbody></table>")
    assert "<" not in inside
    assert ">" not in inside


def test_columns_that_are_not_numbers_are_shown_as_text_and_numbers_stay_sortable() -> None:
    frame = pd.DataFrame({"n": [1.0, None], "flag": [True, False], "list": [["a"], []]})
    columns = {
        "n": Shown("N", write.estimate),
        "flag": Shown("F", write.yes_no),
        "list": Shown("L", write.joined),
    }
    shown = write.styled(frame, columns).data
    assert shown["n"].tolist()[0] == 1.0
    assert shown["flag"].tolist() == ["yes", "no"]
    assert shown["list"].tolist() == ["a", "–"]


def test_limits_are_one_text() -> None:
    frame = pd.DataFrame({"low": [1.0, 2.0, None], "high": [3.0, None, None]})
    assert write.with_limits(frame, "both", "low", "high")["both"].tolist() == [
        "1.00–3.00",
        "at least 2.00",
        "–",
    ]


def test_labels_carry_the_currency() -> None:
    assert write.label_of(Shown("Cost, {money}/day"), "EUR") == "Cost, EUR/day"


def test_a_life_bounded_from_below_only_says_at_least_and_one_without_end_is_no_number() -> None:
    fits = pd.DataFrame(
        {
            "b10_days": [730.5, None, float("inf")],
            "b10_days_lower": [365.25, 365.25, 365.25],
            "b10_days_upper": [None, None, float("inf")],
        }
    )
    shown = write.with_limits(write.with_years(fits, "b10"), "limits", "b10_years_lower", "b10_years_upper")
    columns = {"b10_years": write.Shown("B10", write.estimate), "limits": write.Shown("Limits")}
    text = write.written(shown, columns, "USD")
    assert text["B10"].tolist() == ["2.00", "–", "–"]
    assert text["Limits"].tolist() == ["at least 1.00"] * 3


def test_a_column_of_numbers_and_their_limits_is_set_to_the_right_and_words_are_not() -> None:
    frame = pd.DataFrame(
        {"a": [12_300.0, None], "b": ["9.1–12.4", "–"], "c": ["2.5 h", "–"], "d": ["–", "–"]}
    )
    columns = {"a": Shown("A", write.estimate), "b": Shown("B"), "c": Shown("C"), "d": Shown("D")}
    table = write.plain_table(frame, columns, "USD")
    assert [f"<th scope='col' class='number'>{label}<" in table for label in "ABCD"] == [
        True,
        True,
        False,
        False,
    ]
    assert table.count("class='number'") == 6  # two heads and their cells
