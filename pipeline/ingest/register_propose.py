"""Proposing how an inventory is read as a register: columns by name and values, shown before it is saved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

from pipeline.faults import Fault, InputFaults
from pipeline.ingest import cells
from pipeline.ingest.date_forms import DateOrder
from pipeline.ingest.files import Export, open_export
from pipeline.ingest.headers import ROWS_SEARCHED, Header, find_header, guess_header, no_header
from pipeline.ingest.known import read_known
from pipeline.ingest.layouts import name_from
from pipeline.ingest.masking import Masker
from pipeline.ingest.numbers import Decimals
from pipeline.ingest.proposal import columns_left, settled
from pipeline.ingest.propose import order_said
from pipeline.ingest.register_layouts import (
    DAYS,
    NUMBERS,
    RegisterLayout,
    RegisterName,
    known_columns,
    needed,
    read_register_layouts,
    register_words,
)
from pipeline.ingest.register_match import ColumnMatch, Table, columns_of_people, match_columns
from pipeline.ingest.register_rows import read_inventory, remarks_on
from pipeline.ingest.rows import rows_of
from pipeline.ingest.synonyms import Synonyms, read_synonyms
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio
from pipeline.settings import Privacy
from pipeline.store import Store


@dataclass(frozen=True)
class RegisterProposal:
    """How an inventory would be read. ``needs``: what a person must still decide before it can be saved.

    ``order_open``: the order of day and month is among it.
    """

    file: Path
    draft: RegisterLayout
    matches: tuple[ColumnMatch, ...]
    needs: tuple[Fault, ...]
    rows: int
    remarks: tuple[str, ...]
    read_as: str
    order_open: bool = False

    @property
    def layout(self) -> RegisterLayout:
        """The layout to save; raises InputFaults with ``needs`` while there are any."""
        return settled(self.draft, self.needs)

    def lines(self) -> list[str]:
        """The proposal as plain lines for a terminal."""
        draft = self.draft
        shown = [
            f"{self.file.name}: {self.read_as}, {count_text(self.rows)} rows",
            f"layout '{draft.name}', to be read as {draft.table}",
            "",
            f"  {'our column':<20} {'their column':<28} {'sure':<9} examples",
        ]
        for match in self.matches:
            basis = f" ({match.why})" if match.why else ""
            examples = " ¦ ".join(match.examples)
            shown.append(
                f"  {match.ours:<20} {match.theirs[:28]:<28} {match.confidence_word:<9} {examples}{basis}"
            )
        shown += [f"  {ours:<20} {'(every row)':<28} {'':<9} {value}" for ours, value in draft.fixed.items()]
        missing = [c for c in known_columns(draft.table) if c not in draft.columns and c not in draft.fixed]
        shown += columns_left(missing, draft)
        shown += [f"  to know: {remark}" for remark in self.remarks]
        return [*shown, *(f"  to decide: {need}" for need in self.needs)]


def propose_register(
    path: Path,
    portfolio: Portfolio,
    register: RegisterName,
    date_order: str | None = None,
    columns: Mapping[str, Sequence[str]] | None = None,
) -> RegisterProposal:
    """Propose how an inventory is read as one of the registers; nothing is saved.

    ``columns``: our columns that a person names. Raises InputFaults for a file that cannot be read.
    """
    export, words = open_export(path), read_synonyms()
    saved = read_register_layouts(portfolio)
    sheet, header = _find_table(export, register, words, set(saved))
    table = Table(export, sheet, header)
    if not table.rows:
        raise InputFaults.one(export.name, "has a header but no rows.", "Export it again.")
    order = order_said(date_order)
    old = saved.get(header.labels)
    matches = match_columns(table, register, words, read_known(portfolio), dict(columns or {}), old)
    draft = _draft(table, register, matches, portfolio, order, old)
    with closing(Store.scratch()) as scratch:
        draft = draft if old else _with_decimals(scratch, table, draft)
        draft, needs = _with_order(scratch, table, draft, order)
        order_open = bool(needs) and draft.date_order is None and order is None
        needs += _missing(export.name, draft)
        remarks: list[str] = []
        if not needs:
            inventory = read_inventory(scratch, export, sheet, header, draft, portfolio.settings)
            remarks = remarks_on(inventory)
        matches = _masked(scratch, matches)
    where = f"sheet '{sheet}', " if sheet else ""
    return RegisterProposal(
        path, draft, tuple(matches), tuple(needs), len(table.rows), tuple(remarks),
        f"{where}header in row {header.row_number}", order_open,
    )  # fmt: skip


def _masked(scratch: Store, matches: Sequence[ColumnMatch]) -> list[ColumnMatch]:
    """The matches with masked examples: e-mail addresses, telephone numbers and names beside them."""
    shown = [example for match in matches for example in match.examples]
    masked = iter(Masker(scratch, Privacy(), (), ()).masked_texts(shown))
    return [replace(match, examples=tuple(next(masked) for _ in match.examples)) for match in matches]


def _find_table(
    export: Export, register: str, words: Synonyms, known: set[tuple[str, ...]]
) -> tuple[str | None, Header]:
    names = {name for several in register_words().names[register].values() for name in several}
    for sheet in export.sheets or (None,):
        first_rows = list(islice(rows_of(export, sheet), ROWS_SEARCHED))
        header = find_header(first_rows, known) or guess_header(first_rows, names)
        if header:
            return sheet, header
    raise no_header(export.name, objects=export.json is not None)


def _draft(
    table: Table,
    register: RegisterName,
    matches: Sequence[ColumnMatch],
    portfolio: Portfolio,
    order: DateOrder | None,
    saved: RegisterLayout | None,
) -> RegisterLayout:
    columns: dict[str, tuple[str, ...]] = {}
    for match in matches:
        columns[match.ours] = (*columns.get(match.ours, ()), match.theirs)
    if saved:
        used = {match.theirs for match in matches}
        withheld = tuple(column for column in saved.withheld if column not in used)
        return saved.model_copy(update={"columns": columns, "withheld": withheld})
    fixed = {}
    if register == "fixtures":
        if "luminaires" not in columns:
            fixed["luminaires"] = "1"
        if "watts_each" in columns and "watts_basis" not in columns:
            fixed["watts_basis"] = _basis(columns["watts_each"][0])
    return RegisterLayout(
        name=_free_name(portfolio, name_from(table_name(table, register)), table.labels),
        register=register,
        header=table.labels,
        date_order=order,
        withheld=columns_of_people(table, read_synonyms(), {match.theirs for match in matches}),
        columns=columns,
        fixed=fixed,
        derive_controls=register == "fixtures" and "control_id" in columns,
    )


def table_name(table: Table, register: str) -> str:
    """What a register's layout is called."""
    return f"{register} inventory"


def _basis(column: str) -> str:
    """Whether watts are the lamp's or what the luminaire draws, as far as the column's name says."""
    name = column.lower()
    return (
        "lamp"
        if "lamp" in name or "bulb" in name
        else "input"
        if "input" in name or "system" in name
        else "unknown"
    )


def _free_name(portfolio: Portfolio, wanted: str, header: tuple[str, ...]) -> str:
    taken = {path.stem for path in portfolio.layouts.glob("*.toml")} if portfolio.layouts.is_dir() else set()
    name, number = wanted, 2
    while name in taken:
        name, number = f"{wanted}-{number}", number + 1
    return name


def _with_decimals(store: Store, table: Table, draft: RegisterLayout) -> RegisterLayout:
    signs = {
        ours: cells.decimal_of(store, table.columns[theirs[0]])
        for ours, theirs in draft.columns.items()
        if ours in NUMBERS
    }
    decimals = Decimals.of(signs)
    return draft.model_copy(update={"decimal": decimals.usual, "decimals": decimals.others})


def _with_order(
    store: Store, table: Table, draft: RegisterLayout, given: DateOrder | None
) -> tuple[RegisterLayout, list[Fault]]:
    """The draft with the order of day and month, where any date needs one; or what must be decided."""
    needs: list[Fault] = []
    for ours, theirs in draft.columns.items():
        if ours not in DAYS:
            continue
        _, evidence = cells.days(store, table.columns[theirs[0]], "Etc/UTC")
        proven = evidence.decided()
        if evidence.needs_order and not proven and not (given or draft.date_order):
            needs.append(Fault(
                theirs[0],
                "has dates such as 03/04 that could be read month first or day first, and none that decides it.",
                "Say which: add `--date-order MDY` (month first) or `--date-order DMY` (day first) to the command.",
            ))  # fmt: skip
        elif evidence.needs_order and given and proven and proven != given:
            needs.append(
                Fault(theirs[0], f"is not {given}: some dates fit only {proven}.", "Leave --date-order out.")
            )
        elif evidence.needs_order:
            draft = draft.model_copy(update={"date_order": given or draft.date_order or proven})
    return draft, needs


def _missing(name: str, draft: RegisterLayout) -> list[Fault]:
    return [
        Fault(name, f"no column was recognised as {key}.",
              f"Say which one it is: add `--column {key}='THEIR COLUMN'` to the command.")
        for key in needed(draft.table)
        if key not in draft.columns and key not in draft.fixed
    ]  # fmt: skip
