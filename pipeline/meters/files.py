"""What a meter file is: a text table with one row an interval, and these columns: account, start, reading."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Literal

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.files import Export, open_exports
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio

FORM = (
    "A meter file is a CSV with one row an interval and the columns account_id, interval_start "
    "(2024-01-31 00:15, local, or 2024-01-31T00:15-07:00) and kwh (energy of the interval) or kw (its mean load)."
)
UNITS = ("kwh", "kw")
_COLUMNS = ("account_id", "interval_start")
_FIRST_LINES = 30
_MANY_COLUMNS = 24  # a table with a column per hour of the day has more


@dataclass(frozen=True)
class MeterFile:
    """A meter file that can be read. ``places``: where its columns stand, from 1; ``width``: columns in all."""

    export: Export
    unit: Literal["kwh", "kw"]
    places: dict[str, int]
    width: int
    header_row: int
    unused: tuple[str, ...]


def open_meter_files(portfolio: Portfolio) -> tuple[list[MeterFile], list[tuple[str, str]]]:
    """Every file of meters/, and what a person should know of them (place, sentence); raises InputFaults with all
    faults found."""
    found: list[MeterFile] = []
    told: list[tuple[str, str]] = []
    faults: list[Fault] = []
    for path in portfolio.meter_files():
        name = path.relative_to(portfolio.folder).as_posix()
        try:
            for export in open_exports(path, name):
                twin = next((one.export for one in found if one.export.sha256 == export.sha256), None)
                if twin:
                    told.append((export.name, f"is the same file as {twin.name}, byte for byte; read once."))
                else:
                    found.append(_meter_file(export))
        except InputFaults as error:
            faults += error.faults
    if faults:
        raise InputFaults(faults)
    told += [(one.export.name, f"columns not used: {', '.join(one.unused)}.") for one in found if one.unused]
    return found, told


def lines_of(export: Export) -> Iterator[str]:
    """The lines of a text file as they stand, without their ends."""
    assert export.text is not None
    with export.path.open(encoding=export.text.encoding) as file:
        for line in file:
            yield line.rstrip("\n")


def _meter_file(export: Export) -> MeterFile:
    if export.text is None:
        kind = "a workbook" if export.kind == "workbook" else "JSON"
        raise InputFaults.one(export.name, f"is {kind}.", f"Save it as CSV. {FORM}")
    first = 1 + export.text.stated_delimiter
    numbered = list(enumerate(islice(lines_of(export), _FIRST_LINES), start=1))
    row, line = next(((row, line) for row, line in numbered if row >= first and line.strip()), (first, ""))
    heads = [cell.strip(' "').lower().replace(" ", "_") for cell in line.split(export.text.delimiter)]
    units = [unit for unit in UNITS if heads.count(unit) == 1]
    if len(units) != 1 or any(heads.count(name) != 1 for name in _COLUMNS):
        raise InputFaults.one(f"{export.name}, row {row}", _not_the_form(heads), FORM)
    unit: Literal["kwh", "kw"] = "kwh" if units[0] == "kwh" else "kw"
    places = {name: heads.index(name) + 1 for name in (*_COLUMNS, unit)}
    unused = tuple(head for head in heads if head and head not in places)
    return MeterFile(export, unit, places, len(heads), row, unused)


def _not_the_form(heads: list[str]) -> str:
    """What is wrong with a header, in one sentence."""
    if len(heads) > _MANY_COLUMNS:
        return f"has {count_text(len(heads))} columns, as if each time of day had its own."
    if all(unit in heads for unit in UNITS):
        return "has both kwh and kw: keep one."
    twice = [name for name in (*_COLUMNS, *UNITS) if heads.count(name) > 1]
    if twice:
        return f"has the column {twice[0]} twice."
    return f"has the columns {', '.join(heads)}."


def decoded_copy(meter_file: MeterFile, folder: Path) -> Path:
    """The file itself where it is UTF-8 and its path no pattern of paths, else a UTF-8 copy in a folder."""
    form = meter_file.export.text
    assert form is not None
    if form.encoding in ("utf-8", "utf-8-sig") and not set("*?[") & set(str(meter_file.export.path)):
        return meter_file.export.path
    copy = folder / "readings.csv"
    with copy.open("w", encoding="utf-8") as file:
        file.writelines(f"{line}\n" for line in lines_of(meter_file.export))
    return copy
