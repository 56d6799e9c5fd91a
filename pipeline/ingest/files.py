"""What an export file is: its kind, text encoding, delimiter or sheets. Nothing in it is ever run.

A file is judged by its bytes, not by its name alone; one that cannot be read is a fault that names it.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import Literal

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.dialect import TextForm, text_form
from pipeline.ingest.json_rows import JsonForm, json_form
from pipeline.ingest.signatures import BOOK_ENDINGS, GZIP, JSON_ENDINGS, TABLE_ENDINGS, unsuitable
from pipeline.ingest.unpack import GZIP_ENDING, ZIP_ENDING, Part, unpack_gzip, unpack_zip
from pipeline.ingest.workbook import BookForm, book_form


@dataclass(frozen=True)
class Export:
    """An export that can be read. ``name`` is its path inside calls/, as people see it.

    A table in an archive is an export of its own: ``path`` is then a private unpacked copy that lives as long as the
    export (``copies``), ``sha256`` that of its content, and ``named`` how a person names it on the command line.
    ``remarks`` are
    sentences about it that a person should read. Where several sheets of a workbook hold calls, each is an export
    with that sheet as its ``part``.
    """

    path: Path
    name: str
    sha256: str
    kind: Literal["text", "workbook", "json"]
    text: TextForm | None = None
    sheets: tuple[str, ...] = ()
    json: JsonForm | None = None
    named: Path | None = None
    part: str = ""
    remarks: tuple[str, ...] = ()
    from_1904: bool = False
    copies: tuple[Part, ...] = field(default=(), repr=False, compare=False)
    stamp: tuple[int, int] = field(default=(0, 0), compare=False)

    @property
    def file_id(self) -> str:
        """First 16 hex digits of the SHA-256 of the file's bytes, and of its part where there are several."""
        if not self.part:
            return self.sha256[:16]
        return hashlib.sha256(f"{self.sha256} {self.part}".encode()).hexdigest()[:16]

    @property
    def form(self) -> str:
        """How it is written, for people."""
        return str(self.text or self.json or "workbook")

    def of_sheet(self, sheet: str) -> Export:
        """The export that this sheet alone is."""
        return replace(self, part=sheet)

    def check_unchanged(self) -> None:
        """Raise InputFaults when the file is no longer the one that was looked at."""
        try:
            same = _stamp(self.path) == self.stamp
        except OSError:
            same = False
        if not same:
            raise InputFaults.one(
                self.name,
                "changed or went away while it was read.",
                "Wait until it is complete, then try again.",
            )


def open_export(path: Path, name: str | None = None) -> Export:
    """Find out what a file is; raises InputFaults naming it when it cannot be read as an export.

    Of an archive with several tables the first by name; a path may also go on into an archive
    (``2024.zip/march.csv``).
    """
    return open_exports(path, name)[0]


def open_exports(path: Path, name: str | None = None) -> list[Export]:
    """Every table of a file: one, or those of an archive; raises InputFaults with all faults found."""
    name = name or path.name
    archive, member = _split(path)
    if member is None:
        return _open(path, name, path)
    archive_name = name.removesuffix(f"/{member}") if name.endswith(f"/{member}") else archive.name
    chosen = [export for export in _open(archive, archive_name, archive) if export.named == archive / member]
    if not chosen:
        raise InputFaults.one(name, "is not in that archive.", "Check the spelling of its path.")
    return chosen


def archive_of(path: Path) -> Path:
    """The file on disk that a path names: itself, or the archive it goes on into."""
    return _split(path)[0]


def _split(path: Path) -> tuple[Path, str | None]:
    """A path into an archive as the archive and the member's name; any other as itself and None."""
    for parent in path.parents:
        if parent.suffix.lower() == ZIP_ENDING and parent.is_file():
            return parent, path.relative_to(parent).as_posix()
    return path, None


def _open(path: Path, name: str, named: Path) -> list[Export]:
    ending = PurePosixPath(name).suffix.lower()
    sha256, start, stamp = _digest(path, name)
    fault = unsuitable(name, ending, start)
    if fault:
        raise InputFaults([fault])
    if ending == ZIP_ENDING:
        return _open_members(path, name, named)
    if ending == GZIP_ENDING:
        return [_open_gzip(path, name, named)]
    export = Export(path, name, sha256, "text", named=named, stamp=stamp)
    if ending in BOOK_ENDINGS:
        return [_with_book(export, book_form(path, name, ending))]
    if ending in JSON_ENDINGS:
        return [replace(export, kind="json", json=json_form(path, name))]
    return [replace(export, text=text_form(path, name))]


def _with_book(export: Export, book: BookForm) -> Export:
    export = replace(
        export, kind="workbook", sheets=book.sheets, remarks=book.remarks, from_1904=book.from_1904
    )
    copy = book.readable
    return replace(export, path=copy.path, copies=(copy,), stamp=_stamp(copy.path)) if copy else export


def _open_gzip(path: Path, name: str, named: Path) -> Export:
    """The table in a gzip file; what its name does not tell (``calls.gz``) is taken for text."""
    ending = PurePosixPath(name.removesuffix(PurePosixPath(name).suffix)).suffix.lower()
    if ending in (GZIP_ENDING, ZIP_ENDING):
        raise InputFaults.one(name, "is an archive inside an archive.", "Unpack it, and give its files.")
    part = unpack_gzip(path, name, ending if ending in TABLE_ENDINGS else ".csv")
    with part.path.open("rb") as file:
        if file.read(2) == GZIP:
            raise InputFaults.one(name, "is an archive inside an archive.", "Unpack it, and give its files.")
    inner = PurePosixPath(name).stem if ending in TABLE_ENDINGS else "table.csv"
    export = _open(part.path, f"{name}/{inner}", named)[0]
    return replace(export, name=name, copies=(*export.copies, part))


def _open_members(path: Path, name: str, named: Path) -> list[Export]:
    parts, aside = unpack_zip(path, name, TABLE_ENDINGS)
    if not parts:
        inside = f"only {', '.join(aside[:3])}" if aside else "nothing"
        raise InputFaults.one(
            name,
            f"holds no table ({inside}).",
            f"Put the export into it, as one of {', '.join(TABLE_ENDINGS)}.",
        )
    exports: list[Export] = []
    faults: list[Fault] = []
    for part in parts:
        try:
            found = _open(part.path, f"{name}/{part.name}", named / part.name)
            exports += [replace(export, copies=(*export.copies, part)) for export in found]
        except InputFaults as error:
            faults += error.faults
    if faults:
        raise InputFaults(faults)
    if aside:
        remark = f"lies in an archive of which other files were left aside: {', '.join(aside[:5])}."
        exports[0] = replace(exports[0], remarks=(*exports[0].remarks, remark))
    return exports


def _stamp(path: Path) -> tuple[int, int]:
    """Size and time of last change: what tells a file from the one that was there before."""
    status = path.stat()
    return status.st_size, status.st_mtime_ns


def _digest(path: Path, name: str) -> tuple[str, bytes, tuple[int, int]]:
    """SHA-256 of the bytes, the first 4 KiB, and the stamp; raises InputFaults when it cannot be read."""
    digest, start = hashlib.sha256(), b""
    try:
        if path.is_dir():
            raise InputFaults.one(name, "is a folder, not a file.", "Give a file in it.")
        stamp = _stamp(path)
        with path.open("rb") as file:
            while block := file.read(1 << 20):
                start = start or block[:4096]
                digest.update(block)
    except FileNotFoundError:
        linked = path.is_symlink()
        raise InputFaults.one(
            name,
            "is a link to a file that does not exist." if linked else "does not exist.",
            "Put the file itself there." if linked else "Check the spelling of its path.",
        ) from None
    except OSError as error:
        raise InputFaults.one(
            name, f"cannot be read ({error.strerror}).", "Check its permissions, or close it elsewhere."
        ) from error
    return digest.hexdigest(), start, stamp
