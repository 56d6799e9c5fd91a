"""Whole numbers and text from data, as people see them in notices, checks and on a terminal."""

from __future__ import annotations

import pytest

from pipeline.checks import fill_checks
from pipeline.numerals import THIN_SPACE, count_text, counted
from pipeline.store import Store


@pytest.mark.parametrize(
    ("number", "written"),
    [(0, "0"), (999, "999"), (17295, f"17{THIN_SPACE}295"), (-1000, f"\u22121{THIN_SPACE}000")],
)
def test_thousands_are_parted_by_a_thin_space(number: int, written: str) -> None:
    assert count_text(number) == written


def test_a_check_parts_the_thousands_of_what_it_compared() -> None:
    store = Store.create()
    store.run(
        "INSERT INTO source_files (file_id, name, sha256, layout, source, header_row, rows_read, not_data, calls,"
        " superseded, rejected, flagged, date_order)"
        " VALUES ('f', 'f', 's', 'l', 's', 1, 17295, 1, 17000, 290, 5, 0, '')"
    )
    store.run(
        "CREATE TEMP TABLE stays (control_id VARCHAR, succession INTEGER, entered_on DATE, ended_on DATE,"
        " quantity INTEGER, failed BOOLEAN)"
    )
    fill_checks(store)
    details = dict(store.rows("SELECT name, detail FROM checks"))
    assert details["every row of every file is a call, superseded or rejected"] == (
        f"17{THIN_SPACE}295 rows read, 17{THIN_SPACE}000 calls, 290 superseded, 5 rejected"
    )
    assert (
        details["the calls table holds as many rows as the files gave"]
        == f"0 rows, 17{THIN_SPACE}290 expected"
    )


@pytest.mark.parametrize(
    ("value", "said"), [(0, "0 controls"), (1, "1 control"), (1200, "1\u202f200 controls")]
)
def test_what_is_counted_agrees_with_its_number(value: int, said: str) -> None:
    assert counted(value, "control") == said
    assert counted(2, "stretch", "stretches") == "2 stretches"
