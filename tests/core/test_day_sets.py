"""Spans of days as people write them in the settings."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.day_sets import check_days, days_within


def within(days: list[str], spans: list[str], weekdays: tuple[str, ...] = ()) -> list[bool]:
    return days_within(np.array(days, "datetime64[D]"), spans, weekdays).tolist()


def test_a_span_without_a_year_comes_every_year_and_holds_both_its_ends() -> None:
    days = ["2023-06-04", "2023-06-05", "2024-08-14", "2024-08-15"]
    assert within(days, ["06-05 to 08-14"]) == [False, True, True, False]


def test_a_span_may_run_over_the_years_end() -> None:
    assert within(["2023-12-20", "2023-12-21", "2024-01-04", "2024-01-05"], ["12-21 to 01-04"]) == [
        False, True, True, False,
    ]  # fmt: skip


def test_a_leap_day_and_a_day_of_one_year() -> None:
    assert within(["2024-02-29", "2023-02-28", "2024-03-01"], ["02-29"]) == [True, False, False]
    assert within(["2024-07-04", "2025-07-04"], ["2024-07-04"]) == [True, False]
    assert within(["1968-12-31"], ["12-31"]) == [True]


def test_weekdays_narrow_the_spans() -> None:
    assert within(["2024-07-05", "2024-07-06"], ["07-01 to 07-31"], ("sat", "sun")) == [False, True]
    assert within(["1970-01-01", "1969-12-31"], [], ("thu",)) == [True, False]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("13-01", "not a day of the calendar"),
        ("summer", "not a day"),
        ("2024-06-01 to 08-01", "one end only"),
        ("2024-06-02 to 2024-06-01", "ends before it begins"),
        ("01-01 to 02-01 to 03-01", "more than two ends"),
    ],
)
def test_what_is_no_span_of_days_is_told(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        check_days(text)
