"""The register CSVs of a portfolio -> sites, accounts, positions, controls, fixtures.

Every row is checked by a small model that says what may stand in each column. All faults of all four
files are reported together; nothing is guessed and no row is dropped.
"""

from __future__ import annotations

import csv
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pandas as pd
from rapidfuzz import process

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.register_privacy import IDENTIFIERS, masked_rows
from pipeline.ingest.register_rows import read_inventories
from pipeline.ingest.register_tidy import tidied
from pipeline.numerals import count_text
from pipeline.portfolio import REGISTERS, Portfolio
from pipeline.progress import Progress
from pipeline.register_chains import loops
from pipeline.register_columns import COLUMNS, KEYS, NEEDED, shown
from pipeline.register_coordinates import with_coordinates
from pipeline.register_doubts import set_doubtful_aside
from pipeline.register_inventories import Adder, LeftOut
from pipeline.register_loads import Bills, with_load
from pipeline.register_places import positions, with_places
from pipeline.register_settings import unknown_accounts, unknown_sites
from pipeline.settings import Settings
from pipeline.store import Store


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


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Check all registers and fill their tables; raises InputFaults with every fault found."""
    progress.step("Reading the registers")
    registers = read_registers(portfolio)
    faults = [fault for register in registers.values() for fault in register.faults]
    if faults:
        raise InputFaults(faults)
    for register in registers.values():
        for place, message in register.notices:
            store.notice("registers", place, message)
        store.fill_frame("register_rows_left_out", pd.DataFrame(map(asdict, register.left_out)))
    _fill(store, registers, portfolio.settings)


def read_registers(portfolio: Portfolio) -> dict[str, Register]:
    """The four registers with their faults noted; a register without a file is empty.

    The rows of inventories in registers/ follow those of the CSVs.
    """
    zone = portfolio.settings.time_zone
    registers = {name: _read(name, portfolio.register_file(name), portfolio.settings) for name in REGISTERS}
    _add_inventories(registers, portfolio)
    _check_references(registers, portfolio.settings)
    _check_chains(registers["controls"])
    _check_dates(registers["controls"])
    _check_dates(registers["fixtures"])
    doubts = set_doubtful_aside({name: register.rows for name, register in registers.items()}, zone)
    for name, notices in doubts.items():
        registers[name].notices += notices
    return registers


def _add_inventories(registers: dict[str, Register], portfolio: Portfolio) -> None:
    """Rows of laid-out inventories, added to the registers they speak of."""
    try:
        inventories = read_inventories(portfolio)
    except InputFaults as error:
        registers["controls"].faults += error.faults
        return
    own = {name: register.rows for name, register in registers.items()}
    added = Adder(own, COLUMNS, lambda table, column, cell: COLUMNS[table][column](cell)).add(inventories)
    for name, register in registers.items():
        register.rows += added.rows[name]
        register.left_out += [one for one in added.left_out if one.register == name]
    registers["controls"].notices += added.notices


def _read(name: str, path: Path, settings: Settings) -> Register:
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


def _check_references(registers: dict[str, Register], settings: Settings) -> None:
    """An id named by another register must exist there, once that register exists at all."""
    links = (
        ("sites", "account_id", "accounts"),
        ("controls", "site_id", "sites"),
        ("controls", "switched_by", "controls"),
        ("fixtures", "control_id", "controls"),
        ("fixtures", "account_id", "accounts"),
    )
    for name, column, target in links:
        known = registers[target].ids()
        for row in registers[name].rows if known else ():
            if row[column] and row[column] not in known:
                registers[name].fault(
                    row, column, f"'{row[column]}' is not in {target}.csv.", "Add it there."
                )
    registers["sites"].faults += unknown_sites(settings, registers["sites"].ids())
    registers["accounts"].faults += unknown_accounts(settings, registers["accounts"].ids())
    for row in registers["accounts"].rows:
        if row["tariff"] and row["tariff"] not in settings.tariffs:
            remedy = f"Add [tariffs.{row['tariff']}] to portfolio.toml."
            registers["accounts"].fault(
                row, "tariff", f"'{row['tariff']}' is not a tariff of portfolio.toml.", remedy
            )


def _check_chains(controls: Register) -> None:
    rows = {row["control_id"]: row for row in controls.rows if row["control_id"]}
    for loop in loops({control_id: row["switched_by"] for control_id, row in rows.items()}):
        problem = f"the chain {' > '.join([*loop, loop[0]])} comes back to where it began."
        remedy = "Leave it empty at the device that carries the lamps' current."
        controls.fault(rows[loop[0]], "switched_by", problem, remedy)


def _check_dates(register: Register) -> None:
    for row in register.rows:
        if row["installed_on"] and row["removed_on"] and row["removed_on"] < row["installed_on"]:
            problem = f"{row['removed_on']} is before installed_on {row['installed_on']}."
            register.fault(row, "removed_on", problem, "Correct one of them.")


def _fill(store: Store, registers: dict[str, Register], settings: Settings) -> None:
    defaults = {"time_zone": settings.time_zone, "grid_region": settings.default_grid_region}
    sites = [
        row | {key: row[key] or value for key, value in defaults.items()} for row in registers["sites"].rows
    ]
    controls = with_places([_control(row) for row in registers["controls"].rows])
    missing = {row["site_id"] for row in controls} - {row["site_id"] for row in sites}
    sites += [dict.fromkeys(COLUMNS["sites"]) | defaults | {"site_id": site} for site in sorted(missing)]
    sites, notices = with_coordinates(sites, controls)
    for place, message in notices:
        store.notice("registers", place, message)
    _fill_rows(store, "sites", sites)
    _fill_rows(
        store,
        "accounts",
        [row | {"metered": row["metered"] is not False} for row in registers["accounts"].rows],
    )
    _fill_rows(store, "controls", controls)
    _fill_rows(store, "positions", positions(controls))
    bills = Bills(sites, registers["accounts"].rows, controls, settings)
    _fill_rows(store, "fixtures", [with_load(row, bills, settings) for row in registers["fixtures"].rows])


def _control(row: dict[str, Any]) -> dict[str, Any]:
    return row | {
        "voltage_v": row["voltage"],
        "switching": row["switching"] or "unknown",
        "quantity": row["quantity"] or 1,
    }


def _fill_rows(store: Store, table: str, rows: list[dict[str, Any]]) -> None:
    wanted = [
        name
        for (name,) in store.rows("SELECT column_name FROM duckdb_columns() WHERE table_name = ?", [table])
    ]
    frame = pd.DataFrame(rows, columns=sorted(set(wanted) & set(rows[0]))) if rows else pd.DataFrame()
    for column in frame.columns:
        if frame[column].map(lambda cell: isinstance(cell, datetime | date)).any():
            frame[column] = pd.to_datetime(frame[column])
    store.fill_frame(table, frame.astype({c: object for c in frame.columns if frame[c].isna().all()}))
