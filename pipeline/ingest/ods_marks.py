"""Tabs and line breaks of ODS texts, which are elements there and which the reader of cells passes over.

OASIS OpenDocument 1.3 part 3, 6.1.4 (``text:tab``) and 6.1.5 (``text:line-break``). A copy of the workbook is made in
which they are the characters that they stand for.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from pipeline.ingest.unpack import Folder, Part

MARKS = ("text:tab", "text:line-break")
_BLOCK = 1 << 20
_TAB = re.compile(rb"<text:tab(?:\s[^>]*)?/>|<text:tab(?:\s[^>]*)?></text:tab>")
_BREAK = re.compile(rb"<text:line-break(?:\s[^>]*)?/>|<text:line-break(?:\s[^>]*)?></text:line-break>")
_KEPT = ("mimetype", "META-INF/manifest.xml", "styles.xml", "settings.xml")


def with_plain_marks(path: Path) -> Part:
    """A private copy of an ODS workbook whose tabs and line breaks are characters; sizes must have been bounded."""
    folder = Folder()
    target = folder.path / "plain.ods"
    with (
        zipfile.ZipFile(path) as old,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new,
    ):
        for name in _KEPT:
            if name in old.namelist():
                new.writestr(name, old.read(name))
        with old.open("content.xml") as part, new.open("content.xml", "w", force_zip64=True) as copy:
            for block in _blocks(part):
                copy.write(_BREAK.sub(b"&#10;", _TAB.sub(b"&#9;", block)))
    return Part(target, path.name, folder)


def _blocks(part: IO[bytes]) -> Iterator[bytes]:
    """Blocks that end where no mark is cut in two: before the last element that begins a text or a mark."""
    held = b""
    while block := part.read(_BLOCK):
        held += block
        cut = held.rfind(b"<text:")
        yield held[: max(cut, 0)]
        held = held[max(cut, 0) :]
    yield held
