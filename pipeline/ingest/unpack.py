"""Tables inside gzip and zip files: unpacked into a private temporary folder, within bounds, under names of ours.

A name from an archive is shown but never used as a path, so it cannot point anywhere. What an archive says of its
members' sizes is not believed: bytes are counted while they are unpacked.
"""

from __future__ import annotations

import gzip
import shutil
import tempfile
import weakref
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from pipeline.faults import InputFaults
from pipeline.numerals import count_text

GZIP_ENDING, ZIP_ENDING = ".gz", ".zip"
LARGEST_UNPACKED_BYTES = 2 * 1024**3
LARGEST_RATIO = 200  # of unpacked to packed bytes; logs of calls reach about 30
_RATIO_COUNTS_FROM_BYTES = 64 * 1024**2
_MOST_MEMBERS = 1_000
# In place of the size that an archive claims: a member is read on to its true end, where its checksum is compared.
ANY_SIZE = 1 << 62
_BLOCK = 1 << 20
_CLUTTER = ("thumbs.db", "desktop.ini")


class Folder:
    """A private folder that goes when nothing holds it any more, at the latest with the process."""

    def __init__(self) -> None:
        self.path = Path(tempfile.mkdtemp(prefix="dayburn-"))
        weakref.finalize(self, shutil.rmtree, self.path, ignore_errors=True)


@dataclass(frozen=True)
class Part:
    """A table unpacked to ``path``; ``name`` is its path inside the archive. The file lives as long as ``folder``."""

    path: Path
    name: str
    folder: Folder


def is_clutter(name: str) -> bool:
    """Whether a file of that name is left behind by a program: hidden, a lock, or a folder's thumbnails."""
    return name.startswith((".", "~$")) or name.lower() in _CLUTTER


def unpack_gzip(path: Path, name: str, ending: str) -> Part:
    """The file inside a gzip file, under a name with ``ending``; raises InputFaults for a damaged or too large one."""
    folder = Folder()
    target = folder.path / f"table{ending}"
    with _damage_told(name), gzip.open(path) as packed, target.open("wb") as file:
        _copy(packed, file, name, path.stat().st_size, 0)
    return Part(target, PurePosixPath(name).name.removesuffix(GZIP_ENDING), folder)


def unpack_zip(path: Path, name: str, endings: tuple[str, ...]) -> tuple[list[Part], list[str]]:
    """The members of a zip file with one of ``endings``, in order of name, and the names of those left aside.

    Raises InputFaults where the archive is damaged, protected, nested, too large, or names a place outside of itself.
    """
    folder, parts, aside, total = Folder(), [], [], 0
    with _damage_told(name), zipfile.ZipFile(path) as archive:
        for number, member in enumerate(_members(archive, name)):
            where, ending = f"{name}/{member.filename}", PurePosixPath(member.filename).suffix.lower()
            if ending in (GZIP_ENDING, ZIP_ENDING):
                raise InputFaults.one(
                    where, "is an archive inside an archive.", "Unpack it, and give its files."
                )
            if ending not in endings:
                aside.append(member.filename)
                continue
            if member.flag_bits & 1:
                raise InputFaults.one(
                    where, "is protected by a password.", "Unpack it, and give the file itself."
                )
            target = folder.path / f"{number}{ending}"
            member.file_size = ANY_SIZE
            with archive.open(member) as packed, target.open("wb") as file:
                total += _copy(packed, file, where, member.compress_size, total)
            parts.append(Part(target, member.filename, folder))
    return parts, aside


def _members(archive: zipfile.ZipFile, name: str) -> list[zipfile.ZipInfo]:
    """The files of an archive that a person put there, in order of name."""
    members = [
        member
        for member in archive.infolist()
        if not member.is_dir()
        and not any(is_clutter(part) and part != ".." for part in PurePosixPath(member.filename).parts)
        and not member.filename.startswith("__MACOSX/")
    ]
    if len(members) > _MOST_MEMBERS:
        raise InputFaults.one(
            name,
            f"holds {count_text(len(members))} files; {count_text(_MOST_MEMBERS)} can be read.",
            "Unpack it, and give the files.",
        )
    seen: set[str] = set()
    for member in members:
        _refuse_outside(member.filename, name)
        if member.filename in seen:
            raise InputFaults.one(name, f"holds two files called '{member.filename}'.", "Pack it again.")
        seen.add(member.filename)
    return sorted(members, key=lambda member: member.filename)


def _refuse_outside(member: str, name: str) -> None:
    inside = PurePosixPath(member.replace("\\", "/"))
    if inside.is_absolute() or ".." in inside.parts or ":" in inside.parts[0]:
        raise InputFaults.one(
            name,
            f"names a file outside of itself ('{member}'), as no honest archive does; nothing was unpacked.",
            "Ask where it comes from, or pack the exports again.",
        )


def _copy(
    packed: IO[bytes] | gzip.GzipFile, file: IO[bytes], where: str, packed_bytes: int, before: int
) -> int:
    """Unpack within bounds; gives the bytes written."""
    written = 0
    while block := packed.read(_BLOCK):
        written += len(block)
        if before + written > LARGEST_UNPACKED_BYTES:
            raise InputFaults.one(
                where,
                f"would unpack to more than {LARGEST_UNPACKED_BYTES / 1024**3:g} GiB.",
                "Export it in parts, each a file of its own.",
            )
        refuse_ratio(where, written, packed_bytes)
        file.write(block)
    return written


def refuse_ratio(where: str, unpacked_bytes: int, packed_bytes: int) -> None:
    """Refuse what unpacks to so much more than it is packed that it can be no log of calls."""
    if unpacked_bytes > max(_RATIO_COUNTS_FROM_BYTES, LARGEST_RATIO * packed_bytes):
        raise InputFaults.one(
            where,
            f"unpacks to over {LARGEST_RATIO} times its size, as no log of calls does; it was not read further.",
            "Export it again, or unpack it and look at it before giving it.",
        )


@contextmanager
def _damage_told(name: str) -> Iterator[None]:
    """A library's complaint about a damaged archive as a fault that names the file."""
    try:
        yield
    except (zipfile.BadZipFile, gzip.BadGzipFile, EOFError, zlib.error, NotImplementedError) as error:
        what = "breaks off" if isinstance(error, EOFError) else str(error)
        raise InputFaults.one(
            name, f"is a damaged archive ({what}).", "Fetch or pack it again, or give the unpacked file."
        ) from error
