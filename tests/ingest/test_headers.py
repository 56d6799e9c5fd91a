"""Where the header stands, and which rows are not data."""

from __future__ import annotations

import pytest

from pipeline.ingest.headers import (
    column_labels,
    find_header,
    guess_header,
    is_not_data,
    is_unlabelled_total,
    normalised,
)

LABELS = ("Call", "Date", "Text", "Cost")


def test_labels_are_trimmed_numbered_and_told_apart() -> None:
    assert column_labels([" Call ", "", "Text", "Text", "", ""]) == ("Call", "column 2", "Text", "Text (2)")


def test_a_known_header_is_found_under_title_rows() -> None:
    rows = [(1, ["Report of calls"]), (2, []), (3, list(LABELS)), (4, ["1", "2024-01-02", "x", "3"])]
    found = find_header(rows, {LABELS})
    assert found is not None
    assert (found.row_number, found.labels) == (3, LABELS)
    assert find_header(rows, {("Call", "Date")}) is None


def test_the_likeliest_header_is_the_wide_row_of_names() -> None:
    rows = [
        (1, ["Facility requests, all trades", "", "", ""]),
        (2, ["Printed for the board", "", "", ""]),
        (3, ["Call", "Date", "Text", "Cost"]),
        (4, ["1", "2024-01-02", "Light out", "$3"]),
        (5, ["A", "Monday", "Light out", "none"]),
    ]
    found = guess_header(rows, {"call", "date", "cost"})
    assert found is not None
    assert found.row_number == 3


def test_rows_without_names_give_no_header() -> None:
    assert guess_header([(1, ["1", "2"]), (2, ["2024-01-02", "3"])]) is None


@pytest.mark.parametrize(
    "cells",
    [
        ["", " ", "", ""],
        ["Call", "Date", "Text", "Cost"],
        ["Total", "", "", "31.50"],
        ["Grand total:", "", "", "31.50"],
        ["", "", "Subtotal", "31.50"],
        ["Report generated 1/2/2024", "", "", ""],
        ["125 records", "", "", ""],
        ["Page 3 of 9"],
    ],
)
def test_blank_header_and_total_rows_are_not_data(cells: list[str]) -> None:
    assert is_not_data(cells, LABELS, report_columns=[1])


@pytest.mark.parametrize(
    "cells",
    [
        ["1", "2024-01-02", "", ""],
        ["Total", "2024-01-02", "", ""],
        ["17", "", "", ""],
        ["", "", "lamp out", ""],
        ["Total", "", "lamps counted on the night walk", "3"],
    ],
)
def test_anything_else_is_data(cells: list[str]) -> None:
    assert not is_not_data(cells, LABELS, report_columns=[1])


def test_names_are_compared_as_words() -> None:
    assert normalised("WORK_ORDER#") == normalised("Work Order Number") == "work order number"
    assert normalised("reportedDate") == "reported date"


GROUPED = ("Call", "Dates In", "Dates Out", "Cost")


@pytest.mark.parametrize(
    ("upper", "lower"),
    [
        (["Call", "Dates", "", "Cost"], ["", "In", "Out", ""]),  # as a text file keeps merged cells
        (["Call", "Dates", "Dates", "Cost"], ["", "In", "Out", ""]),  # as they are read from a workbook
        (["", "Dates", "Dates", ""], ["Call", "In", "Out", "Cost"]),
    ],
)
def test_a_header_in_two_rows_is_one(upper: list[str], lower: list[str]) -> None:
    rows = [(1, ["Facility requests", "", "", ""]), (2, upper), (3, lower), (4, ["1", "2024-01-02", "", "3"])]
    for found in (find_header(rows, {GROUPED}), guess_header(rows, {"call", "cost"})):
        assert found is not None
        assert (found.row_number, found.labels) == (3, GROUPED)


WITH_LONE_GROUP = ("WO No.", "Requested Date", "Requested Time", "Complaint")


@pytest.mark.parametrize("second", ["", "Requested"])
def test_a_group_of_one_column_is_one_where_the_lower_row_holds_names_of_columns(second: str) -> None:
    rows = [(1, ["WO", "Requested", second, "Complaint"]), (2, ["No.", "Date", "Time", ""])]
    for found in (find_header(rows, {WITH_LONE_GROUP}), guess_header(rows, {"wo", "requested", "complaint"})):
        assert found is not None
        assert (found.row_number, found.labels) == (2, WITH_LONE_GROUP)


@pytest.mark.parametrize(
    ("upper", "lower"),
    [
        (
            ["Call", "Notes", "Notes", "Cost"],
            ["A", "Light out", "Monday", ""],
        ),  # a name twice, and words below
        (["Requests of the year", "", "", ""], ["Call", "Date", "Text", "Cost"]),  # a title
        (
            ["Requests", "Requests", "Requests", "Requests"],
            ["Call", "Date", "Text", "Cost"],
        ),  # merged over all
        (["Call", "Date", "Text", "Cost"], ["A", "Monday", "Light out", "none"]),  # a row of words below
        (
            ["Call", "Date", "Text", ""],
            ["A", "Monday", "Light out", "see notes"],
        ),  # and a column without a name
    ],
)
def test_two_rows_that_are_no_header_together_stay_apart(upper: list[str], lower: list[str]) -> None:
    found = guess_header([(1, upper), (2, lower)], {"call", "date", "text", "cost"})
    assert found is not None
    assert found.labels[0] == "Call"


def test_what_other_programs_left_in_a_columns_name_is_cleaned() -> None:
    assert column_labels(["Call&nbsp;No", "Date<br>In", "Labor &amp; parts", "Due_x000D_\nDate"]) == (
        "Call No", "Date In", "Labor & parts", "Due Date",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "is_total"),
    [
        (["", "", "", "31.50"], True),
        (["", " ", "", "$1,396.41"], True),
        (["", "", "", ""], False),
        (["17", "", "", "31.50"], False),
        (["", "", "", "31.50 for lamps"], False),
        (["", "", "", "-"], False),
    ],
)
def test_figures_where_no_call_says_what_it_is_may_be_a_total(cells: list[str], is_total: bool) -> None:
    assert is_unlabelled_total(cells, call_columns=[0, 1, 2]) == is_total
    assert not is_unlabelled_total(cells, call_columns=[])
