"""Writing small made-up portfolios and exports for the tests."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import xlsxwriter

from pipeline.ingest import propose_layout, save_layout
from pipeline.portfolio import Portfolio
from pipeline.store import Store

SETTINGS = 'format = 1\nname = "Made up"\ncurrency = "USD"\ntime_zone = "America/Denver"\n'
HEADER = (
    "Call Number",
    "Date Reported",
    "Date Completed",
    "Status",
    "Building",
    "Description",
    "Action Taken",
)

MakeRows = Sequence[Sequence[object]]


def make_portfolio(folder: Path, more: str = "") -> Portfolio:
    """An empty portfolio in ``folder``; ``more`` is added to its settings page."""
    (folder / "calls").mkdir(parents=True)
    (folder / "portfolio.toml").write_text(SETTINGS + more, encoding="utf-8")
    return Portfolio.read(folder)


def write_csv(path: Path, rows: MakeRows, **how: object) -> Path:
    """Rows as CSV; ``delimiter``, ``encoding`` and other csv options by name."""
    encoding = str(how.pop("encoding", "utf-8"))
    with path.open("w", encoding=encoding, newline="") as file:
        csv.writer(file, **how).writerows(rows)  # type: ignore[arg-type]
    return path


def write_xlsx(path: Path, rows: MakeRows, sheet: str = "Calls") -> Path:
    """Rows as a workbook; datetimes as real dates, everything else as it is."""
    with xlsxwriter.Workbook(
        path, {"default_date_format": "yyyy-mm-dd hh:mm", "strings_to_numbers": False}
    ) as book:
        page = book.add_worksheet(sheet)
        for number, row in enumerate(rows):
            for place, cell in enumerate(row):
                if isinstance(cell, str):
                    page.write_string(number, place, cell)
                else:
                    page.write(number, place, cell)
    return path


def accept(portfolio: Portfolio, path: Path, **given: object) -> None:
    """Save the layout proposed for a file."""
    save_layout(portfolio, propose_layout(path, portfolio, **given).layout)  # type: ignore[arg-type]


def reconciles(store: Store) -> bool:
    """For each file rows_read = calls + superseded + rejected, and the tables hold just these rows."""
    by_file = store.value("SELECT bool_and(rows_read = calls + superseded + rejected) FROM source_files")
    calls, rejected = store.row("SELECT sum(calls + superseded)::INT, sum(rejected)::INT FROM source_files")
    return bool(by_file) and calls == store.count("calls") and rejected == store.count("rejected_rows")
