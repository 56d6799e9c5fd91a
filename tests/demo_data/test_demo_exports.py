"""The two export layouts: what stands in them, and how files repeat each other."""

from __future__ import annotations

import re

import pandas as pd
from demo_tables import export_rows, truth

from demo_data.exports import NEW_COLUMNS, OLD_COLUMNS

US_TIME = re.compile(r"\d{1,2}/\d{1,2}/\d{4} (1[0-2]|[1-9]):\d\d (AM|PM)")


def test_every_call_stands_in_an_export_and_nothing_else_does() -> None:
    older, newer = export_rows("older"), export_rows("newer")
    calls = truth("calls")
    assert set(older["WO NO"]) | set(newer["Request ID"]) == set(calls.call_number)
    assert calls.exports.notna().all()


def test_older_layout_shouts_and_writes_us_dates() -> None:
    older = export_rows("older").drop(columns="file")
    assert list(older.columns) == list(OLD_COLUMNS)
    assert (older["DESCRIPTION"] == older["DESCRIPTION"].str.upper()).all()
    dates = pd.concat([older["DATE REQ"], older["DATE COMP"]])
    assert dates[dates != ""].map(lambda text: bool(US_TIME.fullmatch(text))).all()
    assert older["CONTR $"].str.match(r"\$\d,\d{3}\.\d\d").sum() > 50


def test_newer_layout_has_titles_a_total_and_both_kinds_of_date() -> None:
    newer = export_rows("newer").drop(columns="file")
    assert list(newer.columns) == list(NEW_COLUMNS)
    as_text = newer["Created On"].str.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d")
    assert 0.04 < as_text.mean() < 0.12
    assert not (newer["Problem Description"] == newer["Problem Description"].str.upper()).any()


def test_unfinished_orders_return_with_a_later_state() -> None:
    older, newer = export_rows("older"), export_rows("newer")
    both = older.merge(newer, left_on="WO NO", right_on="Request ID")
    assert both["WO NO"].nunique() > 100
    unfinished = both[both["STATUS"] == "OPEN"]
    assert len(unfinished) > 10
    assert (unfinished["DATE COMP"] == "").all()
    assert (unfinished["State"] != "In Progress").mean() > 0.9
    assert (both[both["STATUS"] == "CLOSED"]["State"] == "Complete").all()


def test_each_file_repeats_nine_rows_word_for_word() -> None:
    for layout, number in (("older", "WO NO"), ("newer", "Request ID")):
        rows = export_rows(layout)
        for _, file in rows.groupby("file"):
            repeated = file[file.duplicated(subset=[number])]
            assert len(repeated) == 9
            # A spoilt completion date may set one of a pair apart; most pairs stay equal in every cell.
            assert file.duplicated().sum() >= 7


def test_a_handful_of_rows_cannot_be_used_and_none_of_them_is_lighting() -> None:
    older, newer = export_rows("older"), export_rows("newer")
    numbers = [*older["WO NO"][older["DATE REQ"] == ""], *newer["Request ID"][newer["Created On"] == ""]]
    assert 8 <= len(numbers) <= 10
    assert not truth("calls").set_index("call_number").exterior_lighting[numbers].any()


def test_impossible_completion_dates_are_rare_and_of_each_sort() -> None:
    older = export_rows("older")
    closed = pd.to_datetime(older["DATE COMP"], format="%m/%d/%Y %I:%M %p")
    reported = pd.to_datetime(older["DATE REQ"], format="%m/%d/%Y %I:%M %p")
    assert (closed.dt.year == 1900).any()
    assert (closed.dt.year == 2105).any()
    assert 0.001 < (closed < reported).mean() < 0.01


def test_interior_lighting_is_in_the_log_and_not_called_exterior() -> None:
    newer = export_rows("newer").set_index("Request ID")
    exterior = truth("calls").set_index("call_number").exterior_lighting
    words = newer["Problem Description"].str.contains(r"(?i)\bclassroom|hallway|exit sign|auditorium")
    lights = newer["Problem Description"].str.contains(r"(?i)light|lamp|ballast")
    traps = newer.index[words & lights].drop_duplicates()
    assert len(traps) > 100
    assert not exterior[traps].any()
