"""What a sheet's XML says before its cells are read: how far it reaches, and what is odd in it.

Looked over in blocks, by patterns: the sheet is never held whole.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.faults import InputFaults
from pipeline.numerals import count_text

MOST_CELLS = 60_000_000  # in one sheet, blank ones between included: about 2 GB while it is read
_LONGEST_ROW_BYTES = 32 << 20
AGAIN = "Export it again, or save it as CSV."
_NS = rb"(?:\w+:)?"
_ROW = re.compile(rb"<" + _NS + rb"row\s[^>]*?\br=\"(\d{1,9})\"")
_WIDE_CELL = re.compile(rb"\sr=\"([A-Z]{2,3})\d{1,7}\"[^>]*(?<!/)>")
_HIDDEN_ROW = re.compile(rb"<" + _NS + rb"row\s[^>]*\bhidden=\"(?:1|true)\"")
_ERROR = re.compile(rb"\sr=\"([A-Z]{1,3}\d{1,7})\"(?:\s[^>]*)?\st=\"e\"")
_REF, _FORMULA = (
    rb"\sr=\"([A-Z]{1,3}\d{1,7})\"",
    rb"<" + _NS + rb"f(?:\s[^>]*/>|/>|[^>]*>[^<]*</" + _NS + rb"f>)\s*",
)
_END, _NOTHING = rb"</" + _NS + rb"c>", rb"<" + _NS + rb"v(?:\s*/>|></" + _NS + rb"v>)\s*"
# A formula without a value; an empty value is one only if the formula's result is text (t="str").
_NO_VALUE = re.compile(_REF + rb"[^>]*>\s*" + _FORMULA + _END)
_EMPTY_VALUE = re.compile(_REF + rb"(?![^>]*t=\"str\")[^>]*>\s*" + _FORMULA + _NOTHING + _END)


@dataclass
class Contents:
    """What was seen in a workbook's parts. Cells are named as in the sheet (``B7``)."""

    hidden_rows: int = 0
    error_cells: int = 0
    first_error: str = ""
    no_value_cells: int = 0
    first_no_value: str = ""
    from_1904: bool = False
    has_marks: bool = False


def look_over_sheet(blocks: Iterator[bytes], name: str, contents: Contents) -> None:
    """Extent and oddities of an XLSX sheet, by the text of its XML; a row cut by a block waits for the next."""
    held, rows, columns, unnumbered = b"", 0, 26, 0
    for block in blocks:
        held += block
        if len(held) > _LONGEST_ROW_BYTES:
            raise InputFaults.one(name, "is a damaged workbook (a row of it does not end).", AGAIN)
        cut = held.rfind(b"<", 0, held.rfind(b"row>")) if b"row>" in held else 0
        text, held = held[:cut], held[cut:]
        rows, columns = _extent(text, rows, columns)
        unnumbered += text.count(b"row>")
        _note_oddities(text, contents)
    rows, columns = _extent(held, rows, columns)
    _note_oddities(held, contents)
    refuse_extent(name, max(rows, unnumbered), columns)


def _extent(text: bytes, rows: int, columns: int) -> tuple[int, int]:
    """The last row and column so far; a column of one letter is within 26 and not looked for."""
    rows = max(rows, *map(int, _ROW.findall(text)), 0)
    for letters in set(_WIDE_CELL.findall(text)):
        columns = max(columns, _column(letters))
    return rows, columns


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number


def letters_of(column: int) -> str:
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _note_oddities(text: bytes, contents: Contents) -> None:
    contents.hidden_rows += len(_HIDDEN_ROW.findall(text)) if b"hidden=" in text else 0
    errors = _ERROR.findall(text) if b't="e"' in text else []
    contents.error_cells += len(errors)
    contents.first_error = contents.first_error or (errors[0].decode() if errors else "")
    bare = _NO_VALUE.findall(text) + _EMPTY_VALUE.findall(text) if b"f>" in text or b"<f" in text else []
    contents.no_value_cells += len(bare)
    contents.first_no_value = contents.first_no_value or (bare[0].decode() if bare else "")


def refuse_extent(name: str, rows: int, columns: int) -> None:
    """Refuse a sheet whose used cells lie so far apart that it cannot be held."""
    if rows * columns > MOST_CELLS:
        raise InputFaults.one(
            name,
            f"has a sheet that reaches over {count_text(rows)} rows and {count_text(columns)} columns, "
            f"{count_text(MOST_CELLS)} cells can be read.",
            "Delete stray cells far right and below, or save it as CSV.",
        )
