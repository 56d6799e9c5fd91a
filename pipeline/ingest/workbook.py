"""Workbooks: whether one can be read within bounds, what a person should know of it, and its rows as text.

Cells are read by calamine, which runs nothing and fetches nothing; a formula counts as the value stored with it.
"""

from __future__ import annotations

import mmap
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook, PasswordError, SheetTypeEnum, SheetVisibleEnum

from pipeline.faults import InputFaults
from pipeline.ingest.dialect import LARGEST_CELL_CHARACTERS
from pipeline.ingest.ods_marks import with_plain_marks
from pipeline.ingest.sheet_parts import Contents
from pipeline.ingest.unpack import Part
from pipeline.ingest.workbook_parts import contents_of
from pipeline.numerals import count_text

_OLE = b"\xd0\xcf\x11\xe0"
# A merged cell is written out over all its columns in these rows, where a header may stand.
_HEADER_ROWS = 40
_PROTECTED = "Save a copy without a password, or export it as CSV."
_RESAVE = "Open it in a spreadsheet, save it as .xlsx and give that, or export it as CSV."
# DATEMODE = 1 and the PRECISION record that follows it in a workbook's globals: [MS-XLS] 2.4.77, 2.4.204.
_XLS_1904 = b"\x22\x00\x02\x00\x01\x00\x0e\x00\x02\x00"


@dataclass(frozen=True)
class BookForm:
    """The worksheets' names, what a person should know, and whether days are counted from 1904-01-01.

    ``readable``: a copy to read in place of the workbook, where its own form hides some characters.
    """

    sheets: tuple[str, ...]
    remarks: tuple[str, ...]
    from_1904: bool
    readable: Part | None = None


def book_form(path: Path, name: str, ending: str) -> BookForm:
    """Look a workbook over; raises InputFaults for a damaged, protected, misnamed or oversized one."""
    contents = _contents(path, name, ending)
    with _trouble_told(name), CalamineWorkbook.from_path(str(path)) as book:
        metadata = list(book.sheets_metadata)
    sheets = tuple(sheet.name for sheet in metadata if sheet.typ == SheetTypeEnum.WorkSheet)
    if not sheets:
        only = " only charts or macros" if metadata else " no sheet"
        raise InputFaults.one(
            name, f"holds{only}, no table.", "Export the calls as a table with one row for each call."
        )
    hidden = [sheet.name for sheet in metadata if sheet.visible != SheetVisibleEnum.Visible]
    readable = with_plain_marks(path) if contents.has_marks else None
    return BookForm(sheets, tuple(_remarks(contents, hidden)), contents.from_1904, readable)


def _contents(path: Path, name: str, ending: str) -> Contents:
    with path.open("rb") as file:
        is_ole = file.read(4) == _OLE
    if not is_ole:
        return contents_of(path, name, ending)
    if _holds(path, "EncryptedPackage".encode("utf-16-le")):
        raise InputFaults.one(name, "is protected by a password.", _PROTECTED)
    if ending != ".xls":
        raise InputFaults.one(
            name, f"is a workbook of the old kind although its name ends in {ending}.", "Rename it to .xls."
        )
    return Contents(from_1904=_holds(path, _XLS_1904))


def _holds(path: Path, what: bytes) -> bool:
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        return content.find(what) >= 0


def _remarks(contents: Contents, hidden: list[str]) -> Iterator[str]:
    if hidden:
        names = ", ".join(f"'{sheet}'" for sheet in hidden)
        yield f"has hidden sheets ({names}); they are read like any other."
    if contents.hidden_rows == 1:
        yield "has 1 hidden row; it is read like any other."
    elif contents.hidden_rows:
        yield f"has {count_text(contents.hidden_rows)} hidden rows; they are read like any other."
    shown = "an error such as #REF! or #N/A"
    if contents.error_cells == 1:
        yield f"has 1 cell that shows {shown} ({contents.first_error}); it is read as blank."
    elif contents.error_cells:
        count = count_text(contents.error_cells)
        yield f"has {count} cells that show {shown} (the first is {contents.first_error}); they are read as blank."


def sheet_rows(path: Path, name: str, sheet: str) -> Iterator[tuple[int, list[str]]]:
    """The rows of one sheet under the sheet's own numbers, blank ones above and between included."""
    where = f"{name}, sheet {sheet}"
    with _trouble_told(where), CalamineWorkbook.from_path(str(path)) as book:
        page = book.get_sheet_by_name(sheet)
        if page.start is None:
            return
        left: list[Any] = [""] * page.start[1]
        groups = _groups(page)
        for number, cells in enumerate(page.iter_rows(), start=1):
            row = [cell_text(cell) for cell in left + cells]
            for first, last in groups.get(number, ()):
                row[first : last + 1] = [row[first]] * (last + 1 - first)
            if any(len(cell) > LARGEST_CELL_CHARACTERS for cell in row):
                raise InputFaults.one(
                    f"{where}, row {count_text(number)}",
                    f"has a cell longer than {count_text(LARGEST_CELL_CHARACTERS)} characters.",
                    "Shorten it, or export the workbook again.",
                )
            yield number, row


def _groups(page: Any) -> dict[int, list[tuple[int, int]]]:
    """Cells merged across some but not all columns, by row number: names over groups of columns, if in a header."""
    groups: dict[int, list[tuple[int, int]]] = {}
    whole = page.end[1] - page.start[1]
    for (row, first), (last_row, last) in page.merged_cell_ranges or ():
        if row == last_row and row < _HEADER_ROWS and 0 < last - first < whole:
            groups.setdefault(row + 1, []).append((first, min(last, page.end[1])))
    return groups


@contextmanager
def _trouble_told(where: str) -> Iterator[None]:
    """The reader's complaint about a workbook as a fault that names it."""
    try:
        yield
    except PasswordError as error:
        raise InputFaults.one(where, "is protected by a password.", _PROTECTED) from error
    except (CalamineError, OSError, ValueError, zipfile.BadZipFile) as error:
        raise InputFaults.one(where, f"is a damaged workbook{_in_short(error)}.", _RESAVE) from error
    except BaseException as error:
        # A panic of the reader's native code arrives as a class of its own that cannot be imported.
        if type(error).__name__ != "PanicException":
            raise
        raise InputFaults.one(where, "is a damaged workbook.", _RESAVE) from error


def _in_short(error: BaseException) -> str:
    """The reader's complaint in brackets, where it is short and in words: bytes tell nobody what to do."""
    text = " ".join(str(error).split())
    return f" ({text})" if text and len(text) <= 120 and "\\x" not in text else ""


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
