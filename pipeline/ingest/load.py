"""An export's rows in a scratch database, as text: a table ``raw`` of row_number, surplus, missing, c1, c2 …

No row can be lost on the way: the lines of a text file, counted without any notion of cells, must equal the rows
that came out plus the line breaks inside cells.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

import pyarrow as pa

from pipeline.faults import InputFaults
from pipeline.ingest.fast_load import load_fast
from pipeline.ingest.files import Export
from pipeline.ingest.headers import MOST_TOTALS, Header, is_not_data, is_unlabelled_total
from pipeline.ingest.rows import rows_of
from pipeline.numerals import count_text
from pipeline.store import StageError, Store

_BATCH_ROWS = 20_000
_MOST_BREAKS_IN_A_CELL = 200
MOST_COLUMNS = 2_000


@dataclass
class Counts:
    """Rows of a file by what they are; ``breaks`` counts line breaks inside cells that did not enter ``raw``.

    ``unlabelled_totals``: numbers of the rows at the end that are totals without a label, counted in ``not_data``.
    ``faults``: why the rows could not be read to their end.
    """

    records: int = 0
    rows_read: int = 0
    not_data: int = 0
    breaks: int = 0
    unlabelled_totals: list[int] = field(default_factory=list)
    faults: InputFaults | None = field(default=None, compare=False)


def load_rows(
    store: Store,
    export: Export,
    sheet: str | None,
    header: Header,
    report_columns: Sequence[int],
    call_columns: Sequence[int] = (),
) -> Counts:
    """Fill ``raw`` in a scratch store with the data rows below the header and count every row of the file.

    Blank cells become NULL. A row with more cells than the header keeps them in ``surplus`` as JSON; one with
    fewer has their number in ``missing``. ``call_columns``: places of the columns that tell a call, by which totals
    without a label are known. Raises InputFaults when the counts disagree.
    """
    width = len(header.labels)
    if width > MOST_COLUMNS:
        raise InputFaults.one(
            export.name,
            f"has {count_text(width)} columns; {count_text(MOST_COLUMNS)} can be read.",
            "Export fewer columns.",
        )
    fast = load_fast(store, export, header, report_columns, call_columns)
    counts = Counts() if fast else _load_streaming(store, export, sheet, header, report_columns, call_columns)
    if fast:
        counts.records, counts.rows_read, counts.breaks = fast.records, fast.rows_read, fast.breaks
        counts.not_data = fast.records - fast.rows_read
        counts.unlabelled_totals = fast.unlabelled_totals
    _check_counts(store, export, counts, width, lone_returns=fast is None)
    return counts


def _load_streaming(
    store: Store,
    export: Export,
    sheet: str | None,
    header: Header,
    report_columns: Sequence[int],
    call_columns: Sequence[int],
) -> Counts:
    """Any export, row by row: slower, and the reference for the fast way."""
    width = len(header.labels)
    counts = Counts()
    schema = pa.schema(
        [("row_number", pa.int64()), ("surplus", pa.string()), ("missing", pa.int64())]
        + [(f"c{place}", pa.string()) for place in range(1, width + 1)]
    )
    rows = _without_totals(
        _data_rows(export, sheet, header, report_columns, counts), width, call_columns, counts
    )
    batches = _batches(rows, width, schema, counts)
    reader: Any = pa.RecordBatchReader.from_batches(schema, batches)
    try:
        with store.frame_as("rows_to_load", reader) as name:
            store.run(f"CREATE TABLE raw AS SELECT * FROM {name}")  # noqa: S608 - a name of ours
    except StageError:
        # What a row is told for comes through the database as a fault of ours.
        if counts.faults:
            raise counts.faults from None
        raise
    return counts


def _data_rows(
    export: Export, sheet: str | None, header: Header, report_columns: Sequence[int], counts: Counts
) -> Iterator[tuple[int, list[str]]]:
    try:
        for number, cells in rows_of(export, sheet):
            counts.records = number
            if number <= header.row_number or is_not_data(cells, header.labels, report_columns):
                counts.not_data += 1
                counts.breaks += sum(map(_breaks, cells))
            else:
                counts.rows_read += 1
                yield number, cells
    except InputFaults as error:
        counts.faults = error
        raise


def _without_totals(
    rows: Iterator[tuple[int, list[str]]], width: int, call_columns: Sequence[int], counts: Counts
) -> Iterator[tuple[int, list[str]]]:
    """The rows but for totals without a label at the end: what may be one waits until a row of another kind comes."""
    waiting: list[tuple[int, list[str]]] = []
    for row in rows:
        if any(row[1][width:]) or not is_unlabelled_total(row[1], call_columns):
            yield from waiting
            waiting = []
            yield row
            continue
        waiting.append(row)
        if len(waiting) > MOST_TOTALS:
            yield waiting.pop(0)
    for number, cells in waiting:
        counts.unlabelled_totals.append(number)
        counts.breaks += sum(map(_breaks, cells))
    counts.rows_read -= len(waiting)
    counts.not_data += len(waiting)


def _batches(
    rows: Iterator[tuple[int, list[str]]], width: int, schema: pa.Schema, counts: Counts
) -> Iterator[pa.RecordBatch]:
    while batch := list(islice(rows, _BATCH_ROWS)):
        numbers = [number for number, _ in batch]
        surplus, missing = [], []
        for _, cells in batch:
            surplus.append(_cut_surplus(cells, width, counts))
            missing.append(max(0, width - len(cells)))
            cells += [""] * (width - len(cells))
        columns = zip(*(cells for _, cells in batch), strict=True)
        arrays = [pa.array([cell or None for cell in column], pa.string()) for column in columns]
        yield pa.record_batch(
            [
                pa.array(numbers, pa.int64()),
                pa.array(surplus, pa.string()),
                pa.array(missing, pa.int64()),
                *arrays,
            ],
            schema=schema,
        )


def _cut_surplus(cells: list[str], width: int, counts: Counts) -> str | None:
    """Cut cells beyond the header off; gives them as JSON when any holds something."""
    beyond = cells[width:]
    if not beyond:
        return None
    del cells[width:]
    counts.breaks += sum(map(_breaks, beyond))
    return json.dumps(beyond, ensure_ascii=False) if any(cell.strip() for cell in beyond) else None


def _breaks(text: str) -> int:
    return text.count("\n") + text.count("\r") - text.count("\r\n") if "\n" in text or "\r" in text else 0


def _check_counts(store: Store, export: Export, counts: Counts, width: int, lone_returns: bool) -> None:
    """The loaded rows against the rows yielded, and a text file's rows against its physical lines.

    ``lone_returns``: a carriage return may stand without a line feed.
    """
    loaded = store.count("raw")
    # A workbook or JSON has no lines to count against: a break inside its cells is only a character.
    lines = export.text.lines if export.text else counts.records + counts.breaks
    # Breaks inside cells are looked for only where lines and records differ: most exports have none.
    may_hold = export.text is not None and lines != counts.records
    inside, most, row_number = _breaks_in_raw(store, width, lone_returns) if may_hold else (0, 0, 0)
    if most > _MOST_BREAKS_IN_A_CELL:
        raise InputFaults.one(
            f"{export.name}, row {row_number}",
            f"spans {count_text(most)} lines: a quotation mark in it was probably never closed.",
            "Mend it, or export the file again.",
        )
    if loaded != counts.rows_read or lines != counts.records + counts.breaks + inside:
        raise InputFaults.one(
            export.name,
            f"has {count_text(lines)} lines, but {count_text(counts.records)} rows with "
            f"{count_text(counts.breaks + inside)} line breaks inside cells were read, and "
            f"{count_text(loaded)} of {count_text(counts.rows_read)} data rows arrived.",
            "Export the file again; nothing of it was used.",
        )


def _breaks_in_raw(store: Store, width: int, lone_returns: bool) -> tuple[int, int, int]:
    """Line breaks inside cells of ``raw``: in all, the most in one row, and that row's number."""
    # LF and CR count one each, so that a pair counts two: one is taken off again.
    returns = " OR contains(c{n}, chr(13))" if lone_returns else ""
    breaks = " + ".join(
        f"CASE WHEN contains(c{n}, chr(10)){returns.format(n=n)} THEN "
        f"strlen(c{n}) - strlen(replace(c{n}, chr(10), '')) - strlen(replace(c{n}, chr(13), '')) "
        f"+ strlen(c{n}) - (strlen(c{n}) - strlen(replace(c{n}, chr(13) || chr(10), ''))) // 2 ELSE 0 END"
        for n in range(1, width + 1)
    )
    total, most, row_number = store.row(
        f"SELECT coalesce(sum(n), 0)::BIGINT, coalesce(max(n), 0), arg_max(row_number, n) "  # noqa: S608
        f"FROM (SELECT row_number, {breaks} AS n FROM raw)"
    )
    return int(total), int(most), int(row_number or 0)
