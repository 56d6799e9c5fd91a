"""How a text file is written: encoding, delimiter and number of physical lines, decided over the whole file.

Delimiter and quoting are decided here once and then given explicitly; nothing is sniffed while rows are read.
"""

from __future__ import annotations

import codecs
import csv
from collections import Counter
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from pipeline.faults import InputFaults

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}
LARGEST_CELL_CHARACTERS = 8 * 1024**2
_SAMPLE_ROWS = 300
_BLOCK = 1 << 20


@dataclass(frozen=True)
class TextForm:
    """Encoding (a Python codec name), delimiter, and physical lines (ended by LF, CR LF or CR)."""

    encoding: str
    delimiter: str
    lines: int

    def __str__(self) -> str:
        return f"{self.encoding} text, {DELIMITERS[self.delimiter]}-separated"


def text_form(path: Path, name: str) -> TextForm:
    """Decide encoding and delimiter of a text file; raises InputFaults for binary or unreadable content."""
    encoding = _encoding(path, name)
    lines, visible = _count_lines(path, encoding)
    if not visible:
        raise InputFaults.one(name, "holds only blank lines.", "Export it again.")
    return TextForm(encoding, _delimiter(path, encoding, name), lines)


def _encoding(path: Path, name: str) -> str:
    """UTF-8 or UTF-16 by mark or by strict decoding of every byte, else cp1252, else latin-1."""
    with path.open("rb") as file:
        start = file.read(4096)
    if start.startswith(codecs.BOM_UTF8):
        candidates = ["utf-8-sig"]
    elif start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        candidates = ["utf-16"]
    elif b"\x00" in start:
        # Text in the Latin alphabet has a zero in every second byte of UTF-16; other zeros mean binary.
        even, odd = start[0::2].count(0), start[1::2].count(0)
        wide = max(even, odd) > 0.3 * len(start) / 2
        candidates = [("utf-16-be" if even > odd else "utf-16-le")] if wide else []
    else:
        candidates = ["utf-8", "cp1252", "latin-1"]
    for encoding in candidates:
        if not _looks_binary(start, encoding) and _decodes(path, encoding):
            return encoding
    raise InputFaults.one(name, "is binary, not a text table.", "Export the calls as CSV or as a workbook.")


def _looks_binary(start: bytes, encoding: str) -> bool:
    """Whether single-byte text would hold more control characters than any export does."""
    controls = bytes(code for code in range(32) if code not in b"\t\n\r\f\v\x1a\x1b")
    odd = len(start) - len(start.translate(None, controls))
    return not encoding.startswith("utf-16") and odd > 0.02 * len(start)


def _decodes(path: Path, encoding: str) -> bool:
    """Whether every byte decodes, and no NUL betrays binary content."""
    decoder = codecs.getincrementaldecoder(encoding)()
    try:
        with path.open("rb") as file:
            while block := file.read(_BLOCK):
                if "\x00" in decoder.decode(block):
                    return False
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _count_lines(path: Path, encoding: str) -> tuple[int, bool]:
    """Physical lines, counted without any notion of cells; and whether anything but blanks is there."""
    decoder = codecs.getincrementaldecoder(encoding)()
    count, last, visible = 0, "", False
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            text = decoder.decode(block)
            count += text.count("\n") + text.count("\r") - text.count("\r\n")
            count -= last == "\r" and text.startswith("\n")
            last = text[-1:] or last
            visible = visible or not text.isspace()
    return count + (last not in "\r\n"), visible


def _delimiter(path: Path, encoding: str, name: str) -> str:
    """The delimiter that gives most rows of the sample one same width, and the widest such."""
    scores = {}
    with path.open(encoding=encoding, newline="") as file:
        sample = list(islice(file, _SAMPLE_ROWS))
    for delimiter in DELIMITERS:
        try:
            rows = list(csv.reader(sample, delimiter=delimiter))
        except csv.Error:
            continue
        widths = Counter(len(row) for row in rows if len(row) > 1)
        if widths:
            width, rows_alike = widths.most_common(1)[0]
            scores[delimiter] = (rows_alike, width)
    if not scores:
        tried = ", ".join(DELIMITERS.values())
        raise InputFaults.one(
            name,
            f"has only one column (tried {tried}).",
            "Export it as a comma-separated table with a header.",
        )
    return max(scores, key=lambda delimiter: scores[delimiter])
