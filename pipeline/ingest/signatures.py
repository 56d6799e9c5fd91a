"""What people drop into the folder by mistake, told by its first bytes, and whether a name fits its content."""

from __future__ import annotations

from pipeline.faults import Fault
from pipeline.ingest.unpack import GZIP_ENDING, ZIP_ENDING

TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt")
BOOK_ENDINGS = (".xlsx", ".xlsm", ".xls", ".ods")
JSON_ENDINGS = (".json", ".jsonl", ".ndjson")
READABLE = "text tables (CSV, TSV), workbooks (XLSX, XLSM, XLS, ODS) or JSON, also in .gz or .zip"
TABLE_ENDINGS = TEXT_ENDINGS + BOOK_ENDINGS + JSON_ENDINGS
ENDINGS = (*TABLE_ENDINGS, GZIP_ENDING, ZIP_ENDING)

# Each format's own published signature.
_TAR_MARK = b"ustar"  # where every archive of POSIX.1-1988 and later has it
_SIGNATURES = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"II*\x00", "a picture"),
    (b"MM\x00*", "a picture"),
    (b"{\\rtf", "a text document (RTF)"),
    (b"7z\xbc\xaf", "a 7-Zip archive"),
    (b"Rar!", "a RAR archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ", "an xz archive"),
    (b"(\xb5/\xfd", "a Zstandard archive"),
    (b"MZ\x90", "a program"),
    (b"\x7fELF", "a program"),
    (b"SQLite format 3", "a SQLite database"),
    (b"\x00\x01\x00\x00Standard ", "an Access database"),
    (b"PAR1", "a Parquet file"),
)
GZIP, _ZIP, _OLE = b"\x1f\x8b", b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_EMPTY_ZIP = b"PK\x05\x06"
_RENAME = "Rename it to .xlsx, .xls or .zip, whichever it is, or export it as CSV again."
_RESAVE = "Open it in a spreadsheet and save it as .xlsx, or rename it to .csv if it is text."


def unsuitable(name: str, ending: str, start: bytes) -> Fault | None:
    """Why these first bytes under a name with that ending are no export, or None."""
    readable = ", ".join(ENDINGS)
    if not start:
        return Fault(name, "is empty (0 bytes).", "Export it again.")
    for signature, what in _SIGNATURES:
        if start.startswith(signature):
            return Fault(name, f"is {what}, not a table.", f"Export the calls as one of {readable}.")
    if start[257:262] == _TAR_MARK:
        return Fault(name, "is a tar archive, which is not unpacked.", "Unpack it, and give its files.")
    if not ending:
        return Fault(name, "has no ending that says what it is.", f"Rename it to end in one of {readable}.")
    if ending not in ENDINGS:
        return Fault(name, f"ends in '{ending}', which is not a table.", f"Give one of {readable}.")
    return _contradiction(name, ending, start)


def _contradiction(name: str, ending: str, start: bytes) -> Fault | None:
    is_zip = start.startswith((_ZIP, _EMPTY_ZIP))
    is_book = is_zip or start.startswith(_OLE)
    although = f"although its name ends in {ending}."
    if start.startswith(GZIP) != (ending == GZIP_ENDING):
        what = "a gzip archive" if ending != GZIP_ENDING else "not a gzip archive"
        return Fault(
            name, f"is {what} {although}", f"Rename it to what it is, such as .csv{GZIP_ENDING} or .csv."
        )
    if ending == ZIP_ENDING and not is_zip:
        return Fault(name, f"is not a zip archive {although}", "Fetch it again, or rename it to what it is.")
    if ending in TEXT_ENDINGS + JSON_ENDINGS and is_book:
        return Fault(name, f"is a workbook or archive {although}", _RENAME)
    if ending in BOOK_ENDINGS and not is_book:
        return Fault(name, f"is {_markup(start) or 'not a workbook'} {although}", _RESAVE)
    if ending in TEXT_ENDINGS + JSON_ENDINGS and _markup(start):
        return Fault(
            name, f"is {_markup(start)} {although}", "Open it in a spreadsheet and save it as .xlsx."
        )
    return None


def _markup(start: bytes) -> str:
    """A web page or XML: exports of that kind open in a spreadsheet, whatever they are called."""
    head = start.lstrip(b"\xef\xbb\xbf \t\r\n")[:2000].lower()
    if head.startswith((b"<html", b"<!doctype html", b"<table", b"<head", b"<meta", b"<style")):
        return "a web page"
    return "an XML file" if head.startswith(b"<?xml") else ""
