"""windows.csv: the windows of record that a person has confirmed, several a site if need be."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path

from pipeline.faults import Fault, InputFaults
from pipeline.ingest import cells
from pipeline.store import Store
from pipeline.windows import SiteWindows, Span

FILE = "windows.csv"
HEADER = ("site_id", "observed_from", "observed_to")


@dataclass(frozen=True)
class ConfirmedWindow:
    """A row of windows.csv."""

    site_id: str
    span: Span
    row_number: int


def read_windows(path: Path, time_zone: str = "Etc/UTC") -> list[ConfirmedWindow]:
    """The confirmed windows, none without a file; raises InputFaults with every fault."""
    if not path.is_file():
        return []
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = [[cell.strip() for cell in row] for row in csv.reader(file, strict=True)]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputFaults.one(FILE, f"cannot be read ({error}).", "Save it as a UTF-8 CSV.") from error
    if not rows or tuple(rows[0]) != HEADER:
        raise InputFaults.one(FILE, "has another header.", f"Its first line is {','.join(HEADER)}.")
    body = [(number, row) for number, row in enumerate(rows[1:], start=2) if any(row)]
    with closing(Store.create()) as scratch:
        sides = [
            cells.days(
                scratch,
                [row[place] if len(row) > place and row[place] else None for _, row in body],
                time_zone,
            )[0]
            for place in (1, 2)
        ]
    faults: list[Fault] = []
    found: list[ConfirmedWindow] = []
    for (number, row), first, last in zip(body, *sides, strict=True):
        where = f"{FILE}, row {number}"
        if len(row) != len(HEADER) or not row[0] or first is None or last is None:
            faults.append(Fault(where, "needs a site and two days.", "Write site_id,YYYY-MM-DD,YYYY-MM-DD."))
        elif first > last:
            faults.append(
                Fault(where, f"ends on {last}, before it begins on {first}.", "Correct one of them.")
            )
        else:
            found.append(
                ConfirmedWindow(row[0], Span(date.fromisoformat(first), date.fromisoformat(last)), number)
            )
    faults += _overlaps(found)
    if faults:
        raise InputFaults(faults)
    return found


def _overlaps(windows: Sequence[ConfirmedWindow]) -> list[Fault]:
    ordered = sorted(windows, key=lambda one: (one.site_id, one.span.first))
    return [
        Fault(
            f"{FILE}, row {later.row_number}",
            f"overlaps row {earlier.row_number} of the same site.",
            "Make them one.",
        )
        for earlier, later in pairwise(ordered)
        if earlier.site_id == later.site_id and later.span.first <= earlier.span.last
    ]


def write_windows(path: Path, proposal: Iterable[SiteWindows]) -> int:
    """Add proposed windows to windows.csv; gives the rows written. What stands there already stays as it is."""
    kept = path.read_text(encoding="utf-8-sig") if path.is_file() else ",".join(HEADER) + "\n"
    lines = [f"{_quoted(one.site_id)},{span.first},{span.last}\n" for one in proposal for span in one.windows]
    if lines:
        partial = path.with_suffix(".partial")
        text = kept if kept.endswith("\n") else kept + "\n"
        partial.write_text(text + "".join(lines), encoding="utf-8", newline="")
        partial.replace(path)
    return len(lines)


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if any(mark in text for mark in ',"\n') else text
