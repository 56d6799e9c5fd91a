"""The work orders as two systems exported them: an older CSV and a newer workbook, each with its habits."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import numpy as np
import xlsxwriter

from demo_data.events import Call
from demo_data.model import OVERLAP_START, SWITCHOVER, day_of, moment_of
from demo_data.names import DISTRICT, GIVEN, SURNAMES, phone

OLD_COLUMNS = (
    "WO NO",
    "STATUS",
    "WO TYPE",
    "DATE REQ",
    "DATE COMP",
    "LOC",
    "ASSET",
    "REQUESTOR",
    "PHONE",
    "CRAFT",
    "PROB CODE",
    "DESCRIPTION",
    "WORK DONE",
    "HRS",
    "LABOR $",
    "MATL $",
    "CONTR $",
)
NEW_COLUMNS = (
    "Request ID",
    "State",
    "Building",
    "Equipment Tag",
    "Location Detail",
    "Category",
    "Type",
    "Created On",
    "Closed On",
    "Problem Description",
    "Resolution Notes",
    "Hours",
    "Labor Cost",
    "Parts Cost",
    "Vendor Invoice",
    "Requested By",
    "Assigned To",
)
_OLD_STATUS = {"open": "OPEN", "completed": "CLOSED", "cancelled": "VOID"}
_NEW_STATUS = {"open": "In Progress", "completed": "Complete", "cancelled": "Cancelled"}
_OLD_TYPE = {"reactive": "CM", "planned": "PM", "inspection": "INSP", "project": "PROJ"}
_NEW_TYPE = {
    "reactive": "Reactive",
    "planned": "Preventive",
    "inspection": "Inspection",
    "project": "Project",
}
Cells = list[object]


@dataclass(frozen=True)
class ExportFile:
    """One export: calls reported from ``first`` up to ``exported``, and older ones unfinished at the export before."""

    name: str
    first: date
    exported: date
    layout: str


FILES = (
    ExportFile("work_orders_2018-2019.csv", date(2018, 1, 1), date(2020, 1, 1), "older"),
    ExportFile("work_orders_2020-2021.csv", date(2020, 1, 1), date(2022, 1, 1), "older"),
    ExportFile("work_orders_2022_first_half.csv", date(2022, 1, 1), SWITCHOVER, "older"),
    ExportFile("requests_2022-2023.xlsx", OVERLAP_START, date(2024, 1, 1), "newer"),
    ExportFile("requests_2024-2025.xlsx", date(2024, 1, 1), date(2026, 1, 1), "newer"),
)


def rows_of(file: ExportFile, calls: list[Call]) -> list[tuple[Call, bool]]:
    """The calls that stand in an export, and whether each was finished by then."""
    first, exported = float(day_of(file.first)), float(day_of(file.exported))
    rows = []
    for call in calls:
        carried = call.reported < first and (call.closed is None or call.closed >= first)
        if call.reported < exported and (call.reported >= first or carried):
            rows.append((call, call.closed is not None and call.closed < exported))
    return rows


def write_exports(folder: Path, calls: list[Call], seed: int) -> dict[str, list[Call]]:
    """Write every export; returns the calls in each file, row by row, exact repeats included."""
    written = {}
    for number, file in enumerate(FILES):
        rng = np.random.default_rng([seed, 6, number])
        cells_of: Callable[[Call, bool, np.random.Generator], Cells] = (
            _old_cells if file.layout == "older" else _new_cells
        )
        pairs = rows_of(file, calls)
        table = [(call, cells_of(call, finished, rng)) for call, finished in pairs]
        _repeat_rows(table, rng)
        _spoil_rows(table, file.layout, rng)
        write = _write_old if file.layout == "older" else _write_new
        write(folder / file.name, [cells for _, cells in table], file)
        written[file.name] = [call for call, _ in table]
    return written


def _repeat_rows(table: list[tuple[Call, Cells]], rng: np.random.Generator) -> None:
    """A few rows stand twice, word for word."""
    for _ in range(9):
        at = int(rng.integers(len(table)))
        table.insert(at, (table[at][0], list(table[at][1])))


def _spoil_rows(table: list[tuple[Call, Cells]], layout: str, rng: np.random.Generator) -> None:
    """Impossible completion dates on a few rows, and no report date at all on two of other trades."""
    reported, closed = (3, 4) if layout == "older" else (7, 8)
    for call, cells in table:
        draw = rng.random()
        if call.closed is None or not cells[closed] or draw >= 0.004:
            continue
        call.oddity = call.oddity or "impossible completion date"
        if draw < 0.0022:
            wrong: float | datetime = call.reported - float(rng.uniform(2, 40))
        else:
            wrong = datetime(1900, 1, 1) if draw < 0.003 else moment_of(call.closed).replace(year=2105, day=1)
        moment = moment_of(wrong) if isinstance(wrong, float) else wrong
        cells[closed] = _us(moment) if layout == "older" else f"{moment:%Y-%m-%d %H:%M}"
    plain = [n for n, (call, _) in enumerate(table) if not call.exterior_lighting]
    for at in rng.choice(plain, 2, replace=False):
        table[int(at)][1][reported] = ""
        table[int(at)][0].oddity = "no report date"


def person(number: int) -> str:
    """An invented person's name."""
    return f"{GIVEN[number % len(GIVEN)]} {SURNAMES[number // len(GIVEN) % len(SURNAMES)]}"


def _us(moment: datetime) -> str:
    half = "PM" if moment.hour >= 12 else "AM"
    return f"{moment.month}/{moment.day}/{moment.year} {moment.hour % 12 or 12}:{moment:%M} {half}"


def _dollars(amount: float) -> str:
    return f"${amount:,.2f}" if amount else ""


def _old_cells(call: Call, finished: bool, rng: np.random.Generator) -> Cells:
    spoken = call.place_text and f" @ {call.place_text}"
    cells: Cells = [
        call.number,
        _OLD_STATUS[call.status if finished else "open"],
        _OLD_TYPE[call.work_type],
        _us(moment_of(call.reported)),
        _us(moment_of(call.closed)) if finished and call.closed is not None else "",
        call.site_text.upper(),
        call.tag_text.upper(),
        person(call.requester).upper(),
        phone(call.requester),
        call.trade,
        call.category,
        (call.problem + spoken).upper(),
    ]
    if finished:
        return [
            *cells,
            call.action_text.upper(),
            f"{call.hours:g}",
            _dollars(call.labour),
            _dollars(call.parts),
            _dollars(call.contract),
        ]
    return [*cells, "", "", "", "", ""]


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _new_cells(call: Call, finished: bool, rng: np.random.Generator) -> Cells:
    created: object = moment_of(call.reported)
    closed: object = moment_of(call.closed) if finished and call.closed is not None else ""
    if rng.random() < 0.08:
        created, closed = (
            f"{cell:%Y-%m-%d %H:%M}" if isinstance(cell, datetime) else cell for cell in (created, closed)
        )
    cells: Cells = [
        call.number,
        _NEW_STATUS[call.status if finished else "open"],
        call.site_text,
        call.tag_text,
        call.place_text,
        call.category.title(),
        _NEW_TYPE[call.work_type],
        created,
        closed,
        _sentence(call.problem),
    ]
    people = [person(call.requester), f"Crew {'ABCDEF'[call.technician]}"]
    if finished:
        return [
            *cells,
            _sentence(call.action_text),
            call.hours,
            call.labour,
            call.parts,
            call.contract or "",
            *people,
        ]
    return [*cells, "", "", "", "", "", *people]


def _write_old(path: Path, rows: list[Cells], file: ExportFile) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\r\n")
        writer.writerow(OLD_COLUMNS)
        writer.writerows(rows)


def _write_new(path: Path, rows: list[Cells], file: ExportFile) -> None:
    with xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False}) as book:
        book.set_properties({"title": "Facility requests", "created": datetime(2026, 1, 2, 8, 0)})
        sheet, stamp = book.add_worksheet("Requests"), book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        sheet.write_string(0, 0, f"{DISTRICT} - facility requests")
        sheet.write_string(
            1, 0, f"Requests created {file.first:%Y-%m-%d} to {file.exported:%Y-%m-%d}, all trades"
        )
        sheet.write_row(3, 0, NEW_COLUMNS)
        for number, cells in enumerate(rows, start=4):
            for column, cell in enumerate(cells):
                if isinstance(cell, datetime):
                    sheet.write_datetime(number, column, cell, stamp)
                elif cell != "":
                    sheet.write(number, column, cell)
        sheet.write_string(len(rows) + 4, 0, "Total")
        sheet.write_number(len(rows) + 4, 1, len(rows))
        for column in (11, 12, 13, 14):
            sheet.write_number(len(rows) + 4, column, round(sum(float(str(r[column] or 0)) for r in rows), 2))
