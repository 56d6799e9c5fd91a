"""What an export file is: its kind, text encoding, delimiter or sheets. Nothing in it is ever run.

A file is judged by its bytes, not by its name alone; one that cannot be read is a fault that names it.
"""

from __future__ import annotations

import hashlib
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from python_calamine import CalamineError, CalamineWorkbook, PasswordError

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.dialect import TextForm, text_form

TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt")
BOOK_ENDINGS = (".xlsx", ".xlsm", ".xls", ".ods")
LARGEST_UNPACKED_BYTES = 2 * 1024**3

# The first bytes of what people drop into the folder by mistake (each format's own published signature).
_SIGNATURES = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7-Zip archive"),
    (b"Rar!", "a RAR archive"),
    (b"SQLite format 3", "a SQLite database"),
    (b"PAR1", "a Parquet file"),
)
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True)
class Export:
    """An export that can be read. ``name`` is its path inside calls/, as people see it."""

    path: Path
    name: str
    sha256: str
    kind: Literal["text", "workbook"]
    text: TextForm | None = None
    sheets: tuple[str, ...] = ()

    @property
    def file_id(self) -> str:
        """First 16 hex digits of the SHA-256 of the file's bytes."""
        return self.sha256[:16]


def open_export(path: Path, name: str | None = None) -> Export:
    """Find out what a file is; raises InputFaults naming it when it cannot be read as an export."""
    name = name or path.name
    try:
        sha256, start = _digest(path)
    except FileNotFoundError:
        raise InputFaults.one(name, "does not exist.", "Check the spelling of its path.") from None
    except OSError as error:
        raise InputFaults.one(
            name, f"cannot be read ({error.strerror}).", "Check its permissions, or close it elsewhere."
        ) from error
    fault = _unsuitable(path, name, start)
    if fault:
        raise InputFaults([fault])
    if path.suffix.lower() in BOOK_ENDINGS:
        return Export(path, name, sha256, "workbook", sheets=_sheets(path, name))
    return Export(path, name, sha256, "text", text=text_form(path, name))


def _digest(path: Path) -> tuple[str, bytes]:
    """SHA-256 of the bytes, and the first 4 KiB."""
    digest, start = hashlib.sha256(), b""
    with path.open("rb") as file:
        while block := file.read(1 << 20):
            start = start or block[:4096]
            digest.update(block)
    return digest.hexdigest(), start


def _unsuitable(path: Path, name: str, start: bytes) -> Fault | None:
    """Why these bytes under that name are no export, or None."""
    ending = path.suffix.lower()
    readable = ", ".join(TEXT_ENDINGS + BOOK_ENDINGS)
    if not start:
        return Fault(name, "is empty (0 bytes).", "Export it again.")
    for signature, what in _SIGNATURES:
        if start.startswith(signature):
            return Fault(name, f"is {what}, not a table.", f"Export the calls as one of {readable}.")
    if ending not in TEXT_ENDINGS + BOOK_ENDINGS:
        return Fault(name, f"ends in '{ending}', which is not a table.", f"Give one of {readable}.")
    is_book = start.startswith((_ZIP, _OLE))
    if ending in TEXT_ENDINGS and is_book:
        return Fault(name, f"is a workbook or archive although its name ends in {ending}.", _RENAME)
    if ending in BOOK_ENDINGS and not is_book:
        what = "a web page" if b"<html" in start.lower() or b"<table" in start.lower() else "not a workbook"
        return Fault(name, f"is {what} although its name ends in {ending}.", _RESAVE)
    return None


_RENAME = "Rename it to .xlsx (or unpack the archive), or export it as CSV again."
_RESAVE = "Open it in a spreadsheet and save it as .xlsx, or rename it to .csv if it is text."


def _sheets(path: Path, name: str) -> tuple[str, ...]:
    """The worksheets' names; raises InputFaults for a damaged, protected or oversized workbook."""
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            unpacked = sum(item.file_size for item in archive.infolist())
        if unpacked > LARGEST_UNPACKED_BYTES:
            raise InputFaults.one(
                name, f"would unpack to {unpacked / 1024**3:.1f} GiB.", "Export it as CSV, or in parts."
            )
    try:
        with CalamineWorkbook.from_path(str(path)) as book:
            sheets = tuple(book.sheet_names)
    except PasswordError as error:
        raise InputFaults.one(
            name, "is protected by a password.", "Save a copy without one, or export it as CSV."
        ) from error
    except (CalamineError, OSError, ValueError) as error:
        raise InputFaults.one(
            name, f"is a damaged workbook ({error}).", "Export it again, or save it as CSV."
        ) from error
    if not sheets:
        raise InputFaults.one(name, "has no worksheet.", "Export it again.")
    return sheets
