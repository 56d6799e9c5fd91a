"""The same row twice: re-exports, overlaps, later states, repeats, and systems whose numbers collide."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.ingest.layouts import read_layouts, write_layout
from pipeline.portfolio import Portfolio
from pipeline.store import Store

from .making import HEADER, accept, make_portfolio, reconciles, write_csv, write_xlsx

Intake = Callable[[Portfolio], Store]


def _row(number: int, status: str = "Open", completed: str = "") -> list[object]:
    day = f"2024-{1 + number // 28:02}-{1 + number % 28:02}"
    return [f"W{number}", f"{day} 08:00", completed, status, "Larch School", f"Pole light {number} out", ""]


def _calls(store: Store) -> list[tuple[object, ...]]:
    columns = "call_id, call_number, status, completed_at, superseded_by"
    return store.rows(f"SELECT {columns} FROM calls ORDER BY call_id")


def test_overlapping_exports_give_each_call_once(portfolio: Portfolio, intake: Intake) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", [HEADER, *map(_row, range(60))]))
    write_csv(portfolio.calls / "b.csv", [HEADER, *map(_row, range(40, 100))])
    store = intake(portfolio)
    assert reconciles(store)
    assert store.value("SELECT count(*) FROM calls WHERE superseded_by IS NULL") == 100
    assert store.rows("SELECT name, calls, superseded FROM source_files ORDER BY name") == [
        ("calls/a.csv", 40, 20), ("calls/b.csv", 60, 0),
    ]  # fmt: skip


@pytest.mark.parametrize("names", [("a.csv", "b.csv"), ("b.csv", "a.csv")])
def test_the_state_of_the_later_export_wins_whatever_the_files_are_called(
    portfolio: Portfolio, intake: Intake, names: tuple[str, str]
) -> None:
    earlier, later = (portfolio.calls / name for name in names)
    accept(portfolio, write_csv(earlier, [HEADER, *map(_row, range(5))]))
    write_csv(later, [HEADER, _row(0, "Closed", "2024-02-01 10:00"), *map(_row, range(1, 9))])
    store = intake(portfolio)
    latest, kept = store.rows(
        "SELECT status, superseded_by IS NULL FROM calls WHERE call_number = 'W0' ORDER BY superseded_by NULLS FIRST"
    )
    assert (latest, kept) == (("completed", True), ("open", False))
    assert (
        store.value("SELECT count(*) FROM calls WHERE superseded_by NOT IN (SELECT call_id FROM calls)") == 0
    )


def test_an_old_year_exported_anew_speaks_later_than_the_export_that_went_on(
    portfolio: Portfolio, intake: Intake
) -> None:
    accept(portfolio, write_csv(portfolio.calls / "all.csv", [HEADER, *map(_row, range(60))]))
    # the first days alone, after the last report above: one order was completed meanwhile
    anew = [_row(0, "Closed", "2024-04-02 10:00"), *map(_row, range(1, 20))]
    write_csv(portfolio.calls / "a_corrected.csv", [HEADER, *anew])
    store = intake(portfolio)
    assert store.rows("SELECT status FROM calls WHERE call_number = 'W0' AND superseded_by IS NULL") == [
        ("completed",)
    ]
    assert store.rows("SELECT name, superseded FROM source_files ORDER BY name") == [
        ("calls/a_corrected.csv", 0), ("calls/all.csv", 20),
    ]  # fmt: skip


def test_two_systems_may_use_the_same_numbers_for_different_calls(
    portfolio: Portfolio, intake: Intake
) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", [HEADER, *map(_row, range(20))]))
    other = [
        ["Ticket", "Created", "Issue"],
        *([f"W{n}", f"2023-05-{1 + n} 09:00", f"sink {n} leaks"] for n in range(20)),
    ]
    accept(portfolio, write_csv(portfolio.calls / "other.csv", other))
    store = intake(portfolio)
    assert store.row("SELECT count(*), count(superseded_by), count(DISTINCT source) FROM calls") == (40, 0, 2)
    assert store.count("notices") == 0  # different report times: nothing to ask


@pytest.mark.parametrize(("shared", "told"), [(2, False), (3, True)])
def test_a_few_calls_exported_by_two_layouts_are_enough_to_ask(
    portfolio: Portfolio, intake: Intake, shared: int, told: bool
) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", [HEADER, *map(_row, range(20))]))
    rows = [*map(_row, range(shared)), *map(_row, range(30, 40))]
    other = [["Ticket", "Created", "Issue"], *([row[0], row[1], row[5]] for row in rows)]
    accept(portfolio, write_csv(portfolio.calls / "other.csv", other))
    messages = [message for (message,) in intake(portfolio).rows("SELECT message FROM notices")]
    assert any(f"share {shared} call numbers" in one for one in messages) is told


def test_one_system_whose_two_layouts_share_a_source_gives_each_call_once(
    portfolio: Portfolio, intake: Intake
) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", [HEADER, *map(_row, range(20))]), source="desk")
    header = ["WO #", "Reported On", "What"]
    other = [header, *([row[0], row[1], row[5]] for row in map(_row, range(10, 30)))]
    accept(portfolio, write_csv(portfolio.calls / "b.csv", other), source="desk")
    store = intake(portfolio)
    assert store.row("SELECT count(*), count(superseded_by) FROM calls") == (40, 10)


def test_reading_the_same_folder_twice_gives_the_same_calls(portfolio: Portfolio, intake: Intake) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", [HEADER, *map(_row, range(30)), _row(3), _row(3)]))
    first = _calls(intake(portfolio))
    assert _calls(intake(portfolio)) == first
    shutil.rmtree(portfolio.cache)
    assert _calls(intake(portfolio)) == first


def test_identities_survive_another_format_order_and_a_later_state(
    portfolio: Portfolio, tmp_path: Path, intake: Intake
) -> None:
    """With and without numbers: what a decision was made on keeps its key in every later export of the same calls."""
    header, rows = HEADER[1:], [_row(n)[1:] for n in range(30)]
    accept(portfolio, write_csv(portfolio.calls / "a.csv", [header, *rows]))
    again = make_portfolio(tmp_path / "again")
    closed = [[row[0], "2024-12-01 10:00", "Closed", *row[3:]] for row in reversed(rows)]
    accept(
        again, write_xlsx(again.calls / "calls of the year.xlsx", [["A report"], header, *closed]), source="a"
    )
    keys = "SELECT call_id FROM calls WHERE superseded_by IS NULL ORDER BY 1"
    assert intake(portfolio).rows(keys) == intake(again).rows(keys)


def test_two_systems_that_write_the_same_header_are_told_apart_by_their_files(
    portfolio: Portfolio, intake: Intake
) -> None:
    for place, year in (("north", 2023), ("south", 2024)):
        (portfolio.calls / place).mkdir()
        rows = [[n, f"{year}-03-{n:02d}", "", "Open", "Gym", f"light {n} out", ""] for n in range(1, 11)]
        write_csv(portfolio.calls / place / "log.csv", [HEADER, *rows])
    accept(portfolio, portfolio.calls / "north" / "log.csv", source="north office")
    store = intake(portfolio)
    assert store.row("SELECT count(*), count(superseded_by) FROM calls") == (20, 10)
    told = str(store.value("SELECT message FROM notices WHERE place = 'layouts/'"))
    assert "10 rows share a call number" in told
    assert "name the files of one under [sources]" in told
    (layout,) = read_layouts(portfolio).values()
    write_layout(portfolio, layout.model_copy(update={"sources": {"calls/south/*": "south office"}}))
    store = intake(portfolio)
    assert store.row("SELECT count(*), count(superseded_by) FROM calls") == (20, 0)
    assert store.rows("SELECT name, source FROM source_files ORDER BY 1") == [
        ("calls/north/log.csv", "north office"), ("calls/south/log.csv", "south office"),
    ]  # fmt: skip
