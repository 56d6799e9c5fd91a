"""A column with the number of a parent request: proposed by its name, kept only where it is a number of the log."""

from __future__ import annotations

from collections.abc import Callable

from typer.testing import CliRunner

from pipeline.cli import app
from pipeline.portfolio import Portfolio
from pipeline.store import Store

ROWS = """\
WO #,Parent WO #,Date Reported,Problem Description,Action Taken
SR-101,,2024-01-02 08:00,Parking lot lights on all day,see child
SR-102,101,2024-01-02 09:00,Pole light on all day,replaced photocell
SR-103,sr 101,2024-01-03 09:00,Pole light on all day,
SR-104,Pat Quillon,2024-01-04 09:00,Pole light out,
SR-105,999,2024-01-05 09:00,Pole light out,
SR-106,SR-106,2024-01-06 09:00,Pole light out,
"""


def test_a_parent_is_found_by_its_number_and_nothing_else_of_the_column_is_kept(
    portfolio: Portfolio, intake: Callable[[Portfolio], Store]
) -> None:
    given = portfolio.calls / "orders.csv"
    given.write_text(ROWS, encoding="utf-8")
    done = CliRunner().invoke(app, ["layout", str(portfolio.folder), str(given), "--accept"])
    assert done.exit_code == 0, done.output
    store = intake(portfolio)
    found = store.rows(
        "SELECT c.call_number, p.call_number FROM calls c LEFT JOIN calls p ON p.call_id = c.part_of ORDER BY 1"
    )
    assert dict(found) == {
        "SR-101": None, "SR-102": "SR-101", "SR-103": "SR-101", "SR-104": None, "SR-105": None, "SR-106": None,
    }  # fmt: skip
    kept = b"".join(path.read_bytes() for path in portfolio.cache.rglob("*") if path.is_file())
    assert b"Quillon" not in kept
