"""The register CSVs of a portfolio -> sites, accounts, positions, controls, fixtures.

Every row is checked by a small model that says what may stand in each column. All faults of all four
files are reported together; nothing is guessed and no row is dropped.
"""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime
from typing import Any

import pandas as pd

from pipeline.faults import InputFaults
from pipeline.ingest.register_rows import read_inventories
from pipeline.portfolio import REGISTERS, Portfolio
from pipeline.progress import Progress
from pipeline.register_checks import check_chains, check_dates, check_references
from pipeline.register_columns import COLUMNS
from pipeline.register_coordinates import with_coordinates
from pipeline.register_doubts import set_doubtful_aside
from pipeline.register_files import Register, read_register
from pipeline.register_inventories import Adder
from pipeline.register_loads import Bills, with_load
from pipeline.register_places import positions, with_places
from pipeline.settings import Settings
from pipeline.store import Store


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
    registers = {
        name: read_register(name, portfolio.register_file(name), portfolio.settings) for name in REGISTERS
    }
    _add_inventories(registers, portfolio)
    check_references(registers, portfolio.settings)
    check_chains(registers["controls"])
    check_dates(registers["controls"])
    check_dates(registers["fixtures"])
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
