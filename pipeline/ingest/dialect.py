"""How a text file is written: encoding, delimiter and number of physical lines, decided over the whole file.

Delimiter and quoting are decided here once and then given explicitly; nothing is sniffed while rows are read.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from pipeline.faults import InputFaults
from pipeline.ingest.encodings import decoded_blocks, text_encoding
from pipeline.numerals import count_text

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}
LARGEST_CELL_CHARACTERS = 8 * 1024**2
LARGEST_LINE_CHARACTERS = 16 * 1024**2
_SAMPLE_ROWS = 300
_SAMPLE_CHARACTERS = 1 << 20
# A spreadsheet's own way to name the delimiter: a first line that holds nothing else.
_SEP_LINE = re.compile(r'"?sep=(.)"?\s*', re.IGNORECASE)


@dataclass(frozen=True)
class TextForm:
    """Encoding (a Python codec name), delimiter, and physical lines (ended by LF, CR LF or CR).

    ``stated_delimiter``: the first line only names the delimiter (``sep=;``) and is no row of the table.
    """

    encoding: str
    delimiter: str
    lines: int
    stated_delimiter: bool = False

    def __str__(self) -> str:
        return f"{self.encoding} text, {DELIMITERS[self.delimiter]}-separated"


def text_form(path: Path, name: str) -> TextForm:
    """Decide encoding and delimiter of a text file; raises InputFaults for binary or unreadable content.

    A line is at most LARGEST_LINE_CHARACTERS long, so that no reader of lines takes up memory without bound.
    """
    encoding = text_encoding(path, name)
    lines, visible = _count_lines(path, encoding, name)
    if not visible:
        raise InputFaults.one(name, "holds only blank lines.", "Export it again.")
    sample = _sample(path, encoding)
    stated = _SEP_LINE.fullmatch(sample[0])
    if stated and stated[1] in DELIMITERS:
        return TextForm(encoding, stated[1], lines, stated_delimiter=True)
    if stated:
        raise InputFaults.one(
            f"{name}, row 1",
            f"names '{stated[1]}' as the delimiter; {', '.join(DELIMITERS.values())} can be read.",
            "Export it with one of these.",
        )
    return TextForm(encoding, _delimiter(sample, name), lines)


def _count_lines(path: Path, encoding: str, name: str) -> tuple[int, bool]:
    """Physical lines, counted without any notion of cells; and whether anything but blanks is there."""
    count, last, visible, run = 0, "", False, 0
    for text in decoded_blocks(path, encoding):
        count += line_ends(text)
        count -= last == "\r" and text.startswith("\n")
        last = text[-1:] or last
        visible = visible or bool(text and not text.isspace())
        # Only a block without any line end can be part of a line longer than a block: others set the run back.
        end = max(text.rfind("\n"), text.rfind("\r"))
        run = len(text) - end - 1 if end >= 0 else run + len(text)
        if run > LARGEST_LINE_CHARACTERS:
            raise InputFaults.one(
                f"{name}, line {count_text(count + 1)}",
                f"is longer than {count_text(LARGEST_LINE_CHARACTERS)} characters; a cell may have "
                f"{count_text(LARGEST_CELL_CHARACTERS)}.",
                "Shorten the text there, or export the file with line ends.",
            )
    return count + (last not in "\r\n"), visible


def line_ends(text: str) -> int:
    """Line ends in a text: LF, CR LF or CR."""
    return text.count("\n") + (text.count("\r") - text.count("\r\n") if "\r" in text else 0)


def _sample(path: Path, encoding: str) -> list[str]:
    """The first lines, line ends kept; the last may be cut off."""
    with path.open(encoding=encoding, newline="") as file:
        start = file.read(_SAMPLE_CHARACTERS)
    # csv takes line ends as they are; str.splitlines would also split at form feeds and other separators.
    return io.StringIO(start, newline="").readlines()[:_SAMPLE_ROWS]


def _delimiter(sample: list[str], name: str) -> str:
    """The delimiter that stands most often in rows of the sample that have one same width.

    The number of such rows alone would choose the comma of decimals where broken texts make the true delimiter's rows
    uneven.
    """
    scores: dict[str, int] = {}
    for delimiter in DELIMITERS:
        widths = Counter(width for width in _widths(sample, delimiter) if width > 1)
        if widths:
            width, rows_alike = widths.most_common(1)[0]
            scores[delimiter] = rows_alike * (width - 1)
    if not scores:
        tried = ", ".join(DELIMITERS.values())
        raise InputFaults.one(
            name,
            f"has only one column (tried {tried}).",
            "Export it as a comma-separated table with a header.",
        )
    return max(scores, key=scores.__getitem__)


def _widths(sample: list[str], delimiter: str) -> list[int]:
    """Cells in each row of the sample, as far as it can be parsed."""
    csv.field_size_limit(LARGEST_CELL_CHARACTERS)
    widths: list[int] = []
    with suppress(csv.Error):
        widths.extend(len(row) for row in csv.reader(sample, delimiter=delimiter))
    return widths
