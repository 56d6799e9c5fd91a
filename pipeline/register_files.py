"""The register CSVs as a person writes them: read cell by cell, every fault noted with its row and column."""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rapidfuzz import process

from pipeline.faults import Fault
from pipeline.ingest.register_privacy import IDENTIFIERS, masked_rows
from pipeline.ingest.register_tidy import tidied
from pipeline.numerals import count_text
from pipeline.register_columns import COLUMNS, KEYS, NEEDED, shown
from pipeline.register_inventories import LeftOut
from pipeline.settings import Settings


@dataclass
class Register:
    """One register as read: rows by column name, each with its row number in the file."""

    name: str
    rows: list[dict[str, Any]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    unread: set[str] = field(
        default_factory=set
    )  # ids of faulty rows: naming them elsewhere is no second fault
    left_out: list[LeftOut] = field(default_factory=list)
    notices: list[tuple[str, str]] = field(default_factory=list)  # place and message

    def ids(self) -> set[str]:
        """The register's own identifiers."""
        return {row[KEYS[self.name]] for row in self.rows if row[KEYS[self.name]]} | self.unread

    def fault(self, row: dict[str, Any], column: str, problem: str, remedy: str = "") -> None:
        """Note a fault at a row and column of this file."""
        file_name = row.get("file_name") or f"{self.name}.csv"
        self.faults.append(Fault(f"{file_name}, row {row['row_number']}, column {column}", problem, remedy))


def read_register(name: str, path: Path, settings: Settings) -> Register:
    """One register's CSV; a register without a file is empty."""
    register = Register(name)
    if not path.exists():
        return register
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.reader(file, strict=True)  # a quotation mark left open would swallow rows
            header = [cell.strip() for cell in next(reader, [])]
            if _header_is_usable(register, header):
                identifiers = [place for place, column in enumerate(header) if column in IDENTIFIERS]
                rows = masked_rows(list(reader), settings.privacy, identifiers)
                rows, said = tidied(header, rows, settings.time_zone)
                register.notices += [(path.name, message) for message in said]
                _read_rows(register, header, rows)
    except OSError as error:
        problem = f"cannot be read ({error.strerror})."
        register.faults.append(Fault(path.name, problem, "It must be a text file that you may read."))
    except UnicodeDecodeError as error:
        problem = f"is not UTF-8 text ({error.reason})."
        register.faults.append(Fault(path.name, problem, "Save it as a UTF-8 CSV."))
    except csv.Error as error:
        problem = f"cannot be read up to its end ({error})."
        register.faults.append(Fault(path.name, problem, "Look for a quotation mark that is not closed."))
    return register


def _header_is_usable(register: Register, header: list[str]) -> bool:
    known = COLUMNS[register.name]
    where = f"{register.name}.csv, header"
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if len(header) == 1 and mark in header[0] and header[0].split(mark)[0].strip() in known:
            register.faults.append(Fault(where, f"is parted by {name}.", "Save the file with commas."))
            return False
    for column in header:
        if column not in known:
            near = process.extractOne(column, list(known), score_cutoff=70)
            remedy = f"Did you mean '{near[0]}'?" if near else "Known columns: " + ", ".join(known) + "."
            register.faults.append(Fault(where, f"column '{column}' is unknown.", remedy))
    register.faults += [
        Fault(where, f"column '{column}' stands twice.", "Keep one.")
        for column in known
        if header.count(column) > 1
    ]
    register.faults += [
        Fault(where, f"column '{column}' is missing.", "Add it.")
        for column in NEEDED[register.name]
        if column not in header
    ]
    return not register.faults


def _read_rows(register: Register, header: list[str], rows: list[list[str]]) -> None:
    seen: dict[str, int] = {}
    for number, cells in enumerate(rows, start=2):
        if not any(cell.strip() for cell in cells):
            continue
        row: dict[str, Any] = dict.fromkeys(COLUMNS[register.name]) | {"row_number": number}
        if len(cells) > len(header):
            register.fault(
                row,
                "(end)",
                f"has {count_text(len(cells))} cells under {count_text(len(header))} headings.",
                "Mend the row.",
            )
            register.unread.add(cells[header.index(KEYS[register.name])].strip())
            continue
        _read_cells(register, row, dict(zip(header, cells, strict=False)))
        register.rows.append(row)
        key = row[KEYS[register.name]]
        if key in seen:
            register.fault(
                row, KEYS[register.name], f"'{key}' already stands in row {seen[key]}.", "Keep one."
            )
        elif key:
            seen[key] = number


def _read_cells(register: Register, row: dict[str, Any], cells: dict[str, str]) -> None:
    for column, raw in cells.items():
        cell = raw.strip()
        if cell:
            try:
                row[column] = COLUMNS[register.name][column](cell)
            except ValueError as error:
                register.fault(row, column, f"{shown(cell)} {error}.")
        elif column in NEEDED[register.name]:
            register.fault(row, column, "is empty.", "Every row needs it.")
