"""What a person does with a file, on the command line or on screen: look at it, and accept how it is read.

Nothing here runs or changes the file that is given. What is written lies in the portfolio folder: a layout, a copy
of the file, rows of windows.csv.
"""

from __future__ import annotations

import contextlib
import filecmp
import os
import re
import shutil
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Literal

from pipeline.faults import InputFaults
from pipeline.ingest.files import Export, archive_of, open_exports
from pipeline.ingest.headers import ROWS_SEARCHED, find_header
from pipeline.ingest.layouts import Layout, read_layouts
from pipeline.ingest.proposal import LayoutProposal
from pipeline.ingest.propose import propose_layout, save_layout
from pipeline.ingest.read import recognise
from pipeline.ingest.register_layouts import RegisterLayout, read_register_layouts, write_register_layout
from pipeline.ingest.register_propose import RegisterProposal, propose_register
from pipeline.ingest.rows import rows_of
from pipeline.portfolio import Portfolio
from pipeline.window_file import FILE as WINDOWS_FILE
from pipeline.window_file import read_windows, write_windows
from pipeline.windows import SiteWindows

Kind = Literal["calls", "controls", "fixtures", "sites", "accounts"]
Proposal = LayoutProposal | RegisterProposal
_LONGEST_NAME_BYTES = 200  # file systems end a name at 255 bytes; a choice of ours below that
_NOT_IN_NAMES = re.compile(r'[<>:"|?*]')  # Windows keeps these for itself
_DEVICES = re.compile(r"(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?$")


@dataclass(frozen=True)
class Told:
    """What a person said beside the file: order of day and month, columns by field (none: leave it), the system."""

    date_order: str | None = None
    columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    source: str | None = None


@dataclass(frozen=True)
class Table:
    """A table of a file: ``path`` names it (on into an archive, too), ``layout`` is the saved one that knows it."""

    name: str
    path: Path
    layout: str | None
    kind: Kind


@dataclass(frozen=True)
class Accepted:
    """What was written: the layout, and the file's place; ``copied`` is false where the file lay there already."""

    layout: Path
    file: Path
    copied: bool


def tables_of(path: Path, portfolio: Portfolio) -> list[Table]:
    """Every table of a file with the saved layout that knows its header; raises InputFaults for an unreadable file."""
    exports, layouts, registers = (
        open_exports(path),
        read_layouts(portfolio),
        read_register_layouts(portfolio),
    )
    return [_table(export, layouts, registers, path) for export in exports]


def _table(
    export: Export,
    layouts: Mapping[tuple[str, ...], Layout],
    registers: Mapping[tuple[str, ...], RegisterLayout],
    path: Path,
) -> Table:
    named = export.named or path
    # One that cannot be read further is told when its layout is proposed.
    with contextlib.suppress(InputFaults):
        names = sorted({one.layout.name for one in recognise(export, layouts, "")})
        return Table(export.name, named, ", ".join(names), "calls")
    with contextlib.suppress(InputFaults):
        for sheet in export.sheets or (None,):
            header = find_header(list(islice(rows_of(export, sheet), ROWS_SEARCHED)), set(registers))
            if header:
                known = registers[header.labels]
                return Table(export.name, named, known.name, known.table)
    return Table(export.name, named, None, "calls")


def propose(file: Path, portfolio: Portfolio, kind: Kind = "calls", told: Told | None = None) -> Proposal:
    """How a file would be read, as calls or as one of the registers; nothing is saved."""
    told = told or Told()
    columns = {name: list(theirs) for name, theirs in told.columns.items()}
    if kind == "calls":
        return propose_layout(file, portfolio, told.date_order, columns, told.source)
    return propose_register(file, portfolio, kind, told.date_order, columns)


def accept(portfolio: Portfolio, file: Path, proposal: Proposal) -> Accepted:
    """Save the proposed layout, and the file in calls/ (of an inventory, in registers/) unless it lies there already.

    A different file of that name is not overwritten: InputFaults, and nothing is saved.
    """
    layout = proposal.layout
    folder = portfolio.calls if isinstance(layout, Layout) else portfolio.folder / "registers"
    if not archive_of(file).resolve().is_relative_to(folder.resolve()):
        _free_place(archive_of(file), folder)
    if isinstance(layout, Layout):
        saved = save_layout(portfolio, layout)
    else:
        saved = portfolio.folder / write_register_layout(portfolio, layout)
    return Accepted(saved, *put_into(folder, file))


def add_known(portfolio: Portfolio, file: Path, kind: Kind) -> Path:
    """Put a file that a saved layout knows where the build looks for it; gives its place."""
    return put_into(portfolio.calls if kind == "calls" else portfolio.folder / "registers", file)[0]


def put_into(folder: Path, file: Path) -> tuple[Path, bool]:
    """Copy a file into a folder unless it lies in it already: its place, and whether it was copied.

    Of a table in an archive (``2024.zip/march.csv``) the archive is copied. A build that runs meanwhile sees all of the
    copy or nothing of it.
    """
    file = archive_of(file)
    if file.resolve().is_relative_to(folder.resolve()):
        return file, False
    target = _free_place(file, folder)
    if target.exists():
        return target, False
    folder.mkdir(exist_ok=True)
    partial = folder / f".{file.name}.{os.getpid()}.partial"  # hidden files are no exports
    try:
        shutil.copyfile(file, partial)
        partial.replace(target)
    finally:
        partial.unlink(missing_ok=True)
    return target, True


def _free_place(file: Path, folder: Path) -> Path:
    """Where the file goes; raises InputFaults where another one has that name."""
    target = folder / file.name
    if os.path.lexists(target) and not (target.is_file() and filecmp.cmp(target, file, shallow=False)):
        raise InputFaults.one(str(target), "exists with other content.", "Rename your file and try again.")
    return target


def safe_name(name: str) -> str:
    """The name under which a file that came over the network is kept; raises InputFaults for one that is a path.

    Signs that some systems keep for themselves become underscores; folders, hidden names and devices are refused.
    """
    # What is no text for a terminal is not shown either: the fault names what is left.
    clean = "".join(
        "_" if unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp") else sign for sign in name
    )
    if "/" in name or "\\" in name or clean.strip(" .") == "":
        raise InputFaults.one(clean or "a file", "has a name that is a path.", "Give the file a plain name.")
    clean = _NOT_IN_NAMES.sub("_", clean).strip().rstrip(".")
    if clean.startswith((".", "~$")):
        raise InputFaults.one(clean, "is a hidden file.", "Give it a name that begins with a letter.")
    if _DEVICES.match(clean):
        raise InputFaults.one(clean, "has the name of a device.", "Give the file another name.")
    if len(clean.encode()) > _LONGEST_NAME_BYTES:
        raise InputFaults.one(
            f"{clean[:40]} …", f"has a name of over {_LONGEST_NAME_BYTES} bytes.", "Give it a shorter one."
        )
    return clean


def unread_exports(portfolio: Portfolio, names_read: Iterable[str]) -> list[Path]:
    """Files in calls/ that no build has read, by the names that a build keeps (``calls/2024.zip/march.csv`` too)."""
    read = set(names_read)
    found = []
    for path in portfolio.export_files():
        name = path.relative_to(portfolio.folder).as_posix()
        if name not in read and not any(one.startswith(f"{name}/") for one in read):
            found.append(path)
    return found


def confirm_windows(portfolio: Portfolio, proposal: Iterable[SiteWindows]) -> int:
    """Add proposed windows of record to windows.csv; gives the rows written. A site that stands there is left alone."""
    path = portfolio.folder / WINDOWS_FILE
    settled = {one.site_id for one in read_windows(path, portfolio.settings.time_zone)}
    return write_windows(path, [one for one in proposal if one.site_id not in settled])
