"""The rows of an export as text cells, each with its row number; streamed, nothing sniffed.

A row number counts records from 1 (a cell that holds line breaks is still one row); in a workbook it is
the sheet's row, in JSON the object's place, under a row 0 of names. Blank cells are empty strings. A workbook's own
dates become ISO text.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

from pipeline.faults import InputFaults
from pipeline.ingest.dialect import LARGEST_CELL_CHARACTERS, TextForm
from pipeline.ingest.files import Export
from pipeline.ingest.json_rows import json_rows
from pipeline.ingest.workbook import sheet_rows
from pipeline.numerals import count_text

Row = tuple[int, list[str]]


def rows_of(export: Export, sheet: str | None = None) -> Iterator[Row]:
    """Every row of a text or JSON file, or of one sheet; raises InputFaults naming file and row where it cannot go on.

    A file that changed since it was opened is refused, before its first row and after its last.
    """
    export.check_unchanged()
    yield from _rows(export, sheet)
    export.check_unchanged()


def _rows(export: Export, sheet: str | None) -> Iterator[Row]:
    if export.text is not None:
        return _text_rows(export.path, export.name, export.text)
    if export.json is not None:
        return json_rows(export.path, export.name, export.json)
    return sheet_rows(export.path, export.name, sheet or export.sheets[0])


def _text_rows(path: Path, name: str, form: TextForm) -> Iterator[Row]:
    csv.field_size_limit(LARGEST_CELL_CHARACTERS)
    number = 0
    with path.open(encoding=form.encoding, newline="") as file:
        reader = csv.reader(file, delimiter=form.delimiter, quotechar='"', doublequote=True, strict=True)
        try:
            for number, cells in enumerate(reader, start=1):
                yield number, cells
        except (csv.Error, UnicodeDecodeError) as error:
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
        return f"a cell is longer than {count_text(LARGEST_CELL_CHARACTERS)} characters"
    if "expected after" in message:
        return "a quotation mark stands inside a quoted cell without being doubled"
    return message
