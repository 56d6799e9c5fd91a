"""What accepting a file writes, and what it never does."""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path

import pytest
from core import small_portfolio

from pipeline.faults import InputFaults
from pipeline.intake_actions import Told, accept, confirm_windows, propose, put_into, tables_of
from pipeline.portfolio import Portfolio
from pipeline.window_file import read_windows
from pipeline.windows import SiteWindows, Span

OTHER = "Ticket,Raised,Details\n" + "".join(f"{n},2023-03-{n:02},Pole {n} dark\n" for n in range(1, 20))


@pytest.fixture
def portfolio(tmp_path: Path) -> Portfolio:
    return Portfolio.read(small_portfolio.make(tmp_path / "yards"))


def inside(portfolio: Portfolio) -> set[str]:
    folder = portfolio.folder
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_accepting_writes_a_layout_and_a_copy_and_nothing_else(portfolio: Portfolio, tmp_path: Path) -> None:
    before = inside(portfolio)
    file = tmp_path / "other.csv"
    file.write_text(OTHER)
    accepted = accept(portfolio, file, propose(file, portfolio))
    assert inside(portfolio) - before == {"layouts/other.toml", "calls/other.csv"}
    assert (accepted.file, accepted.copied) == (portfolio.calls / "other.csv", True)
    assert file.read_text() == OTHER


def test_where_another_file_has_the_name_not_even_the_layout_is_saved(
    portfolio: Portfolio, tmp_path: Path
) -> None:
    before = inside(portfolio)
    file = tmp_path / "orders.csv"
    file.write_text(OTHER)
    with pytest.raises(InputFaults, match="exists with other content"):
        accept(portfolio, file, propose(file, portfolio))
    assert inside(portfolio) == before


def test_the_same_file_again_is_not_copied(portfolio: Portfolio, tmp_path: Path) -> None:
    file = tmp_path / "orders.csv"
    file.write_text(small_portfolio.CALLS)
    assert put_into(portfolio.calls, file) == (portfolio.calls / "orders.csv", False)


def test_a_field_that_a_person_empties_stays_empty(portfolio: Portfolio, tmp_path: Path) -> None:
    file = tmp_path / "other.csv"
    file.write_text(OTHER)
    assert "call_number" in propose(file, portfolio).draft.columns
    assert "call_number" not in propose(file, portfolio, told=Told(columns={"call_number": ()})).draft.columns


def test_every_table_of_an_archive_says_whether_a_layout_knows_it(
    portfolio: Portfolio, tmp_path: Path
) -> None:
    packed = tmp_path / "both.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("known.csv", small_portfolio.CALLS)
        archive.writestr("other.csv", OTHER)
    found = {table.path.name: table.layout for table in tables_of(packed, portfolio)}
    assert found == {"known.csv": "orders", "other.csv": None}
    other = packed / "other.csv"
    assert accept(portfolio, other, propose(other, portfolio)).file == portfolio.calls / "both.zip"


def test_examples_of_an_inventory_are_masked(portfolio: Portfolio, tmp_path: Path) -> None:
    file = tmp_path / "places.csv"
    file.write_text("SITE ID,SITE NAME\nA1,Yard (call 415-555-0143)\nA2,Depot\n")
    said = "\n".join(propose(file, portfolio, "sites").lines())
    assert "555-0143" not in said
    assert "[phone]" in said


def test_windows_confirmed_twice_are_written_once(portfolio: Portfolio) -> None:
    window = SiteWindows("S1", (Span(date(2020, 5, 1), date(2023, 12, 31)),), "", 0.0)
    assert confirm_windows(portfolio, [window]) == 1
    assert confirm_windows(portfolio, [window]) == 0
    assert [row.site_id for row in read_windows(portfolio.folder / "windows.csv")] == ["S1"]
