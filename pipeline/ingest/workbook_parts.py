"""What the parts of a zipped workbook (XLSX, ODS) say before its cells are read: true sizes, extent, oddities.

The reader of cells sets a whole sheet up in memory, from its first used cell to its last, and believes the sizes
that the file claims; a small file could so take all memory. Therefore every part is unpacked once here, counted and
thrown away, and the extent of each sheet is bounded.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import IO
from xml.parsers import expat

from pipeline.faults import InputFaults
from pipeline.ingest.ods_marks import MARKS
from pipeline.ingest.sheet_parts import AGAIN, Contents, letters_of, look_over_sheet, refuse_extent
from pipeline.ingest.unpack import ANY_SIZE, LARGEST_UNPACKED_BYTES, refuse_ratio
from pipeline.numerals import count_text

_BLOCK = 1 << 20
_FROM_1904 = re.compile(rb"\bdate1904=\"(?:1|true)\"")
_ENCRYPTED = b"encryption-data"


def contents_of(path: Path, name: str, ending: str) -> Contents:
    """Unpack every part once; raises InputFaults for a damaged, misnamed, protected or oversized workbook."""
    contents, total = Contents(), 0
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
            _refuse_misnamed({member.filename for member in members}, name, ending)
            for member in members:
                if member.flag_bits & 1:
                    raise InputFaults.one(name, "is protected by a password.", "Save a copy without one.")
                member.file_size = ANY_SIZE
                with archive.open(member) as part:
                    total += _look_over(part, member, name, contents, total)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError) as error:
        raise InputFaults.one(name, f"is a damaged workbook ({str(error)[:120]}).", AGAIN) from error
    if contents.no_value_cells:
        raise InputFaults.one(
            f"{name}, cell {contents.first_no_value}",
            f"holds a formula without a stored value, as do {count_text(contents.no_value_cells)} cells in all; "
            "formulas are never worked out here.",
            "Open the workbook in a spreadsheet and save it, which stores the values.",
        )
    return contents


def _refuse_misnamed(members: set[str], name: str, ending: str) -> None:
    is_ods, is_xlsx = "content.xml" in members, any(member.startswith("xl/") for member in members)
    what = {"xl/workbook.bin": "a binary workbook (.xlsb)", "word/document.xml": "a text document"}
    for member, kind in what.items():
        if member in members:
            raise InputFaults.one(
                name, f"is {kind} although its name ends in {ending}.", "Save it as .xlsx or CSV."
            )
    if not (is_ods or is_xlsx):
        raise InputFaults.one(
            name,
            "is a damaged workbook (an archive without the parts of one).",
            "Unpack it, or export it again.",
        )
    right = ".ods" if is_ods else ".xlsx"
    if ending != right and not (is_xlsx and ending == ".xlsm"):
        raise InputFaults.one(
            name,
            f"is a workbook of the kind {right} although its name ends in {ending}.",
            f"Rename it to {right}.",
        )


def _look_over(part: IO[bytes], member: zipfile.ZipInfo, name: str, contents: Contents, before: int) -> int:
    """Unpack one part to its end, bounded, with what is looked for in it; gives its bytes."""
    blocks = _Counted(part, member, name, before)
    if member.filename.startswith("xl/worksheets/") and member.filename.endswith(".xml"):
        look_over_sheet(blocks.blocks(), name, contents)
    elif member.filename == "content.xml":
        _TableExtent(name, contents).read(blocks.blocks())
    elif member.filename == "xl/workbook.xml":
        contents.from_1904 = any(_FROM_1904.search(block) for block in blocks.blocks())
    elif member.filename == "META-INF/manifest.xml" and any(_ENCRYPTED in block for block in blocks.blocks()):
        raise InputFaults.one(name, "is protected by a password.", "Save a copy without one.")
    for _ in blocks.blocks():
        pass
    return blocks.count


class _Counted:
    """A part's bytes in blocks, counted against the bounds."""

    def __init__(self, part: IO[bytes], member: zipfile.ZipInfo, name: str, before: int) -> None:
        self._part, self._packed, self._name, self._before = part, member.compress_size, name, before
        self.count = 0

    def blocks(self) -> Iterator[bytes]:
        while block := self._part.read(_BLOCK):
            self.count += len(block)
            if self._before + self.count > LARGEST_UNPACKED_BYTES:
                raise InputFaults.one(
                    self._name,
                    f"would unpack to more than {LARGEST_UNPACKED_BYTES / 1024**3:g} GiB.",
                    "Export it as CSV, or in parts.",
                )
            refuse_ratio(self._name, self.count, self._packed)
            yield block


class _TableExtent:
    """The extent of an ODS document's tables: repeats written out, blank cells at the ends left out."""

    def __init__(self, name: str, contents: Contents) -> None:
        self._name, self._contents = name, contents
        self._row = self._rows = self._column = self._columns = self._repeat = 0

    def read(self, blocks: Iterator[bytes]) -> None:
        """Parse; raises InputFaults for a table too large, for XML that is damaged or declares entities."""
        parser = expat.ParserCreate()
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.EntityDeclHandler = self._refuse_entity
        try:
            for block in blocks:
                parser.Parse(block, False)
            parser.Parse(b"", True)
        except expat.ExpatError as error:
            raise InputFaults.one(self._name, f"is a damaged workbook ({error}).", AGAIN) from error

    def _refuse_entity(self, *_: object) -> None:
        raise InputFaults.one(self._name, "declares XML entities, which no export needs.", AGAIN)

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == "table:table":
            self._row = self._rows = self._columns = 0
        elif tag == "table:table-row":
            self._repeat = _repeat(attributes, "table:number-rows-repeated")
            self._column = 0
            if attributes.get("table:visibility") in ("collapse", "filter"):
                self._contents.hidden_rows += self._repeat
        elif tag in MARKS:
            self._contents.has_marks = True
        elif tag in ("table:table-cell", "table:covered-table-cell"):
            if attributes.get("calcext:value-type") == "error":
                self._contents.error_cells += 1
                self._contents.first_error = (
                    self._contents.first_error or f"{letters_of(self._column + 1)}{self._row + 1}"
                )
            self._column += _repeat(attributes, "table:number-columns-repeated")
            if "office:value-type" in attributes or "calcext:value-type" in attributes:
                self._columns = max(self._columns, self._column)
                self._rows = self._row + self._repeat

    def _end(self, tag: str) -> None:
        if tag == "table:table-row":
            self._row += self._repeat
        elif tag == "table:table":
            refuse_extent(self._name, self._rows, self._columns)


def _repeat(attributes: dict[str, str], name: str) -> int:
    text = attributes.get(name, "1")
    return max(1, int(text)) if text.isdigit() and len(text) < 10 else 1 if not text.isdigit() else 10**9
