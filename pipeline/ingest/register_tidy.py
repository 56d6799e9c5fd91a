"""Cells of the registers' own CSVs made plain: days, numbers and words as people write them. What cannot be read is
left as it is, and the register says so with its row and column."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing

from pipeline.ingest import cells
from pipeline.ingest.register_layouts import DAYS, NUMBERS, register_words
from pipeline.numerals import count_text
from pipeline.store import Store

_WORDS = ("kind", "switching", "metered", "watts_basis")


def tidied(header: Sequence[str], rows: list[list[str]], time_zone: str) -> tuple[list[list[str]], list[str]]:
    """The rows with plain cells, and sentences on what was decided (order of dates, years alone)."""
    odd = [
        place
        for place, column in enumerate(header)
        if (column in DAYS and any(not _is_day(cell) for cell in _column(rows, place)))
        or (column in NUMBERS and any(not _is_number(cell) for cell in _column(rows, place)))
    ]
    said: list[str] = []
    rows = [list(row) for row in rows]
    for place, column in enumerate(header):
        if column in _WORDS:
            meanings = register_words().values[column]
            for row in rows:
                if place < len(row):
                    row[place] = meanings.get(row[place].strip().lower(), row[place])
    if odd:
        with closing(Store.scratch()) as scratch:
            for place in odd:
                said += _read_column(scratch, header[place], rows, place, time_zone)
    return rows, said


def _read_column(store: Store, column: str, rows: list[list[str]], place: int, time_zone: str) -> list[str]:
    texts = [(row[place].strip() or None) if place < len(row) else None for row in rows]
    said = []
    if column in DAYS:
        read, evidence = cells.days(store, texts, time_zone)
        if evidence.needs_order and evidence.decided():
            said.append(f"{column} is read {evidence.statement(evidence.decided())}.")
        years = sum(map(cells.is_year, texts))
        if years:
            said.append(f"{count_text(years)} cells of {column} give a year alone: taken as 1 July of it.")
    else:
        read = cells.numbers(store, texts, cells.decimal_of(store, texts) or "point")
    for row, value in zip(rows, read, strict=True):
        if value is not None:
            row[place] = value
    return said


def _column(rows: Sequence[Sequence[str]], place: int) -> list[str]:
    return [row[place].strip() for row in rows if place < len(row) and row[place].strip()]


def _is_day(cell: str) -> bool:
    return len(cell) == 10 and cell[4] == cell[7] == "-"


def _is_number(cell: str) -> bool:
    return cell.replace(".", "", 1).replace("-", "", 1).isdigit()
