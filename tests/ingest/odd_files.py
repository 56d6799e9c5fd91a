"""Making workbooks, archives and documents by their bytes, as the damaged and the rare ones cannot be had otherwise."""

from __future__ import annotations

import gzip
import struct
import zipfile
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path

import xlsxwriter
import xlwt

Cells = Sequence[Sequence[str]]
CALLS: Cells = (
    ("Call Number", "Date Reported", "Building", "Description"),
    ("1", "2024-01-02 08:00", "Larch School", "Lot light on all day"),
    ("2", "2024-01-13 09:30", "Elm School", "Pole light out"),
)
CSV = "".join(",".join(row) + "\n" for row in CALLS).encode()


def put(path: Path, content: bytes) -> Path:
    """A file with that content."""
    path.write_bytes(content)
    return path


def make_xlsx(path: Path, rows: Cells = CALLS, sheet: str = "Calls") -> Path:
    """A sound workbook of texts."""
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet(sheet)
        for number, row in enumerate(rows):
            for place, cell in enumerate(row):
                page.write_string(number, place, cell)
    return path


def make_xls(path: Path, rows: Cells = CALLS) -> Path:
    """A sound workbook of the old kind."""
    book = xlwt.Workbook()
    page = book.add_sheet("Calls")
    for number, row in enumerate(rows):
        for place, cell in enumerate(row):
            page.write(number, place, cell)
    book.save(path)
    return path


_ODS_SPACES = (
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.3"'
)
_ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"


def ods_table(rows: Cells, name: str = "Calls") -> str:
    """A table of texts as OpenDocument XML: a paragraph for each line, runs of spaces and tabs as elements."""
    cells = "".join(f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>" for row in rows)
    return f'<table:table table:name="{escape(name)}">{cells}</table:table>'


def _ods_cell(text: str) -> str:
    if not text:
        return "<table:table-cell/>"
    paragraphs = "".join(f"<text:p>{_ods_text(line)}</text:p>" for line in text.split("\n"))
    return f'<table:table-cell office:value-type="string">{paragraphs}</table:table-cell>'


def _ods_text(line: str) -> str:
    marked = escape(line, quote=False).replace("\t", "<text:tab/>")
    return marked.replace(" ", '<text:s text:c="1"/>')


def make_ods(path: Path, tables: str = ods_table(CALLS), prolog: str = "", manifest: str = "") -> Path:
    """A workbook in OpenDocument form (OASIS OpenDocument 1.3) around the XML of its tables."""
    body = f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo("mimetype"), _ODS_TYPE)
        archive.writestr(
            "content.xml",
            f'<?xml version="1.0" encoding="UTF-8"?>{prolog}<office:document-content {_ODS_SPACES}>{body}'
            "</office:document-content>",
        )
        archive.writestr(
            "META-INF/manifest.xml",
            '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
            f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{_ODS_TYPE}"/>{manifest}'
            "</manifest:manifest>",
        )
    return path


def make_zip(path: Path, members: Mapping[str, bytes]) -> Path:
    """A zip archive."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


def make_gzip(path: Path, content: bytes) -> Path:
    """A gzip file."""
    return put(path, gzip.compress(content))


def changed(path: Path, change: Callable[[str, bytes], bytes | None]) -> Path:
    """A zip archive with each member's content changed, or the member left out where None is given."""
    with zipfile.ZipFile(path) as archive:
        members = {name: change(name, archive.read(name)) for name in archive.namelist()}
    return make_zip(path, {name: content for name, content in members.items() if content is not None})


def in_sheet(old: bytes, new: bytes) -> Callable[[str, bytes], bytes | None]:
    """A change of a workbook's first sheet; the old text must be there."""

    def change(name: str, content: bytes) -> bytes:
        if not name.endswith("worksheets/sheet1.xml"):
            return content
        assert old in content
        return content.replace(old, new, 1)

    return change


def claim(path: Path, unpacked_bytes: int) -> Path:
    """A zip archive that lies about the unpacked size of its largest member."""
    content = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as archive:
        member = max(archive.infolist(), key=lambda one: one.file_size)
    true = struct.pack("<I", member.file_size)
    struct.pack_into("<I", content, content.index(true, member.header_offset), unpacked_bytes)
    struct.pack_into("<I", content, content.rindex(true), unpacked_bytes)
    return put(path, bytes(content))


def encrypted(path: Path) -> Path:
    """A zip archive whose first member says that it is encrypted (general purpose bit 0, in both its headers)."""
    content = bytearray(path.read_bytes())
    content[6] |= 1
    content[content.index(b"PK\x01\x02") + 8] |= 1
    return put(path, bytes(content))


def make_ole(path: Path, streams: Sequence[str]) -> Path:
    """A compound file ([MS-CFB] 2.2 to 2.6) with empty streams: how a workbook with a password is wrapped."""
    header = (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
        + bytes(16)
        + struct.pack("<HHHHH", 0x3E, 3, 0xFFFE, 9, 6)
        + bytes(6)
    )
    header += struct.pack("<IIIIIIIII", 0, 1, 1, 0, 4096, 0xFFFFFFFE, 0, 0xFFFFFFFE, 0)
    header += struct.pack("<I", 0) + b"\xff" * 4 * 108
    fat = struct.pack("<II", 0xFFFFFFFD, 0xFFFFFFFE) + b"\xff" * (512 - 8)
    names = ["Root Entry", *streams]
    directory = b"".join(_ole_entry(name, place, len(names)) for place, name in enumerate(names))
    return put(path, header + fat + directory.ljust(512, b"\0"))


def _ole_entry(name: str, place: int, count: int) -> bytes:
    raw = name.encode("utf-16-le") + b"\0\0"
    following = place + 1 if 0 < place < count - 1 else 0xFFFFFFFF
    child = 1 if place == 0 and count > 1 else 0xFFFFFFFF
    kind = 5 if place == 0 else 2
    return (
        raw.ljust(64, b"\0")
        + struct.pack("<HBBIII", len(raw), kind, 1, 0xFFFFFFFF, following, child)
        + bytes(36)
        + struct.pack("<IQ", 0xFFFFFFFE, 0)
    )
