"""Writes a document for a reader."""

from __future__ import annotations

from pathlib import Path

from pipeline.faults import InputFaults
from pipeline.report.content import Document, document
from pipeline.report.html import html_page
from pipeline.report.words import READERS
from pipeline.report.workbook import write_workbook
from pipeline.store import StageError, Store

ENDINGS = (".html", ".xlsx")


def write_report(store: Store, path: Path, reader: str, before: Store | None = None) -> None:
    """Write the report of a built database for 'director', 'sustainability' or 'contractor'.

    The ending of ``path`` decides: .html gives one self-contained page, .xlsx a workbook with every row. ``before``:
    the build before, to say what moved since. Raises
    InputFaults for another ending, an unknown reader, a folder that does not exist, or a build of another version.
    """
    if reader not in READERS:
        raise InputFaults.one(f"reader '{reader}'", "is not known.", f"Choose {', '.join(READERS)}.")
    if path.suffix.lower() not in ENDINGS:
        raise InputFaults.one(str(path), "must end in .html or .xlsx.", "Change the ending.")
    if not path.parent.is_dir():
        raise InputFaults.one(str(path.parent), "is not a folder.", "Make it, or name another place.")
    report = _document(store, reader, before)
    if path.suffix.lower() == ".xlsx":
        write_workbook(report, path)
    else:
        path.write_text(html_page(report), encoding="utf-8", newline="\n")


def _document(store: Store, reader: str, before: Store | None) -> Document:
    try:
        return document(store, reader, before)
    except StageError as error:  # a table or column that this version asks for is not there
        raise InputFaults.one(
            "the build",
            f"cannot be read ({str(error).splitlines()[0]}): it was made by another version of dayburn, or is damaged.",
            "Run `dayburn build` for its folder again.",
        ) from error
