"""The rows of an export as text cells, each with its row number; streamed, nothing sniffed.

A row number counts records from 1 (a cell that holds line breaks is still one row); in a workbook it is
the sheet's row. Blank cells are empty strings. A workbook's own dates become ISO text.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path

from python_calamine import CalamineError, CalamineWorkbook

from pipeline.faults import InputFaults
from pipeline.ingest.dialect import LARGEST_CELL_CHARACTERS, TextForm
from pipeline.ingest.files import Export

Row = tuple[int, list[str]]


def rows_of(export: Export, sheet: str | None = None) -> Iterator[Row]:
    """Every row of a text file, or of one sheet; raises InputFaults naming file and row where it cannot go on."""
    if export.text is not None:
        return _text_rows(export.path, export.name, export.text)
    return _sheet_rows(export.path, export.name, sheet or export.sheets[0])


def _text_rows(path: Path, name: str, form: TextForm) -> Iterator[Row]:
    csv.field_size_limit(LARGEST_CELL_CHARACTERS)
    number = 0
    with path.open(encoding=form.encoding, newline="") as file:
        reader = csv.reader(file, delimiter=form.delimiter, quotechar='"', doublequote=True, strict=True)
        try:
            for number, cells in enumerate(reader, start=1):
                yield number, cells
        except csv.Error as error:
            raise InputFaults.one(
                f"{name}, row {number + 1} (line {reader.line_num})",
                f"is not a well-formed row: {_plainly(str(error))}.",
                "Mend the quotation marks there, or export the file again.",
            ) from error


def _plainly(message: str) -> str:
    """The parser's complaint in a facilities person's words."""
    if "unexpected end of data" in message:
        return "a cell that begins with a quotation mark never ends"
    if "field larger" in message:
        return f"a cell is longer than {LARGEST_CELL_CHARACTERS:,} characters"
    if "expected after" in message:
        return "a quotation mark stands inside a quoted cell without being doubled"
    return message


def _sheet_rows(path: Path, name: str, sheet: str) -> Iterator[Row]:
    try:
        with CalamineWorkbook.from_path(str(path)) as book:
            cells = book.get_sheet_by_name(sheet).to_python(skip_empty_area=False)
    except (CalamineError, OSError, ValueError) as error:
        raise InputFaults.one(
            f"{name}, sheet {sheet}", f"cannot be read ({error}).", "Save it again."
        ) from error
    for number, row in enumerate(cells, start=1):
        yield number, [cell_text(cell) for cell in row]


def cell_text(cell: object) -> str:
    """A workbook's cell as text: whole numbers without a point, dates and times in ISO form."""
    if isinstance(cell, str):
        return cell
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ", timespec="seconds")
    if isinstance(cell, date | time):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        minutes, seconds = divmod(round(cell.total_seconds()), 60)
        return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"
    return str(cell)
