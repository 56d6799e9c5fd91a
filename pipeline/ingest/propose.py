"""Proposing a layout: which of an export's columns is which of our fields, shown with samples before it is saved."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import closing
from dataclasses import replace
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.date_forms import DATE_ORDERS, DateOrder
from pipeline.ingest.dates import DateEvidence
from pipeline.ingest.evidence import compare_dates
from pipeline.ingest.fields import CHOICES, NUMBERS
from pipeline.ingest.files import Export, open_export
from pipeline.ingest.headers import ROWS_SEARCHED, Header, find_header, guess_header, no_header
from pipeline.ingest.known import read_known
from pipeline.ingest.layouts import Layout, free_name, name_from, read_layouts, write_layout
from pipeline.ingest.load import load_rows
from pipeline.ingest.masking import Masker
from pipeline.ingest.match import Matched, match_columns
from pipeline.ingest.numbers import Decimals, proven_decimal
from pipeline.ingest.profile import ColumnProfile, profile_columns
from pipeline.ingest.proposal import LayoutProposal
from pipeline.ingest.read import limit_memory
from pipeline.ingest.reading import read_file_evidence
from pipeline.ingest.remnants import without_remnants
from pipeline.ingest.rows import rows_of
from pipeline.ingest.synonyms import Synonyms, read_synonyms
from pipeline.ingest.texts import text_sql
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio
from pipeline.settings import Privacy
from pipeline.store import Store


def propose_layout(
    path: Path,
    portfolio: Portfolio,
    date_order: str | None = None,
    columns: Mapping[str, list[str]] | None = None,
    source: str | None = None,
) -> LayoutProposal:
    """Propose how an export's columns are read; nothing is saved.

    ``date_order``: "MDY" or "month first", "DMY" or "day first", for a file that leaves it open.
    ``columns``: fields whose columns a person names; the rest is proposed. ``source``: the work-order system, where
    another layout speaks for the same one. A layout already saved for the header is kept as it is, but for what is
    given here and for values it does not know yet. Raises InputFaults for a file that cannot be read.
    """
    export, synonyms = open_export(path), read_synonyms()
    layouts = read_layouts(portfolio)
    sheet, header = _find_table(export, synonyms, set(layouts))
    with closing(Store.scratch()) as scratch, TemporaryDirectory(prefix="dayburn-") as spill:
        limit_memory(scratch, spill)
        counts = load_rows(scratch, export, sheet, header, report_columns=())
        if not counts.rows_read:
            raise InputFaults.one(export.name, "has a header but no rows.", "Export it again.")
        profiles = profile_columns(scratch, header.labels, synonyms, read_known(portfolio))
        saved = layouts.get(header.labels)
        given = {field: list(names) for field, names in saved.columns.items()} if saved else {}
        matched = match_columns(
            profiles,
            synonyms,
            given | dict(columns or {}),
            only_given=saved is not None,
            pairs=compare_dates(scratch, profiles, header.labels),
            rows=counts.rows_read,
            serials=export.kind == "workbook",
        )
        name = free_name(name_from(export.name), layouts.values(), header.labels)
        draft = _draft(scratch, header, matched, name, synonyms, saved)
        if source:
            draft = draft.model_copy(update={"source": source})
        reading = read_file_evidence(scratch, draft, export.kind == "workbook")
        evidence = reading.all_dates
        draft, needs = _with_order(export, draft, evidence, order_said(date_order))
        needs += _missing(export, draft)
        unknown = {
            field: _unknown_values(scratch, draft, field, synonyms)
            for field in CHOICES
            if field in draft.columns
        }
        masked, unknown = _masked_samples(scratch, draft, profiles, unknown)
    where = f"sheet '{sheet}', " if sheet else ""
    return LayoutProposal(
        file_name=export.name,
        draft=draft,
        matches=matched.matches,
        profiles=masked,
        date_statement=replace(reading, layout=draft).statement(),
        read_as=f"{export.form}, {where}header in row {header.row_number}, "
        f"{count_text(counts.rows_read)} rows",
        needs=tuple(needs),
        unknown_values={field: values for field, values in unknown.items() if values},
        order_open=evidence.needs_order and draft.date_order is None,
    )


def save_layout(portfolio: Portfolio, layout: Layout) -> Path:
    """Save a layout in the portfolio's layouts/; raises InputFaults when it cannot be used."""
    return write_layout(portfolio, layout)


def order_said(said: str | None) -> DateOrder | None:
    """The order of day and month that a person gave."""
    orders: dict[str, DateOrder | None] = {"": None, "YMD": None, "MDY": "month first", "DMY": "day first"}
    orders |= {order.upper(): order for order in DATE_ORDERS}
    if (said or "").upper() not in orders:
        raise InputFaults.one(
            "--date-order", f"'{said}' is no order.", "Give MDY (month first) or DMY (day first)."
        )
    return orders[(said or "").upper()]


def _find_table(export: Export, synonyms: Synonyms, known: set[tuple[str, ...]]) -> tuple[str | None, Header]:
    """The sheet (of a workbook) and header: one already known, else the likeliest by the names of columns."""
    names = synonyms.names()
    best: tuple[float, str | None, Header] | None = None
    for sheet in export.sheets or (None,):
        first_rows = list(islice(rows_of(export, sheet), ROWS_SEARCHED))
        header = find_header(first_rows, known)
        if header:
            return sheet, header
        header = guess_header(first_rows, {name.replace("work order", "wo") for name in names} | names)
        if header:
            score = sum(synonyms.plain(label) in names for label in header.labels) + len(header.labels) / 1000
            if best is None or score > best[0]:
                best = (score, sheet, header)
    if best is None:
        raise no_header(export.name, objects=export.json is not None)
    return best[1], best[2]


def _draft(
    store: Store, header: Header, matched: Matched, name: str, synonyms: Synonyms, saved: Layout | None
) -> Layout:
    """The layout, the meanings of the file's own values written out in it; a saved one keeps what it says."""
    fresh = Layout(
        name=name,
        source=name,
        header=header.labels,
        columns=matched.columns(),
        withheld=matched.withheld,
        technicians=matched.technicians,
    )
    draft = saved.model_copy(update={"columns": matched.columns()}) if saved else fresh
    values = {}
    for field in CHOICES:
        meanings = synonyms.meanings(field)
        known = {
            value: meanings[value.lower()]
            for value in _values(store, draft, field)
            if value.lower() in meanings
        }
        if known:
            values[field] = known
    if saved:
        values = {
            field: values.get(field, {}) | saved.values.get(field, {}) for field in {*values, *saved.values}
        }
        return draft.model_copy(update={"values": values})
    decimals = Decimals.of(
        {
            field: proven_decimal(store, "raw", text_sql(draft, field))
            for field in NUMBERS
            if field in draft.columns
        }
    )
    return draft.model_copy(update={"decimal": decimals.usual, "decimals": decimals.others, "values": values})


def _values(store: Store, draft: Layout, field: str) -> list[str]:
    """The distinct values of a choice's column, commonest first, at most 60."""
    if field not in draft.columns:
        return []
    text = rf"regexp_replace(trim({text_sql(draft, field)}), '\s+', ' ', 'g')"
    found = store.rows(
        f"SELECT {text} AS v FROM raw WHERE {text} IS NOT NULL GROUP BY v ORDER BY count(*) DESC, v LIMIT 60"  # noqa: S608
    )
    return [str(value) for (value,) in found]


def _unknown_values(store: Store, draft: Layout, field: str, synonyms: Synonyms) -> tuple[str, ...]:
    known = synonyms.meanings(field)
    return tuple(value for value in _values(store, draft, field) if value.lower() not in known)[:12]


def _with_order(
    export: Export, draft: Layout, evidence: DateEvidence, given: DateOrder | None
) -> tuple[Layout, list[Fault]]:
    """The draft with its date order, and what stands against it: an open order, or one that the dates contradict."""
    proven = evidence.decided()
    order = given or proven or draft.date_order
    if not evidence.needs_order:
        return draft, []
    if given and proven and given != proven:
        problem = f"is not {given}: {count_text(evidence.against(given))} of its dates fit only {proven}."
        return draft, [Fault(export.name, problem, "Leave --date-order out.")]
    if order is None:
        both = evidence.day_first_only and evidence.month_first_only
        problem = (
            f"mixes two orders of day and month ({count_text(evidence.day_first_only)} dates fit only day first, "
            f"{count_text(evidence.month_first_only)} only month first)."
            if both
            else "has dates such as 03/04 that could be read month first or day first, and none that decides it."
        )
        remedy = "Say which: add `--date-order MDY` (month first) or `--date-order DMY` (day first) to the command."
        return draft, [Fault(export.name, problem, remedy)]
    return draft.model_copy(update={"date_order": order}), []


def _missing(export: Export, draft: Layout) -> list[Fault]:
    """What a call cannot do without and no column was recognised for; a person can name the column."""
    wanted = {
        "the report date": ("reported_at",),
        "a call number or a text": ("problem_text", "call_number"),
    }
    return [
        Fault(
            export.name,
            f"no column was recognised as {meaning}.",
            f"Say which one it is: add `--column {fields[0]}='THEIR COLUMN'` to the command.",
        )
        for meaning, fields in wanted.items()
        if not set(fields) & set(draft.columns)
    ]


def _masked_samples(
    store: Store, draft: Layout, profiles: Mapping[str, ColumnProfile], values: Mapping[str, tuple[str, ...]]
) -> tuple[dict[str, ColumnProfile], dict[str, tuple[str, ...]]]:
    """The profiles with masked samples, and values by field masked: a screen shows what would be stored."""
    withheld = [f"c{draft.header.index(column) + 1}" for column in draft.withheld]
    shown = [(column, sample) for column, profile in profiles.items() for sample in profile.samples]
    loose = [sample for _, sample in shown] + [value for several in values.values() for value in several]
    masked = iter(Masker(store, Privacy(), withheld, ()).masked_texts(loose))
    by_column: dict[str, list[str]] = {column: [] for column in profiles}
    for column, _ in shown:
        by_column[column].append(without_remnants(next(masked)))
    found = {column: profile.with_samples(tuple(by_column[column])) for column, profile in profiles.items()}
    return found, {field: tuple(next(masked) for _ in several) for field, several in values.items()}
