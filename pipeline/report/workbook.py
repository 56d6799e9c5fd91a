"""The workbook: plain sheets with every row, numbers as numbers, text as text and never as a formula."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.worksheet import Worksheet

from pipeline.figures import Figure
from pipeline.report import words
from pipeline.report.content import Document
from pipeline.report.tables import NO_LIMIT, Table

ROWS_IN_A_SHEET = 1_048_576
CHARACTERS_IN_A_CELL = 32_767
CUT = " … (cut: the whole text stands in the file at that row)"
_NEVER_ACTIVE = {
    "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    "default_date_format": "yyyy-mm-dd", "remove_timezone": True,
}  # fmt: skip
_FORMATS = {
    "count": "#,##0",
    "money": "#,##0.00",
    "estimate": "#,##0",
    "row": "0",
    "share": "0.0%",
    "time": "yyyy-mm-dd hh:mm",
}
_MOST_PLACES = 6


class _Book:
    """An open workbook with its cell formats."""

    def __init__(self, path: Path) -> None:
        self.book = xlsxwriter.Workbook(str(path), _NEVER_ACTIVE)
        self.bold = self.book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
        self.styles = {style: self.book.add_format({"num_format": text}) for style, text in _FORMATS.items()}
        texts = [f"#,##0.{'0' * places}".rstrip(".") for places in range(_MOST_PLACES + 1)]
        self.estimates = [self.book.add_format({"num_format": text}) for text in texts]

    def sheet(
        self, name: str, headings: Iterable[str], rows: Iterable[Iterable[Any]], styles: Iterable[str]
    ) -> None:
        """A sheet with a heading row that stays in view and can be filtered."""
        sheet: Worksheet = self.book.add_worksheet(name[:31])
        headings, styles = list(headings), list(styles)
        for column, heading in enumerate(headings):
            sheet.write_string(0, column, heading, self.bold)
            sheet.set_column(column, column, max(10, min(40, len(heading) + 2)))
        last = 0
        for last, row in enumerate(rows, start=1):
            for column, (value, style) in enumerate(zip(row, styles, strict=True)):
                write_cell(sheet, last, column, value, self._format(value, style))
        sheet.freeze_panes(1, 0)
        sheet.repeat_rows(0)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        if last:
            sheet.autofilter(0, 0, last, len(headings) - 1)

    def _format(self, value: Any, style: str) -> Any:
        """An estimate shows three significant digits, as everywhere; the cell holds the whole number."""
        if style != "estimate" or isinstance(value, bool | str) or value is None:
            return self.styles.get(style)
        return self.estimates[places(value)]


def places(value: float | Decimal) -> int:
    """Decimal places that show a number with three significant digits: none for a count, 0 or 100 and more."""
    number = abs(float(value))
    if isinstance(value, int) or number == 0 or not math.isfinite(number):
        return 0
    rounded = float(f"{number:.2e}")
    return min(max(0, 2 - math.floor(math.log10(rounded))), _MOST_PLACES)


def write_workbook(document: Document, path: Path) -> None:
    """Write every figure, table and call of a document to ``path`` (.xlsx)."""
    book = _Book(path)
    _about(book, document)
    _figures(book, document)
    for section in (*document.sections, *document.data):
        for table in section.tables:
            _table(book, table)
    for part in document.evidence:
        _table(book, part.calls)
    _texts(book)
    when = document.facts.log_to or date(1980, 1, 1)
    book.book.set_properties({"title": document.title, "created": datetime.combine(when, time(), UTC)})
    book.book.close()


def write_cell(sheet: Worksheet, row: int, column: int, value: Any, style: Any = None) -> None:
    """One value by its type. Text is always written as text, whatever it begins with."""
    if value is None or value != value:  # NaN is unequal to itself
        sheet.write_blank(row, column, None, style)
    elif isinstance(value, float) and math.isinf(value):
        sheet.write_string(row, column, NO_LIMIT)
    elif isinstance(value, bool):
        sheet.write_string(row, column, "yes" if value else "no")
    elif isinstance(value, int | float | Decimal):
        sheet.write_number(row, column, float(value), style)
    elif isinstance(value, datetime | date):
        sheet.write_datetime(row, column, value, style)
    else:
        sheet.write_string(row, column, fitted(str(value)))


def fitted(text: str) -> str:
    """Text that fits a cell: a longer one would be dropped whole, so it is cut and says so."""
    return text if len(text) <= CHARACTERS_IN_A_CELL else text[: CHARACTERS_IN_A_CELL - len(CUT)] + CUT


def _about(book: _Book, document: Document) -> None:
    facts, level = document.facts, document.level
    rows = [
        ("Title", document.title),
        ("Question", document.question),
        ("Portfolio", facts.portfolio_name),
        ("Log from", facts.log_from),
        ("Log to", facts.log_to),
        ("Currency", facts.currency),
        ("Build", facts.build_id),
        ("dayburn", facts.dayburn_version),
        ("Boundary", words.BOUNDARY),
        ("What the data support", f"Level {level.level}, {level.name}. {level.statement}"),
        ("Next", level.next_step),
        *(("Caution", caution) for caution in words.CAUTIONS),
    ]
    book.sheet("About", ("What", "Value"), rows, ("text", "date"))


def _figures(book: _Book, document: Document) -> None:
    headings = (
        "Figure",
        "As written",
        "Value",
        "Low",
        "High",
        "Unit",
        "Note",
        "Incidents behind it",
        "Calls behind it",
    )
    styles = ("text", "text", "estimate", "estimate", "estimate", "text", "text", "count", "count")
    rows = []
    for figure in (*document.headline, *document.log):
        for part in figure.flat():
            behind = document.behind(part.key)
            counted = (behind.incidents, behind.calls) if behind else (None, None)
            rows.append((part.label, part.text(), part.value, *_limits(part), part.unit, part.note, *counted))
    book.sheet("Figures", headings, rows, styles)


def _limits(figure: Figure) -> list[Any]:
    """A figure's limits; where one alone is known the other says so in words."""
    limits = [figure.low, figure.high]
    one_sided = limits.count(None) == 1
    return [NO_LIMIT if one_sided and limit is None else limit for limit in limits]


def _table(book: _Book, table: Table) -> None:
    columns, rows = table.flat_columns(), table.sheet_values(ROWS_IN_A_SHEET - 2)
    if table.total > len(rows):
        cut = f"{table.total - len(rows)} more rows do not fit a sheet; they are in the built database."
        rows.append([cut, *([None] * (len(columns) - 1))])
    headings, styles = [column.heading for column in columns], [column.style for column in columns]
    book.sheet(table.key.replace("_", " "), headings, rows, styles)


def _texts(book: _Book) -> None:
    book.sheet("Methods", ("What", "How"), words.METHODS, ("text", "text"))
