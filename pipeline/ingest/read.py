"""One export -> its parsed, masked rows in the cache."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.faults import InputFaults
from pipeline.ingest.cache import ParsedFile, cache_key, cached, keep
from pipeline.ingest.files import Export
from pipeline.ingest.headers import ROWS_SEARCHED, Header, find_header
from pipeline.ingest.layouts import Layout
from pipeline.ingest.load import load_rows
from pipeline.ingest.parse import prepare_parsed_rows
from pipeline.ingest.privacy import literal
from pipeline.ingest.reading import Reading, read_file_evidence
from pipeline.ingest.rows import rows_of
from pipeline.ingest.synonyms import read_synonyms
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio, as_typed
from pipeline.settings import Settings
from pipeline.store import Store

_MEMORY_LIMIT = "2800MB"


@dataclass(frozen=True)
class Recognised:
    """An export with the saved layout, sheet and header that apply to it."""

    export: Export
    layout: Layout
    sheet: str | None
    header: Header


def recognise(export: Export, layouts: Mapping[tuple[str, ...], Layout], folder: str) -> list[Recognised]:
    """Find the saved layout whose header stands in the file; raises InputFaults naming the command to make one.

    Of a workbook every sheet with a known header counts, each as an export of its own where there are several.
    """
    found = []
    for sheet in export.sheets or (None,):
        header = find_header(list(islice(rows_of(export, sheet), ROWS_SEARCHED)), layouts)
        if header:
            found.append(Recognised(export, layouts[header.labels], sheet, header))
    if not found:
        command = f"dayburn layout {as_typed(folder)} {as_typed(export.named or export.path)}"
        raise InputFaults.one(
            export.name,
            "has a header that no saved layout describes.",
            f"See how it would be read with `{command}`, then save that with `{command} --accept`.",
        )
    if len(found) > 1:
        return [replace(one, export=export.of_sheet(str(one.sheet))) for one in found]
    return found


def parse_export(recognised: Recognised, portfolio: Portfolio) -> tuple[str, ParsedFile]:
    """The file's parsed rows from the cache, or parsed now; gives their key and what is known of them."""
    export, layout = recognised.export, recognised.layout
    key = cache_key(export, layout, recognised.sheet, portfolio.settings)
    found = cached(portfolio.cache, key)
    if found:
        return key, found
    portfolio.cache.mkdir(parents=True, exist_ok=True)
    with closing(Store.scratch()) as scratch, TemporaryDirectory(prefix="dayburn-") as spill:
        limit_memory(scratch, spill)
        parsed = _parse(scratch, recognised, portfolio.settings, portfolio.cache / f"{key}.parquet")
    keep(portfolio.cache, key, parsed)
    return key, parsed


def limit_memory(scratch: Store, spill: str) -> None:
    """Bound a scratch database's memory; what exceeds it goes to a private folder that is deleted at once."""
    scratch.run(f"SET memory_limit = '{_MEMORY_LIMIT}'; SET temp_directory = {literal(spill)}")


def _parse(scratch: Store, recognised: Recognised, settings: Settings, rows_file: Path) -> ParsedFile:
    export, layout = recognised.export, recognised.layout
    report_columns = [place - 1 for place in layout.places("reported_at")]
    counts = load_rows(
        scratch, export, recognised.sheet, recognised.header, report_columns, layout.call_columns()
    )
    reading = read_file_evidence(scratch, layout, export.kind == "workbook", export.from_1904)
    _refuse_wrong_order(export, reading)
    partial = rows_file.with_suffix(".parquet.partial")
    select = prepare_parsed_rows(scratch, reading, settings, read_synonyms())
    scratch.run(
        f"COPY ({select}) TO {literal(str(partial))} (FORMAT parquet, PARQUET_VERSION v2, COMPRESSION zstd, "
        "DICTIONARY_SIZE_LIMIT 10000, WRITE_BLOOM_FILTER false)"
    )
    partial.replace(rows_file)
    return ParsedFile(
        rows_file=rows_file.name,
        sheet=recognised.sheet,
        header_row=recognised.header.row_number,
        rows_read=counts.rows_read,
        not_data=counts.not_data,
        unlabelled_totals=counts.unlabelled_totals,
        date_order=reading.statement(),
        read_as=export.form,
    )


def _refuse_wrong_order(export: Export, reading: Reading) -> None:
    """Refuse a file whose dates the layout's order cannot read or the file itself contradicts."""
    order, dates = reading.layout.date_order, reading.all_dates
    name = reading.layout.name
    if dates.needs_order and order is None:
        raise InputFaults.one(
            export.name,
            f"writes day and month as numbers, and layout '{name}' does not say which comes first.",
            f'Put date_order = "month first" or "day first" into layouts/{name}.toml.',
        )
    proven = dates.decided()
    if order and proven and proven != order:
        raise InputFaults.one(
            export.name,
            f"is read {order} by layout '{name}', but {count_text(dates.against(order))} of its dates fit only "
            f"{proven}.",
            f"Correct date_order in layouts/{name}.toml, or export this file with the usual dates.",
        )
