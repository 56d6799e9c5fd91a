"""Where the header stands, what its columns are called, and which rows below it are not data."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from pipeline.ingest.rows import Row

ROWS_SEARCHED = 40
_FOOTER = re.compile(
    r"(?:grand |sub ?|report )?totals?\b|(?:sum|count|average)\b|page \d|end of (?:report|file|list)"
    r"|report (?:generated|run|printed|date)|(?:printed|generated|exported|run) (?:on|by|at)\b"
    r"|(?:number of )?(?:records?|rows?)\s*[:=]|\d[\d,]* (?:records?|rows?|work orders?)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Header:
    """A header: the row it stands in, counted from 1, and its columns' names, each different."""

    row_number: int
    labels: tuple[str, ...]


def column_labels(cells: Sequence[str]) -> tuple[str, ...]:
    """Names of the columns: trimmed, line breaks as spaces; blank ones numbered, repeated ones told apart."""
    names = [" ".join(cell.split()) for cell in cells]
    while names and not names[-1]:
        names.pop()
    labels: dict[str, None] = {}
    repeats: dict[str, int] = {}
    for place, name in enumerate(names, start=1):
        label = plain = name or f"column {place}"
        while label in labels:
            repeats[plain] = repeats.get(plain, 1) + 1
            label = f"{plain} ({repeats[plain]})"
        labels[label] = None
    return tuple(labels)


def find_header(first_rows: Sequence[Row], known: Collection[tuple[str, ...]]) -> Header | None:
    """The first row that is exactly a known header."""
    for number, cells in first_rows:
        labels = column_labels(cells)
        if labels and labels in known:
            return Header(number, labels)
    return None


def guess_header(first_rows: Sequence[Row], recognised: Collection[str] = ()) -> Header | None:
    """The likeliest header: wide, all words, most of them names in ``recognised`` (normalised column names).

    A title row above it has one or two cells filled; a data row below it holds dates and numbers.
    """
    widest = max((sum(bool(cell.strip()) for cell in cells) for _, cells in first_rows), default=0)
    best, best_score = None, 0.0
    for number, cells in first_rows:
        filled = [cell.strip() for cell in cells if cell.strip()]
        if len(filled) < max(2, 0.6 * widest) or any(not _is_name(cell) for cell in filled):
            continue
        share_known = sum(normalised(cell) in recognised for cell in filled) / len(filled)
        score = share_known + 0.3 * len(set(filled)) / widest
        if score > best_score:
            best, best_score = Header(number, column_labels(cells)), score
    return best


def normalised(name: str) -> str:
    """A column's name as lower-case words: ``WORK_ORDER#`` and ``WorkOrder No.`` both begin ``work order``."""
    spaced = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", name).replace("#", " number ")
    return " ".join(re.findall(r"[^\W_]+", spaced.lower()))


def _is_name(cell: str) -> bool:
    """Whether a cell can be a column's name: has a letter, is short, and is no date or number."""
    return len(cell) <= 80 and any(letter.isalpha() for letter in cell) and not re.match(r"\d+[-/.:]\d", cell)


def is_not_data(cells: Sequence[str], labels: tuple[str, ...], report_columns: Sequence[int]) -> bool:
    """Whether a row below the header is blank, the header again, or a total or footnote.

    A row with anything in its report-date columns is always data.
    """
    filled = [cell for cell in cells if cell and not cell.isspace()]
    if not filled:
        return True
    if filled[0].strip() == labels[0] and column_labels(cells) == labels:
        return True
    # A total's other cells are figures: a row with more words is somebody's text.
    if not _FOOTER.match(filled[0].strip()) or any(
        letter.isalpha() for cell in filled[1:] for letter in cell
    ):
        return False
    dated = any(place < len(cells) and cells[place].strip() for place in report_columns)
    return not dated
