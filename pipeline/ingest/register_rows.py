"""Inventories in registers/ -> rows of our registers, by their saved layouts; what cannot be used keeps its reason."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from pipeline.faults import Fault, InputFaults
from pipeline.ingest import cells
from pipeline.ingest.dates import DateEvidence
from pipeline.ingest.files import Export, open_exports
from pipeline.ingest.headers import ROWS_SEARCHED, Header, find_header, is_not_data
from pipeline.ingest.register_layouts import (
    DAYS,
    NUMBERS,
    RegisterLayout,
    read_register_layouts,
    register_words,
)
from pipeline.ingest.register_privacy import IDENTIFIERS, masked_rows
from pipeline.ingest.rows import rows_of
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio, as_typed
from pipeline.settings import Settings
from pipeline.store import Store


@dataclass
class LaidOutRow:
    """A row as our columns, canonical texts; ``unread``: cells that could not be read, by our column."""

    row_number: int
    cells: dict[str, str]
    unread: dict[str, str]
    raw: dict[str, str]


@dataclass
class Inventory:
    """One file of registers/ as read. ``years``: our date columns that give years alone, with the number of rows."""

    file_name: str
    layout: RegisterLayout
    rows: list[LaidOutRow] = field(default_factory=list)
    years: dict[str, int] = field(default_factory=dict)
    evidence: DateEvidence = field(default_factory=DateEvidence)

    @property
    def date_order(self) -> str:
        """How day and month are read, and on what that rests; empty where no date needs an order."""
        order = self.layout.date_order or self.evidence.decided()
        return self.evidence.statement(order) if self.evidence.needs_order else ""


def register_files(portfolio: Portfolio) -> list[Path]:
    """Every file in registers/, in a fixed order; hidden files are none."""
    folder = portfolio.folder / "registers"
    found = (path for path in folder.rglob("*") if path.is_file()) if folder.is_dir() else ()
    return sorted(path for path in found if not path.name.startswith((".", "~$")))


def read_inventories(portfolio: Portfolio) -> list[Inventory]:
    """Every inventory by its layout; raises InputFaults for files that cannot be read or that no layout describes."""
    paths = register_files(portfolio)
    if not paths:
        return []
    layouts = read_register_layouts(portfolio)
    faults: list[Fault] = []
    found: list[Inventory] = []
    with closing(Store.scratch()) as scratch:
        for path in paths:
            name = path.relative_to(portfolio.folder).as_posix()
            try:
                for export in open_exports(path, name):
                    found += _read(scratch, export, layouts, portfolio)
            except InputFaults as error:
                faults += error.faults
    if faults:
        raise InputFaults(faults)
    return found


def _read(
    store: Store, export: Export, layouts: dict[tuple[str, ...], RegisterLayout], portfolio: Portfolio
) -> Iterator[Inventory]:
    known = False
    for sheet in export.sheets or (None,):
        header = find_header(list(islice(rows_of(export, sheet), ROWS_SEARCHED)), layouts)
        if header:
            known = True
            yield read_inventory(store, export, sheet, header, layouts[header.labels], portfolio.settings)
    if not known:
        command = f"dayburn layout {as_typed(portfolio.folder)} {as_typed(export.path)} --as controls"
        raise InputFaults.one(
            export.name,
            "has a header that no saved layout of a register describes.",
            f"See how it would be read with `{command}` (or accounts, fixtures, sites), then add --accept.",
        )


def read_inventory(
    store: Store,
    export: Export,
    sheet: str | None,
    header: Header,
    layout: RegisterLayout,
    settings: Settings,
) -> Inventory:
    """One sheet's rows by a layout, people masked; raises InputFaults where the order of day and month is open."""
    numbers, rows = [], []
    for number, row in rows_of(export, sheet):
        if number > header.row_number and not is_not_data(row, header.labels, ()):
            numbers.append(number)
            rows.append([cell.strip() for cell in row])
    raw_rows = [
        {label: cell for label, cell in zip(header.labels, row, strict=False) if cell}
        for row in _without_people(rows, layout, settings)
    ]
    inventory = Inventory(export.name, layout)
    texts = {ours: [_joined(row, theirs) for row in raw_rows] for ours, theirs in layout.columns.items()}
    read = {
        ours: _canonical(store, inventory, ours, column, settings.time_zone, export.from_1904)
        for ours, column in texts.items()
    }
    for place, (number, raw) in enumerate(zip(numbers, raw_rows, strict=True)):
        laid_out = LaidOutRow(number, dict(layout.fixed), {}, raw)
        for ours, column in read.items():
            text, value = texts[ours][place], column[place]
            if value is not None:
                laid_out.cells[ours] = value
            elif text is not None:
                laid_out.unread[ours] = text
        inventory.rows.append(laid_out)
    return inventory


def _without_people(rows: list[list[str]], layout: RegisterLayout, settings: Settings) -> list[list[str]]:
    """The rows as they may be stored; a column that gives an identifier is one."""
    tags = {column for ours in IDENTIFIERS for column in layout.columns.get(ours, ())}
    places = {
        kind: [place for place, label in enumerate(layout.header) if label in columns]
        for kind, columns in (("tags", tags), ("withheld", layout.withheld))
    }
    return masked_rows(rows, settings.privacy, places["tags"], places["withheld"])


def _joined(row: dict[str, str], columns: tuple[str, ...]) -> str | None:
    return ", ".join(row[column] for column in columns if column in row) or None


def _canonical(
    store: Store, inventory: Inventory, ours: str, texts: list[str | None], time_zone: str, from_1904: bool
) -> list[str | None]:
    """A column's cells as the register's own texts: ISO days, plain numbers, our words."""
    layout = inventory.layout
    if ours in DAYS:
        read, evidence = cells.days(store, texts, time_zone, layout.date_order, from_1904)
        _check_order(inventory, ours, evidence.needs_order, layout.date_order or evidence.decided())
        inventory.evidence += evidence
        years = sum(map(cells.is_year, texts))
        inventory.years |= {ours: years} if years else {}
        return read
    if ours in NUMBERS:
        return cells.numbers(store, texts, layout.decimal_of(ours))
    if ours in register_words().values:
        meanings = register_words().values[ours] | {
            word.lower(): meaning for word, meaning in layout.values.get(ours, {}).items()
        }
        # A lamp may be any text; of the others only known words mean something.
        return [meanings.get(t.lower(), t if ours == "lamp" else None) if t else None for t in texts]
    return list(texts)


def _check_order(inventory: Inventory, ours: str, needs_order: bool, order: str | None) -> None:
    if needs_order and order is None:
        raise InputFaults.one(
            f"{inventory.file_name}, {ours}",
            "has dates such as 03/04 that could be read month first or day first, and none that decides it.",
            f'Put date_order = "month first" or "day first" into layouts/{inventory.layout.name}.toml.',
        )


def remarks_on(inventory: Inventory) -> list[str]:
    """What a person should know of an inventory: ages absent, unread cells, years alone, order of dates."""
    rows, table = inventory.rows, inventory.layout.table
    said = [f"dates are read {inventory.date_order}."] if inventory.date_order else []
    if table in ("controls", "fixtures"):
        undated = sum("installed_on" not in row.cells for row in rows)
        if undated:
            said.append(
                f"{count_text(undated)} of {count_text(len(rows))} rows have no usable installed_on: no age can be had "
                f"from {'them' if undated < len(rows) else 'this file'}."
            )
    for ours, count in inventory.years.items():
        said.append(f"{count_text(count)} cells of {ours} give a year alone: taken as 1 July of it.")
    unread = {ours for row in rows for ours in row.unread}
    for ours in sorted(unread):
        odd = [row for row in rows if ours in row.unread]
        column = f"column {' + '.join(inventory.layout.columns[ours])} ({ours})"
        said.append(
            f"{column}: {count_text(len(odd))} cells cannot be read "
            f"(such as '{odd[0].unread[ours][:40]}' in row {odd[0].row_number}); left empty."
        )
    return said
