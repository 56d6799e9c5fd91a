"""decisions.csv, read and written. Append-only: nothing but this module writes it, and no build does."""

from __future__ import annotations

import csv
import io
import os
import threading
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from pipeline.decisions import Decision, wrong_terms
from pipeline.faults import Fault, InputFaults
from pipeline.pages import read_page

COLUMNS = ("when", "who", "target", "key", "field", "value", "why")
_LONGEST = 30_000  # characters of a cell: a spreadsheet cuts longer ones
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
_one_writer = threading.Lock()


def read_decisions(path: Path) -> list[Decision]:
    """Every row of decisions.csv, in order; none where there is no file. Raises InputFaults with all its faults."""
    if not path.is_file():
        return []
    records = _records(path)
    if not records:
        return []
    if [name.strip() for name in records[0][1]] != list(COLUMNS):
        raise InputFaults.one(
            f"{path.name}, row 1",
            f"is not the header of decisions (found: {', '.join(records[0][1])}).",
            f"It must read {','.join(COLUMNS)}.",
        )
    decisions: list[Decision] = []
    faults: list[Fault] = []
    for number, cells in records[1:]:
        found = _decision(path.name, number, cells)
        if isinstance(found, Decision):
            decisions.append(found)
        else:
            faults += found
    if faults:
        raise InputFaults(faults)
    return decisions


def append_decisions(path: Path, decisions: Iterable[Decision]) -> None:
    """Add rows at the end, all of them or none; makes the file with its header where there is none.

    Raises InputFaults, and writes nothing, where a row could not be read back or the file itself cannot be read.
    """
    decisions = list(decisions)
    lines = [_cells(decision) for decision in decisions]
    with _one_writer:
        number = len(read_decisions(path)) + 2
        faults = [
            fault
            for at, cells in enumerate(lines, start=number)
            for fault in _faults(path.name, at, _read_back(cells))
        ]
        if faults:
            raise InputFaults(faults)
        _append(path, lines)


def _append(path: Path, lines: list[list[str]]) -> None:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    with path.open("ab") as file:
        before = file.seek(0, os.SEEK_END)
        if before == 0:
            text.write("\ufeff")  # by which a spreadsheet knows UTF-8
            writer.writerow(COLUMNS)
        elif path.read_bytes()[-1:] not in (b"\n", b"\r"):
            text.write("\n")
        writer.writerows(lines)
        try:
            file.write(text.getvalue().encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        except OSError:
            os.truncate(path, before)  # half a row is worse than none
            raise


def _cells(decision: Decision) -> list[str]:
    when = decision.when.replace(tzinfo=None, microsecond=0).isoformat(" ")
    texts = (decision.who, decision.target, decision.key, decision.field, decision.value, decision.why)
    return [when, *(guarded(" ".join(text.split())) for text in texts)]


def guarded(text: str) -> str:
    """Text that a spreadsheet would run as a formula, with an apostrophe before it; ``unguarded`` undoes it."""
    return f"'{text}" if text.startswith((*_FORMULA_STARTS, "'")) else text


def unguarded(text: str) -> str:
    """What ``guarded`` was given."""
    return text[1:] if text.startswith("'") and text[1:].startswith((*_FORMULA_STARTS, "'")) else text


def _read_back(cells: Sequence[str]) -> list[str]:
    return [unguarded(cell.strip()).strip() for cell in cells]


def _records(path: Path) -> list[tuple[int, list[str]]]:
    """Records with their number; blank ones are no rows but are counted."""
    try:
        rows = list(csv.reader(io.StringIO(read_page(path), newline=""), strict=True))
    except csv.Error as error:
        raise InputFaults.one(
            path.name, f"is no plain CSV: {error}.", "Save it as CSV, separated by commas."
        ) from error
    return [(number, cells) for number, cells in enumerate(rows, start=1) if any(c.strip() for c in cells)]


def _decision(file: str, number: int, cells: Sequence[str]) -> Decision | list[Fault]:
    cells = _read_back(cells)
    faults = list(_faults(file, number, cells))
    if faults:
        return faults
    when, who, target, key, field, value, why = cells
    moment = datetime.fromisoformat(when).replace(tzinfo=None)
    decision = Decision(moment, who, target, key, field, value, why, number)
    known = decision.field in ("is_lighting", "control_failed", "symptom")
    return replace(decision, value=decision.value.lower()) if known else decision


def _faults(file: str, number: int, cells: Sequence[str]) -> Iterator[Fault]:
    if len(cells) != len(COLUMNS):
        yield Fault(
            f"{file}, row {number}",
            f"has {len(cells)} cells instead of {len(COLUMNS)}.",
            "Put text that holds a comma in quotation marks.",
        )
        return
    row = dict(zip(COLUMNS, cells, strict=True))

    def fault(column: str, problem: str, remedy: str) -> Fault:
        return Fault(f"{file}, row {number}, column {column}", problem, remedy)

    try:
        datetime.fromisoformat(row["when"])
    except ValueError:
        yield fault("when", f"'{row['when']}' is no date and time.", "Write it as 2024-05-31 14:30.")
    needed = ("who", "key", *(("why",) if row["value"] else ()))
    for column in needed:
        if not row[column]:
            yield fault(column, "is empty.", "Every decision names its key, who decided and why.")
    for column, text in row.items():
        if len(text) > _LONGEST or "\0" in text:
            yield fault(column, "is too long, or holds a null character.", "Shorten it.")
    yield from (fault(*wrong) for wrong in wrong_terms(row))
